//go:build cgo

package trial

import (
	"context"
	"errors"
	"fmt"
	"image"
	"math/rand/v2"
	"slices"

	"gocv.io/x/gocv"

	"gatefold/ocr"
	"gatefold/scan"
	"gatefold/scan/byprint"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

const (
	tracePxPerMM = 6.0  // at which ocr looks at print
	sheetPxPerMM = 16.0 // of the filled sheet: a pencil's grain still shows
)

// Run tries a layout whose blank sides are the pictures given, each upright and cut to the card, dark print on paper.
// step is told after each photo. It takes some seconds a photo; the layout and the pictures stay the caller's.
//
// The error is a *scan.AlikeFormError or a *byprint.FewFeaturesError of a card that can't be found by its print.
func Run(ctx context.Context, l *sheetmodel.Layout, blanks map[sheetmodel.SideName]*image.Gray, opt Options, step func()) (*Report, error) {
	reader, err := ocr.Open(ocr.Options{})
	if err != nil {
		return nil, err
	}
	defer reader.Close() //nolint:errcheck // freeing nets
	report := &Report{Reasons: map[string]int{}}
	for i := range l.Sides {
		blank := blanks[l.Sides[i].Name]
		if blank == nil || len(l.Sides[i].Fields) == 0 {
			continue
		}
		s, err := prepare(l, i, blank, report)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", l.Sides[i].Name, err)
		}
		groups, of := groupsOf(s.side)
		report.Groups = append(report.Groups, groups...)
		for n := range opt.Photos {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			rng := rand.New(rand.NewPCG(opt.Seed, uint64(1000*i+n)))
			meant, read, err := s.photo(reader, opt, n, rng)
			if err != nil {
				return nil, err
			}
			report.Photos++
			var refused *scan.RefusedError
			switch {
			case read != nil:
				for _, f := range s.side.Fields {
					if g := of[f.Name]; g != nil {
						r, kept := read[f.Name]
						g.count(meant[f.Name].Text, r, kept)
					}
				}
			case errors.As(s.refused, &refused):
				report.Refused++
				report.Reasons[refused.Detail]++
			}
			step()
		}
	}
	if report.Sizes, err = trySizes(ctx, reader, report.Groups, opt); err != nil {
		return nil, err
	}
	return report, nil
}

// trySide is one side being tried.
type trySide struct {
	side    *sheetmodel.Side
	letters string // of the card's panels
	forms   *scan.Forms
	paper   *image.Gray // the blank card at sheetPxPerMM
	refused error       // why the last photo was
}

func prepare(l *sheetmodel.Layout, i int, blank *image.Gray, report *Report) (*trySide, error) {
	m, err := gocv.NewMatFromBytes(blank.Rect.Dy(), blank.Rect.Dx(), gocv.MatTypeCV8U, packed(blank))
	if err != nil {
		return nil, err
	}
	defer m.Close()
	side := l.Sides[i]
	flat := func(pxPerMM float64) (*image.Gray, error) {
		page, err := byprint.Flatten(m, nil, side.W, side.H, pxPerMM)
		if err != nil {
			return nil, err
		}
		defer page.Close()
		pix, err := page.DataPtrUint8()
		if err != nil {
			return nil, err
		}
		return &image.Gray{Pix: slices.Clone(pix), Stride: page.Cols(), Rect: image.Rect(0, 0, page.Cols(), page.Rows())}, nil
	}
	seen, err := flat(tracePxPerMM)
	if err != nil {
		return nil, err
	}
	s := &trySide{letters: Letters(l)}
	if s.paper, err = flat(sheetPxPerMM); err != nil {
		return nil, err
	}
	// The reader must know what is printed; the layout of a card of another make says only where one writes.
	known := *l
	known.Sides = slices.Clone(l.Sides)
	known.Sides[i].Print = print.Trace(seen, tracePxPerMM)
	s.side = &known.Sides[i]
	s.forms, err = scan.PrepareBlank(m, &known, side.Name, scan.BlankOptions{})
	var alike *scan.AlikeFormError
	if errors.As(err, &alike) && alike.Turn > 0 {
		report.Upright = true
		s.forms, err = scan.PrepareBlank(m, &known, side.Name, scan.BlankOptions{Upright: true})
	}
	return s, err
}

func packed(g *image.Gray) []byte {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	out := make([]byte, w*h)
	for y := range h {
		copy(out[y*w:(y+1)*w], g.Pix[y*g.Stride:y*g.Stride+w])
	}
	return out
}

// photo fills, photographs and reads the side once. A nil map of readings is a refusal, kept in s.refused.
func (s *trySide) photo(reader *ocr.Reader, opt Options, n int, rng *rand.Rand) (fill.Truth, map[string]sheetmodel.Reading, error) {
	level := camera.Levels()[opt.Level]
	ink := hand.NewInk(sheetmodel.Rect{W: s.side.W, H: s.side.H}, sheetPxPerMM)
	w := fill.Writer{Pen: hand.DrawWriter(level.Pens(), rng), Digits: opt.Hands[n%len(opt.Hands)]}
	meant := Write(ink, s.side, s.letters, w, nil, rng)
	paper := &image.Gray{Pix: slices.Clone(s.paper.Pix), Stride: s.paper.Stride, Rect: s.paper.Rect}
	ink.Over(paper)
	shot := level.Draw(fill.SceneOf(s.side, image.Point{}), rng)
	photo, err := shot.View().Take(camera.Sheet{Image: paper, PxPerMM: sheetPxPerMM}, 1)
	if err != nil {
		return nil, nil, err
	}
	grey, _, err := scan.Decode("trial.jpg", photo.JPEG)
	if err != nil {
		return nil, nil, err
	}
	defer grey.Close()
	pages, err := scan.Pages(grey, s.forms, scan.Options{})
	defer func() {
		for _, p := range pages {
			p.Close()
		}
	}()
	s.refused = err
	if len(pages) == 0 {
		var refused *scan.RefusedError
		if !errors.As(err, &refused) {
			return nil, nil, err
		}
		return meant, nil, nil
	}
	page := pages[0]
	gone := slices.Concat(page.Quality.Outside, page.Quality.Hidden)
	hidden := func(r sheetmodel.Rect) bool {
		return slices.ContainsFunc(gone, func(name string) bool {
			f := page.Side.Field(name)
			return f != nil && r.Overlaps(f.Rect)
		})
	}
	read, err := reader.Read(page.Mat, page.PxPerMM, page.Side, hidden)
	if err != nil {
		return nil, nil, err
	}
	by := map[string]sheetmodel.Reading{}
	for _, r := range read.Readings() {
		by[r.Field] = r
	}
	return meant, by, nil
}
