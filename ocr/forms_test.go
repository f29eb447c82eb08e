package ocr

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// Two Readers share a print while either is open, and none is left behind them. Our own logic.
func TestForms_TwoReaders_ShareAPrintUntilBothAreClosed(t *testing.T) {
	card, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{Groups: []string{"U12 f"}, Courses: []string{"red"}})
	require.NoError(t, err)
	key := formKey{side: card.Side(sheetmodel.Front), step: 1}
	var one, two Reader
	a, err := one.form(key)
	require.NoError(t, err)
	b, err := two.form(key)
	require.NoError(t, err)
	assert.Same(t, a, b)
	require.NoError(t, one.Close())
	require.NoError(t, one.Close(), "closed twice it gives nothing back twice")
	c, err := two.form(key)
	require.NoError(t, err)
	assert.Same(t, a, c)
	assert.Contains(t, shared.made, key)
	require.NoError(t, two.Close())
	assert.NotContains(t, shared.made, key)
}
