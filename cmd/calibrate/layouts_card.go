package main

import (
	"encoding/json"
	"fmt"
	"hash/fnv"
	"image"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"

	"gocv.io/x/gocv"

	"gatefold/cmd/internal/hands"
	"gatefold/ocr"
	"gatefold/ocr/calib"
	"gatefold/ocr/joint"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// studied is one field, or one pair of writings, as one variant of the card gave it.
type studied struct {
	Variant string                 `json:"v"`
	Level   string                 `json:"level"`
	Seed    uint64                 `json:"seed"`
	Writer  int                    `json:"writer"`
	Event   int                    `json:"event"` // what is written; its row may differ from variant to variant
	Kind    string                 `json:"kind"`  // bib1, bib2, gate, code or row
	Truth   string                 `json:"truth"`
	Spoil   fill.Spoil             `json:"spoil,omitempty"`
	Text    string                 `json:"text"`
	Score   float64                `json:"score"`
	Clear   bool                   `json:"clear,omitempty"`
	Doubts  []sheetmodel.DoubtKind `json:"doubts,omitempty"`
	Why     []string               `json:"why,omitempty"`
	Copied  bool                   `json:"copied,omitempty"` // both writings of a pair share a glyph
}

// printedVariant is a variant ready to be filled.
type printedVariant struct {
	variant
	part  *part
	drawn *image.Gray
}

// studier fills and reads cards. It serves one goroutine.
type studier struct {
	variants []printedVariant
	front    *sheetmodel.Side // the base's: the same shots for all
	back     *sheetmodel.Side
	hands    []*hands.Hand
	reader   *ocr.Reader
	scores   map[string]float64
	out      *json.Encoder
}

// The parts of a card that the study photographs: the rows up to the gate, and the strips on the back.
var (
	rowsPart  = sheetmodel.Rect{X: 5, Y: 57, W: 112, H: 148}
	rowsWide  = sheetmodel.Rect{X: 5, Y: 57, W: 127, H: 148} // with a second box the gate stands further right
	stripPart = sheetmodel.Rect{X: 30, Y: 84, W: 176, H: 60}
)

func (v variant) side() sheetmodel.SideName {
	if v.back {
		return sheetmodel.Back
	}
	return sheetmodel.Front
}

// rect is the part of the side that is photographed: no printed line lies close to its edge, where the reader
// takes it for ink.
func (v variant) rect() sheetmodel.Rect {
	switch {
	case v.back:
		return stripPart
	case v.second:
		return rowsWide
	}
	return rowsPart
}

func newStudier(which []variant, all []*hands.Hand, out *json.Encoder) (*studier, error) {
	s := &studier{hands: all, out: out, scores: map[string]float64{}}
	base, err := variants[0].layout()
	if err != nil {
		return nil, err
	}
	s.front, s.back = base.Side(sheetmodel.Front), base.Side(sheetmodel.Back)
	for _, v := range which {
		l, err := v.layout()
		if err != nil {
			return nil, err
		}
		p := printedVariant{variant: v}
		side, rect := l.Side(v.side()), v.rect()
		if p.part, err = newPart("rows", side, rect); err != nil {
			return nil, fmt.Errorf("variant %s: %w", v.Name, err)
		}
		whole, err := print.Raster(side, studyPrint(l, side), inkPxPerMM)
		if err != nil {
			return nil, fmt.Errorf("variant %s: %w", v.Name, err)
		}
		p.drawn = cut(whole, rect, inkPxPerMM)
		s.variants = append(s.variants, p)
	}
	s.reader, err = ocr.Open(ocr.Options{Scores: func(field string, _ calib.Kind, score float64) { s.scores[field] = score }})
	return s, err
}

// studyPrint is what differs from card to card.
func studyPrint(l *sheetmodel.Layout, side *sheetmodel.Side) print.CardPrint {
	return print.CardPrint{
		Race: "Dachs Cup, Oberhang", Date: "14 February 2027", Discipline: "giant slalom", Course: "red",
		Identity: sheetmodel.Identity{
			Run: 1, Course: 1, Card: 7, Side: side.Name, Race: sheetmodel.RaceHash("dachs"), Layout: l.HashStart(),
		},
	}
}

// event is what a judge writes down once: bib, code and gate of one row.
type event struct {
	fill.Row
	letter string // of the panel whose strip repeats the bib
}

// studyPlan draws the events of a card: nine of ten rows, every second of them with its bib in a strip.
func studyPlan(rng *rand.Rand) []event {
	empty := 1 + rng.IntN(10)
	var all []event
	letters := "BCDEFG"
	strips := map[string]int{}
	for n := 1; n <= 10; n++ {
		// Drawn for the empty row too, so that the others don't depend on it.
		e := event{Row: fill.Row{Number: n, Bib: drawBib(rng), Gate: strconv.Itoa(1 + rng.IntN(70)), Code: strconv.Itoa(rng.IntN(5))}}
		e.BibAgain = e.Bib
		if rng.Float64() < trouble {
			e.BibSpoil = spoils[rng.IntN(len(spoils))]
		}
		letter := letters[rng.IntN(len(letters)):][:1]
		if n == empty {
			continue
		}
		if e.BibSpoil == fill.Clean && strips[letter] < 3 { // a spoilt bib unties its whole strip, as it should
			e.letter = letter
			strips[letter]++
		}
		all = append(all, e)
	}
	return all
}

// stream is a generator of its own for each thing on a card, so that what one variant has more or less
// leaves everything else as it is.
func stream(seed uint64, words ...any) *rand.Rand {
	h := fnv.New64a()
	fmt.Fprint(h, words...) //nolint:errcheck // a hash takes everything
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// writingDigits gives one writing of one event its glyphs: the same ones in every variant.
type writingDigits struct {
	hand  *hands.Hand
	first int
	given map[int]int
}

// Digit is fill's.
func (w *writingDigits) Digit(d int, _ *rand.Rand) (hand.Strokes, int) {
	w.given[d]++
	return w.hand.Nth(d, w.first+w.given[d])
}

// The writings of an event, in the order of their glyphs.
const (
	writtenBib = iota
	writtenAgain
	writtenInStrip
	writtenGate
	writtenCode
	writings
)

// card fills, photographs and reads one card in every variant.
func (s *studier) card(level camera.Level, seed uint64) error {
	h := s.hands[seed%uint64(len(s.hands))]
	events := studyPlan(stream(seed, "plan"))
	pen := hand.DrawWriter(level.Pens(), stream(seed, "pen", level.Name))
	shots := map[sheetmodel.SideName]camera.Shot{}
	for _, side := range []*sheetmodel.Side{s.front, s.back} {
		rng := stream(seed, "shot", level.Name, side.Name)
		shot := level.Draw(fill.SceneOf(side, image.Point{}), rng)
		for slices.ContainsFunc(shot.Faults, func(f camera.Fault) bool { return f.Kind == camera.Fold }) {
			// The reader knows folds by their ends in the margins, which a part doesn't show.
			shot = level.Draw(fill.SceneOf(side, image.Point{}), rng)
		}
		shots[side.Name] = shot
	}
	var base sheetmodel.SheetReading
	var baseTruth fill.Truth
	for _, v := range s.variants {
		read, truth, err := s.read(v, shots[v.part.Side.Name], seed, h, *pen, events)
		if err != nil {
			return fmt.Errorf("variant %s, card %d: %w", v.Name, seed, err)
		}
		if v.Name == "base" {
			base, baseTruth = read, truth
		}
		if v.back {
			for name, w := range baseTruth {
				truth[name] = w
			}
		}
		if err := s.judge(v, level.Name, seed, h.Writer, events, read, truth, base); err != nil {
			return err
		}
	}
	return nil
}

// fill writes the events onto the part of a variant's sheet that is photographed.
func (s *studier) fill(v printedVariant, seed uint64, h *hands.Hand, pen hand.Writer, events []event) (*image.Gray, fill.Truth) {
	if v.steady > 0 {
		keep := v.steady
		pen.OffXMM, pen.OffYMM, pen.JitterMM = pen.OffXMM*keep, pen.OffYMM*keep, pen.JitterMM*keep
	}
	ink := hand.NewInk(v.part.Rect.Grow(2), inkPxPerMM)
	truth := fill.Truth{}
	write := func(e event, writing int, p fill.Plan) {
		rng := stream(seed, "write", e.Number, writing)
		digits := &writingDigits{hand: h, first: int(seed) + (e.Number*writings+writing)*3, given: map[int]int{}}
		for name, w := range fill.Side(ink, v.part.whole, p, fill.Writer{Pen: &pen, Digits: digits, Box: v.box}, rng) {
			truth[name] = w
		}
	}
	strips := map[string]int{}
	for _, e := range events {
		if v.back {
			if e.letter != "" {
				bibs := make([]string, strips[e.letter]+1) // those before it are written by their own events
				bibs[strips[e.letter]] = e.Bib
				strips[e.letter]++
				write(e, writtenInStrip, fill.Plan{Panels: []fill.Panel{{Letter: e.letter, Bibs: bibs}}})
			}
			continue
		}
		row, ok := v.rowOf(e.Number)
		if !ok {
			continue
		}
		write(e, writtenBib, fill.Plan{Rows: []fill.Row{{Number: row, Bib: e.Bib, BibSpoil: e.BibSpoil}}})
		write(e, writtenAgain, fill.Plan{Rows: []fill.Row{{Number: row, BibAgain: e.BibAgain}}})
		write(e, writtenGate, fill.Plan{Rows: []fill.Row{{Number: row, Gate: e.Gate}}})
		write(e, writtenCode, fill.Plan{Rows: []fill.Row{{Number: row, Code: v.code(e)}}})
	}
	paper := &image.Gray{Pix: slices.Clone(v.drawn.Pix), Stride: v.drawn.Stride, Rect: v.drawn.Rect}
	ink.Over(paper)
	return paper, truth
}

// read fills one variant and reads its photo.
func (s *studier) read(v printedVariant, shot camera.Shot, seed uint64, h *hands.Hand, pen hand.Writer, events []event) (sheetmodel.SheetReading, fill.Truth, error) {
	paper, truth := s.fill(v, seed, h, pen, events)
	rect := v.part.Rect
	patch, err := shot.View().TakePatch(camera.Sheet{Image: paper, PxPerMM: inkPxPerMM}, rect)
	if err != nil {
		return sheetmodel.SheetReading{}, nil, err
	}
	page := patch.Straighten(rect, pagePxPerMM, straightening(stream(seed, "straightening")))
	mat, err := gocv.NewMatFromBytes(page.Rect.Dy(), page.Rect.Dx(), gocv.MatTypeCV8U, page.Pix)
	if err != nil {
		return sheetmodel.SheetReading{}, nil, err
	}
	defer mat.Close()
	clear(s.scores)
	read, err := s.reader.Read(mat, pagePxPerMM, v.part.local, nil)
	return read, truth, err
}

// code is an event's code as the variant writes it.
func (v printedVariant) code(e event) string {
	n, _ := strconv.Atoi(e.Code)
	if v.digits {
		return strconv.Itoa(n + 1)
	}
	f := v.part.whole.Field(fmt.Sprintf("row-%02d.code", 1))
	return f.Options[n].Value
}

// judge writes down what was read of each event.
func (s *studier) judge(v printedVariant, level string, seed uint64, writer int, events []event, read sheetmodel.SheetReading, truth fill.Truth, base sheetmodel.SheetReading) error {
	written := map[int]bool{}
	front, back := read, sheetmodel.SheetReading{}
	if v.back {
		front, back = named(base, events), read
	}
	pairs := map[int]joint.Pair{}
	for _, p := range joint.Card(front, back, s.reader.Judge()) {
		pairs[p.Row] = p
	}
	for _, e := range events {
		number, ok := v.rowOf(e.Number)
		if !ok {
			continue
		}
		written[number] = true
		row := rowOf(front, number)
		one := studied{Variant: v.Name, Level: level, Seed: seed, Writer: writer, Event: e.Number, Spoil: e.BibSpoil}
		if !v.back {
			for _, err := range []error{
				s.one(one, "bib1", e.Bib, row.Bib),
				s.one(one, "gate", e.Gate, row.Gate),
				s.one(one, "code", v.code(e), row.Code),
			} {
				if err != nil {
					return err
				}
			}
		}
		if v.second || v.back && e.letter != "" {
			p := pairs[number]
			one.Kind, one.Truth, one.Text = "bib2", e.Bib, p.Both.Text
			one.Score = joint.ScoreOf(joint.FromReading(p.Both))
			one.Clear = p.Fault == "" && p.Both.State == sheetmodel.Clear
			one.Doubts, one.Why = append(doubts(p.Both), low(p.Both)...), why(p.Both)
			one.Copied = sharesGlyph(truth, e, number, v.back, events)
			if err := s.out.Encode(one); err != nil {
				return err
			}
		}
	}
	if v.back {
		return nil
	}
	for _, r := range read.Rows {
		one := studied{Variant: v.Name, Level: level, Seed: seed, Writer: writer, Event: r.Number, Kind: "row"}
		one.Truth, one.Text = strconv.FormatBool(written[r.Number]), strconv.FormatBool(r.HasInk)
		if err := s.out.Encode(one); err != nil {
			return err
		}
	}
	return nil
}

// one writes down a single reading.
func (s *studier) one(to studied, kind, truth string, x sheetmodel.Reading) error {
	to.Kind, to.Truth, to.Text = kind, truth, x.Text
	to.Score, to.Clear = s.scores[x.Field], x.State == sheetmodel.Clear
	to.Doubts, to.Why = append(doubts(x), low(x)...), why(x)
	if kind != "bib1" {
		to.Spoil = fill.Clean
	}
	if x.State == sheetmodel.Empty {
		to.Why = append(to.Why, "nothing seen")
	}
	return s.out.Encode(to)
}

// low is the doubt that doubts leaves out.
func low(x sheetmodel.Reading) []sheetmodel.DoubtKind {
	if x.HasDoubt(sheetmodel.DoubtLowCertainty) {
		return []sheetmodel.DoubtKind{sheetmodel.DoubtLowCertainty}
	}
	return nil
}

// named puts the panel letters into the base's rows, as marks that were read rightly: the study compares
// strips, not letters.
func named(base sheetmodel.SheetReading, events []event) sheetmodel.SheetReading {
	out := base
	out.Rows = slices.Clone(base.Rows)
	for i := range out.Rows {
		out.Rows[i].Panel = sheetmodel.Reading{Side: sheetmodel.Front, State: sheetmodel.Empty}
		for _, e := range events {
			if e.Number == out.Rows[i].Number && e.letter != "" {
				out.Rows[i].Panel = sheetmodel.Reading{Field: "panel", Side: sheetmodel.Front, Text: e.letter, State: sheetmodel.Clear}
			}
		}
	}
	return out
}

// sharesGlyph reports whether both writings of an event's bib hold one and the same glyph, which makes them
// one writing: a writer's glyphs are dealt in turn, and of some digits there are few.
func sharesGlyph(truth fill.Truth, e event, row int, strip bool, events []event) bool {
	second := fmt.Sprintf("row-%02d.bib-again", row)
	if strip {
		entry := 1
		for _, other := range events {
			if other.letter == e.letter && other.Number < e.Number {
				entry++
			}
		}
		second = fmt.Sprintf("panel-%s.entry-%d.bib", strings.ToLower(e.letter), entry)
	}
	first := truth[fmt.Sprintf("row-%02d.bib", row)].Glyphs
	return slices.ContainsFunc(first, func(g int) bool { return slices.Contains(truth[second].Glyphs, g) })
}
