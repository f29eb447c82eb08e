package store_test

import (
	"bytes"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

// One photo shows two papers that carry one code. A newer reader finds them in another order, or only one, before anybody has said that
// they are two: what was typed of the one is still said of it. Source: our own logic.
func TestAddSheets_TwoPapersWithOneCode_KeepTheirPlaces(t *testing.T) {
	for _, newer := range [][]int{{1, 0}, {1}, {1, 0, 1}} {
		l := laptopAt(t, t.TempDir(), 0)
		p, _, err := l.AddPhoto(t.Context(), "both.jpg", bytes.NewReader([]byte("\xff\xd8\xff\xe0 both")), -1, time.Time{})
		require.NoError(t, err)
		found := func(reader string, places ...int) {
			var sides []store.NewSheet
			for i, place := range places {
				side := storetest.Side(4, 1, []string{"46", "17"}[place])
				x := float64(1000 * place)
				side.Part, side.Corners = i+1, [4]sheetmodel.PhotoPoint{{X: x, Y: 0}, {X: x + 800, Y: 0}, {X: x + 800, Y: 600}, {X: x, Y: 600}}
				sides = append(sides, side)
			}
			require.NoError(t, l.AddSheets(t.Context(), p.ID, reader, sides))
		}
		found("reader 1", 0, 1)
		if len(newer) == 3 { // in two steps
			found("reader 2", newer[0])
			newer = newer[1:]
		}
		found("reader 3", newer...)
		sheets, err := l.Sheets(t.Context())
		require.NoError(t, err)
		for _, s := range sheets {
			assert.Equal(t, map[string]int{"46": 1, "17": 2}[s.Read.Reading.Rows[0].Bib.Text], s.Part, "%v", newer)
		}
	}
}
