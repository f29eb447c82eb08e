package weights_test

import (
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
}
