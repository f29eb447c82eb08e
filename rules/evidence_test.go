package rules_test

import (
	"encoding/json"
	"go/ast"
	"go/parser"
	"go/token"
	"math/rand/v2"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// By construction: no rule writes to what a row came in with. Its text, its looks and what is settled of
// it can only be read.
func TestRules_NeverWriteToWhatARowCameInWith(t *testing.T) {
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	looked := 0
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		p, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		require.NoError(t, err)
		ast.Inspect(p, func(n ast.Node) bool {
			set, ok := n.(*ast.AssignStmt)
			if !ok {
				return true
			}
			for _, left := range set.Lhs {
				s, ok := left.(*ast.SelectorExpr)
				if !ok {
					continue
				}
				looked++
				of, _ := s.X.(*ast.Ident)
				finding := of != nil && of.Name == "f" // a finding is what a rule writes
				switch s.Sel.Name {
				case "BibState", "CodeSure", "GateSure", "PanelSure", "Code", "Panel", "Drawn":
					assert.Fail(t, "a rule writes to "+s.Sel.Name)
				case "Bib", "Gate", "Group":
					assert.True(t, finding, "a rule writes to %s of something that is no finding", s.Sel.Name)
				}
			}
			return true
		})
	}
	assert.Greater(t, looked, 50)
}

// By property: whatever start list, lists, order and other cards say, a row short of looks never stands
// as a call, a call names the bib as its rows write it, and no text, gate or code changes.
func TestCheck_OutsideEvidence_RaisesNothing(t *testing.T) {
	everyDay(t, func(t *testing.T, rng *rand.Rand, f rules.Facts) {
		texts := map[sheetmodel.RowRef]rules.Row{}
		for _, w := range f.Rows {
			texts[w.Ref] = w
		}
		for range 3 {
			g := shuffled(rng, otherEvidence(rng, f))
			r := rules.Check(g)
			for _, s := range r.Standings {
				if w, mine := texts[s.Ref]; mine && w.BibState != sheetmodel.BibTwoLooks {
					require.NotEqual(t, sheetmodel.StandsCall, s.Standing, "%v", w)
				}
			}
			for _, c := range r.Calls {
				for i, ref := range append(slices.Clone(c.Rows), c.Further...) {
					w, mine := texts[ref]
					if !mine {
						continue
					}
					require.Equal(t, strings.TrimLeft(w.Bib, "0"), strings.TrimLeft(c.Bib, "0"), "%v", w)
					require.True(t, w.CodeSure && w.GateSure)
					if i < len(c.Rows) && !c.Waiting {
						require.Equal(t, sheetmodel.BibTwoLooks, w.BibState, "%v", w)
					}
				}
			}
		}
	})
}

// otherEvidence changes all that is not on the card of a row: the start list to one that would complete
// every bib, the lists, a further card, what the jury and the radio said.
func otherEvidence(rng *rand.Rand, f rules.Facts) rules.Facts {
	race := *f.Race
	race.Runs = slices.Clone(race.Runs)
	race.Starters = nil
	for _, w := range f.Rows {
		if w.Bib != "" && rng.IntN(4) > 0 && len(race.StartersWith(w.Bib)) == 0 {
			race.Starters = append(race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: w.Bib}, Course: "Blue"})
		}
	}
	for i := range race.Runs {
		race.Runs[i].DidNotStart, race.Runs[i].DidNotEnd = listOf(pick(rng, "none", "7,9")), listOf(pick(rng, "none", "12"))
		race.Runs[i].Reruns, race.Runs[i].MayStart = listOf("none"), listOf(pick(rng, "unknown", "7,9,12,14,22,31"))
		race.Runs[i].Heard = []sheetmodel.Heard{{Bib: sheetmodel.Bib{Number: "14"}, Course: "Blue", Gate: "9"}}
	}
	f.Race = &race
	f.Cards, f.Rows = slices.Clone(f.Cards), slices.Clone(f.Rows)
	addRandomCard(rng, &f, sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 8})
	return f
}

// Renaming bibs renames findings: no number is special. The swap of bib and gate is left out, as it holds
// one against the other.
func TestCheck_RenamedBibs_RenameFindings(t *testing.T) {
	number := regexp.MustCompile(`\b(0?)3(\d{3})\b`)
	everyDay(t, func(t *testing.T, _ *rand.Rand, f rules.Facts) {
		say := func(plus int) string {
			r := rules.Check(renamed(f, plus))
			r.Findings = slices.DeleteFunc(r.Findings, func(n sheetmodel.Finding) bool { return n.Rule == "swap" })
			text, err := json.MarshalIndent(r, "", " ")
			require.NoError(t, err)
			return string(text)
		}
		require.Equal(t, number.ReplaceAllString(say(3000), "${1}5${2}"), say(5000))
	})
}

// renamed adds to every bib of the facts, wherever it stands; leading zeros and letters stay.
func renamed(f rules.Facts, plus int) rules.Facts {
	name := func(bib string) string {
		bare := strings.TrimLeft(bib, "0")
		n, err := strconv.Atoi(bare)
		if err != nil {
			return bib
		}
		return bib[:len(bib)-len(bare)] + strconv.Itoa(n+plus)
	}
	list := func(l sheetmodel.BibList) sheetmodel.BibList {
		l.Bibs = slices.Clone(l.Bibs)
		for i := range l.Bibs {
			l.Bibs[i].Number = name(l.Bibs[i].Number)
		}
		return l
	}
	race := *f.Race
	race.Starters, race.Runs = slices.Clone(race.Starters), slices.Clone(race.Runs)
	for i := range race.Starters {
		race.Starters[i].Number = name(race.Starters[i].Number)
	}
	race.Forerunners = list(race.Forerunners)
	for i := range race.Runs {
		r := &race.Runs[i]
		for _, l := range []*sheetmodel.BibList{&r.DidNotStart, &r.DidNotEnd, &r.Reruns, &r.LateStarts, &r.MayStart, &r.Conditional} {
			*l = list(*l)
		}
		r.Exchanged, r.Heard = slices.Clone(r.Exchanged), slices.Clone(r.Heard)
		for j := range r.Exchanged {
			r.Exchanged[j][0].Number, r.Exchanged[j][1].Number = name(r.Exchanged[j][0].Number), name(r.Exchanged[j][1].Number)
		}
		for j := range r.Heard {
			r.Heard[j].Number = name(r.Heard[j].Number)
		}
	}
	f.Race = &race
	f.Rows, f.Cards, f.Jury = slices.Clone(f.Rows), slices.Clone(f.Cards), slices.Clone(f.Jury)
	for i := range f.Rows {
		f.Rows[i].Bib = name(f.Rows[i].Bib)
	}
	for i := range f.Cards {
		f.Cards[i].Passed = slices.Clone(f.Cards[i].Passed)
		for j := range f.Cards[i].Passed {
			f.Cards[i].Passed[j].Number = name(f.Cards[i].Passed[j].Number)
		}
	}
	for i := range f.Jury {
		f.Jury[i].Bib = name(f.Jury[i].Bib)
	}
	f.Answers = map[string]string{} // keys of questions hold bibs
	return f
}

// Splitting a judge's gates in two changes nothing but what is about cards and places: which are
// expected, who stays, where sections meet, and whether lost skis of two judges may be one.
func TestCheck_SplitSection_ChangesOnlyWhatIsAboutCards(t *testing.T) {
	aboutCards := []string{"missing-card", "judge-stays", "overlap", "lost-ski", "several-faults", "lost-ski-and-fault"}
	split := 0
	everyDay(t, func(t *testing.T, rng *rand.Rand, _ rules.Facts) {
		f := plainDay(rng)
		want, got := rules.Check(f), rules.Check(splitSection(rng, f))
		for _, c := range want.Calls {
			if code, _ := f.Race.Codes.Find(c.Code); code.Effect != sheetmodel.EffectPropose {
				continue
			}
			at := slices.IndexFunc(got.Calls, func(n sheetmodel.Call) bool { return n.Bib == c.Bib })
			require.GreaterOrEqual(t, at, 0)
			n := got.Calls[at]
			require.Equal(t, []any{c.Gate, c.Code, c.Basis, c.Waiting, len(c.Rows)}, []any{n.Gate, n.Code, n.Basis, n.Waiting, len(n.Rows)}, c.Bib)
			split++
		}
		about := func(r rules.Result) []string {
			var all []string
			for _, n := range r.Findings {
				if !slices.Contains(aboutCards, n.Rule) {
					all = append(all, strings.Join([]string{n.Rule, string(n.Severity), n.Bib, n.Gate, strconv.Itoa(len(n.Rows))}, " "))
				}
			}
			slices.Sort(all)
			return all
		}
		require.Equal(t, about(want), about(got))
	})
	assert.Positive(t, split)
}

// plainDay is a day on which every row is settled and lies in its judge's section.
func plainDay(rng *rand.Rand) rules.Facts {
	race := inventedRace()
	race.Rules.LostSki, race.Rules.LostSkiFrom = sheetmodel.LostSkiFrom, 2
	f := rules.Facts{Race: &race, Answers: map[string]string{}}
	for _, p := range race.Run(1).Course("Blue").Places {
		key := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: p.Card}
		n := rng.IntN(5)
		f.Cards = append(f.Cards, rules.Card{Key: key, In: true})
		for i := range n {
			f.Rows = append(f.Rows, rules.Row{
				Ref: sheetmodel.RowRef{CardKey: key, Row: i + 1}, Bib: pick(rng, "7", "9", "12", "14", "22", "31"), BibState: sheetmodel.BibTwoLooks,
				Code: pick(rng, "F", "F", "O", "L", "X", "H", "U"), Gate: p.Gates[rng.IntN(len(p.Gates))], Panel: "A", Drawn: true, CodeSure: true, GateSure: true, PanelSure: true,
			})
		}
	}
	return countRows(f)
}

// countRows writes the number of rows at every card's foot.
func countRows(f rules.Facts) rules.Facts {
	count := map[sheetmodel.CardKey]int{}
	for _, w := range f.Rows {
		count[w.Ref.CardKey]++
	}
	for i := range f.Cards {
		n := count[f.Cards[i].Key]
		f.Cards[i].RowCount = &n
	}
	return f
}

// splitSection gives the lower gates of one judge, and the rows there, to a card of their own.
func splitSection(rng *rand.Rand, f rules.Facts) rules.Facts {
	race := *f.Race
	race.Runs = slices.Clone(race.Runs)
	race.Runs[0].Courses = slices.Clone(race.Runs[0].Courses)
	course := &race.Runs[0].Courses[0]
	course.Places = slices.Clone(course.Places)
	p := &course.Places[rng.IntN(len(course.Places))]
	cut := 1 + rng.IntN(len(p.Gates)-1)
	lower := p.Gates[cut:]
	p.Gates = p.Gates[:cut:cut]
	from, to := p.Card, 9
	course.Places = append(course.Places, sheetmodel.Place{Card: to, Gates: lower})
	f.Race = &race
	f.Cards = append(slices.Clone(f.Cards), rules.Card{Key: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: to}, In: true})
	f.Rows = slices.Clone(f.Rows)
	for i := range f.Rows {
		if w := &f.Rows[i]; w.Ref.Card == from && slices.Contains(lower, w.Gate) {
			w.Ref.Card = to
		}
	}
	return countRows(f)
}

// What a waiting row may change is never more than is said of it, whatever it turns out to read. Every
// starter is tried; that the count looks at none of them is the point of it.
func TestCheck_Stakes_BoundWhatARowCanChange(t *testing.T) {
	tried, changed := 0, 0
	everyDay(t, func(t *testing.T, rng *rand.Rand, f rules.Facts) {
		before := rules.Check(f)
		var waiting []rules.RowStanding
		for _, s := range before.Standings {
			if s.Standing == sheetmodel.StandsWaiting {
				waiting = append(waiting, s)
			}
			if s.Standing != sheetmodel.StandsWaiting {
				require.Zero(t, s.CanAdd+s.CanHold)
			}
		}
		if len(waiting) == 0 {
			return
		}
		s := waiting[rng.IntN(len(waiting))]
		at := slices.IndexFunc(f.Rows, func(w rules.Row) bool { return w.Ref == s.Ref })
		stand := func(r rules.Result) map[string]bool {
			all := map[string]bool{}
			for _, c := range r.Calls {
				if !c.Waiting {
					all[strings.Join([]string{strconv.Itoa(c.Run), c.Course, c.Group, c.Bib}, "/")] = true
				}
			}
			return all
		}
		was := stand(before)
		for _, bib := range []string{"7", "8", "9", "12", "14", "22", "31", "208", "13", "74"} {
			g := f
			g.Rows = slices.Clone(f.Rows)
			w := &g.Rows[at]
			w.Bib, w.BibState, w.CodeSure, w.GateSure = bib, sheetmodel.BibTwoLooks, true, true
			is := stand(rules.Check(g))
			added, held := 0, 0
			for who := range is {
				if !was[who] {
					added++
				}
			}
			for who := range was {
				if !is[who] {
					held++
				}
			}
			require.LessOrEqual(t, added, s.CanAdd, "%v as %s", s, bib)
			require.LessOrEqual(t, held, s.CanHold, "%v as %s", s, bib)
			tried++
			changed += added + held
		}
	})
	require.Positive(t, changed, "of %d, none changed anything: the days are too dull", tried)
}
