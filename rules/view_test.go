package rules_test

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/cockroachdb/datadriven"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// askedIn returns the finding that asks a question, nil if nothing does.
func askedIn(r rules.Result, key string) *sheetmodel.Finding {
	i := slices.IndexFunc(r.Findings, func(f sheetmodel.Finding) bool { return f.Question != nil && f.Question.Key == key })
	if i < 0 {
		return nil
	}
	return &r.Findings[i]
}

// copied is a copy of facts whose cards, rows, answers and views can be changed.
func copied(f rules.Facts) rules.Facts {
	f.Cards, f.Rows = slices.Clone(f.Cards), slices.Clone(f.Rows)
	f.Answers, f.AnsweredBy, f.Views = maps.Clone(f.Answers), maps.Clone(f.AnsweredBy), maps.Clone(f.Views)
	return f
}

// photographed names the photos of all cards, as the stack does.
func photographed(f rules.Facts) rules.Facts {
	f.Views = map[string][]string{}
	f = copied(f)
	for i := range f.Cards {
		c := &f.Cards[i]
		c.FrontPaper, c.BackPaper = fmt.Sprintf("f%d%s%d-1 form", c.Key.Run, c.Key.Course, c.Key.Card), fmt.Sprintf("b%d%s%d-1 form", c.Key.Run, c.Key.Course, c.Key.Card)
	}
	return f
}

// answeredWith gives an answer of what is in view.
func answeredWith(f rules.Facts, q *sheetmodel.Question, value string) rules.Facts {
	f = copied(f)
	if f.Answers == nil {
		f.Answers = map[string]string{}
	}
	if f.AnsweredBy == nil {
		f.AnsweredBy = map[string]string{}
	}
	f.Answers[q.Key], f.AnsweredBy[q.Key], f.Views[q.Key] = value, "Ada", []string{q.View}
	return f
}

// unrelated are changes that bear on no question.
var unrelated = map[string]func(f *rules.Facts){
	"a judge is called otherwise": func(f *rules.Facts) {
		for i := range f.Cards {
			f.Cards[i].Judge = "N. N."
		}
	},
	"why a row waits is said otherwise": func(f *rules.Facts) {
		for i := range f.Rows {
			if f.Rows[i].BibState == sheetmodel.BibWaiting {
				f.Rows[i].Reason = "for this test"
			}
		}
	},
	"a card of another course comes in": func(f *rules.Facts) {
		key := sheetmodel.CardKey{Run: 1, Course: "Elsewhere", Card: 99}
		f.Cards = append(f.Cards, rules.Card{Key: key, In: true, FrontPaper: "e-1 form"})
		f.Rows = append(f.Rows, rules.Row{Ref: sheetmodel.RowRef{CardKey: key, Row: 1}, Bib: "14", BibState: sheetmodel.BibTwoLooks, Code: "F", CodeSure: true, Gate: "3", GateSure: true, PanelSure: true})
	},
	"the order of cards and rows": func(f *rules.Facts) {
		slices.Reverse(f.Cards)
		slices.Reverse(f.Rows)
	},
}

// bearing are changes of what a question is about: of its row, or of the card that it names.
var bearing = map[string]func(f *rules.Facts, c *rules.Card, w *rules.Row){
	"another photo": func(_ *rules.Facts, c *rules.Card, _ *rules.Row) { c.FrontPaper = "another-1 form" },
	"another form":  func(_ *rules.Facts, c *rules.Card, _ *rules.Row) { c.FrontPaper += "2" },
	"another back":  func(_ *rules.Facts, c *rules.Card, _ *rules.Row) { c.BackPaper = "another-2 form" },
	"other gates":   func(_ *rules.Facts, c *rules.Card, _ *rules.Row) { c.Gates = append(slices.Clone(c.Gates), "33") },
	"another bib": func(_ *rules.Facts, _ *rules.Card, w *rules.Row) {
		w.Bib = map[bool]string{true: "40", false: "19"}[w.Bib == "19"]
	},
	"another code": func(_ *rules.Facts, _ *rules.Card, w *rules.Row) {
		w.Code = map[string]string{"F": "O", "O": "F"}[w.Code]
	},
	"another gate": func(_ *rules.Facts, _ *rules.Card, w *rules.Row) { w.Gate += "1" },
	"a row joins it": func(f *rules.Facts, _ *rules.Card, w *rules.Row) {
		more := *w
		more.Ref.Row += 20
		f.Rows = append(f.Rows, more)
	},
}

// Every question of every case: an answer that was given of what is in view counts, and goes on to while nothing has changed that bears on
// the question. Where something has, and the question would be asked, it is asked anew, with what was answered. Source: our own logic.
func TestView_AnAnswerCountsWhileNothingHasChanged(t *testing.T) {
	paths, err := filepath.Glob("testdata/*.txt")
	require.NoError(t, err)
	anew, asking := map[string]map[string]int{}, map[string]bool{}
	for _, path := range paths {
		datadriven.RunTest(t, path, func(t *testing.T, d *datadriven.TestData) string {
			f := photographed(parse(t, d.Input))
			for _, asked := range rules.Check(f).Findings {
				if asked.Question == nil {
					continue
				}
				q := asked.Question
				require.NotEmpty(t, q.View, "%s: %s", d.Pos, q.Key)
				asking[asked.Rule] = true
				for _, a := range q.Answers {
					given := answeredWith(f, q, a.Value)
					r := rules.Check(given)
					require.Nil(t, askedIn(r, q.Key), "%s: %s was just answered: %s", d.Pos, q.Key, a.Value)
					require.Empty(t, r.Overtaken, "%s: %s", d.Pos, q.Key)
					for name, change := range unrelated {
						other := copied(given)
						change(&other)
						require.Nil(t, askedIn(rules.Check(other), q.Key), "%s: %s: %s", d.Pos, q.Key, name)
					}
				}
				for name := range bearing {
					for i := range changedFacts(f, asked, name) {
						checkAnew(t, f, asked, name, i, anew)
					}
				}
			}
			return d.Expected
		})
	}
	require.Greater(t, len(asking), 25, "rules that ask")
	for rule := range asking {
		if rule == "article" || rule == "heard" { // of the code book; of what was heard: no card is in view
			assert.Empty(t, anew[rule], rule)
			continue
		}
		assert.Positive(t, anew[rule]["another photo"], "%s: %v", rule, anew[rule])
	}
	for _, rule := range []string{"drawing", "strip"} {
		assert.Positive(t, anew[rule]["another back"], rule)
	}
	for _, rule := range []string{"gate-in-section", "two-cards", "neighbours-gates"} {
		assert.Positive(t, anew[rule]["other gates"], "%s: %v", rule, anew[rule])
	}
	assert.Zero(t, anew["row-count"]["another back"], "a drawing bears on no number of rows")
	assert.Positive(t, anew["fault-then-dnf"]["a row joins it"], "%v", anew["fault-then-dnf"])
	assert.Positive(t, anew["gate-in-section"]["another bib"], "%v", anew["gate-in-section"])
	assert.Positive(t, anew["left-course"]["another code"], "%v", anew["left-course"])
}

// changedFacts makes facts in which one thing has changed of each row that a finding names, or of its card.
func changedFacts(f rules.Facts, asked sheetmodel.Finding, name string) (all []rules.Facts) {
	cards := rules.CardsAbout(asked.Question.Key, f.Race.Courses)
	if asked.Card != nil {
		cards = append(cards, *asked.Card)
	}
	for i := range f.Cards {
		refs := slices.DeleteFunc(slices.Clone(asked.Rows), func(ref sheetmodel.RowRef) bool { return ref.CardKey != f.Cards[i].Key })
		if len(refs) == 0 && !slices.Contains(cards, f.Cards[i].Key) {
			continue
		}
		other := copied(f)
		row := rules.Row{}
		w := &row
		if len(refs) > 0 {
			w = &other.Rows[slices.IndexFunc(other.Rows, func(r rules.Row) bool { return r.Ref == refs[0] })]
		}
		before := len(other.Rows)
		bearing[name](&other, &other.Cards[i], w)
		if len(refs) == 0 {
			other.Rows = other.Rows[:before] // it is about no row
		}
		all = append(all, other)
	}
	return all
}

func checkAnew(t *testing.T, f rules.Facts, asked sheetmodel.Finding, name string, i int, anew map[string]map[string]int) {
	t.Helper()
	q := asked.Question
	other := changedFacts(f, asked, name)[i]
	without := askedIn(rules.Check(other), q.Key)
	if without == nil {
		return // then nothing asks it
	}
	why := rules.ViewChanged(q.View, without.Question.View)
	given := answeredWith(other, q, q.Answers[0].Value) // of what was in view before
	r := rules.Check(given)
	again := askedIn(r, q.Key)
	if why == "" {
		require.Nil(t, again, "%s: %s", q.Key, name)
		return
	}
	require.NotNil(t, again, "%s: %s", q.Key, name)
	assert.Equal(t, q.Answers[0].Value, r.Overtaken[q.Key].Value)
	// The label is that which the answer has now: some rules ask one thing in two ways.
	at := slices.IndexFunc(again.Question.Answers, func(a sheetmodel.Answer) bool { return a.Value == q.Answers[0].Value })
	require.GreaterOrEqual(t, at, 0, q.Key)
	assert.Contains(t, again.Sentence, "It was answered before, said by Ada: "+again.Question.Answers[at].Label+". Since then ", name)
	assert.Equal(t, without.Question.View, again.Question.View, "what was answered before is no part of it")
	if anew[asked.Rule] == nil {
		anew[asked.Rule] = map[string]int{}
	}
	anew[asked.Rule][name]++
	// Said again of what is there now, it counts.
	require.Nil(t, askedIn(rules.Check(answeredWith(other, again.Question, q.Answers[0].Value)), q.Key), "%s: %s", q.Key, name)
}

// What nobody could read when a question was answered, nobody spoke of: that a bib is typed since changes nothing. What was read otherwise
// does. Source: our own logic.
func TestView_OfADoubtfulBib(t *testing.T) {
	f := photographed(parse(t, "row A/1 bib=14 looks=waiting gate=12"))
	asked := askedIn(rules.Check(f), "gate-in-section/1/Blue/1/1/12")
	require.NotNil(t, asked)
	given := answeredWith(f, asked.Question, "counts")
	for _, state := range []sheetmodel.BibState{sheetmodel.BibOneLook, sheetmodel.BibTwoLooks} {
		for _, bib := range []string{"14", "9"} {
			typed := copied(given)
			typed.Rows[0].Bib, typed.Rows[0].BibState = bib, state
			assert.Nil(t, askedIn(rules.Check(typed), asked.Question.Key), "%s %s", bib, state)
		}
	}
	sure := copied(f)
	sure.Rows[0].BibState = sheetmodel.BibOneLook
	asked = askedIn(rules.Check(sure), "gate-in-section/1/Blue/1/1/12")
	require.NotNil(t, asked)
	given = answeredWith(sure, asked.Question, "counts")
	given.Rows[0].BibState = sheetmodel.BibTwoLooks
	assert.Nil(t, askedIn(rules.Check(given), asked.Question.Key), "a second look at the same text")
	given.Rows[0].Bib = "9"
	again := askedIn(rules.Check(given), asked.Question.Key)
	require.NotNil(t, again)
	assert.True(t, strings.HasSuffix(again.Sentence, "Since then card 1 (A) row 1 reads otherwise, so it is asked anew."), again.Sentence)
}

// An answer without a view, as older programs kept them, and one with a view of a form that this program doesn't know, count as they are.
// Where no views are kept, none is made. Source: our own logic.
func TestView_OfOlderAndNewerPrograms(t *testing.T) {
	f := photographed(parse(t, "row A/1 bib=14 gate=12"))
	asked := askedIn(rules.Check(f), "gate-in-section/1/Blue/1/1/12")
	require.NotNil(t, asked)
	for _, view := range []string{"", "2|something"} {
		q := *asked.Question
		q.View = view
		given := answeredWith(f, &q, "counts")
		given.Cards[0].FrontPaper = "another-1 form"
		assert.Nil(t, askedIn(rules.Check(given), q.Key), "%q", view)
	}
	f.Views = nil
	assert.Empty(t, askedIn(rules.Check(f), asked.Question.Key).Question.View)
}

// Whatever is answered of a random day, it is answered then: no view takes back what was said of it a moment ago, be it asked twice in one
// pass. Source: our own logic.
func TestView_WhatIsAnsweredOfItIsAnswered(t *testing.T) {
	answered := 0
	everyDay(t, func(t *testing.T, rng *rand.Rand, f rules.Facts) {
		f = photographed(f)
		f.Answers, f.AnsweredBy = map[string]string{}, map[string]string{}
		for range 40 {
			var open []*sheetmodel.Question
			for _, asked := range rules.Check(f).Findings {
				if asked.Question != nil {
					open = append(open, asked.Question)
				}
			}
			if len(open) == 0 {
				break
			}
			q := open[rng.IntN(len(open))]
			f = answeredWith(f, q, q.Answers[rng.IntN(len(q.Answers))].Value)
			answered++
			r := rules.Check(f)
			require.Nil(t, askedIn(r, q.Key), "%s: %s, %v", q.Key, f.Answers[q.Key], r.Overtaken[q.Key])
			require.NotContains(t, r.Overtaken, q.Key)
		}
	})
	assert.Greater(t, answered, 100)
}

// A jury decides on two faults of a racer in one minute: in whatever order they come out of the store, the list is the same.
// Source: our own logic.
func TestCheck_TwoDecisionsInOneMinute_OrderIsNoMatter(t *testing.T) {
	f := parse(t, `row B/1 bib=14 gate=9
row B/2 bib=14 gate=10
row B/3 bib=14 gate=7
jury bib=14 overruled=12:31 on=9:F posted=9:F
jury bib=14 overruled=12:31 on=10:F posted=9:F`)
	first := rules.Check(f)
	slices.Reverse(f.Jury)
	assert.Equal(t, first, rules.Check(f))
}
