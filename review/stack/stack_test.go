package stack_test

import (
	"bytes"
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/rules"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// table is a race with its store, to put invented cards on.
type table struct {
	t      testing.TB
	race   *sheetmodel.Race
	store  *store.Store
	photos int
}

func newTable(t testing.TB) *table {
	t.Helper()
	s, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: storetest.Clock()})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return &table{t: t, race: demoRace(t), store: s}
}

func demoRace(t testing.TB) *sheetmodel.Race {
	t.Helper()
	f, err := racefolder.Open("../../testdata/demo-race")
	require.NoError(t, err)
	return f.Race()
}

// front is a side with rows; change makes it what the case needs.
func (b *table) front(card int, bibs ...string) store.NewSheet {
	n := storetest.Side(card, 1, "0")
	n.Identity.Race = sheetmodel.RaceHash(b.race.ID)
	n.Read.Reading.Rows, n.Read.Alone = nil, nil
	for i, bib := range bibs {
		field := func(p sheetmodel.Part) string { return stack.RowField(i+1, p) }
		reading := func(p sheetmodel.Part, text string) sheetmodel.Reading {
			state := sheetmodel.Clear
			if text == "" {
				state = sheetmodel.Empty
			}
			return sheetmodel.Reading{Field: field(p), Side: sheetmodel.Front, Text: text, State: state}
		}
		gate := b.race.Run(1).Course("Blue").Places[card-1].Gates[1]
		n.Read.Reading.Rows = append(n.Read.Reading.Rows, sheetmodel.Row{
			Number: i + 1, HasInk: true, Bib: reading(sheetmodel.PartBib, bib), BibAgain: reading(sheetmodel.PartBibAgain, ""),
			Code: reading(sheetmodel.PartCode, "F"), CodeOther: reading(sheetmodel.PartCodeOther, ""), Gate: reading(sheetmodel.PartGate, gate),
			Panel: reading(sheetmodel.PartPanel, "B"), Rerun: reading(sheetmodel.PartRerun, ""),
		})
		n.Read.Alone = append(n.Read.Alone, field(sheetmodel.PartBib))
	}
	return n
}

func (b *table) back(card int) store.NewSheet {
	n := b.front(card)
	n.Identity.Side, n.Read.Reading.Side = sheetmodel.Back, sheetmodel.Back
	n.Read.Reading.Ink = []sheetmodel.Reading{{Field: "panel-b.drawing", Side: sheetmodel.Back, State: sheetmodel.Doubtful}}
	return n
}

func (b *table) add(sides ...store.NewSheet) {
	b.t.Helper()
	b.photos++
	p, _, err := b.store.AddPhoto(b.t.Context(), "p.jpg", bytes.NewReader(fmt.Appendf(nil, "\xff\xd8\xff photo %d", b.photos)), -1, time.Time{})
	require.NoError(b.t, err)
	require.NoError(b.t, b.store.AddSheets(b.t.Context(), p.ID, "reader", sides))
}

func (b *table) load() (*stack.Stack, rules.Result) {
	b.t.Helper()
	s, err := stack.Load(b.t.Context(), b.race, b.store)
	require.NoError(b.t, err)
	return s, rules.Check(s.Facts())
}

func (b *table) types(by, key, text string) {
	b.t.Helper()
	require.NoError(b.t, b.store.Serve(b.t.Context(), store.Served{Session: by, Person: by, Readings: []string{key}, What: "test"}))
	_, err := b.store.Settle(b.t.Context(), store.Entry{Reading: key, Text: text, Basis: sheetmodel.BasisOnPaper, By: by, Session: by})
	require.NoError(b.t, err)
}

func rowRef(card, row int) sheetmodel.RowRef {
	return sheetmodel.RowRef{CardKey: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card}, Row: row}
}

func TestStack_OneClearWriting_WaitsUntilTypedBlind(t *testing.T) {
	b := newTable(t)
	b.add(b.front(2, "14"), b.back(2))
	s, result := b.load()
	require.Len(t, result.Calls, 1)
	assert.True(t, result.Calls[0].Waiting)
	waits := s.Waiting(result)
	require.Len(t, waits, 1)
	assert.Equal(t, look.NeedEntry, waits[0].Need)
	assert.Equal(t, "run1/Blue/card-2/front/row-01.bib", waits[0].Entry.Key)
	assert.True(t, s.Row(rowRef(2, 1)).Drawn)

	b.types("Ada", waits[0].Entry.Key, "14")
	s, result = b.load()
	require.Len(t, result.Calls, 1)
	assert.False(t, result.Calls[0].Waiting, "%v", result.Calls[0].WaitsFor)
	assert.Empty(t, s.Waiting(result))
}

func TestStack_TiesHoldForTheirTwoSheetsOnly(t *testing.T) {
	b := newTable(t)
	b.add(b.front(2, "14"), b.back(2))
	s, _ := b.load()
	c := s.Card(rowRef(2, 1).CardKey)
	require.NoError(t, b.store.AddTies(t.Context(), store.CardTies{
		Front: c.Front.ID, Back: c.Back.ID, Reader: "reader", Ties: []look.Tied{{Row: 1, Panel: "B", Entry: 1, Text: "14", Second: "14", Clear: true}},
	}))
	s, result := b.load()
	assert.Equal(t, sheetmodel.BibTwoLooks, s.Row(rowRef(2, 1)).BibState)
	assert.False(t, result.Calls[0].Waiting)

	b.add(b.back(2)) // photographed again: the tie has to be worked out anew
	s, _ = b.load()
	assert.Equal(t, sheetmodel.BibOneLook, s.Row(rowRef(2, 1)).BibState)
}

func TestStack_ReadAgain_KeepsTheDecision(t *testing.T) {
	b := newTable(t)
	b.add(b.front(2, "14"))
	b.types("Ada", "run1/Blue/card-2/front/row-01.bib", "14")
	photos, err := b.store.Photos(t.Context())
	require.NoError(t, err)
	require.NoError(t, b.store.AddSheets(t.Context(), photos[0].ID, "better reader", []store.NewSheet{b.front(2, "14")}))
	s, _ := b.load()
	assert.Equal(t, sheetmodel.BibTwoLooks, s.Row(rowRef(2, 1)).BibState)
}

func TestStack_TwoPhotosOfASide_LaterCountsAndADifferenceIsAsked(t *testing.T) {
	b := newTable(t)
	b.add(b.front(2, "14"))
	b.add(b.front(2, "14"))
	s, _ := b.load()
	assert.Empty(t, s.Questions)
	assert.Equal(t, "p.jpg", s.Photos[1].Sent)
	assert.Equal(t, s.Photos[1].ID, s.Card(rowRef(2, 1).CardKey).Front.Photo)
	assert.Equal(t, sheetmodel.BibOneLook, s.Row(rowRef(2, 1)).BibState)

	b.add(b.front(2, "19", "7")) // bib differs, and a row more
	s, result := b.load()
	require.Len(t, s.Questions, 1)
	assert.Equal(t, []int{1, 2}, s.Questions[0].Rows)
	for row := 1; row <= 2; row++ {
		assert.Equal(t, sheetmodel.BibWaiting, s.Row(rowRef(2, row)).BibState)
	}
	for _, c := range result.Calls {
		assert.True(t, c.Waiting)
	}

	require.NoError(t, b.store.Answer(t.Context(), store.Answer{Question: s.Questions[0].Key, Value: stack.AnswerEarlier, By: "Ada"}))
	s, _ = b.load()
	require.Len(t, s.Rows, 1)
	assert.Equal(t, "14", s.Rows[0].Bib)
	assert.True(t, s.Questions[0].Answered)
}

func TestStack_RowOnlyInTheEarlierPhoto_IsNotDropped(t *testing.T) {
	b := newTable(t)
	b.add(b.front(2, "14", "19"))
	b.add(b.front(2, "14"))
	s, _ := b.load()
	require.Len(t, s.Rows, 2)
	assert.Equal(t, sheetmodel.BibWaiting, s.Rows[1].BibState)
}

func TestStack_FreeCell_IsNeverUsedUnseen(t *testing.T) {
	b := newTable(t)
	n := b.front(2, "14")
	r := &n.Read.Reading.Rows[0]
	r.Code.Text, r.Code.State = "", sheetmodel.Empty
	r.CodeOther.Text, r.CodeOther.State = "O", sheetmodel.Clear
	n.Read.Alone = append(n.Read.Alone, r.CodeOther.Field)
	b.add(n)
	s, result := b.load()
	assert.False(t, s.Rows[0].CodeSure)
	waits := s.Waiting(result)
	require.Len(t, waits, 2)
	assert.Equal(t, "run1/Blue/card-2/front/row-01.code", waits[1].Entry.Key)
	b.types("Ada", waits[1].Entry.Key, "O")
	s, _ = b.load()
	assert.True(t, s.Rows[0].CodeSure)
	assert.Equal(t, "O", s.Rows[0].Row.Code)
}

func TestStack_TickAndFreeCell_IsAsked(t *testing.T) {
	b := newTable(t)
	n := b.front(2, "14")
	n.Read.Reading.Rows[0].CodeOther.State = sheetmodel.Doubtful
	b.add(n)
	s, _ := b.load()
	assert.False(t, s.Rows[0].CodeSure)
}

func TestStack_TypedFromPaper_NeedsTwoPeople(t *testing.T) {
	b := newTable(t)
	key := rowRef(3, 1).CardKey
	require.NoError(t, b.store.TypeFromPaper(t.Context(), store.PaperCard{Card: key, Rows: 1, By: "Ada"}))
	s, _ := b.load()
	require.Len(t, s.Rows, 1)
	assert.Equal(t, sheetmodel.BibWaiting, s.Rows[0].BibState)
	for by, text := range map[string]string{"Ada": "9", "Bo": "9"} {
		b.types(by, s.Rows[0].BibSeen.Key, text)
		b.types(by, s.Rows[0].Code.Key, "F")
		b.types(by, s.Rows[0].Gate.Key, "14")
	}
	s, result := b.load()
	assert.Equal(t, sheetmodel.BibTwoLooks, s.Rows[0].BibState)
	require.Len(t, result.Calls, 1)
	assert.False(t, result.Calls[0].Waiting, "%v", result.Calls[0].WaitsFor)
}

func TestStack_Spare_CountsWhereItWasUsed(t *testing.T) {
	b := newTable(t)
	n := b.front(2, "14")
	n.Card, n.Identity.Run = sheetmodel.CardKey{Card: 201}, 0
	b.add(n)
	s, _ := b.load()
	require.NotNil(t, s.Card(sheetmodel.CardKey{Card: 201}))
	require.NoError(t, b.store.Bind(t.Context(), store.Binding{
		Card: sheetmodel.CardKey{Card: 201}, Run: 1, Course: "Blue", Gates: []string{"6", "7"}, Source: "header", By: "Ada",
	}))
	s, _ = b.load()
	c := s.Card(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 201})
	require.NotNil(t, c)
	assert.True(t, c.Spare)
	assert.Equal(t, 0, c.Printed.Run)
	assert.Equal(t, "spare/card-201/front/row-01.bib", s.Rows[0].BibSeen.Key)
	assert.Equal(t, c.Key, s.Rows[0].Ref.CardKey)
}

func TestStack_OtherRacesCard_IsShownAndNotUsed(t *testing.T) {
	b := newTable(t)
	n := b.front(2, "14")
	n.Identity.Race = "ffff"
	b.add(n)
	s, _ := b.load()
	assert.Len(t, s.Foreign, 1)
	assert.Empty(t, s.Rows)
}

func TestStack_ExpectedCards_AreThereBeforeTheyComeIn(t *testing.T) {
	b := newTable(t)
	n := b.front(2)
	n.Read.Reading.Header = []sheetmodel.Reading{
		{Field: "foot.row-count", Text: "0", State: sheetmodel.Clear}, {Field: "header.gate-from", Text: "6", State: sheetmodel.Doubtful},
		{Field: "header.course", Text: "Blue", State: sheetmodel.Clear},
	}
	b.add(n)
	s, result := b.load()
	assert.Len(t, s.Cards, 12)
	in := s.Card(rowRef(2, 1).CardKey)
	assert.True(t, in.In)
	require.NotNil(t, in.RowCount)
	assert.Equal(t, 0, *in.RowCount)
	assert.Equal(t, "Blue", in.Ringed)
	assert.Empty(t, in.HeaderFrom, "doubtful")
	assert.Equal(t, "Petra Mossladle", in.Judge)
	out := s.Card(rowRef(3, 1).CardKey)
	assert.False(t, out.In)
	missing := 0
	for _, f := range result.Findings {
		if f.Rule == "missing-card" {
			missing++
		}
	}
	assert.Equal(t, 11, missing)
}

// A row is found wherever it stands, also in a copy whose rows were put elsewhere. Source: our own logic.
func TestStack_Row_IsTheFirstOfItsPlace(t *testing.T) {
	b := stacktest.New(t)
	for card := 1; card <= 3; card++ {
		b.Card("Blue", card, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "30", Code: "K", Gate: "7"})
	}
	s, _ := b.Load()
	require.Len(t, s.Rows, 6)
	shuffled := *s
	shuffled.Rows = slices.Clone(s.Rows)
	slices.Reverse(shuffled.Rows)
	shorter := *s
	shorter.Rows = slices.Clone(s.Rows[3:])
	for i := range s.Rows {
		ref := s.Rows[i].Ref
		assert.Same(t, &s.Rows[i], s.Row(ref))
		assert.Same(t, &shuffled.Rows[5-i], shuffled.Row(ref))
		if i < 3 {
			assert.Nil(t, shorter.Row(ref))
		} else {
			assert.Same(t, &shorter.Rows[i-3], shorter.Row(ref))
		}
	}
	none := s.Rows[0].Ref
	none.Row = 9
	assert.Nil(t, s.Row(none))
}
