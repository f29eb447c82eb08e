// Package stacktest lays invented cards on a table: a race, its store and pages with typed ink on them.
//
//	New(t) --Card, Type, Ask--> Table --Load--> Stack, rules.Result
//
// The ink is set in type, for tests of what comes after reading; it proves nothing about handwriting.
package stacktest

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io"
	"path/filepath"
	"runtime"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"

	"gatefold/review/crop"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/rules"
	"gatefold/sheetmodel"
	cards "gatefold/sheetmodel/print"
	"gatefold/sheetmodel/racefolder"
)

// PxPerMM is the scale of the pages.
const PxPerMM = 6

// Table is a race with cards on it.
type Table struct {
	T      testing.TB
	Folder *racefolder.Folder // the bundled demo race; not to be saved to
	Race   *sheetmodel.Race
	Layout *sheetmodel.Layout
	Store  *store.Store
	// Header is what the next cards' lines may say, by field: header.judge, header.phone.
	Header map[string]string
}

// Row is what a judge wrote into one row. State is that of the bib; empty means clear.
type Row struct {
	Bib, Code, Gate, Panel string
	State                  sheetmodel.State
	Rivals                 []string
	Doubt                  sheetmodel.DoubtKind
	Struck                 bool
	NoPath                 bool // its panel holds the gates as sketched, as far as a reader sees
}

// New lays an empty table: the demo race with an empty store.
func New(t testing.TB) *Table {
	t.Helper()
	f, err := racefolder.Open(demoRace())
	require.NoError(t, err)
	l, err := sheetmodel.GateCard().BindRace(f.Race(), "a5", false)
	require.NoError(t, err)
	s, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return &Table{T: t, Folder: f, Race: f.Race(), Layout: l, Store: s}
}

func demoRace() string {
	_, file, _, _ := runtime.Caller(0)
	return filepath.Join(filepath.Dir(file), "..", "..", "..", "testdata", "demo-race")
}

// Cutter cuts crops out of the table's pages.
func (b *Table) Cutter() *crop.Cutter {
	return &crop.Cutter{Open: func(file string) (io.ReadCloser, error) { return b.Store.OpenFile(file) }}
}

// LayoutByHash finds the table's one layout.
func (b *Table) LayoutByHash(hash string) *sheetmodel.Layout {
	if hash == b.Layout.Hash() {
		return b.Layout
	}
	return nil
}

// Card adds a photo of both sides of a card in run 1 with the given rows, row 1 first. The number of
// rows that stand is written at its foot.
func (b *Table) Card(course string, card int, rows ...Row) {
	b.T.Helper()
	sheets := b.Sheets(course, card, rows...)
	original := sheets[0].Page // any bytes do; these differ from card to card
	p, known, err := b.Store.AddPhoto(b.T.Context(), fmt.Sprintf("card-%02d.png", card), bytes.NewReader(original), int64(len(original)), time.Time{})
	require.NoError(b.T, err)
	require.False(b.T, known)
	require.NoError(b.T, b.Store.AddSheets(b.T.Context(), p.ID, "test reader", sheets))
}

// Sheets returns front and back of such a card as they would be read from one photo.
func (b *Table) Sheets(course string, card int, rows ...Row) []store.NewSheet {
	b.T.Helper()
	front, back := b.side(course, card, sheetmodel.Front), b.side(course, card, sheetmodel.Back)
	stand := 0
	for i, r := range rows {
		b.write(front, back, i+1, r)
		if !r.Struck {
			stand++
		}
	}
	count := front.put("foot.row-count", fmt.Sprint(stand), sheetmodel.Clear)
	front.new.Read.Reading.Header = append(front.new.Read.Reading.Header, count)
	for _, name := range []string{"header.judge", "header.phone"} {
		if text := b.Header[name]; text != "" {
			front.new.Read.Reading.Header = append(front.new.Read.Reading.Header, front.put(name, text, sheetmodel.Doubtful))
		}
	}
	front.new.Page, back.new.Page = front.png(), back.png()
	return []store.NewSheet{front.new, back.new}
}

// Type lets a person see the ink of a field and type it blind.
func (b *Table) Type(by, key, text string) {
	b.T.Helper()
	require.NoError(b.T, b.Store.Serve(b.T.Context(), store.Served{Session: by, Person: by, Readings: []string{key}, What: "test"}))
	d, err := b.Store.Settle(b.T.Context(), store.Entry{Reading: key, Text: text, Basis: sheetmodel.BasisOnPaper, By: by, Session: by})
	require.NoError(b.T, err)
	require.True(b.T, d[0].Blind)
}

// Ask lets the judge name a field's text unprompted.
func (b *Table) Ask(by, key, text string) {
	b.T.Helper()
	_, err := b.Store.Settle(b.T.Context(), store.Entry{Reading: key, Text: text, Basis: sheetmodel.BasisJudgeAsked, ReadBack: true, By: by, Session: by})
	require.NoError(b.T, err)
}

// SetAside sets a field aside.
func (b *Table) SetAside(by, key, why string) {
	b.T.Helper()
	_, err := b.Store.Settle(b.T.Context(), store.Entry{Reading: key, Basis: sheetmodel.BasisSetAside, Note: why, By: by, Session: by})
	require.NoError(b.T, err)
}

// Load looks at the table as it stands.
func (b *Table) Load() (*stack.Stack, rules.Result) {
	b.T.Helper()
	s, err := stack.Load(b.T.Context(), b.Race, b.Store)
	require.NoError(b.T, err)
	return s, rules.Check(s.Facts())
}

// Key is the key of a row's field on a card of run 1.
func Key(course string, card, row int, part sheetmodel.Part) string {
	return store.Key(sheetmodel.CardKey{Run: 1, Course: course, Card: card}, sheetmodel.Front, stack.RowField(row, part))
}

// side is one side of a card while it is being written.
type side struct {
	t      testing.TB
	layout *sheetmodel.Side
	print  cards.CardPrint
	ink    []typed
	new    store.NewSheet
}

// typed is a text that is set on a side.
type typed struct {
	text string
	at   sheetmodel.Rect
}

// pages keeps what was drawn once: most tests of a package lay the same cards on the table, and drawing and packing
// them is most of what such a test costs.
var pages sync.Map // of []byte, by all that a page follows from

func (b *Table) side(course string, card int, name sheetmodel.SideName) *side {
	b.T.Helper()
	id := sheetmodel.Identity{
		Run: 1, Course: b.Race.CourseIndex(course), Card: card, Side: name, Race: sheetmodel.RaceHash(b.Race.ID), Layout: b.Layout.HashStart(),
	}
	print := cards.CardPrint{Race: b.Race.Name, Date: b.Race.Date, Discipline: b.Race.Discipline, Course: course, Identity: id}
	return &side{t: b.T, layout: b.Layout.Side(name), print: print, new: store.NewSheet{
		Part: map[sheetmodel.SideName]int{sheetmodel.Front: 1, sheetmodel.Back: 2}[name], Identity: id,
		Card: sheetmodel.CardKey{Run: 1, Course: course, Card: card}, Layout: b.Layout.Hash(), PagePxPerMM: PxPerMM,
		Read: store.SideRead{Reading: sheetmodel.SheetReading{Side: name, Reader: "test reader"}},
	}}
}

func (b *Table) write(front, back *side, n int, r Row) {
	f := func(p sheetmodel.Part) string { return stack.RowField(n, p) }
	state := r.State
	if state == "" {
		state = sheetmodel.Clear
	}
	row := sheetmodel.Row{
		Number: n, HasInk: true, Struck: r.Struck, Bib: front.put(f(sheetmodel.PartBib), r.Bib, state), Code: front.put(f(sheetmodel.PartCode), r.Code, sheetmodel.Clear),
		CodeOther: front.put(f(sheetmodel.PartCodeOther), "", sheetmodel.Empty), Gate: front.put(f(sheetmodel.PartGate), r.Gate, sheetmodel.Clear),
		Panel: front.put(f(sheetmodel.PartPanel), r.Panel, sheetmodel.Clear), Rerun: front.put(f(sheetmodel.PartRerun), "", sheetmodel.Empty),
	}
	for _, v := range r.Rivals {
		row.Bib.Rivals = append(row.Bib.Rivals, sheetmodel.Rival{Text: v, Prob: 0.2})
	}
	if state == sheetmodel.Doubtful {
		kind := r.Doubt
		if kind == "" {
			kind = sheetmodel.DoubtLowCertainty
		}
		row.Bib.Doubts = []sheetmodel.Doubt{{Kind: kind, Detail: "for this test"}}
	}
	if len(r.Rivals) == 0 {
		front.new.Read.Alone = append(front.new.Read.Alone, row.Bib.Field)
	}
	front.new.Read.Alone = append(front.new.Read.Alone, row.Gate.Field, row.Code.Field)
	front.new.Read.Reading.Rows = append(front.new.Read.Reading.Rows, row)
	if r.Panel != "" {
		drawing := back.put(stack.PanelField(r.Panel, sheetmodel.PartDrawing), "/", sheetmodel.Doubtful)
		if r.NoPath {
			drawing.Doubts = []sheetmodel.Doubt{{Kind: sheetmodel.DoubtNoPath, Detail: "for this test"}}
		}
		back.new.Read.Reading.Ink = append(back.new.Read.Reading.Ink, drawing)
	}
}

// put sets text in type where a field is and returns the Reading a reader might make of it. Choices
// are crossed. An empty text leaves the field empty, whatever the state.
func (s *side) put(name, text string, state sheetmodel.State) sheetmodel.Reading {
	s.t.Helper()
	f := s.layout.Field(name)
	if f == nil {
		return sheetmodel.Reading{}
	}
	r := sheetmodel.Reading{Field: name, Side: s.layout.Name, Text: text, State: state, Region: f.Rect}
	if text == "" {
		r.State = sheetmodel.Empty
		return r
	}
	switch f.Kind {
	case sheetmodel.Comb:
		for i, c := range []rune(text) {
			s.draw(string(c), f.Rect.Box(i, f.Boxes))
		}
	case sheetmodel.Choice:
		for _, o := range f.Options {
			if o.Value == text {
				s.draw("x", o.Rect)
			}
		}
	default:
		s.draw(text, f.Rect)
	}
	return r
}

func (s *side) draw(text string, at sheetmodel.Rect) { s.ink = append(s.ink, typed{text, at}) }

// png is the page with its ink; not to be changed.
func (s *side) png() []byte {
	s.t.Helper()
	key := fmt.Sprintf("%s %s %+v %+v", s.new.Layout, s.layout.Name, s.print, s.ink)
	if page, known := pages.Load(key); known {
		return page.([]byte)
	}
	img, err := cards.Raster(s.layout, s.print, PxPerMM)
	require.NoError(s.t, err)
	parsed, err := opentype.Parse(sheetmodel.Italic.TTF())
	require.NoError(s.t, err)
	for _, w := range s.ink {
		h := min(w.at.H, 12) * 0.8 * PxPerMM
		face, err := opentype.NewFace(parsed, &opentype.FaceOptions{Size: float64(h), DPI: 72})
		require.NoError(s.t, err)
		d := font.Drawer{Dst: img, Src: image.NewUniform(color.Gray{Y: 60}), Face: face}
		p := sheetmodel.PageFromSheet(w.at.Center(), PxPerMM)
		d.Dot = fixed.P(int(p.X)-d.MeasureString(w.text).Round()/2, int(p.Y)+int(h*0.36))
		d.DrawString(w.text)
	}
	var b bytes.Buffer
	require.NoError(s.t, png.Encode(&b, img))
	pages.Store(key, b.Bytes())
	return b.Bytes()
}
