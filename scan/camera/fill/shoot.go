package fill

import (
	"fmt"
	"image"
	"math/rand/v2"

	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// InkPxPerMM is the resolution at which cards are filled: fine enough for a pencil's grain.
const InkPxPerMM = 20

// Written is one side of one card, filled: what the camera sees and what is true.
type Written struct {
	Side  *sheetmodel.Side
	Sheet camera.Sheet
	Truth Truth
}

// Write prints one side, lets w fill it by plan, and returns the sheet. 12 million pixels for an A5 card.
func Write(side *sheetmodel.Side, card print.CardPrint, plan Plan, w Writer, rng *rand.Rand) (*Written, error) {
	paper, err := print.Raster(side, card, InkPxPerMM)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", side.Name, err)
	}
	ink := hand.NewInk(sheetmodel.Rect{W: side.W, H: side.H}, InkPxPerMM)
	truth := Side(ink, side, plan, w, rng)
	ink.Over(paper)
	return &Written{Side: side, Sheet: camera.Sheet{Image: paper, PxPerMM: InkPxPerMM}, Truth: truth}, nil
}

// SceneOf says what a camera must know of a side. frame is the camera's picture size, long side
// first; the zero point asks for a picture just large enough.
func SceneOf(side *sheetmodel.Side, frame image.Point) camera.Scene {
	s := camera.Scene{W: side.W, H: side.H, Frame: frame}
	for _, m := range side.Marks {
		s.Marks = append(s.Marks, m.Rect)
	}
	s.Rows = MustBeSeen(side)
	return s
}

// MustBeSeen returns the rows and the strips of a side: what a photo may not leave out.
func MustBeSeen(side *sheetmodel.Side) []sheetmodel.Rect {
	var all []sheetmodel.Rect
	for row := 1; row <= side.Rows(); row++ {
		var r sheetmodel.Rect
		for i, f := range side.RowFields(row) {
			if i == 0 {
				r = f.Rect
			} else {
				r = r.Union(f.Rect)
			}
		}
		if r.W > 0 {
			all = append(all, r)
		}
	}
	strips := map[string]int{}
	for _, f := range side.Fields {
		if f.Panel == "" || f.Part != sheetmodel.PartBib {
			continue
		}
		if i, ok := strips[f.Panel]; ok {
			all[i] = all[i].Union(f.Rect)
		} else {
			strips[f.Panel] = len(all)
			all = append(all, f.Rect)
		}
	}
	return all
}
