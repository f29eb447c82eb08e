package draft_test

import (
	"bytes"
	"encoding/csv"
	"flag"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/draft"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

var show = flag.String("show", "", "folder to keep draft.pdf, draft.csv and draft.json in, to be looked at")

// at is the laptop's clock when the drafts are made.
var at = time.Date(2027, 1, 23, 11, 30, 0, 0, time.UTC)

// afternoon is a run with a proposal, a further witness, a waiting line, a doubtful row, a set-aside row and a
// missing card.
func afternoon(t *testing.T) *stacktest.Table {
	t.Helper()
	b := stacktest.New(t)
	b.Card("Blue", 1,
		stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"},
		stacktest.Row{Bib: "9", Code: "F", Gate: "3", Panel: "C"})
	b.Card("Blue", 2, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	b.Card("Blue", 3,
		stacktest.Row{Bib: "46", Code: "F", Gate: "15", Panel: "B", State: sheetmodel.Doubtful, Rivals: []string{"40"}},
		stacktest.Row{Bib: "21", Code: "F", Gate: "16", Panel: "B", State: sheetmodel.Doubtful, Rivals: []string{"27"}})
	b.Card("Blue", 4)
	b.Card("Blue", 5, stacktest.Row{Bib: "30", Code: "F", Gate: "25", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	b.Type("Ada", stacktest.Key("Blue", 2, 1, sheetmodel.PartBib), "14")
	b.Ask("Bo", stacktest.Key("Blue", 5, 1, sheetmodel.PartBib), "30")
	b.SetAside("Ada", stacktest.Key("Blue", 3, 2, sheetmodel.PartBib), "the judge has left")
	return b
}

func make1(t *testing.T, b *stacktest.Table, opt draft.Options) *draft.Draft {
	t.Helper()
	s, result := b.Load()
	opt.At, opt.Layout = at, b.LayoutByHash
	d, err := draft.New(s, result, opt)
	require.NoError(t, err)
	return d
}

func blue(t *testing.T, d *draft.Draft) draft.Section {
	t.Helper()
	i := slices.IndexFunc(d.Sections, func(s draft.Section) bool { return s.Run == 1 && s.Course == "Blue" })
	require.GreaterOrEqual(t, i, 0)
	return d.Sections[i]
}

func TestDraft_AnAfternoon_SaysWhatStandsWhatWaitsAndWhy(t *testing.T) {
	d := make1(t, afternoon(t), draft.Options{})
	s := blue(t, d)
	bibs := func(lines []draft.Line) (all []string) {
		for _, l := range lines {
			all = append(all, l.Bib)
		}
		return all
	}
	assert.Equal(t, []string{"14", "30"}, bibs(s.Proposed))
	assert.Equal(t, []string{"9"}, bibs(s.Waiting), "one look only")
	require.Len(t, s.Rows, 1, "46 or 40 waits and is in no line")
	assert.Equal(t, []string{"40"}, s.Rows[0].Rivals)
	require.Len(t, s.SetAside, 1)
	assert.Equal(t, "the judge has left", s.SetAside[0].Why)
	assert.True(t, d.Incomplete)

	line := s.Proposed[0]
	assert.Equal(t, "6", line.Gate)
	assert.NotEmpty(t, line.Basis)
	require.Len(t, line.Rows, 2, "two judges saw gate 6")
	row := line.Rows[0]
	assert.Equal(t, "B1", row.Place)
	assert.Empty(t, row.Judge)
	var kinds []sheetmodel.LookKind
	for _, l := range row.Looks {
		kinds = append(kinds, l.Kind)
	}
	assert.Equal(t, []sheetmodel.LookKind{sheetmodel.LookWriting, sheetmodel.LookBlind}, kinds)
	require.NotNil(t, row.Picture)
	require.NotNil(t, row.Drawing)
	require.Len(t, row.Settled, 1)
	assert.Equal(t, "Ada", row.Settled[0].By)

	assert.Equal(t, sheetmodel.ListGiven, s.Lists.DidNotStart.Given)
	assert.Equal(t, sheetmodel.ListNone, s.Lists.DidNotFinish.Given)
	assert.Equal(t, sheetmodel.ListUnknown, s.Lists.Reruns.Given)
	require.Len(t, s.Missing, 1)
	assert.Equal(t, 6, s.Missing[0].Card)
	assert.Equal(t, draft.Counts{CardsExpected: 6, CardsIn: 5, Rows: 6, Proposed: 2, Waiting: 2, SetAside: 1}, s.Counts)
}

// Should the rules ever propose on one look, the draft still doesn't.
func TestDraft_CallOnOneLook_IsHeldBack(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "9", Code: "F", Gate: "3", Panel: "C"})
	st, result := b.Load()
	require.Len(t, result.Calls, 1)
	result.Calls[0].Waiting, result.Calls[0].WaitsFor = false, nil
	d, err := draft.New(st, result, draft.Options{At: at})
	require.NoError(t, err)
	s := blue(t, d)
	assert.Empty(t, s.Proposed)
	require.Len(t, s.Waiting, 1)
	assert.Contains(t, s.Waiting[0].WaitsFor, "a row that it rests on has fewer than two looks")
}

// No row is ever dropped: each is in exactly one place of the draft.
func TestDraft_EveryRow_IsInExactlyOnePlace(t *testing.T) {
	b := afternoon(t)
	d := make1(t, b, draft.Options{})
	seen := map[string]int{}
	for _, s := range d.Sections {
		for _, l := range append(append([]draft.Line{}, s.Proposed...), s.Waiting...) {
			for _, r := range append(append([]draft.Row{}, l.Rows...), l.Further...) {
				seen[r.Reading]++
			}
		}
		for _, r := range append(append(append([]draft.Row{}, s.Rows...), s.SetAside...), s.Recorded...) {
			seen[r.Reading]++
		}
	}
	st, _ := b.Load()
	require.Len(t, seen, len(st.Rows))
	for key, n := range seen {
		assert.Equal(t, 1, n, key)
	}
}

// A run for which nobody has set gates or placed a judge is in the draft, and not complete.
func TestDraft_RunWithoutGates_IsIncomplete(t *testing.T) {
	b := stacktest.New(t)
	for i := range b.Race.Runs {
		for j := range b.Race.Runs[i].Courses {
			b.Race.Runs[i].Courses[j].Gates, b.Race.Runs[i].Courses[j].Places = nil, nil
		}
	}
	d := make1(t, b, draft.Options{})
	assert.True(t, d.Incomplete)
	require.Len(t, d.Sections, 4, "both courses in both runs")
	for _, s := range d.Sections {
		assert.Equal(t, []string{
			"The gates of this course in this run are not known.", "No judge is placed, so no card is expected.",
		}, s.Incomplete)
	}

	// Judges are placed, their gates are said, the course's are not.
	b = stacktest.New(t)
	b.Race.Run(1).Course("Blue").Gates = nil
	assert.Contains(t, blue(t, make1(t, b, draft.Options{})).Incomplete,
		"The gates of this course in this run are not known, so no gate on a card can be checked.")
}

func TestDraft_UnreadPhoto_IsIncomplete(t *testing.T) {
	b := afternoon(t)
	_, _, err := b.Store.AddPhoto(t.Context(), "late.jpg", strings.NewReader("\xff\xd8\xff late"), -1, time.Time{})
	require.NoError(t, err)
	d := make1(t, b, draft.Options{})
	assert.Contains(t, blue(t, d).Incomplete, "1 photo has not been read yet")
}

// Names of racers (often minors), names of judges and phones appear only if asked for, each alone.
func TestDraft_NamesAndPhones_OnlyIfAskedFor(t *testing.T) {
	b := afternoon(t)
	var racers, judges, phones []string
	for _, s := range b.Race.Starters {
		racers = append(racers, s.Name)
	}
	for _, p := range b.Race.Run(1).Course("Blue").Places {
		judges, phones = append(judges, p.Judge), append(phones, p.Phone)
	}
	holds := func(text string, words []string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(text, w) })
	}
	for _, opt := range []draft.Options{{}, {Names: true}, {Judges: true}, {Phones: true}} {
		d := make1(t, b, opt)
		var js, cs bytes.Buffer
		require.NoError(t, d.WriteJSON(&js))
		require.NoError(t, d.WriteCSV(&cs))
		assert.Equal(t, opt.Names, holds(js.String(), racers), "%+v", opt)
		assert.Equal(t, opt.Names, holds(cs.String(), racers), "%+v", opt)
		assert.Equal(t, opt.Judges, holds(js.String(), judges), "%+v", opt)
		assert.Equal(t, opt.Judges, holds(cs.String(), judges), "%+v", opt)
		assert.Equal(t, opt.Phones, holds(js.String(), phones), "%+v", opt)
	}
}

func TestWrite_SameDraft_SameBytes(t *testing.T) {
	b := afternoon(t)
	var first [3][]byte
	for i := range 2 {
		d := make1(t, b, draft.Options{Judges: true})
		var js, cs, pdf bytes.Buffer
		require.NoError(t, d.WriteJSON(&js))
		require.NoError(t, d.WriteCSV(&cs))
		require.NoError(t, d.WritePDF(&pdf, b.Cutter()))
		files := [3][]byte{js.Bytes(), cs.Bytes(), pdf.Bytes()}
		if i == 0 {
			first = files
			keepFiles(t, files)
			continue
		}
		for k := range files {
			assert.True(t, bytes.Equal(first[k], files[k]), "file %d", k)
		}
	}
}

func keepFiles(t *testing.T, files [3][]byte) {
	t.Helper()
	if *show == "" {
		return
	}
	for i, name := range []string{"draft.json", "draft.csv", "draft.pdf"} {
		require.NoError(t, os.WriteFile(filepath.Join(*show, name), files[i], 0o600))
	}
}

// The first page lists what the pages after it show: a line for each proposal, and what is open.
func TestWritePDF_FirstPage_IsTheSummary(t *testing.T) {
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		t.Skip("pdftotext is not installed")
	}
	b := afternoon(t)
	path := filepath.Join(t.TempDir(), "draft.pdf")
	var pdf bytes.Buffer
	require.NoError(t, make1(t, b, draft.Options{Judges: true}).WritePDF(&pdf, b.Cutter()))
	require.NoError(t, os.WriteFile(path, pdf.Bytes(), 0o600))
	text, err := exec.CommandContext(t.Context(), tool, "-l", "1", "-layout", path, "-").Output()
	require.NoError(t, err)
	page := strings.Join(strings.Fields(string(text)), " ")
	for _, want := range []string{
		"girls 14 6 F: gate missed or straddled card 1, B1, Olli", "in the row + typed unseen; 1 row", "Proposed, not decided. While it is incomplete this list goes out on the referee's word only.",
		"girls 30 25 F: gate missed or straddled card 5, B5, Sepp", "in the row + judge asked",
		"proposed 2 · waiting 1 line and 1 other row · set aside 1 · questions for a person 0 · missing cards 1 · gates without a card: none",
	} {
		assert.Contains(t, page, want)
	}
	assert.NotContains(t, page, "look:", "the ink comes on the pages after it")
}

// Source: RFC 4180, section 2 (CRLF, header, equal number of fields); OWASP, CSV Injection.
func TestWriteCSV_IsRegularAndHarmless(t *testing.T) {
	b := afternoon(t)
	b.SetAside("=cmd|' /C calc'!A0", stacktest.Key("Blue", 1, 2, sheetmodel.PartBib), "@SUM(1+1), \"quoted\"\nand broken")
	var cs bytes.Buffer
	require.NoError(t, make1(t, b, draft.Options{}).WriteCSV(&cs))
	assert.Equal(t, strings.Count(cs.String(), "\n"), strings.Count(cs.String(), "\r\n"))
	records, err := csv.NewReader(bytes.NewReader(cs.Bytes())).ReadAll()
	require.NoError(t, err)
	for i, r := range records {
		for _, cell := range r {
			assert.False(t, cell != "" && strings.Contains("=+-@\t\r", cell[:1]), "%q", cell)
		}
		switch i {
		case 0:
			assert.Equal(t, "notice", r[len(r)-1])
		case 1:
			assert.Equal(t, draft.Notice, r[len(r)-1])
		default:
			assert.Empty(t, r[len(r)-1], "the notice is printed once")
		}
	}
	found := false
	for _, r := range records {
		found = found || r[2] == "set aside" && strings.HasPrefix(r[17], "'@SUM")
	}
	assert.True(t, found, "the note lost its words")
}

func TestWritePDF_NoPictures_SaysSoAndNamesWhatIsLost(t *testing.T) {
	b := afternoon(t)
	d := make1(t, b, draft.Options{})
	var pdf bytes.Buffer
	require.NoError(t, d.WritePDF(&pdf, nil))
	assert.True(t, bytes.HasPrefix(pdf.Bytes(), []byte("%PDF-")))
	pages, err := os.ReadDir(filepath.Join(b.Store.Dir(), "pages"))
	require.NoError(t, err)
	for _, p := range pages {
		require.NoError(t, os.Remove(filepath.Join(b.Store.Dir(), "pages", p.Name())))
	}
	pdf.Reset()
	require.ErrorContains(t, d.WritePDF(&pdf, b.Cutter()), "not in the store")
	assert.True(t, bytes.HasPrefix(pdf.Bytes(), []byte("%PDF-")), "the list itself is still written")
}

// What somebody has answered to be the jury's stands under a heading of its own, not among the notes.
func TestDraft_WhatGoesBeforeTheJury_HasItsOwnPlace(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	st, result := b.Load()
	told := sheetmodel.Finding{Rule: "mended", Severity: sheetmodel.Warns, Run: 1, Course: "Blue", Sentence: "33 climbed back.", Basis: "614.2.3", ForJury: true}
	result.Findings = append(result.Findings, told)
	d, err := draft.New(st, result, draft.Options{Layout: b.LayoutByHash})
	require.NoError(t, err)
	assert.Equal(t, []sheetmodel.Finding{told}, d.Sections[0].ForJury)
	assert.NotContains(t, d.Sections[0].Notes, told)
}
