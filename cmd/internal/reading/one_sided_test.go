//go:build cgo

package reading

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// Whose back is printed with rules for judges, and has nothing to fill, is not asked for it. Source: our own logic.
func TestOneSided_ABackWithNothingToFill_IsNone(t *testing.T) {
	front := sheetmodel.Side{Name: sheetmodel.Front, Fields: []sheetmodel.Field{{Name: "row-01.bib"}}}
	for name, is := range map[string]struct {
		sides []sheetmodel.Side
		want  bool
	}{
		"a front alone":     {[]sheetmodel.Side{front}, true},
		"a back in print":   {[]sheetmodel.Side{front, {Name: sheetmodel.Back}}, true},
		"a back with panel": {[]sheetmodel.Side{front, {Name: sheetmodel.Back, Fields: []sheetmodel.Field{{Name: "panel-a.drawing"}}}}, false},
	} {
		assert.Equal(t, is.want, oneSided(&sheetmodel.Layout{Sides: is.sides}, sheetmodel.Front), name)
	}
}
