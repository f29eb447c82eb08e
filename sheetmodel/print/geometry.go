package print

import (
	"math"

	"gatefold/sheetmodel"
)

// GeometryFormat is the newest format of the geometry file.
const GeometryFormat = 1

// Geometry is all that a program needs to fill a printed card: where each field lies on its side,
// and where each side lies in the PDF. All lengths are in mm, from the top left.
type Geometry struct {
	Format     int              `json:"format"`
	Layouts    []LayoutGeometry `json:"layouts"`
	Placements []Placement      `json:"placements"`
}

// LayoutGeometry is one layout without the things that nobody fills.
type LayoutGeometry struct {
	Hash    string           `json:"hash"` // 64 hex digits; the first 6 stand in a card's identity
	Name    string           `json:"name"`
	Version int              `json:"version"`
	Style   sheetmodel.Style `json:"style"`
	Paper   string           `json:"paper"`
	Spare   bool             `json:"spare"`
	Sides   []SideGeometry   `json:"sides"`
}

// SideGeometry is one side of a layout.
type SideGeometry struct {
	Side     sheetmodel.SideName `json:"side"`
	W        sheetmodel.MM       `json:"w_mm"`
	H        sheetmodel.MM       `json:"h_mm"`
	Marks    []sheetmodel.Mark   `json:"marks"`
	Identity []sheetmodel.Rect   `json:"identity_mm"`
	Fields   []sheetmodel.Field  `json:"fields"`
}

// NewGeometry describes layouts and, where cards were printed, their placements.
// Both lists are there in JSON even when they are empty.
func NewGeometry(layouts []*sheetmodel.Layout, placements []Placement) Geometry {
	g := Geometry{Format: GeometryFormat, Layouts: []LayoutGeometry{}, Placements: append([]Placement{}, placements...)}
	for _, l := range layouts {
		lg := LayoutGeometry{Hash: l.Hash(), Name: l.Name, Version: l.Version, Style: l.Style, Paper: l.Paper, Spare: l.Spare}
		for _, s := range l.Sides {
			lg.Sides = append(lg.Sides, SideGeometry{
				Side: s.Name, W: s.W, H: s.H, Marks: s.Marks, Identity: s.Identity, Fields: s.Fields,
			})
		}
		g.Layouts = append(g.Layouts, lg)
	}
	return g
}

func hundredth(v float64) float64 { return math.Round(v*100) / 100 }
