package rules_test

import (
	"strconv"
	"testing"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// raceDay is a run of two courses with the given numbers of racers and of cards, ten rows a card,
// in which each kind of row comes up: faults, lost skis seen twice, hindrances, notes, slips.
func raceDay(racers, cards int) rules.Facts {
	race := inventedRace()
	race.Starters = nil
	race.Rules.LostSki, race.Rules.LostSkiFrom = sheetmodel.LostSkiFrom, 2
	race.Runs = race.Runs[:1]
	race.Runs[0].Courses = nil
	for bib := 1; bib <= racers; bib++ {
		race.Starters = append(race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: strconv.Itoa(bib)}, Course: race.Courses[bib%2]})
	}
	f := rules.Facts{Race: &race}
	bib := 0
	for _, course := range race.Courses {
		cr := sheetmodel.CourseRun{Course: course}
		for card := range cards / 2 {
			p := sheetmodel.Place{Card: card + 1}
			for i := range 6 { // one gate shared with the next section
				p.Gates = append(p.Gates, strconv.Itoa(card*5+i+1))
			}
			cr.Places = append(cr.Places, p)
			ten := 10
			key := sheetmodel.CardKey{Run: 1, Course: course, Card: card + 1}
			f.Cards = append(f.Cards, rules.Card{Key: key, In: true, RowCount: &ten})
			for row := range ten {
				bib = (bib + 7) % racers
				f.Rows = append(f.Rows, rules.Row{
					Ref: sheetmodel.RowRef{CardKey: key, Row: row + 1}, Bib: strconv.Itoa(bib + 1), BibState: sheetmodel.BibTwoLooks,
					Code: []string{"F", "L", "F", "N", "H", "L", "F", "M", "O", "X"}[row], Gate: p.Gates[row%6],
					Panel: "A", Drawn: true, CodeSure: true, GateSure: true, PanelSure: true,
				})
			}
		}
		for g := range cards/2*5 + 1 {
			cr.Gates = append(cr.Gates, strconv.Itoa(g+1))
		}
		race.Runs[0].Courses = append(race.Runs[0].Courses, cr)
	}
	return f
}

func benchmarkCheck(b *testing.B, racers, cards int) {
	f := raceDay(racers, cards)
	b.ReportMetric(float64(len(f.Rows)), "rows")
	b.ReportAllocs()
	for b.Loop() {
		rules.Check(f)
	}
}

func BenchmarkCheck300x60(b *testing.B)   { benchmarkCheck(b, 300, 60) }
func BenchmarkCheck600x120(b *testing.B)  { benchmarkCheck(b, 600, 120) }
func BenchmarkCheck1200x240(b *testing.B) { benchmarkCheck(b, 1200, 240) }
