package rules_test

import (
	"fmt"
	"os"
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

// quiet rules speak in nearly every case of the invented race; they are shown where a case is about
// them, or asks for all.
var quiet = []string{"overlap", "judge-stays"}

func TestCases(t *testing.T) {
	datadriven.Walk(t, "testdata", func(t *testing.T, path string) {
		datadriven.RunTest(t, path, func(t *testing.T, d *datadriven.TestData) string {
			require.Equal(t, "check", d.Cmd, d.Pos)
			subject := strings.TrimSuffix(filepath.Base(path), ".txt")
			r := rules.Check(parse(t, d.Input))
			shown := show(r, subject, d.HasArg("all"))
			if d.HasArg("about") {
				shown += showAbout(r, subject)
			}
			if d.HasArg("stakes") {
				shown += showStakes(r)
			}
			return shown
		})
	})
}

// TestEveryRuleHasCases fails for a rule without documentation, or without one case where it speaks and
// one where it is silent in its own file.
func TestEveryRuleHasCases(t *testing.T) {
	seen := map[string]bool{}
	for _, r := range rules.All() {
		t.Run(r.Name, func(t *testing.T) {
			require.False(t, seen[r.Name], "two rules of one name")
			seen[r.Name] = true
			assert.True(t, strings.HasSuffix(r.Help, "."), "help is a sentence: %q", r.Help)
			assert.Regexp(t, `^(\d{3}(\.\d+)*|own logic|common practice, no source)$`, r.Basis)
			assert.FileExists(t, "rule_"+strings.ReplaceAll(r.Name, "-", "_")+".go")

			fires, silent := 0, 0
			path := filepath.Join("testdata", r.Name+".txt")
			require.FileExists(t, path)
			datadriven.RunTest(t, path, func(t *testing.T, d *datadriven.TestData) string {
				if speaks(rules.Check(parse(t, d.Input)), r.Name) {
					fires++
				} else {
					silent++
				}
				return d.Expected // the texts are TestCases' matter
			})
			assert.Positive(t, fires, "no case in which it speaks")
			assert.Positive(t, silent, "no case in which it is silent")
		})
	}
}

// TestEveryCaseHasASource looks for a "# source:" line in the comment above each check.
func TestEveryCaseHasASource(t *testing.T) {
	paths, err := filepath.Glob("testdata/*.txt")
	require.NoError(t, err)
	require.NotEmpty(t, paths)
	for _, path := range paths {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		source := false
		for i, line := range strings.Split(string(text), "\n") {
			switch {
			case strings.HasPrefix(line, "# source: "):
				source = true
			case line == "check" || strings.HasPrefix(line, "check "):
				assert.True(t, source, "%s:%d: a check without a source", path, i+1)
				source = false
			}
		}
	}
}

func speaks(r rules.Result, rule string) bool {
	return slices.ContainsFunc(r.Findings, func(f sheetmodel.Finding) bool { return f.Rule == rule })
}

// show writes a result as a referee would read it: calls, findings with their questions, rows, gaps.
func show(r rules.Result, subject string, all bool) string {
	var b strings.Builder
	for _, c := range r.Calls {
		kind := "call"
		if c.Waiting {
			kind = "waiting call"
		}
		if c.Overruled {
			kind = "overruled call"
		}
		who := strings.TrimSpace(c.Group + " " + c.Bib)
		fmt.Fprintf(&b, "%s: %s%s gate %s, %s (%s), %s", kind, runPrefix(c.Run, c.Course), who, c.Gate, c.Meaning, c.Basis, refs(c.Rows))
		if len(c.Further) > 0 {
			fmt.Fprintf(&b, ", further %s", refs(c.Further))
		}
		b.WriteString("\n")
		for _, w := range c.WaitsFor {
			fmt.Fprintf(&b, "  waits for: %s\n", w)
		}
	}
	for _, f := range r.Findings {
		if !all && slices.Contains(quiet, f.Rule) && f.Rule != subject {
			continue
		}
		fmt.Fprintf(&b, "%s %s: %s%s (%s)\n", f.Severity, f.Rule, runPrefix(f.Run, f.Course), f.Sentence, f.Basis)
		if f.Question != nil {
			fmt.Fprintf(&b, "  %s: %s\n", f.Question.Key, f.Question.Ask)
			for _, a := range f.Question.Answers {
				fmt.Fprintf(&b, "    %s: %s\n", a.Value, a.Label)
			}
		}
	}
	for _, s := range r.Standings {
		fmt.Fprintf(&b, "row %s: %s, %s", refs([]sheetmodel.RowRef{s.Ref}), s.Standing, s.Why)
		if s.NeedsLooks > 0 {
			fmt.Fprintf(&b, " [looks: %d]", s.NeedsLooks)
		}
		b.WriteString("\n")
	}
	for _, g := range r.Incomplete {
		fmt.Fprintf(&b, "incomplete: %s%s\n", runPrefix(g.Run, g.Course), g.Why)
	}
	if b.Len() == 0 {
		return "nothing\n"
	}
	return b.String()
}

// showStakes writes how many proposals each waiting row may add or hold back.
func showStakes(r rules.Result) string {
	var b strings.Builder
	for _, s := range r.Standings {
		fmt.Fprintf(&b, "stakes %s: can add %d, can hold %d\n", refs([]sheetmodel.RowRef{s.Ref}), s.CanAdd, s.CanHold)
	}
	return b.String()
}

// showAbout writes what the findings of one rule are about, which a page puts beside the sentence: rows, card,
// bib and gate; and which calls were made public.
func showAbout(r rules.Result, subject string) string {
	var b strings.Builder
	for _, c := range r.Calls {
		if c.Posted {
			fmt.Fprintf(&b, "posted: %s%s\n", runPrefix(c.Run, c.Course), strings.TrimSpace(c.Group+" "+c.Bib))
		}
	}
	for _, f := range r.Findings {
		if f.Rule != subject {
			continue
		}
		card := "-"
		if f.Card != nil {
			card = fmt.Sprint(f.Card.Card)
		}
		fmt.Fprintf(&b, "about: rows %q, card %s, bib %q, gate %q\n", refs(f.Rows), card, strings.TrimSpace(f.Group+" "+f.Bib), f.Gate)
	}
	return b.String()
}

func runPrefix(run int, course string) string {
	if run == 1 && course == "Blue" {
		return ""
	}
	return strings.TrimSpace(fmt.Sprintf("run %d %s", run, course)) + ": "
}

// refs writes rows as the cases name them: by section for the five cards of Blue.
func refs(rows []sheetmodel.RowRef) string {
	var all []string
	for _, w := range rows {
		name := fmt.Sprint(w.Card)
		if w.Course == "Blue" && w.Card >= 1 && w.Card <= 5 {
			name = string(rune('A' + w.Card - 1))
		}
		s := fmt.Sprintf("%s/%d", name, w.Row)
		if w.Run != 1 {
			s = fmt.Sprintf("run %d %s", w.Run, s)
		}
		all = append(all, s)
	}
	return strings.Join(all, " ")
}
