package propose

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// Columns that hang apart are one table where only one of them is, or may be, for bibs: as rows of their own, gates would be of
// no racer. Two columns of bibs stay two tables. Source: own logic.
func TestJoinTables_ColumnsThatDontTouch_AreOneTableIfOneLeads(t *testing.T) {
	col := func(label string, x sheetmodel.MM, boxes, rows int) *column {
		c := &column{label: label}
		for i := range rows {
			c.units = append(c.units, unit{kind: sheetmodel.Comb, boxes: boxes, rect: sheetmodel.Rect{X: x, Y: 40 + 14*sheetmodel.MM(i), W: 9 * sheetmodel.MM(boxes), H: 9}})
		}
		return c
	}
	bibs, gates := col("Startnr.", 8, 3, 9), col("Tor", 39, 2, 9)
	assert.Len(t, (&finder{}).joinTables([][]*column{{bibs}, {gates}}), 1)
	assert.Len(t, (&finder{}).joinTables([][]*column{{bibs}, {gates}, {col("code", 60, 1, 9)}}), 1)
	assert.Len(t, (&finder{}).joinTables([][]*column{{bibs}, {col("Startnr.", 80, 3, 9)}}), 2)
	assert.Len(t, (&finder{}).joinTables([][]*column{{bibs}, {col("", 80, 3, 9)}}), 2, "it may be bibs as well")
	assert.Len(t, (&finder{}).joinTables([][]*column{{bibs}, {col("Tor", 39, 2, 7)}}), 2, "other rows")
	assert.Len(t, (&finder{}).joinTables([][]*column{{gates}, {col("code", 60, 1, 9)}}), 1, "no word says which are bibs: the first may be")
	first, second := []*column{col("", 8, 3, 9), col("", 39, 2, 9)}, []*column{col("", 80, 3, 9), col("", 110, 2, 9)}
	assert.Len(t, (&finder{}).joinTables([][]*column{first, second}), 2, "the table stands there twice, whatever it is for")
}
