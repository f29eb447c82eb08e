package rules_test

import (
	"bytes"
	"flag"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// Whole race days whose truth is known: 300 racers, 60 cards, two runs, two courses. What happened on the
// hill is drawn first; then judges write it down, with mistakes of all kinds at the rates below, and each
// mistake notes which check ought to name it. The report compares that with what Check says.
//
//	go test ./rules -run RaceDays -race-days 400 -race-days-seed $(date +%s) -report report.md

var (
	raceDays = flag.Int("race-days", raceDaysUsual, "whole race days with known truth")
	daySeed  = flag.Uint64("race-days-seed", 1, "seed of those days")
	reportTo = flag.String("report", "", "write the report to this file")
)

// mistakes are the chances, each by row, card, racer or run as the word says.
var mistakes = []struct {
	name string
	rate float64
	per  string
}{
	{"misread", 0.10, "row: of those with fewer than two looks, the text is another starter's"},
	{"wrong-sighting", 0.01, "row: the judge wrote the bib of another racer of the course"},
	{"swap", 0.02, "row: bib and gate in each other's column"},
	{"gate-slip", 0.02, "row: the gate of a neighbour's section"},
	{"no-gate", 0.02, "row: no gate"},
	{"no-drawing", 0.04, "row of a fault: no panel named"},
	{"twice", 0.02, "row: written twice on the card"},
	{"struck", 0.03, "card: one more row, struck out, left out of the number at the foot"},
	{"unknown-bib", 0.01, "row: a bib in no list"},
	{"other-course", 0.01, "row: a bib of the other course"},
	{"missing", 0.03, "card: not in"},
	{"count", 0.04, "card: the number of rows at its foot is one too high"},
	{"old-header", 0.04, "card of run 2: the header gives the gates of run 1"},
	{"ring", 0.02, "card: the other course ringed"},
	{"strip", 0.03, "card with a drawing: one more bib under it"},
	{"dns-list", 0.01, "racer: on the did-not-start list, but started"},
	{"dnf-list", 0.03, "racer who left the course: not on the did-not-finish list"},
	{"rerun-box", 0.3, "row of a re-run: its box is empty"},
	{"unheard", 0.02, "fault: told by radio, on no card"},
	{"forerunner", 0.5, "run of a course: a forerunner's fault is written"},
}

// day is one race day with its truth.
type day struct {
	rng   *rand.Rand
	facts rules.Facts
	want  map[string]map[string]bool // by rule: what it ought to name
	// did holds what truly happened to a racer in a run and can disqualify: gates, by "run/bib".
	did map[string][]string
	// meant holds the racers that a row truly names and that ought to be proposed: "run/bib".
	meant map[string]bool
	wrong map[sheetmodel.RowRef]bool // rows whose judge saw another racer
	left  []string                   // racers whom a wrong or misread bib says to have left the course: "run/bib"
}

func (d *day) hit(name string) bool {
	at := slices.IndexFunc(mistakes, func(m struct {
		name string
		rate float64
		per  string
	}) bool {
		return m.name == name
	})
	return d.rng.Float64() < mistakes[at].rate
}

func (d *day) expect(rule string, parts ...any) {
	if d.want[rule] == nil {
		d.want[rule] = map[string]bool{}
	}
	d.want[rule][fmt.Sprint(parts...)] = true
}

func where(ref sheetmodel.RowRef) string {
	return fmt.Sprintf("%d/%s/%d/%d", ref.Run, ref.Course, ref.Card, ref.Row)
}

const dayGates, dayPlaces = 45, 15 // of a course in a run; 15 places, two courses, two runs: 60 cards

func drawDay(seed uint64) *day {
	rng := rand.New(rand.NewPCG(seed, 3))
	race := inventedRace()
	race.Rules.LostSki, race.Rules.LostSkiFrom, race.Rules.LostSkiBasis = sheetmodel.LostSkiFrom, 2, "local rule 1"
	race.Starters = nil
	for bib := 1; bib <= 300; bib++ {
		race.Starters = append(race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: strconv.Itoa(bib)}, Course: race.Courses[bib%2]})
	}
	race.Forerunners = listOf("V1,V2")
	d := &day{rng: rng, want: map[string]map[string]bool{}, did: map[string][]string{}, meant: map[string]bool{}, wrong: map[sheetmodel.RowRef]bool{}}
	d.facts = rules.Facts{Race: &race, Answers: map[string]string{}}
	for i := range race.Runs {
		run := &race.Runs[i]
		run.DidNotStart, run.DidNotEnd, run.Reruns = sheetmodel.BibList{Given: sheetmodel.ListGiven}, sheetmodel.BibList{Given: sheetmodel.ListGiven}, sheetmodel.BibList{Given: sheetmodel.ListGiven}
		// Run 2 is run by its own list here: who is out is drawn anew, so that both runs are equally full.
		run.MayStart = sheetmodel.BibList{Given: sheetmodel.ListUnknown}
		race.Rules.Run2AfterDSQ = sheetmodel.Run2Yes
		for j := range run.Courses {
			c := &run.Courses[j]
			shift := i * 2 // run 2 has other gates
			c.Gates, c.Places = labels(fmt.Sprintf("1-%d", dayGates-shift)), nil
			for p := range dayPlaces {
				from, to := p*3+1, min(p*3+4, dayGates-shift) // the last gate is the next one's first
				if from > dayGates-shift {
					from = dayGates - shift
				}
				c.Places = append(c.Places, sheetmodel.Place{Card: p + 1 + j*dayPlaces, Name: string(rune('A' + p)), Gates: labels(fmt.Sprintf("%d-%d", from, to))})
			}
			d.course(run, c)
		}
	}
	for _, who := range d.left {
		number, bib, _ := strings.Cut(who, "/")
		run := race.Run(int(number[0] - '0'))
		if !run.DidNotEnd.Holds("", bib) && !run.Reruns.Holds("", bib) && !d.want["hindered"][who] {
			d.expect("left-but-finished", who)
		}
	}
	return d
}

// written is one row before it is put on its card.
type written struct {
	bib, code string
	gate      int
	rerun     bool
}

func (d *day) course(run *sheetmodel.Run, c *sheetmodel.CourseRun) {
	rows := map[int][]written{} // by card
	seen := func(gate int, w written) {
		for _, p := range c.Places {
			if slices.Contains(p.Gates, strconv.Itoa(gate)) {
				rows[p.Card] = append(rows[p.Card], w)
			}
		}
	}
	other := map[string][]string{}
	for _, s := range d.facts.Race.Starters {
		other[s.Course] = append(other[s.Course], s.Number)
	}
	n := len(c.Gates)
	for _, s := range d.facts.Race.Starters {
		if s.Course != c.Course {
			continue
		}
		d.racer(run, c, s.Number, n, seen)
	}
	for _, g := range []string{"V1"} {
		if d.hit("forerunner") {
			seen(1+d.rng.IntN(n), written{bib: g, code: "F", gate: 0})
		}
	}
	for i, p := range c.Places {
		key := sheetmodel.CardKey{Run: run.Number, Course: c.Course, Card: p.Card}
		d.card(run, c, i, key, rows[p.Card], other)
	}
}

// racer draws what truly happens to one racer in one run, and what judges and referees make of it.
func (d *day) racer(run *sheetmodel.Run, c *sheetmodel.CourseRun, bib string, n int, seen func(int, written)) {
	who := fmt.Sprintf("%d/%s", run.Number, bib)
	if d.rng.Float64() < 0.02 { // does not start
		run.DidNotStart.Bibs = append(run.DidNotStart.Bibs, sheetmodel.Bib{Number: bib})
		return
	}
	late := d.hit("dns-list")
	if late {
		run.DidNotStart.Bibs = append(run.DidNotStart.Bibs, sheetmodel.Bib{Number: bib})
	}
	descents := 1
	end := n + 1 // leaves the course before this gate
	wrote := func(code string, gate int, second bool) {
		if late {
			d.expect("did-not-start", run.Number, "/", bib)
		}
		seen(gate, written{bib: bib, code: code, gate: gate, rerun: second})
	}
	if d.rng.Float64() < 0.01 { // hindered: stops there, and goes again
		gate := 2 + d.rng.IntN(n-2)
		wrote("H", gate, false)
		d.expect("hindered", run.Number, "/", bib)
		run.Reruns.Bibs = append(run.Reruns.Bibs, sheetmodel.Bib{Number: bib})
		descents = 2
	}
	second := descents == 2
	switch x := d.rng.Float64(); {
	case x < 0.04: // stops or leaves the course
		end = 1 + d.rng.IntN(n)
		wrote("X", end, second)
		if d.hit("dnf-list") {
			if !second {
				d.expect("left-but-finished", run.Number, "/", bib)
			}
		} else {
			run.DidNotEnd.Bibs = append(run.DidNotEnd.Bibs, sheetmodel.Bib{Number: bib})
		}
	case x < 0.10: // one or two faults
		for range 1 + d.rng.IntN(5)/4 {
			gate := 1 + d.rng.IntN(end-1)
			d.did[who] = append(d.did[who], strconv.Itoa(gate))
			if d.hit("unheard") {
				run.Heard = append(run.Heard, sheetmodel.Heard{Bib: sheetmodel.Bib{Number: bib}, Course: c.Course, Gate: strconv.Itoa(gate)})
				d.expect("heard", run.Number, "/", bib, "/", gate)
				continue
			}
			wrote("F", gate, second)
			d.meant[who] = true
		}
	case x < 0.13: // one lost ski, now and then two
		for range 1 + d.rng.IntN(4)/3 {
			gate := 1 + d.rng.IntN(end-2)
			d.did[who] = append(d.did[who], "ski "+strconv.Itoa(gate))
			wrote("L", gate, second)
		}
	case x < 0.135:
		gate := 1 + d.rng.IntN(end-1)
		d.did[who] = append(d.did[who], strconv.Itoa(gate))
		wrote("O", gate, second)
		d.meant[who] = true
	}
}

// card puts one judge's rows on a card, with that judge's mistakes and the reader's.
func (d *day) card(run *sheetmodel.Run, c *sheetmodel.CourseRun, place int, key sheetmodel.CardKey, list []written, starters map[string][]string) {
	at := fmt.Sprintf("%d/%s/%d", key.Run, key.Course, key.Card)
	p := c.Places[place]
	card := rules.Card{Key: key, In: true}
	if d.hit("missing") {
		card.In = false
		d.expect("missing-card", at)
		d.facts.Cards = append(d.facts.Cards, card)
		return
	}
	panels := map[string]int{}
	number := 0
	for _, w := range list {
		number++
		ref := sheetmodel.RowRef{CardKey: key, Row: number}
		d.row(run, c, p, ref, w, starters, panels)
		if d.hit("twice") && w.bib[0] != 'V' {
			last := d.facts.Rows[len(d.facts.Rows)-1]
			if last.BibState == sheetmodel.BibTwoLooks && last.Code != "H" && last.Code != "X" && last.Ref == ref {
				number++
				last.Ref.Row = number
				if last.Panel != "" {
					panels[last.Panel]++
				}
				d.facts.Rows = append(d.facts.Rows, last)
				for _, rule := range []string{"swap", "gate-in-run", "gate-in-section", "gate-missing", "drawing", "bib-known", "other-course", "forerunner"} {
					if d.want[rule][where(ref)] {
						d.expect(rule, where(last.Ref))
					}
				}
				if d.wrong[ref] {
					d.wrong[last.Ref] = true
				}
			}
		}
	}
	stand := number
	if d.hit("struck") {
		number++
		ref := sheetmodel.RowRef{CardKey: key, Row: number}
		d.facts.Rows = append(d.facts.Rows, rules.Row{Ref: ref, Bib: starters[key.Course][d.rng.IntN(len(starters[key.Course]))], BibState: sheetmodel.BibWaiting, Code: "F", Struck: true})
		d.expect("struck-row", where(ref))
	}
	if d.hit("count") {
		stand++
		d.expect("row-count", at)
	}
	card.RowCount = &stand
	if run.Number == 2 && d.hit("old-header") {
		first := d.facts.Race.Run(1).Course(key.Course).Places[place].Gates
		if first[0] != p.Gates[0] || first[len(first)-1] != p.Gates[len(p.Gates)-1] {
			card.HeaderFrom, card.HeaderTo = first[0], first[len(first)-1]
			d.expect("run-gates", at)
		}
	}
	if d.hit("ring") {
		card.Ringed = d.facts.Race.Courses[1-d.facts.Race.CourseIndex(key.Course)+1]
		d.expect("ringed-course", at)
	}
	for panel, bibs := range panels {
		s := rules.Strip{Panel: panel, Bibs: bibs}
		if d.hit("strip") {
			s.Bibs++
			d.expect("strip", at)
		}
		card.Strips = append(card.Strips, s)
	}
	d.facts.Cards = append(d.facts.Cards, card)
}

func (d *day) row(run *sheetmodel.Run, c *sheetmodel.CourseRun, p sheetmodel.Place, ref sheetmodel.RowRef, w written, starters map[string][]string, panels map[string]int) {
	gate := strconv.Itoa(w.gate)
	r := rules.Row{
		Ref: ref, Bib: w.bib, Code: w.code, Gate: gate, BibState: sheetmodel.BibTwoLooks, CodeSure: true, GateSure: true, PanelSure: true, Rerun: w.rerun,
	}
	if w.bib[0] == 'V' {
		r.Gate = p.Gates[0]
		d.expect("forerunner", where(ref))
		d.facts.Rows = append(d.facts.Rows, r)
		return
	}
	if w.code == "F" {
		r.Panel, r.Drawn = string(rune('B'+d.rng.IntN(5))), true
	}
	switch x := d.rng.Float64(); {
	case x < 0.08:
		r.BibState = sheetmodel.BibOneLook
	case x < 0.10:
		r.BibState = sheetmodel.BibWaiting
	}
	plain := r.BibState == sheetmodel.BibTwoLooks && run.Reruns.Holds("", w.bib) == w.rerun
	switch {
	case r.BibState != sheetmodel.BibTwoLooks && d.hit("misread"):
		r.Bib = starters[c.Course][d.rng.IntN(len(starters[c.Course]))]
	case !plain:
	case d.hit("swap"):
		r.Bib, r.Gate = r.Gate, r.Bib
		d.swapped(c, p, ref, r, starters)
	case d.hit("gate-slip"):
		to := w.gate + pick(d.rng, -7, -6, 6, 7)
		if to >= 1 && to <= len(c.Gates) {
			r.Gate = strconv.Itoa(to)
			d.expect("gate-in-section", where(ref))
			// The slip may be what a swap looks like: the bib is one of the judge's gates, the gate a starter.
			if slices.Contains(p.Gates, r.Bib) && slices.Contains(starters[c.Course], r.Gate) {
				d.expect("swap", where(ref))
			}
		}
	case d.hit("no-gate"):
		r.Gate = ""
		d.expect("gate-missing", where(ref))
	case d.hit("unknown-bib"):
		r.Bib = "999"
		d.expect("bib-known", where(ref))
	case d.hit("other-course"):
		for course, bibs := range starters {
			if course != c.Course {
				r.Bib = bibs[d.rng.IntN(len(bibs))]
			}
		}
		d.expect("other-course", where(ref))
	case d.hit("wrong-sighting"):
		r.Bib = starters[c.Course][d.rng.IntN(len(starters[c.Course]))]
		d.wrong[ref] = true
	}
	if r.Code == "X" && r.Bib != w.bib && slices.Contains(starters[c.Course], r.Bib) && r.BibState != sheetmodel.BibWaiting {
		d.left = append(d.left, fmt.Sprintf("%d/%s", run.Number, r.Bib))
	}
	if w.rerun && d.hit("rerun-box") && r.Code != "H" && r.Bib == w.bib && r.BibState == sheetmodel.BibTwoLooks {
		r.Rerun = false
		if code, _ := d.facts.Race.Codes.Find(r.Code); code.Effect != sheetmodel.EffectLeft {
			d.expect("attempt", where(ref))
		}
	}
	if r.Code == "F" && d.hit("no-drawing") {
		r.Panel, r.Drawn = "", false
	}
	if r.Panel != "" {
		panels[r.Panel]++
	}
	d.facts.Rows = append(d.facts.Rows, r)
}

// swapped notes which checks can see that bib and gate stand in each other's column.
func (d *day) swapped(c *sheetmodel.CourseRun, p sheetmodel.Place, ref sheetmodel.RowRef, r rules.Row, starters map[string][]string) {
	inRun, inSection := slices.Contains(c.Gates, r.Gate), slices.Contains(p.Gates, r.Gate)
	if !inSection && slices.Contains(p.Gates, r.Bib) && slices.Contains(starters[c.Course], r.Gate) {
		d.expect("swap", where(ref))
	}
	switch {
	case !inRun:
		d.expect("gate-in-run", where(ref))
	case !inSection:
		d.expect("gate-in-section", where(ref))
	}
	if !slices.Contains(starters[c.Course], r.Bib) {
		d.expect("other-course", where(ref)) // every number up to 300 is somebody's
	}
	d.wrong[ref] = true // what it says is another racer's, if it can be seen or not
}

// subject is what a finding is about, in the words of expect; empty for rules that are not measured here.
func subject(f sheetmodel.Finding) string {
	switch f.Rule {
	case "swap", "gate-in-run", "gate-in-section", "gate-missing", "bib-known", "other-course", "forerunner", "struck-row", "attempt":
		return where(f.Rows[0])
	case "missing-card", "row-count", "run-gates", "ringed-course", "strip":
		if f.Rule == "strip" && f.Severity != sheetmodel.Asks {
			return "" // one drawing for several rows: information
		}
		return fmt.Sprintf("%d/%s/%d", f.Card.Run, f.Card.Course, f.Card.Card)
	case "did-not-start", "hindered", "left-but-finished":
		return fmt.Sprintf("%d/%s", f.Run, f.Bib)
	case "heard":
		if f.Bib != "" {
			return fmt.Sprintf("%d/%s/%s", f.Run, f.Bib, f.Gate)
		}
	}
	return ""
}

// tally counts over days.
type tally struct {
	days, rows                         int
	wanted, named, right               map[string]int
	calls, standing, wrongSeen, wrong  int
	meant, meantStanding, meantWaiting int
	sightings, questions               int
	looks, pairs                       int // rows that need a further look; lost skis and hindrances among them
}

func measure(t *testing.T, n int, seed uint64) tally {
	t.Helper()
	y := tally{wanted: map[string]int{}, named: map[string]int{}, right: map[string]int{}}
	for i := range n {
		d := drawDay(seed + uint64(i))
		r := rules.Check(d.facts)
		y.days, y.rows = y.days+1, y.rows+len(d.facts.Rows)
		require.Len(t, r.Standings, len(d.facts.Rows))
		rows := rowsByRef(d.facts)
		for _, s := range r.Standings {
			if s.NeedsLooks == 0 {
				continue
			}
			y.looks++
			if code := rows[s.Ref].Code; code == "L" || code == "H" {
				y.pairs++
			}
		}
		said := map[string]map[string]bool{}
		for _, f := range r.Findings {
			if f.Question != nil {
				y.questions++
			}
			if s := subject(f); s != "" {
				if said[f.Rule] == nil {
					said[f.Rule] = map[string]bool{}
				}
				said[f.Rule][s] = true
			}
		}
		for rule, all := range d.want {
			y.wanted[rule] += len(all)
		}
		for rule, all := range said {
			y.named[rule] += len(all)
			for s := range all {
				if d.want[rule][s] {
					y.right[rule]++
				}
			}
		}
		y.sightings += len(d.wrong)
		y.proposals(d, r)
	}
	return y
}

// proposals holds what is proposed against what truly happened.
func (y *tally) proposals(d *day, r rules.Result) {
	found := map[string]bool{}
	for _, c := range r.Calls {
		who := fmt.Sprintf("%d/%s", c.Run, c.Bib)
		y.calls++
		if c.Waiting {
			if d.meant[who] && !found[who] {
				y.meantWaiting++
				found[who] = true
			}
			continue
		}
		y.standing++
		if d.meant[who] && !found[who] {
			y.meantStanding++
			found[who] = true
		}
		skis := 0
		for _, g := range d.did[who] {
			if strings.HasPrefix(g, "ski ") {
				skis++
			}
		}
		lost := strings.HasPrefix(c.Meaning, "lost a ski")
		if lost && skis >= 2 || !lost && len(d.did[who]) > skis {
			continue
		}
		// The law is about ink and looks: a judge who saw another racer is told apart from a proposal that
		// no judge's row makes.
		if slices.ContainsFunc(c.Rows, func(ref sheetmodel.RowRef) bool { return d.wrong[ref] }) {
			y.wrongSeen++
			continue
		}
		y.wrong++
	}
	y.meant += len(d.meant)
}

func TestRaceDays_ChecksFindWhatWentWrong(t *testing.T) {
	y := measure(t, *raceDays, *daySeed)
	if *reportTo != "" {
		require.NoError(t, os.WriteFile(*reportTo, y.report(*daySeed), 0o600))
	}
	require.Zero(t, y.wrong, "a proposal that no judge's row makes, from rows with two looks")
	for _, rule := range slices.Sorted(maps.Keys(y.wanted)) {
		if y.wanted[rule] < 20 {
			continue // too few to say
		}
		// A mistake on a row that another mistake has taken out already need not be named a second time.
		require.GreaterOrEqual(t, float64(y.right[rule])/float64(y.wanted[rule]), 0.75, "recall of %s: the floor is below what 1,000 days showed", rule)
	}
}

// bound is the upper 95 % bound on a rate after 0 of n: the rule of three. Source: Hanley and
// Lippman-Hand, JAMA 1983.
func bound(n int) string { return fmt.Sprintf("%.4f %%", 300/float64(n)) }

func (y tally) report(seed uint64) []byte {
	var b bytes.Buffer
	p := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	p("# What the checks find on whole race days")
	p("")
	p("Written by `go test ./rules -run RaceDays -race-days %d -race-days-seed %d -report report.md`.", y.days, seed)
	p("The days are invented and drawn, each with 300 racers, two courses, two runs and 60 cards; what happened, what judges")
	p("wrote and every mistake is known. They say how the checks work together, not how often judges err: the rates are ours.")
	p("")
	p("%d days, %d rows, %d questions to people (%.1f a day), %d proposals, of which %d stand without an answer.", y.days, y.rows, y.questions, float64(y.questions)/float64(y.days), y.calls, y.standing)
	p("")
	p("- Bibs that need a further look: %d (%.2f a day), of them %d (%.2f a day) of lost skis and hindrances, which are asked about", y.looks, float64(y.looks)/float64(y.days), y.pairs, float64(y.pairs)/float64(y.days))
	p("  whosever they are, so that being asked tells no bib.")
	p("- Wrong proposals from rows with two looks, that no judge's row makes: **%d** of %d (upper 95 %% bound %s).", y.wrong, y.standing, bound(y.standing))
	p("- Rows on which the judge had seen another racer, or swapped bib and gate: %d. Of these %d stood as a proposal of that", y.sightings, y.wrongSeen)
	p("  bib: nothing on the other cards spoke against them. No check can see that; the draft says *as written by the judge*.")
	p("- Of %d racers who had a fault that was written on a card, %d have a line that stands and %d one that waits; the others", y.meant, y.meantStanding, y.meantWaiting)
	p("  have rows that were set aside, whose card is missing, or whose bib isn't read yet.")
	p("")
	p("| check | mistakes | named | of these right | recall | precision |")
	p("|---|---|---|---|---|---|")
	for _, rule := range slices.Sorted(maps.Keys(y.wanted)) {
		p("| %s | %d | %d | %d | %.1f %% | %.1f %% |", rule, y.wanted[rule], y.named[rule], y.right[rule],
			100*float64(y.right[rule])/float64(y.wanted[rule]), 100*float64(y.right[rule])/float64(max(1, y.named[rule])))
	}
	p("")
	p("Recall below 100 %%: the row was set aside or waits for another reason, and is named for that one. Precision below")
	p("100 %%: the check spoke of something that is true of the cards but was not drawn as that mistake, such as a wrong")
	p("sighting that names a racer who did not start.")
	p("")
	p("Rates, by chance:")
	p("")
	p("| mistake | rate | for each |")
	p("|---|---|---|")
	for _, m := range mistakes {
		p("| %s | %.1f %% | %s |", m.name, 100*m.rate, m.per)
	}
	return b.Bytes()
}
