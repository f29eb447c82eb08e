package racefolder

import (
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// wantProblems demands that every refusal names a file and says something a person can act on.
func wantProblems(t *testing.T, err error) {
	t.Helper()
	for line := range strings.Lines(err.Error()) {
		assert.Regexp(t, `^demo/[a-z/]+\.[a-z]+(:\d+)?: .`, line)
	}
	var p *FileError
	assert.ErrorAs(t, err, &p)
}

func FuzzRaceFile(f *testing.F) {
	f.Add(goodRace)
	for _, cut := range []string{"runs:", "groups:", "places:", "date"} {
		head, _, _ := strings.Cut(goodRace, cut)
		f.Add(head)
		f.Add(head + cut + " [")
		f.Add(head + cut + " {a: &x [*x]}")
	}
	f.Add("format: 1\nruns: [{run: 1, courses: [{course: Blue, gates: 1-999, places: [{cards: 1-65535}]}]}]\n")
	f.Fuzz(func(t *testing.T, text string) {
		r, _, err := OpenFS(fsWith(text, goodList), "demo")
		if err != nil {
			wantProblems(t, err)
			return
		}
		for _, run := range r.Runs {
			for _, c := range run.Courses {
				seen := map[int]bool{}
				for _, p := range c.Places {
					assert.False(t, seen[p.Card], "card %d twice", p.Card)
					seen[p.Card] = true
					for _, g := range p.Gates {
						assert.True(t, len(c.Gates) == 0 || c.GateIndex(g) >= 0, "gate %q off the course", g)
					}
				}
			}
			for _, l := range []sheetmodel.BibList{run.DidNotStart, run.DidNotEnd, run.Reruns} {
				assert.Equal(t, l.Given == sheetmodel.ListGiven, len(l.Bibs) > 0)
			}
		}
	})
}

func FuzzStartList(f *testing.F) {
	f.Add([]byte(goodList))
	f.Add([]byte("\xff\xfeb\x00i\x00"))
	f.Add([]byte("sep=;\nNr;Klasse\n\"1;girls"))
	f.Add([]byte("bib\tgroup\n1\tgirls\n01\tgirls\n\xfc\tboys\n"))
	text, _, _ := strings.Cut(goodRace, "runs:")
	f.Fuzz(func(t *testing.T, list []byte) {
		r, _, err := OpenFS(fsWith(text, string(list)), "demo")
		if err != nil {
			wantProblems(t, err)
			return
		}
		seen := map[sheetmodel.Bib]bool{}
		for _, s := range r.Starters {
			assert.False(t, seen[s.Bib], "%v twice", s.Bib)
			seen[s.Bib] = true
			assert.NotZero(t, r.CourseIndex(s.Course))
			assert.True(t, sheetmodel.GrammarBib.Fits(s.Number))
		}
	})
}

// FuzzSave: into any race file that opens, places can be saved, and nothing else of the race changes.
func FuzzSave(f *testing.F) {
	f.Add(goodRace)
	head, _, _ := strings.Cut(goodRace, "runs:")
	f.Add(head + "runs:\n- {run: 1, courses: [{course: Blue, places: [{card: 1}]}]} # x\n")
	f.Add(head + "runs:\n  - run: 1\n    courses:\n      - course: Blue\n        places: not known # yet\n# end")
	f.Fuzz(func(t *testing.T, text string) {
		files := fsWith(text, goodList)
		folder := &Folder{Dir: "demo", fsys: files}
		before, _, err := folder.readWith([]byte(text))
		if err != nil || before.Run(1).Course("Blue") == nil {
			return
		}
		cr := before.Run(1).Course("Blue")
		cr.Places = []sheetmodel.Place{{Card: 1, Judge: "Runa"}, {Card: 5, Name: "Z"}}
		c := change{run: 1, course: "Blue", key: "places", value: placesValue(cr.Places, cr.Gates)}
		out, got, _, err := folder.tryOut([]byte(text), c, nil, before)
		require.NoError(t, err, "%q", text)
		assert.Equal(t, before, got)
		assert.GreaterOrEqual(t, strings.Count(string(out), "\n"), 1)
	})
}

// FuzzRuleSet: what is accepted says every setting with its basis; what isn't, names the file and a line.
func FuzzRuleSet(f *testing.F) {
	for _, name := range RuleSets() {
		text, err := ShippedRulesText(name)
		require.NoError(f, err)
		f.Add([]byte(text))
	}
	f.Add([]byte("format: 1\nname: &a [*a]"))
	f.Add([]byte("format: 2"))
	f.Fuzz(func(t *testing.T, text []byte) {
		r, _, err := ParseRuleSet("set.yaml", text)
		if err != nil {
			var p *FileError
			require.ErrorAs(t, err, &p)
			require.Contains(t, err.Error(), "set.yaml")
			return
		}
		for _, s := range r.Settings("") {
			assert.NotEmpty(t, s.Basis, s.Key)
		}
	})
}

// FuzzPrinted: whatever the note of what was printed holds, the race opens or says which file is wrong.
func FuzzPrinted(f *testing.F) {
	f.Add("format: 1\nid: demo\ncourses: [Blue]\n")
	f.Add("format: 1\nid: x\ncourses: [Red, Blue]\ngroups: [girls]\n")
	f.Add("format: 9\ncourses: &a [*a]\n")
	f.Fuzz(func(t *testing.T, text string) {
		files := fsWith(goodRace, goodList)
		files[PrintedFile] = &fstest.MapFile{Data: []byte(text)}
		if _, _, err := OpenFS(files, "demo"); err != nil {
			wantProblems(t, err)
		}
	})
}
