package propose_test

import (
	"image"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
	"gatefold/sheetmodel/propose"
)

// Expected values of this file: our own logic. The forms are of our own invention.

// told reads what a test says is printed.
type told struct {
	words   []propose.Word
	letters []string // one after the other
	number  int      // the next one
}

func (r *told) Page(*image.Gray) ([]propose.Word, error) { return r.words, nil }
func (r *told) Block(*image.Gray) (string, error)        { return "", nil }

func (r *told) Letter(*image.Gray) (string, error) {
	if len(r.letters) == 0 {
		return "", nil
	}
	one := r.letters[0]
	r.letters = r.letters[1:]
	return one, nil
}

func (r *told) Number(*image.Gray) (string, error) {
	r.number++
	return strconv.Itoa(r.number - 1), nil
}

const toldPxPerMM = 8

// sheetOf draws boxes and words. A word is told to the reader as well.
type sheetOf struct {
	side sheetmodel.Side
	told told
}

func newSheet() *sheetOf {
	return &sheetOf{side: sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210}}
}

func (s *sheetOf) box(x, y, w, h sheetmodel.MM) {
	s.side.Print = append(s.side.Print, sheetmodel.PrintItem{Box: &sheetmodel.Rect{X: x, Y: y, W: w, H: h}, Width: 0.3})
}

func (s *sheetOf) word(x, y sheetmodel.MM, text string) {
	s.print(x, y, text)
	px := func(v sheetmodel.MM) int { return int(v * toldPxPerMM) }
	s.told.words = append(s.told.words, propose.Word{Text: text, Sure: 0.9, Box: image.Rect(px(x), px(y-2.2), px(x)+px(1.4)*len(text), px(y))})
}

func (s *sheetOf) print(x, y sheetmodel.MM, text string) {
	s.side.Print = append(s.side.Print, sheetmodel.PrintItem{Text: text, At: sheetmodel.SheetPoint{X: x, Y: y}, Size: 3})
}

func (s *sheetOf) fields(t *testing.T) []sheetmodel.Field {
	t.Helper()
	return s.styled(t, sheetmodel.FaultOnly)
}

func (s *sheetOf) styled(t *testing.T, style sheetmodel.Style) []sheetmodel.Field {
	t.Helper()
	p, err := propose.SideOf(style, print.RasterBlank(&s.side, toldPxPerMM), s.side.W, s.side.H, &s.told)
	require.NoError(t, err)
	return p.Fields
}

func of(fields []sheetmodel.Field, part sheetmodel.Part) []sheetmodel.Field {
	var some []sheetmodel.Field
	for _, f := range fields {
		if f.Part == part {
			some = append(some, f)
		}
	}
	return some
}

// Six panels in three rows, each with a strip of three boxes that don't touch: each strip is for the bibs drawn over it, not a
// column of a table. Letters may begin anywhere; one that was misread is known by its neighbours.
func TestSide_BoxesApartUnderPanels_AreEachPanelsStrip(t *testing.T) {
	s := newSheet()
	for k := range 6 {
		x, y := sheetmodel.MM(9+67*(k%2)), sheetmodel.MM(18+60*(k/2))
		s.box(x, y, 63, 44)
		s.print(x+3, y+6, string(rune('P'+k)))
		s.box(x, y+44, 63, 11)
		for j := range 3 {
			s.box(x+20+sheetmodel.MM(9*j), y+45, 8, 9)
		}
	}
	s.told.letters = []string{"P", "Q", "R", "5", "T", "U"}
	all := s.fields(t)
	assert.Len(t, all, 12)
	for part, kind := range map[sheetmodel.Part]sheetmodel.Kind{sheetmodel.PartDrawing: sheetmodel.Drawing, sheetmodel.PartBib: sheetmodel.Comb} {
		some := of(all, part)
		require.Len(t, some, 6, part)
		letters := map[string]bool{}
		for _, f := range some {
			assert.Equal(t, kind, f.Kind)
			assert.Zero(t, f.Row)
			letters[f.Panel] = true
		}
		assert.Equal(t, map[string]bool{"P": true, "Q": true, "R": true, "S": true, "T": true, "U": true}, letters, part)
	}
	for _, f := range of(all, sheetmodel.PartBib) {
		assert.Equal(t, 3, f.Boxes)
	}
}

// A run's number is one digit: its box is one of a comb, which can be read for certain; a wider one is a cell.
func TestSide_BoxForTheRun_IsOneOfAComb(t *testing.T) {
	for wide, want := range map[sheetmodel.MM]sheetmodel.Kind{8: sheetmodel.Comb, 20: sheetmodel.Cell} {
		s := newSheet()
		s.word(10, 20, "Run")
		s.box(22, 13, wide, 10)
		runs := of(s.fields(t), sheetmodel.PartRun)
		require.Len(t, runs, 1)
		assert.Equal(t, want, runs[0].Kind)
		assert.Equal(t, map[sheetmodel.Kind]int{sheetmodel.Comb: 1}[want], runs[0].Boxes)
	}
}

// A slip whose boxes touch nothing, with headings a finger's breadth above them: one table, and the words are found. Nothing is taken
// from over another place to write.
func TestSide_LooseBoxesUnderHighHeadings_AreOneTable(t *testing.T) {
	s := newSheet()
	s.word(10, 22, "Gate")
	s.box(20, 17, 20, 8)
	s.word(20, 50, "Number")
	s.word(54, 50, "Gate")
	for r := range 5 {
		y := 59 + 12*sheetmodel.MM(r)
		for k := range 3 {
			s.box(20+8.6*sheetmodel.MM(k), y, 7, 9)
		}
		for k := range 2 {
			s.box(54+8.6*sheetmodel.MM(k), y, 7, 9)
		}
		s.box(84, y+2, 5.5, 5.5)
	}
	all := s.fields(t)
	rows := map[int]int{}
	for _, f := range all {
		if f.Row > 0 {
			rows[f.Row]++
		}
	}
	assert.Equal(t, map[int]int{1: 3, 2: 3, 3: 3, 4: 3, 5: 3}, rows)
	for part, boxes := range map[sheetmodel.Part]int{sheetmodel.PartBib: 3, sheetmodel.PartGate: 2} {
		some := of(all, part)
		require.Len(t, some, 5, part)
		assert.Equal(t, boxes, some[0].Boxes)
	}
}

// tableOf has a printed number and a mark in each row, and wide boxes under one heading.
func tableOf(over string) *sheetOf {
	s := newSheet()
	s.told.number = 41
	s.word(9, 30, "Gates")
	s.box(24, 24, 7, 8.5)
	s.box(31, 24, 7, 8.5)
	s.word(42, 30, "to")
	s.box(48, 24, 7, 8.5)
	s.box(55, 24, 7, 8.5)
	s.word(70, 30, "number")
	s.box(88, 24, 20, 8.5)
	widths := []sheetmodel.MM{14, 12}
	for row := range 7 {
		x, y := sheetmodel.MM(9), sheetmodel.MM(60+10.5*float64(row))
		for _, w := range widths {
			s.box(x, y, w, 10.5)
			x += w
		}
		if row == 0 {
			s.box(x, y, 34.5, 10.5)
			s.word(x+10, y+6, "minutes")
			s.word(10, y+6, over)
			s.word(24, y+6, "come")
			continue
		}
		s.print(12, y+7, strconv.Itoa(40+row))
		for range 3 {
			s.box(x, y, 11.5, 10.5)
			x += 11.5
		}
	}
	return s
}

// Numbers printed before the rows are bibs if the word over them says so, whatever the other columns are called: rows have
// numbers too. Boxes wider than most stand for one digit each where one heading is over them. Another number in the header
// than a bib is none where the table has them.
func TestSide_NumbersUnderAWordForBibs_ArePrintedBibs(t *testing.T) {
	all := tableOf("racer").fields(t)
	bibs := of(all, sheetmodel.PartBib)
	require.Len(t, bibs, 6)
	for i, f := range bibs {
		assert.Equal(t, sheetmodel.Printed, f.Kind)
		assert.Equal(t, strconv.Itoa(41+i), f.Options[0].Value)
		assert.Equal(t, i+1, f.Row)
	}
	combs := 0
	for _, f := range all {
		if f.Row > 0 && f.Kind == sheetmodel.Comb {
			combs++
			assert.Equal(t, 3, f.Boxes)
		}
	}
	assert.Equal(t, 6, combs)
	assert.Len(t, of(all, sheetmodel.PartGateFrom), 1, "gates [ ] to [ ]")
	assert.Len(t, of(all, sheetmodel.PartGateTo), 1)
}

func TestSide_NumbersUnderNoSuchWord_AreNoBibs(t *testing.T) {
	for _, f := range tableOf("line").fields(t) {
		assert.NotEqual(t, sheetmodel.Printed, f.Kind)
	}
}

// rollOf has a printed number in each row, under the word over, and behind it a column of the given width under the word mark, with a box to
// tick in it if boxed, two boxes for a gate, and a column for faults.
func rollOf(over, mark string, wide sheetmodel.MM, boxed bool) *sheetOf {
	s := newSheet()
	s.told.number = 41
	for row := range 8 {
		x, y := sheetmodel.MM(12), sheetmodel.MM(40+8.2*float64(row))
		for c, w := range []sheetmodel.MM{11, wide, 8, 8, 11} {
			if c == 3 && row == 0 {
				continue
			}
			if c == 2 && row == 0 {
				w = 16
			}
			s.box(x, y, w, 8.2)
			if head := []string{over, mark, "Gate", "", "Fault"}[c]; row == 0 && head != "" {
				s.word(x+1, y+5, head)
			}
			if c == 1 && row > 0 && boxed {
				s.box(x+(w-5)/2, y+1.6, 5, 5)
			}
			x += w
		}
		if row > 0 {
			s.print(15, y+5.5, strconv.Itoa(40+row))
		}
	}
	return s
}

// On a list of all racers a narrow column headed Seen is for who came by, and the one for faults is the code; so is a column of boxes to
// tick behind the bibs over which nothing is printed. A wide column, and one that another word stands over, is neither. On a card for
// faults alone, Seen is what the judge saw.
func TestSide_SeenOnAListOfAllRacers_IsWhoCameBy(t *testing.T) {
	for _, c := range []struct {
		over, mark   string
		wide         sheetmodel.MM
		boxed        bool
		style        sheetmodel.Style
		passed, code int           // fields
		at           sheetmodel.MM // of the code, its left
	}{
		{"Bib", "Seen", 10, false, sheetmodel.EveryRacer, 7, 7, 49},
		{"line", "Seen", 10, false, sheetmodel.EveryRacer, 7, 7, 49},
		{"Bib", "Through", 10, false, sheetmodel.EveryRacer, 7, 7, 49},
		{"Bib", "Seen", 10, true, sheetmodel.EveryRacer, 7, 7, 49},
		{"Bib", "", 10, true, sheetmodel.EveryRacer, 7, 7, 49},
		{"Bib", "Missing", 10, true, sheetmodel.EveryRacer, 0, 7, 49},
		{"line", "", 10, true, sheetmodel.EveryRacer, 0, 7, 49},
		{"Bib", "", 10, false, sheetmodel.EveryRacer, 0, 7, 49},
		{"Bib", "Seen", 24, false, sheetmodel.EveryRacer, 0, 7, 23},
		{"Bib", "Seen", 10, false, sheetmodel.FaultOnly, 0, 7, 23},
		{"Bib", "", 10, true, sheetmodel.FaultOnly, 0, 7, 49},
	} {
		all := rollOf(c.over, c.mark, c.wide, c.boxed).styled(t, c.style)
		passed, code := of(all, sheetmodel.PartPassed), of(all, sheetmodel.PartCode)
		assert.Len(t, passed, c.passed, "%+v", c)
		assert.Len(t, code, c.code, "%+v", c)
		for _, f := range passed {
			assert.Equal(t, sheetmodel.Tick, f.Kind, "%+v", c)
			assert.Equal(t, sheetmodel.GrammarMark, f.Grammar, "%+v", c)
			assert.Less(t, f.Rect.X, sheetmodel.MM(30), "%+v", c)
		}
		for _, f := range code {
			assert.InDelta(t, float64(c.at), float64(f.Rect.X), 1, "%+v", c)
		}
	}
}
