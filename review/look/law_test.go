package look

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

var boxesFlag = flag.Int("boxes", 20000, "of how many boxes chance says something")

// The law, held against what chance says of one box: a text stands only if two who are allowed to, independent of each other, say
// so; and nothing that makes the ink more doubtful, and no word that is none, makes a text stand that didn't. Source: our own logic.
func TestLaw_WordsThatChanceSays(t *testing.T) {
	r := rand.New(rand.NewPCG(4, 1))
	stood := 0
	for range *boxesFlag {
		ink, said := chanceInk(r), chanceWords(r)
		s := Count(ink, "reader", said)
		if s.State == sheetmodel.BibTwoLooks {
			stood++
			who := whoSays(ink, said, s.Text)
			if !assert.GreaterOrEqual(t, len(who), 2, "%q stands on %v\n%+v\n%+v\n%+v", s.Text, who, s, ink, said) {
				return
			}
		}
		for name, worse := range map[string]func(*Ink){
			"a doubt more": func(i *Ink) {
				i.Reading.State = sheetmodel.Doubtful
				kinds := []sheetmodel.DoubtKind{sheetmodel.DoubtLowCertainty, sheetmodel.DoubtStruckOut, sheetmodel.DoubtHidden, sheetmodel.DoubtOutside}
				i.Reading.Doubts = append(slices.Clone(i.Reading.Doubts), sheetmodel.Doubt{Kind: kinds[r.IntN(len(kinds))], Detail: "for this test"})
			},
			"a rival seen": func(i *Ink) { i.Alone = false },
			"no tie":       func(i *Ink) { i.Ties = nil },
		} {
			// A clear row against a clear pair waits, and a doubtful one doesn't speak against it: that is the reader's to say.
			if i := ink; s.State != sheetmodel.BibTwoLooks && ink.Pictured && (len(ink.Ties) == 0 || name == "no tie") {
				worse(&i)
				w := Count(i, "reader", said)
				// The judge's word against clear ink waits; where the ink may be it, it is one more who says so.
				mayBe := slices.ContainsFunc(said, func(d sheetmodel.Decision) bool { return d.ReadBack && w.Text == d.Text && d.Text != i.Reading.Text })
				if !assert.False(t, w.State == sheetmodel.BibTwoLooks && !mayBe && name != "no tie", "%s: %q stands\n%+v\n%+v\n%+v", name, w.Text, s, i, said) {
					return
				}
			}
		}
		more := append(slices.Clone(said), sheetmodel.Decision{ID: 99, Text: chanceText(r), Basis: sheetmodel.BasisOnPaper, By: "Eve", At: clock(99)})
		aside := len(said) > 0 && said[len(said)-1].Basis == sheetmodel.BasisSetAside // with the next entry what was said before stands again
		if w := Count(ink, "reader", more); w.State == sheetmodel.BibTwoLooks && s.State != sheetmodel.BibTwoLooks && !aside {
			assert.Fail(t, "a word that is no look made a text stand", "%+v\n%+v\n%+v\n%+v", s, w, ink, more)
			return
		}
	}
	assert.Greater(t, stood, *boxesFlag/12)
}

func clock(n int) time.Time { return time.Date(2027, 1, 23, 9, 0, n, 0, time.UTC) }

func chanceText(r *rand.Rand) string { return []string{"14", "19", "41"}[r.IntN(3)] }

func chanceInk(r *rand.Rand) Ink {
	ink := Ink{Pictured: r.IntN(4) > 0, Alone: r.IntN(2) == 0, Grammar: sheetmodel.GrammarBib, Judge: []string{"", "Ada", "Ida"}[r.IntN(3)]}
	if r.IntN(3) == 0 {
		ink.Relief = []string{"Bo"}
	}
	ink.Reading = sheetmodel.Reading{Text: chanceText(r), State: sheetmodel.Clear}
	if r.IntN(2) == 0 {
		ink.Reading.State = sheetmodel.Doubtful
		ink.Reading.Doubts = []sheetmodel.Doubt{{Kind: []sheetmodel.DoubtKind{sheetmodel.DoubtLowCertainty, sheetmodel.DoubtFaintInk, sheetmodel.DoubtOverwritten, sheetmodel.DoubtQuestionMark}[r.IntN(4)]}}
		if r.IntN(3) == 0 {
			ink.Reading.Text = ""
		}
	}
	if r.IntN(3) == 0 {
		ink.Reading.Rivals = []sheetmodel.Rival{{Text: chanceText(r), Prob: 0.2}}
		ink.Alone = false
	}
	if r.IntN(5) == 0 {
		text := chanceText(r)
		ink.Ties = []Tied{{Row: 1, Panel: "B", Entry: 1, Text: text, Second: text, Clear: r.IntN(2) == 0, Differs: r.IntN(4) == 0}}
	}
	return ink
}

func chanceWords(r *rand.Rand) []sheetmodel.Decision {
	var all []sheetmodel.Decision
	for n := range r.IntN(6) {
		d := sheetmodel.Decision{ID: int64(n + 1), Text: chanceText(r), Basis: sheetmodel.BasisOnPaper, Blind: r.IntN(4) > 0, By: []string{"Ada", "ada ", "Bo", "Cy", "Di"}[r.IntN(5)], At: clock(n)}
		switch r.IntN(10) {
		case 0, 1:
			d.Basis, d.Blind, d.ReadBack = sheetmodel.BasisJudgeAsked, false, r.IntN(3) > 0
		case 2:
			d.ReadBack = true
		case 3:
			d.Basis, d.Text, d.Blind = sheetmodel.BasisSetAside, "", false
		case 4:
			d.Basis, d.Text = sheetmodel.BasisNoWriting, ""
		}
		all = append(all, d)
	}
	return all
}

// whoSays names, each once, who says a text and may.
func whoSays(ink Ink, said []sheetmodel.Decision, text string) []string {
	var who []string
	if ink.Pictured {
		rival := func(o sheetmodel.Rival) bool { return o.Text == text }
		second := func(o Tied) bool { return o.Second == text }
		against := func(o Tied) bool { return o.Differs || o.Clear && o.Text != ink.Reading.Text } // then none of the two is clear
		unclear := ink.Reading.State != sheetmodel.Clear || slices.ContainsFunc(ink.Ties, against)
		if ink.Reading.Text == text || unclear && slices.ContainsFunc(ink.Reading.Rivals, rival) || slices.ContainsFunc(ink.Ties, second) {
			who = append(who, "the ink")
		}
		if slices.ContainsFunc(ink.Ties, func(o Tied) bool { return o.Clear && !o.Differs && o.Text == text }) {
			who = append(who, "the second writing")
		}
	}
	judge := ""
	for _, d := range said { // the newest word of the judge's counts
		unprompted := d.ReadBack && (d.Blind || d.Basis == sheetmodel.BasisJudgeAsked)
		if unprompted {
			judge = ""
			if d.Text == text {
				judge = Person(d.By)
			}
		}
	}
	if judge != "" {
		who = append(who, "the judge")
	}
	for _, by := range []string{"ada", "bo", "cy", "di"} {
		saw, otherwise := false, false
		for _, d := range said {
			if Person(d.By) != by || d.ReadBack || d.Basis != sheetmodel.BasisOnPaper && d.Basis != sheetmodel.BasisNoWriting {
				continue
			}
			saw = saw || d.Blind && d.Text == text
			otherwise = otherwise || d.Text != text
		}
		theJudge := judge != "" && (by == judge || by == Person(ink.Judge) || slices.ContainsFunc(ink.Relief, func(n string) bool { return Person(n) == by }))
		if saw && !otherwise && !theJudge {
			who = append(who, fmt.Sprint("typed by ", by))
		}
	}
	return who
}
