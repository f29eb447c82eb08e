package weights_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/weights"
)

func TestFiles_AreTheOnesTheSourceNames(t *testing.T) {
	a, b, err := weights.Files()
	require.NoError(t, err)
	assert.NotEmpty(t, a)
	assert.NotEmpty(t, b)
	assert.Len(t, weights.Hash(), 64)
	cell, err := weights.CellFile()
	require.NoError(t, err)
	assert.NotEmpty(t, cell)
	trouble, err := weights.TroubleFile()
	require.NoError(t, err)
	assert.NotEmpty(t, trouble)
	forms, err := weights.FormsFile()
	require.NoError(t, err)
	assert.NotEmpty(t, forms)
	marks, err := weights.MarksFile()
	require.NoError(t, err)
	assert.NotEmpty(t, marks)
}

// Weights without a card that says what they were made of, or with the card of others, are found things.
func TestWeights_HaveTheirModelCard(t *testing.T) {
	card, err := os.ReadFile("MODEL.md")
	require.NoError(t, err)
	assert.Contains(t, string(card), weights.Hash()[:12], "MODEL.md describes other weights")
	assert.Contains(t, string(card), weights.CellHash()[:12], "MODEL.md describes another cell net")
	assert.Contains(t, string(card), weights.TroubleHash()[:12], "MODEL.md describes another trouble net")
	assert.Contains(t, string(card), weights.FormsHash()[:12], "MODEL.md describes another trouble net for other makes")
	assert.Contains(t, string(card), weights.MarksHash()[:12], "MODEL.md describes another mark net")
	data, err := os.ReadFile("../train/DATA.md")
	require.NoError(t, err)
	assert.Contains(t, string(data), "testdata/split/train.txt")
}
