//go:build cgo

package main

import (
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/scan/camera/fill"
	"gatefold/sheetmodel"
)

const (
	demoRaceDir  = "../../testdata/demo-race"
	demoStackDir = "../../testdata/demo-stack"
)

// stackTruth is what each side of each bundled card says, by field.
func stackTruth(t *testing.T) map[sheetmodel.CardKey]map[sheetmodel.SideName]fill.Truth {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(demoStackDir, "truth.json"))
	require.NoError(t, err)
	var file struct {
		Photos []struct {
			Card   int                 `json:"card"`
			Course string              `json:"course"`
			Side   sheetmodel.SideName `json:"side"`
			Fields fill.Truth          `json:"fields"`
		} `json:"photos"`
	}
	require.NoError(t, json.Unmarshal(data, &file))
	require.Len(t, file.Photos, 24)
	all := map[sheetmodel.CardKey]map[sheetmodel.SideName]fill.Truth{}
	for _, p := range file.Photos {
		key := sheetmodel.CardKey{Run: 1, Course: p.Course, Card: p.Card}
		if all[key] == nil {
			all[key] = map[sheetmodel.SideName]fill.Truth{}
		}
		all[key][p.Side] = p.Fields
	}
	return all
}

// collectDemo brings the bundled photos into a copy of the demo's race.
func collectDemo(t *testing.T) *standing {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "race")
	require.NoError(t, os.CopyFS(dir, os.DirFS(demoRaceDir)))
	photos, err := filepath.Glob(filepath.Join(demoStackDir, "photos", "*.jpg"))
	require.NoError(t, err)
	require.Len(t, photos, 24)
	code, out, errs := runApp(t, append([]string{"collect", dir, "--json"}, photos...)...)
	require.Contains(t, []int{0, 3}, code, errs)
	require.NoError(t, validateJSON("collect.schema.json", out))
	var report collectReport
	require.NoError(t, json.Unmarshal([]byte(out), &report))
	require.Equal(t, 24, report.Kept, errs)
	a := &app{now: clockOfTests}
	s, err := a.openRace(t.Context(), dir)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return s
}

// settler plays the people at the desk: they type what the truth says, blind, and the judge says what
// they wrote. Nobody ever types a bib that isn't on the paper.
type settler struct {
	t     *testing.T
	s     *standing
	truth map[sheetmodel.CardKey]map[sheetmodel.SideName]fill.Truth
	typed int
}

// settle settles what waits until a pass asks for nothing that people can type.
func (p *settler) settle() (*stack.Stack, rules.Result) {
	p.t.Helper()
	for range 12 {
		st, result, err := p.s.look(p.t.Context())
		require.NoError(p.t, err)
		waits := st.Waiting(result)
		waits = slices.DeleteFunc(waits, func(w stack.Wait) bool { return w.Need == look.NeedNothing })
		if len(waits) == 0 && !p.places(result) {
			return st, result
		}
		for _, w := range waits {
			p.entry(w)
		}
	}
	p.t.Fatal("entries still wait after twelve passes over the stack")
	return nil, rules.Result{}
}

// places answers what the judges' own headers raise: they stood where the placing list has them. It
// reports whether there was anything to answer.
func (p *settler) places(result rules.Result) bool {
	p.t.Helper()
	answered := false
	for _, f := range result.Findings {
		if f.Question == nil || !slices.ContainsFunc(f.Question.Answers, func(a sheetmodel.Answer) bool { return a.Value == "placed" }) {
			continue
		}
		require.NoError(p.t, p.s.store.Answer(p.t.Context(), store.Answer{Question: f.Question.Key, Value: "placed", By: "Ada"}))
		answered = true
	}
	return answered
}

func (p *settler) entry(w stack.Wait) {
	p.t.Helper()
	ctx := p.t.Context()
	card, side, field, err := store.ParseKey(w.Entry.Key)
	require.NoError(p.t, err)
	text := p.truth[card][side][field].Text
	person, session := "Ada", "first"
	if slices.Contains(w.Entry.Seen.Typed, person) {
		person, session = "Bo", "second"
	}
	e := store.Entry{Reading: w.Entry.Key, Text: text, Basis: sheetmodel.BasisOnPaper, By: person, Session: session}
	if w.Need == look.NeedJudge {
		e.Basis, e.ReadBack = sheetmodel.BasisJudgeAsked, true
		session += "-judge"
		e.Session = session
	}
	if row := p.row(w); row != nil && row.Sheet != nil {
		e.Sheet = row.Sheet.ID
	}
	if card.Card == 6 && strings.HasPrefix(field, "row-02.") {
		text = "" // the judge struck this row out: whoever looks at the ink sets it aside
	}
	if text == "" {
		e.Text, e.Basis, e.ReadBack, e.Note = "", sheetmodel.BasisSetAside, false, "nothing stands there"
	}
	require.NoError(p.t, p.s.store.Serve(ctx, store.Served{
		Session: session, Person: person, Readings: []string{w.Entry.Key}, Sheet: e.Sheet, What: "entry",
	}))
	_, err = p.s.store.Settle(ctx, e)
	require.NoError(p.t, err)
	p.typed++
}

func (p *settler) row(w stack.Wait) *stack.Row {
	st, _, err := p.s.look(p.t.Context())
	require.NoError(p.t, err)
	return st.Row(w.Row)
}

// proposed lists the standing calls as "course bib gate code".
func proposed(result rules.Result, waiting bool) []string {
	var all []string
	for _, c := range result.Calls {
		if c.Waiting == waiting {
			all = append(all, strings.Join([]string{c.Course, c.Bib, c.Gate, c.Code}, " "))
		}
	}
	slices.Sort(all)
	return all
}

// assertSpoiltWait demands that no row with a spoilt bib carries a standing call.
func assertSpoiltWait(t *testing.T, truth map[sheetmodel.CardKey]map[sheetmodel.SideName]fill.Truth, result rules.Result) {
	t.Helper()
	var standing []sheetmodel.RowRef
	for _, c := range result.Calls {
		if c.Waiting {
			continue
		}
		for _, ref := range c.Rows {
			field := stack.RowField(ref.Row, sheetmodel.PartBib)
			if truth[ref.CardKey][sheetmodel.Front][field].Spoil != fill.Clean {
				standing = append(standing, ref)
			}
		}
	}
	assert.Empty(t, standing, "spoilt bibs that stand by two machine looks")
}

// All expected lines follow from testdata/demo-stack/story.yaml and the demo race's settings: faults
// propose (ICR 661.4), two lost skis propose (the invented league's local rule no. 1).
func TestBundledStack_SettledFromTheTruth_GivesTheDraft(t *testing.T) {
	s := collectDemo(t)
	truth := stackTruth(t)

	st, result, err := s.look(t.Context())
	require.NoError(t, err)
	require.Len(t, st.Cards, 12)
	for _, c := range st.Cards {
		assert.True(t, c.In, "card %d", c.Key.Card)
		assert.NotNil(t, c.Front, "card %d", c.Key.Card)
		assert.NotNil(t, c.Back, "card %d", c.Key.Card)
	}
	// Before anyone has typed anything: no call stands on a wrong bib.
	right := map[string]bool{}
	for _, sides := range truth {
		for field, w := range sides[sheetmodel.Front] {
			if strings.HasSuffix(field, ".bib") {
				right[w.Text] = true
			}
		}
	}
	for _, c := range result.Calls {
		if !c.Waiting {
			assert.True(t, right[c.Bib], "a call stands on bib %q, which is on no card", c.Bib)
		}
	}
	byMachine := proposed(result, false)
	all := []string{
		"Blue 14 6 F", "Blue 19 31 F", "Blue 27 28 K", "Blue 47 33 F", "Blue 8 17 F",
		"Red 101 15 W", "Red 115 18 F", "Red 64 12 F", "Red 74 13 F", "Red 77 4 F", "Red 83 24 F",
	}
	for _, line := range byMachine {
		assert.Contains(t, all, line)
	}
	assertSpoiltWait(t, truth, result)

	p := &settler{t: t, s: s, truth: truth}
	st, result = p.settle()
	assert.Equal(t, all, proposed(result, false))
	t.Logf("%d lines stood by two writings alone; people typed %d entries", len(byMachine), p.typed)

	// What needs more than typing: 22, who did not start, and the ski of 40, seen by two judges.
	assert.Equal(t, []string{"Blue 22 3 F", "Blue 40 14 K"}, proposed(result, true))
	questions := map[string]*sheetmodel.Question{}
	for _, f := range result.Findings {
		if f.Question != nil {
			questions[f.Rule] = f.Question
		}
	}
	require.Contains(t, slices.Collect(maps.Keys(questions)), "lost-ski")
	answer := func(value string) []string {
		require.NoError(t, s.store.Answer(t.Context(), store.Answer{Question: questions["lost-ski"].Key, Value: value, By: "Ada"}))
		_, result, err := s.look(t.Context())
		require.NoError(t, err)
		return proposed(result, false)
	}
	assert.Equal(t, all, answer("1"), "one ski seen twice proposes nothing")
	assert.Contains(t, answer("2"), "Blue 40 14 K", "two losses propose")

	// The forerunner and the row that its judge struck out never become calls, and no row is dropped.
	assert.Len(t, result.Standings, len(st.Rows))
	for _, c := range result.Calls {
		assert.NotContains(t, []string{"V1", "3"}, c.Bib)
	}
}
