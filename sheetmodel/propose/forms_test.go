package propose_test

import (
	"flag"
	"image"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
	"gatefold/sheetmodel/propose"
)

var (
	measured = flag.Int("forms", 12, "how many generated blank forms are looked at")
	first    = flag.Uint64("first", 1, "seed of the first of them")
)

// form draws a blank form of our own: header boxes or lines to write on with a caption before them, a ruled table with
// headings, in some with boxes to tick under letters, and in some a row of panels, lettered or not, or lone tick boxes below.
func form(rng *rand.Rand) *sheetmodel.Side {
	s := &sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210}
	if rng.IntN(3) == 0 {
		s.W, s.H = 210, 148
	}
	pen := sheetmodel.MM(0.2 + 0.3*rng.Float64())
	outline := func(r sheetmodel.Rect) { s.Print = append(s.Print, sheetmodel.PrintItem{Box: &r, Width: pen}) }
	word := func(x, y, size sheetmodel.MM, t string) {
		s.Print = append(s.Print, sheetmodel.PrintItem{Text: t, At: sheetmodel.SheetPoint{X: x, Y: y}, Size: size})
	}
	fill := func(kind sheetmodel.Kind, r sheetmodel.Rect, boxes int) {
		s.Fields = append(s.Fields, sheetmodel.Field{Kind: kind, Rect: r, Boxes: boxes})
	}
	word(12, 14, 3.5, "Sheet of the gate judge")
	for i := range 1 + rng.IntN(3) {
		x := sheetmodel.MM(12 + 44*i)
		word(x, 24, 2, "Name")
		r := sheetmodel.Rect{X: x + 12, Y: 19, W: 26, H: 8}
		if rng.IntN(2) == 0 {
			s.Print = append(s.Print, sheetmodel.PrintItem{Line: []sheetmodel.SheetPoint{{X: r.X, Y: r.Y + r.H}, {X: r.X + r.W, Y: r.Y + r.H}}, Width: pen})
		} else {
			outline(r)
		}
		fill(sheetmodel.Text, r, 0)
	}
	rows, pitch := 5+rng.IntN(6), sheetmodel.MM(7.5+2*rng.Float64())
	const top, head = 34, 6
	x := sheetmodel.MM(12)
	for c := range 3 + rng.IntN(3) {
		kind := []sheetmodel.Kind{sheetmodel.Comb, sheetmodel.Cell, sheetmodel.Cell, sheetmodel.Tick, sheetmodel.Choice}[rng.IntN(5)]
		boxes, each := 0, sheetmodel.MM(12+14*rng.Float64())
		if kind == sheetmodel.Comb {
			boxes, each = 2+rng.IntN(2), sheetmodel.MM(5+3*rng.Float64())
		}
		if kind == sheetmodel.Tick {
			each = 10
		}
		options, ownHeads := 0, rng.IntN(2) == 0
		if kind == sheetmodel.Choice {
			options, each = 3+rng.IntN(3), sheetmodel.MM(4.2+2*rng.Float64())
		}
		width := each * sheetmodel.MM(max(1, boxes, options))
		if x+width > s.W-8 {
			break
		}
		if options == 0 {
			outline(sheetmodel.Rect{X: x, Y: top, W: width, H: head})
			word(x+1, top+4, 1.8, []string{"Bib", "Gate", "Why", "Seen", "Note"}[c])
		} else {
			if !ownHeads {
				outline(sheetmodel.Rect{X: x, Y: top, W: width, H: head})
			}
			for o := range options {
				at := x + sheetmodel.MM(o)*each
				if ownHeads {
					outline(sheetmodel.Rect{X: at, Y: top, W: each, H: head})
				}
				word(at+each/2-0.8, top+4, 1.9, string("FMSHB"[o]))
			}
		}
		for r := range rows {
			y := top + head + sheetmodel.MM(r)*pitch
			cell := sheetmodel.Rect{X: x, Y: y, W: width, H: pitch}
			switch kind {
			case sheetmodel.Comb:
				for b := range boxes {
					outline(sheetmodel.Rect{X: x + sheetmodel.MM(b)*each, Y: y, W: each, H: pitch})
				}
			case sheetmodel.Choice:
				outline(cell)
				cell = sheetmodel.Rect{X: x, Y: y + (pitch-each)/2, W: width, H: each}
				for o := range options {
					outline(sheetmodel.Rect{X: x + sheetmodel.MM(o)*each, Y: cell.Y, W: each, H: each})
				}
			case sheetmodel.Tick:
				outline(cell)
				cell = sheetmodel.Rect{X: x + 3, Y: y + pitch/2 - 2, W: 4, H: 4}
				outline(cell)
			default:
				outline(cell)
			}
			fill(kind, cell, boxes)
			s.Fields[len(s.Fields)-1].Options = make([]sheetmodel.Option, options)
		}
		x += width
	}
	foot := top + head + sheetmodel.MM(rows)*pitch + 8
	switch rng.IntN(3) {
	case 0:
		lettered := rng.IntN(2) == 0
		for i := range 2 {
			r := sheetmodel.Rect{X: 12 + sheetmodel.MM(62*i), Y: foot, W: 58, H: min(40, s.H-foot-8)}
			if r.H >= 22 {
				outline(r)
				if lettered {
					word(r.X+1.5, r.Y+5, 3.4, string("AB"[i]))
				}
				fill(sheetmodel.Drawing, r, 0)
			}
		}
	case 1:
		for i := range 3 {
			r := sheetmodel.Rect{X: 12 + sheetmodel.MM(36*i), Y: foot, W: 4.5, H: 4.5}
			outline(r)
			word(r.X+6.5, foot+3.6, 2.2, "all went well")
			fill(sheetmodel.Tick, r, 0)
		}
	}
	return s
}

// scanned is a flat scan of the form: turned by up to 1.5 degrees, pale, grey paper, grain.
func scanned(s *sheetmodel.Side, rng *rand.Rand) *image.Gray {
	bare := *s
	bare.Fields = nil // their frames are ours
	g := print.RasterBlank(&bare, 8)
	w, h := g.Rect.Dx(), g.Rect.Dy()
	out := image.NewGray(image.Rect(0, 0, w, h))
	sin, cos := math.Sincos((rng.Float64()*3 - 1.5) * math.Pi / 180)
	black, paper := 40+90*rng.Float64(), 215+35*rng.Float64()
	for y := range h {
		for x := range w {
			dx, dy := float64(x-w/2), float64(y-h/2)
			sx, sy := w/2+int(math.Round(cos*dx-sin*dy)), h/2+int(math.Round(sin*dx+cos*dy))
			v := 255.0
			if sx >= 0 && sy >= 0 && sx < w && sy < h {
				v = float64(g.Pix[sy*g.Stride+sx])
			}
			v = black + (paper-black)*v/255 + 6*rng.NormFloat64()
			out.Pix[y*out.Stride+x] = uint8(min(255, max(0, v)))
		}
	}
	return out
}

type tally struct{ right, proposed, drawn int }

// score counts a proposal as right if kind and number of boxes are those drawn and no edge lies off by more than slack.
func score(p *propose.Proposal, truth *sheetmodel.Side, all map[sheetmodel.Kind]*tally) {
	const slack = 1.5 // mm: the turn about the middle moves nothing, the pen takes up to 0.5
	used := make([]bool, len(truth.Fields))
	of := func(k sheetmodel.Kind) *tally {
		if all[k] == nil {
			all[k] = &tally{}
		}
		return all[k]
	}
	for _, f := range truth.Fields {
		of(f.Kind).drawn++
	}
	for _, f := range p.Fields {
		of(f.Kind).proposed++
		for i, t := range truth.Fields {
			off := max(math.Abs(float64(f.Rect.X-t.Rect.X)), math.Abs(float64(f.Rect.Y-t.Rect.Y)),
				math.Abs(float64(f.Rect.X+f.Rect.W-t.Rect.X-t.Rect.W)), math.Abs(float64(f.Rect.Y+f.Rect.H-t.Rect.Y-t.Rect.H)))
			if !used[i] && f.Kind == t.Kind && f.Boxes == t.Boxes && len(f.Options) == len(t.Options) && off <= slack {
				used[i] = true
				of(f.Kind).right++
				break
			}
		}
	}
}

// TestMeasureForms is the measurement of report.md; with its usual few forms it is a floor (our own logic).
func TestMeasureForms(t *testing.T) {
	all := map[sheetmodel.Kind]*tally{}
	for i := range *measured {
		rng := rand.New(rand.NewPCG(*first+uint64(i), 0))
		side := form(rng)
		p, err := propose.Side(scanned(side, rng), side.W, side.H, nil)
		require.NoError(t, err)
		before := map[sheetmodel.Kind]tally{}
		for k, v := range all {
			before[k] = *v
		}
		score(p, side, all)
		for k, v := range all {
			if b := before[k]; v.right-b.right != v.drawn-b.drawn || v.proposed-b.proposed != v.drawn-b.drawn {
				t.Logf("form %d: %s: %d right, %d proposed, %d drawn", *first+uint64(i), k, v.right-b.right, v.proposed-b.proposed, v.drawn-b.drawn)
			}
		}
	}
	for _, k := range sheetmodel.Kinds {
		v := all[k]
		if v == nil {
			continue
		}
		t.Logf("| %s | %d | %d | %d | %.3f | %.3f |", k, v.drawn, v.proposed, v.right,
			float64(v.right)/float64(max(1, v.proposed)), float64(v.right)/float64(max(1, v.drawn)))
		assert.GreaterOrEqual(t, float64(v.right), 0.9*float64(v.drawn), "%s: too few found", k)
		assert.GreaterOrEqual(t, float64(v.right), 0.9*float64(v.proposed), "%s: too many that are none", k)
	}
}
