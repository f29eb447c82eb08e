package ocr

import (
	"fmt"
	"math"

	"gatefold/ocr/crop"
	"gatefold/ocr/net"
	"gatefold/ocr/weights"
	"gatefold/sheetmodel"
)

// Marker says whether a tick box holds a mark that is too pale, or lies in too uneven a light, for the rules of tick.go.
//
// It serves one goroutine. Who opened it closes it.
type Marker interface {
	// Mark returns the claim, 0 to 1, that the box holds a mark. It looks at nothing but the picture.
	Mark(box *crop.Mark) (float32, error)
	// Weights returns the hash of the weights, which curves and thresholds are bound to.
	Weights() string
	Close() error
}

// markNet is the embedded mark net as a Marker.
type markNet struct{ net *net.Marks }

// OpenMarkNet opens the embedded mark net. The caller closes it.
func OpenMarkNet() (Marker, error) {
	n, err := net.OpenMarks()
	if err != nil {
		return nil, err
	}
	return &markNet{net: n}, nil
}

func (m *markNet) Mark(box *crop.Mark) (float32, error) { return m.net.Look(box) }

// Weights names the embedded net.
func (m *markNet) Weights() string { return weights.MarksHash() }

// Close frees the net.
func (m *markNet) Close() error { return m.net.Close() }

// Box is a tick box as the mark net is shown it, with what the rules say of it by themselves; for teaching the net.
type Box struct {
	Field   sheetmodel.Field
	Option  string // "" for a lone tick
	Marked  bool   // surely
	Unsure  bool
	Pale    bool // unsure for nothing but pale ink or shade
	Ink     float64
	Picture crop.Mark
}

// When the mark net's word counts. It is asked only where the rules doubt a box for pale ink or shade; ink that is
// struck out, that leaves its box or that comes from elsewhere stays a doubt whatever the net says. Chosen on cards of
// select seeds, looked at once on others: ocr/train/marks.md has both.
const (
	markedClaim   = 0.999 // and more: there is a mark
	unmarkedClaim = 0.001 // and less, and no ink to be seen: there is none
	markedScore   = 2.0   // of a mark that only the net sees, as if it were four times as dark as it must be
)

// What the mark net learned from: rows of tick boxes on the gate card, which has marks in its corners.
const (
	markNarrow, markWide = 3.7, 6.5 // mm, a box
	markLow, markHigh    = 4.1, 6.9
	markRim              = 0.7 // mm of the paper around it that the net sees
)

// marksOf returns the pictures of all boxes that the net knows, made at the first call.
func (pg *page) marksOf() map[sheetmodel.Rect]*crop.Mark {
	if pg.marks != nil {
		return pg.marks
	}
	pg.marks = map[sheetmodel.Rect]*crop.Mark{}
	if len(pg.side.Marks) == 0 {
		return pg.marks
	}
	type key struct {
		part sheetmodel.Part
		k, n int
	}
	columns := map[key][]sheetmodel.Rect{}
	for _, f := range pg.side.Fields {
		switch {
		case f.Row == 0:
		case f.Kind == sheetmodel.Tick:
			columns[key{f.Part, 0, 1}] = append(columns[key{f.Part, 0, 1}], f.Rect)
		case f.Kind == sheetmodel.Choice && !f.Rings:
			for k, o := range f.Options {
				at := key{f.Part, k, len(f.Options)}
				columns[at] = append(columns[at], o.Rect)
			}
		}
	}
	for _, boxes := range columns {
		if len(boxes) >= oddRows && known(boxes) {
			pg.ink.marksOf(boxes, pg.marks)
		}
	}
	return pg.marks
}

func known(boxes []sheetmodel.Rect) bool {
	for _, b := range boxes {
		if b.W < markNarrow || b.W > markWide || b.H < markLow || b.H > markHigh {
			return false
		}
	}
	return true
}

// marksOf adds the pictures of boxes of one column to all.
func (m *inkMap) marksOf(boxes []sheetmodel.Rect, all map[sheetmodel.Rect]*crop.Mark) {
	patches := make([][]float64, len(boxes))
	for i, b := range boxes {
		patches[i] = m.stretched(b.Grow(markRim), crop.MarkSide)
	}
	usual := quantilePatch(patches, oddMid)
	for i, b := range boxes {
		var pic crop.Mark
		for at := range usual {
			y, x := at/crop.MarkSide, at%crop.MarkSide
			pic[y*crop.MarkW+x] = crop.MarkTone(patches[i][at])
			pic[y*crop.MarkW+crop.MarkSide+x] = crop.MarkTone(usual[at])
		}
		all[b] = &pic
	}
}

// stretched is the darkness of a part of the page, side × side px whatever its size.
func (m *inkMap) stretched(r sheetmodel.Rect, side int) []float64 {
	out := make([]float64, 0, side*side)
	for j := range side {
		y := (float64(r.Y)+(float64(j)+0.5)/float64(side)*float64(r.H))*inkPxPerMM - 0.5
		for i := range side {
			x := (float64(r.X)+(float64(i)+0.5)/float64(side)*float64(r.W))*inkPxPerMM - 0.5
			out = append(out, m.darkAt(x, y))
		}
	}
	return out
}

// darkAt is the darkness between px, as by straight lines from one to the next.
func (m *inkMap) darkAt(x, y float64) float64 {
	x, y = min(max(x, 0), float64(m.w-1)), min(max(y, 0), float64(m.h-1))
	x0, y0 := int(math.Floor(x)), int(math.Floor(y))
	x1, y1 := min(x0+1, m.w-1), min(y0+1, m.h-1)
	fx, fy := x-float64(x0), y-float64(y0)
	top := float64(m.dark[y0*m.w+x0])*(1-fx) + float64(m.dark[y0*m.w+x1])*fx
	low := float64(m.dark[y1*m.w+x0])*(1-fx) + float64(m.dark[y1*m.w+x1])*fx
	return top*(1-fy) + low*fy
}

// pale reports whether a box is unsure for nothing but pale ink, or shade.
func (s sight) pale() bool { return s.mark == unsure && s.why.Kind == sheetmodel.DoubtFaintInk }

// tick looks at one box, first by the rules, then, where these doubt it for its paleness alone, by the mark net.
func (r *Reader) tick(pg *page, f sheetmodel.Field, box sheetmodel.Rect, option string) (sight, error) {
	s := pg.ink.tick(box, pg.faint)
	if r.boxes != nil {
		if pic, ok := pg.marksOf()[box]; ok {
			r.boxes(Box{Field: f, Option: option, Marked: s.mark == marked, Unsure: s.mark == unsure, Pale: s.pale(), Ink: s.area, Picture: *pic})
		}
	}
	// A code accuses: there, a smudge that the net never saw must not count as a mark.
	if !s.pale() || f.Part != sheetmodel.PartPanel {
		return s, nil
	}
	claim, known, err := r.claimOf(pg, f, box)
	switch {
	case err != nil:
		return s, err
	case !known:
	case claim >= markedClaim:
		s.mark, s.seen = marked, true
	case claim <= unmarkedClaim && s.area < dustMM2:
		s.mark, s.hint = unmarked, false
	}
	return s, nil
}

// claimOf asks the mark net, if it knows such boxes.
func (r *Reader) claimOf(pg *page, f sheetmodel.Field, box sheetmodel.Rect) (claim float32, known bool, err error) {
	pic, known := pg.marksOf()[box]
	if !known {
		return 0, false, nil
	}
	if claim, err = r.marker.Mark(pic); err != nil {
		return 0, false, fmt.Errorf("field %s: %w", f.Name, err)
	}
	return claim, true, nil
}

// withoutShade leaves out of maybe the boxes of a code in which no ink is seen and the net sees no mark. It is for rows with
// one plain mark: a second one, too pale to be seen, is then all that can be missed.
func (r *Reader) withoutShade(pg *page, f sheetmodel.Field, sights []sight, maybe []int) ([]int, error) {
	var left []int
	for _, i := range maybe {
		if !sights[i].pale() || sights[i].area >= dustMM2 {
			left = append(left, i)
			continue
		}
		claim, known, err := r.claimOf(pg, f, f.Options[i].Rect)
		if err != nil {
			return nil, err
		}
		if !known || claim > unmarkedClaim {
			left = append(left, i)
		}
	}
	return left, nil
}
