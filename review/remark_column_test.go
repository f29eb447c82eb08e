package review_test

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"net/http"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// A column for remarks stands between two others in the rows of a card, described as one or passed over. Who is told no names sees it black in
// the row's picture, and the columns beside it as everybody does. Source: our own logic; judges write there who else saw it.
func TestInk_RemarkColumnBetweenTwoOthers_IsBlackToViewers(t *testing.T) {
	for _, described := range []bool{true, false} {
		b := stacktest.New(t)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
		l := *b.Layout
		l.Sides = slices.Clone(l.Sides)
		at := slices.IndexFunc(l.Sides, func(s sheetmodel.Side) bool { return s.Name == sheetmodel.Front })
		fields := slices.Clone(l.Sides[at].Fields)
		var remark, row sheetmodel.Rect
		i := slices.IndexFunc(fields, func(f sheetmodel.Field) bool { return f.Row == 1 && f.Part == sheetmodel.PartGate })
		for _, f := range fields {
			if f.Row == 1 && f.Kind != sheetmodel.Drawing {
				if row.W == 0 {
					row = f.Rect
				}
				row = row.Union(f.Rect)
			}
		}
		remark = fields[i].Rect
		require.Greater(t, remark.X, row.X+5)
		require.Less(t, remark.X+remark.W, row.X+row.W-5)
		gate := func(f sheetmodel.Field) bool { return f.Row > 0 && f.Part == sheetmodel.PartGate }
		if !described {
			fields = slices.DeleteFunc(fields, gate)
		}
		for i := range fields {
			if gate(fields[i]) {
				fields[i].Part = sheetmodel.PartRemark
			}
		}
		l.Sides[at].Fields = fields
		h := openHut(t, b, func(o *review.Options) {
			o.Layout = func(string) *sheetmodel.Layout { return &l }
		})
		pictures := map[string]image.Image{}
		for _, role := range []string{"settle", "view"} {
			a := h.pair("Uma", role).get("/ink/" + h.front() + "/row-01")
			require.Equal(t, http.StatusOK, a.status)
			img, err := png.Decode(bytes.NewReader([]byte(a.body)))
			require.NoError(t, err)
			pictures[role] = img
		}
		all, few := pictures["settle"], pictures["view"]
		require.Equal(t, all.Bounds(), few.Bounds())
		px := float64(all.Bounds().Dx()) / float64(row.W+4) // 2 mm around it
		dark, shown, alike, differ := 0, 0, 0, 0
		for y := range all.Bounds().Dy() {
			for x := range all.Bounds().Dx() {
				mm := row.X - 2 + sheetmodel.MM(float64(x)/px)
				a, v := color.GrayModel.Convert(all.At(x, y)).(color.Gray).Y, color.GrayModel.Convert(few.At(x, y)).(color.Gray).Y
				yMM := row.Y - 2 + sheetmodel.MM(float64(y)/px)
				switch inside := yMM > row.Y+1 && yMM < row.Y+row.H-1; {
				case inside && mm > remark.X+1.5 && mm < remark.X+remark.W-1.5:
					if v != 0 {
						shown++
					}
					dark++
				case inside && mm < remark.X-1.5 && mm > row.X:
					if a == v {
						alike++
					} else {
						differ++
					}
				}
			}
		}
		assert.Positive(t, dark)
		assert.Zero(t, shown, "of the column for remarks")
		assert.Greater(t, alike, 4*differ, "what stands beside it is shown")
	}
}
