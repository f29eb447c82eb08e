package draft_test

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/draft"
	"gatefold/review/jury"
	"gatefold/review/schemas"
	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

func packet(t *testing.T, b *stacktest.Table, bib string) *draft.Packet {
	t.Helper()
	s, r := b.Load()
	k, err := draft.NewPacket(s, r, draft.Options{At: noon, Layout: b.LayoutByHash}, bib, "")
	require.NoError(t, err)
	var text bytes.Buffer
	require.NoError(t, k.WriteJSON(&text))
	require.NoError(t, schemas.Validate("packet.schema.json", &text))
	return k
}

var noon = time.Date(2027, 1, 23, 11, 10, 0, 0, time.UTC)

// A jury decides about one racer: a number that two wear has no packet until somebody says which. Our own logic.
func TestPacket_NumberOfTwoRacers_AsksWhich(t *testing.T) {
	b := afternoon(t)
	b.Race.Starters = append(b.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: "14", Group: "boys"}, Course: "Red"})
	s, r := b.Load()
	_, err := draft.NewPacket(s, r, draft.Options{At: noon, Layout: b.LayoutByHash}, "14", "")
	var worn *draft.GroupsError
	require.ErrorAs(t, err, &worn)
	assert.Equal(t, []string{"girls", "boys"}, worn.Groups)
	assert.Contains(t, err.Error(), "bib 14 is worn by more than one racer")
	k, err := draft.NewPacket(s, r, draft.Options{At: noon, Layout: b.LayoutByHash}, "14", "girls")
	require.NoError(t, err)
	require.Len(t, k.Cases, 1)
	assert.NotEmpty(t, k.Cases[0].Faults)
	k, err = draft.NewPacket(s, r, draft.Options{At: noon, Layout: b.LayoutByHash}, "14", "boys")
	require.NoError(t, err)
	assert.Empty(t, k.Cases, "the rows are of the girl who wears it on the other course")
}

func blue14(t *testing.T, b *stacktest.Table) jury.Line {
	t.Helper()
	_, r := b.Load()
	for _, c := range r.Calls {
		if c.Bib == "14" && c.Course == "Blue" {
			return jury.Line{Run: c.Run, Course: c.Course, Group: c.Group, Bib: c.Bib}
		}
	}
	require.Fail(t, "14 has no call")
	return jury.Line{}
}

func say(t *testing.T, b *stacktest.Table, at jury.Line, what any) {
	t.Helper()
	require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: jury.Key(at, what), Value: jury.Value(what), By: "Ada"}))
}

func TestPacket_HoldsWhatTheJuryAsksFor(t *testing.T) {
	b := afternoon(t)
	at := blue14(t, b)
	b.Race.Run(1).Course("Blue").Changes = []sheetmodel.GateChange{{At: "10:42", Gate: "6", What: sheetmodel.GateAdded}}
	say(t, b, at, jury.Posting{At: noon, Gate: "6", Code: "F"})
	say(t, b, at, jury.Protest{At: noon.Add(16 * time.Minute), From: "team official"})
	k := packet(t, b, "14")
	require.Len(t, k.Cases, 1)
	c := k.Cases[0]
	assert.Equal(t, "proposed", c.Status)
	assert.Equal(t, []string{"Made public at 12:10:00; protests until 12:25:00.",
		"Protest at 12:26:00 by team official, after the protest period: the jury decides whether it is heard."}, c.Line.Jury.Words())
	require.Len(t, c.Faults, 2)
	words := strings.Join(c.Faults[0].Words(), "\n")
	for _, want := range []string{
		"Code F: gate missed or straddled. Article: ICR 661.4.", "Gate 6, no. 6 of 34 from the start. This judge watched gates 1 to 6 (6 gates).",
		"Gate 6 was added at 10:42.", "Card 2 (B2) wrote it too: row 1, F, ", "A look at the bib: written in the row", "A look at the bib: typed from the picture, unseen",
		`Settled: bib "14" typed unseen by `, `Read in the field for the bib: "14", clear`,
	} {
		assert.Contains(t, words, want)
	}
	for _, f := range c.Faults {
		assert.NotNil(t, f.Row.Picture)
		assert.NotNil(t, f.Row.Drawing)
		assert.NotNil(t, f.GatesAsSet)
		assert.Empty(t, f.Row.Judge)
	}
	var pdf bytes.Buffer
	require.NoError(t, k.WritePDF(&pdf, b.Cutter()))
	assert.True(t, bytes.HasPrefix(pdf.Bytes(), []byte("%PDF")))

	assert.Empty(t, packet(t, b, "46").Cases, "the ink may be 46 or 40: nothing is told of either")
	assert.Empty(t, packet(t, b, "999").Cases)
}

// What the jury decides changes the list: the line is struck, its rows stay; taken back, it stands again.
func TestNew_JuryOverrules_LineIsStruckAndRowsStay(t *testing.T) {
	b := afternoon(t)
	at := blue14(t, b)
	before := make1(t, b, draft.Options{})
	say(t, b, at, jury.Decision{Verdict: jury.Overruled, At: noon, Present: []string{"referee", "chief of race"}, Reason: "tracks at the gate"})
	d := make1(t, b, draft.Options{})
	section := func(d *draft.Draft) draft.Section {
		for _, s := range d.Sections {
			if s.Run == 1 && s.Course == "Blue" {
				return s
			}
		}
		return draft.Section{}
	}
	has := func(lines []draft.Line) bool {
		for _, l := range lines {
			if l.Bib == "14" {
				return true
			}
		}
		return false
	}
	assert.True(t, has(section(before).Proposed))
	assert.False(t, has(section(d).Proposed))
	require.True(t, has(section(d).Overruled))
	l := section(d).Overruled[0]
	assert.Equal(t, []string{"Jury: overruled at 12:10:00, present referee, chief of race. Reason: tracks at the gate.", "Look again: nothing had been made public."}, l.Jury.Words())
	assert.Len(t, l.Rows, 2)
	assert.Equal(t, "Ada", l.Jury.EnteredBy)
	assert.Equal(t, "overruled", packet(t, b, "14").Cases[0].Status)
	var csv bytes.Buffer
	require.NoError(t, d.WriteCSV(&csv))
	assert.Contains(t, csv.String(), "overruled by the jury,14")
	for _, part := range d.Explain(b.Race, "14", "").Parts {
		if part.Where == "Blue · run 1" {
			assert.Contains(t, part.Answer, "the jury overruled the proposal (gate 6, F, gate missed or straddled) at 12:10:00, present referee, chief of race; reason: tracks at the gate.")
			assert.Len(t, part.Rows, 2, "both rows that name it")
		}
	}
	// Source: ICR 646.2 to 646.4, draft of 2013: a majority of all voting members.
	b.Race.Rules.Jury = []string{"technical delegate", "referee", "chief of race"}
	say(t, b, at, jury.Decision{Verdict: jury.Upheld, At: noon, Present: []string{"chief of race"}})
	words := strings.Join(packet(t, b, "14").Cases[0].Line.Jury.Words(), " ")
	assert.Contains(t, words, "Look again: 1 of 3 members present: no majority of all; no reason entered; nothing had been made public.")
	require.NoError(t, d.WritePDF(&bytes.Buffer{}, b.Cutter()))

	say(t, b, at, jury.Decision{Verdict: jury.Upheld, At: noon, Present: []string{"referee"}})
	assert.True(t, has(section(make1(t, b, draft.Options{})).Proposed))
	require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: jury.Key(at, jury.Decision{}), By: "Ada"}))
	assert.Nil(t, section(make1(t, b, draft.Options{})).Proposed[0].Jury)
}

// What another card says bears a fault out only if its row stands, on two looks, and is of the same racer. Source: the law of the house;
// the words are our own.
func TestPacket_OtherCard_BearsOutOnlyWhatStands(t *testing.T) {
	says := func(b *stacktest.Table, change func(rows []stack.Row)) string {
		s, _ := b.Load()
		change(s.Rows)
		k, err := draft.NewPacket(s, rules.Check(s.Facts()), draft.Options{At: noon}, "14", "girls")
		require.NoError(t, err)
		f := k.Cases[0].Faults[0]
		require.Equal(t, 1, f.Row.Card)
		require.NotEmpty(t, f.Others)
		return f.Others[0].Says
	}
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	b.Card("Blue", 2, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, "bib"), "14")
	asItIs := func([]stack.Row) {}
	const row = "row 1, F, gate missed or straddled, gate 6"
	assert.Equal(t, "may have written it, the bib isn't certain by two looks: "+row, says(b, asItIs))
	b.Type("Ada", stacktest.Key("Blue", 2, 1, "bib"), "14")
	assert.Equal(t, "wrote it too: "+row, says(b, asItIs))
	assert.Equal(t, "wrote it and struck it out: "+row, says(b, func(rows []stack.Row) { rows[1].Struck = true }))

	// Both numbers 14 ski this course, and a person has said which of them each row means.
	b.Race.Starters = append(b.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: "14", Group: "boys"}, Course: "Blue"})
	assert.Equal(t, "watched the gate and wrote nothing of this bib; a card for faults alone denies nothing by silence",
		says(b, func(rows []stack.Row) { rows[0].Group, rows[1].Group = "girls", "boys" }))
}

// A coach is shown one line, only with the referee's leave, and nothing of anybody else.
func TestCoach_OnlyWithLeave_AndOnlyTheRow(t *testing.T) {
	b := afternoon(t)
	at := blue14(t, b)
	opt := draft.Options{At: noon, Layout: b.LayoutByHash, Judges: true, Phones: true, Names: true}
	sheet := func() (*draft.Coach, error) {
		s, r := b.Load()
		return draft.NewCoach(s, r, opt, at)
	}
	_, err := sheet()
	require.ErrorIs(t, err, draft.ErrNotAllowed)
	say(t, b, at, jury.Coach{Allowed: true})
	say(t, b, at, jury.Posting{At: noon.Add(-5 * time.Minute), Gate: "6", Code: "F"})
	k, err := sheet()
	require.NoError(t, err)
	assert.Equal(t, "Protests until 12:20:00: 11 min 03 s left, as of 12:08:57.", k.Left())
	require.Len(t, k.Rows, 2)
	side := b.Layout.Side(sheetmodel.Front)
	for _, r := range k.Rows {
		require.NotNil(t, r.Row)
		require.NotNil(t, r.Drawing)
		for _, f := range side.Fields {
			for _, shown := range r.Row.Show {
				if f.Row != 1 {
					assert.False(t, f.Rect.Overlaps(shown), "field %s is another's", f.Name)
				}
			}
		}
		for _, f := range b.Layout.Side(sheetmodel.Back).Fields {
			for _, shown := range r.Drawing.Show {
				if f.Kind != sheetmodel.Drawing {
					assert.False(t, f.Rect.Overlaps(shown), "field %s is another's", f.Name)
				}
			}
		}
		img, err := b.Cutter().Cut(*r.Row)
		require.NoError(t, err)
		assert.NotEmpty(t, img.Pix)
	}
	var pdf bytes.Buffer
	require.NoError(t, k.WritePDF(&pdf, b.Cutter()))
	say(t, b, at, jury.Coach{})
	_, err = sheet()
	require.ErrorIs(t, err, draft.ErrNotAllowed)

	// Without the layout nobody can say what on the picture is another's: there is no picture.
	say(t, b, at, jury.Coach{Allowed: true})
	s, r := b.Load()
	k, err = draft.NewCoach(s, r, draft.Options{At: noon}, at)
	require.NoError(t, err)
	assert.Nil(t, k.Rows[0].Row)
	at.Bib = "46"
	_, err = draft.NewCoach(s, r, opt, at)
	require.ErrorIs(t, err, draft.ErrNoLine)
}

// Whoever shows a coach a line says whether it is decided, whether it is what was made public, and that the bib may be another racer's by
// now. Source: our own logic; a line that is posted anew has a clock of its own.
func TestCoach_SaysWhatBecameOfTheLine(t *testing.T) {
	b := afternoon(t)
	at := blue14(t, b)
	sheet := func() *draft.Coach {
		s, r := b.Load()
		k, err := draft.NewCoach(s, r, draft.Options{At: noon, Layout: b.LayoutByHash}, at)
		require.NoError(t, err)
		var pdf bytes.Buffer
		require.NoError(t, k.WritePDF(&pdf, b.Cutter()))
		return k
	}
	say(t, b, at, jury.Coach{Allowed: true})
	say(t, b, at, jury.Posting{At: noon.Add(-50 * time.Minute), Gate: "5", Code: "F", StartList: b.Race.StartListMark()})
	k := sheet()
	assert.Equal(t, []string{"Proposed, not decided."}, k.Cautions())
	assert.Equal(t, "Not made public as it stands now: the protest period of what was made public, gate 5, F, is not this line's.", k.Left())
	assert.Contains(t, strings.Join(packet(t, b, "14").Cases[0].Line.Jury.Words(), " "), "What was made public says gate 5, F: this line, as it stands now, is not public.")

	b.Race.Starters[slices.IndexFunc(b.Race.Starters, func(s sheetmodel.Starter) bool { return s.Number == "14" })].Name = "Another Child"
	say(t, b, at, jury.Posting{At: noon.Add(-5 * time.Minute), Gate: "6", Code: "F", StartList: "of another list"})
	k = sheet()
	assert.Equal(t, []string{"Proposed, not decided.", draft.OtherStartList}, k.Cautions())
	assert.Contains(t, k.Left(), "Protests until 12:20:00")
	say(t, b, at, jury.Decision{Verdict: jury.Overruled, At: noon, Present: []string{"referee"}, Gate: "6", Code: "F"})
	assert.Equal(t, "Decided by the jury: overruled at 12:10:00.", sheet().Cautions()[0])
	// What was decided on one protest isn't the last word while another is open: its team may be the one that is shown the sheet.
	say(t, b, at, jury.Protest{At: noon.Add(-2 * time.Minute), No: 1})
	say(t, b, at, jury.Protest{At: noon.Add(-time.Minute), No: 2})
	decided := jury.Decision{Verdict: jury.Upheld, At: noon.Add(time.Minute), Present: []string{"referee"}, Gate: "6", Code: "F", Protest: 1}
	say(t, b, at, decided)
	assert.Equal(t, "Decided by the jury: upheld at 12:11:00.", sheet().Cautions()[0], "the first decision named none, and answers both")
	say(t, b, at, jury.Protest{At: noon.Add(2 * time.Minute), No: 3})
	assert.Equal(t, "Decided by the jury: upheld at 12:11:00. A further protest is open.", sheet().Cautions()[0])
}

// A remark's other bib is told as a reference.
func TestPacket_OtherBib_IsAReference(t *testing.T) {
	b := afternoon(t)
	s, _ := b.Load()
	for _, r := range s.Rows {
		if r.Bib == "14" && r.Ref.Course == "Blue" {
			require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: rules.OtherBibKey(r.Ref), Value: "22", By: "Ada"}))
		}
	}
	assert.Contains(t, strings.Join(packet(t, b, "14").Cases[0].Faults[0].Words(), "\n"), "Another racer in the remark: 22, a reference, no call.")
}
