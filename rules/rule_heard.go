package rules

import (
	"slices"
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

var ruleHeard = Rule{
	Doc: Doc{
		Name: "heard", Basis: "664.2",
		Help:     "What came by radio or voice must be on a card too: where no row of the racer is at that gate, its judge is asked once the card is in, or when it will not come. It is never a call.",
		Settings: []string{"heard"},
	},
	check: func(p *pass) {
		asked, compared, awaited := map[string]bool{}, map[string]bool{}, map[string]bool{}
		for _, h := range p.cr.heard {
			name := racerName(h.Group, h.Number)
			// A second call about the same is no second question.
			if p.cr.toldOf(h) || h.Gate == "" || asked[name+"@"+h.Gate] {
				continue
			}
			asked[name+"@"+h.Gate] = true
			if open := p.cr.openAt(h.Gate); len(open) > 0 {
				if compared[h.Gate] {
					continue
				}
				compared[h.Gate] = true
				// Named here, the bib would tell whoever types those rows what to expect.
				f := p.about(sheetmodel.Informs, "A call about gate "+h.Gate+" was heard; it is compared with "+places(open)+" once settled.", open...)
				f.Gate = h.Gate
				p.say(f)
				continue
			}
			if cards := p.cr.awaitedAt(h.Gate); len(cards) > 0 {
				if awaited[h.Gate] {
					continue
				}
				awaited[h.Gate] = true
				// Its rows are still to be typed, by people who read this.
				f := p.about(sheetmodel.Informs, "A call about gate "+h.Gate+" was heard; it is compared with "+list(cards)+" once that is in.")
				f.Gate = h.Gate
				p.say(f)
				continue
			}
			f := sheetmodel.Finding{Severity: sheetmodel.Asks, Bib: h.Number, Group: h.Group, Gate: h.Gate}
			f.Sentence = "The log of what was heard names " + name + " at gate " + h.Gate
			calls, at := p.cr.callsOf(h)
			if len(at) > 0 {
				f.Sentence += " at " + list(at)
			}
			f.Sentence += ", but no row that is settled says so"
			var judges []string
			for _, c := range p.cr.watch[h.Gate] {
				judges = append(judges, c.where())
			}
			if len(judges) > 0 {
				f.Sentence += ": ask the judge of " + list(judges)
			}
			f.Sentence += "."
			key := p.key(name, h.Gate)
			if calls > 1 { // one that came in after the judge was asked, say of a re-run, asks anew
				key = p.key(name, h.Gate, calls)
			}
			if lost := p.cr.lostAt(h.Gate); len(lost) > 0 { // found all the same, its judge was not asked
				key += "/without-" + strings.Join(lost, ",")
			}
			p.ask(p.unlessDone(question{
				finding: f, key: key, ask: "What does the judge say?",
				answers: []sheetmodel.Answer{
					{Value: "nothing", Label: "nothing happened, or nothing that goes on a card"},
					{Value: answerWritten, Label: "it is on the card now: photograph it again"},
				},
			}, answerWritten, "not-written", notWritten))
		}
	},
}

// callsOf returns how often the same was heard as h tells, and when.
func (cr *courseRun) callsOf(h sheetmodel.Heard) (calls int, at []string) {
	for _, o := range cr.heard {
		if o.Group != h.Group || o.Number != h.Number || o.Gate != h.Gate {
			continue
		}
		calls++
		if o.At != "" && !slices.Contains(at, o.At) {
			at = append(at, o.At)
		}
	}
	return calls, at
}

// openAt returns the rows that name no certain racer, on the cards that watch a gate.
//
// A row that is only recorded, and whose bib isn't told behind the veil, isn't one of them, though it may say what was heard: its judge is asked
// about the call all the same, perhaps needlessly. Such a row may stay as it is until the end of the race. Were the call held back for it, a call
// about somebody else at that gate would never be asked about; and were it held back only where the row is the one, the question that is missing
// would tell its bib.
func (cr *courseRun) openAt(gate string) []*row {
	var open []*row
	for _, c := range cr.watch[gate] {
		open = append(open, keep(c.rows, func(w *row) bool { return !w.named && !w.gone() })...)
	}
	return open
}

// awaitedAt are the cards that watch a gate, are not in and may still come.
func (cr *courseRun) awaitedAt(gate string) []string {
	var cards []string
	for _, c := range cr.watch[gate] {
		if !c.In && c.GapReason == "" {
			cards = append(cards, c.where())
		}
	}
	return cards
}

// lostAt are the numbers of the cards that watch a gate and are not to come.
func (cr *courseRun) lostAt(gate string) []string {
	var cards []string
	for _, c := range cr.watch[gate] {
		if !c.In && c.GapReason != "" {
			cards = append(cards, strconv.Itoa(c.Key.Card))
		}
	}
	return cards
}

// toldOf reports whether a row that says something certain of the racer is at the gate that was named. A call that names no group, as one
// from before the start list was in, may be of whoever wears the number.
func (cr *courseRun) toldOf(h sheetmodel.Heard) bool {
	for _, rows := range cr.racerRows() {
		if who := rows[0].racer; who.number != h.Number || h.Group != "" && who.group != h.Group {
			continue
		}
		if slices.ContainsFunc(rows, func(w *row) bool { return !w.Struck && (len(w.gates) == 0 || slices.Contains(w.gates, h.Gate)) }) {
			return true
		}
	}
	return false
}

// HeardOpen says of each run and course that calls were heard of which nobody has asked the judge, and tells nothing of them: for
// who is shown a race without its log of what was heard, whose list is as open as the one at the desk.
func HeardOpen(result Result) []Gap {
	var gaps []Gap
	for _, f := range result.Findings {
		g := Gap{Run: f.Run, Course: f.Course, Why: "A call that was heard is on no card that is settled, and its judge has not been asked."}
		if f.Rule == ruleHeard.Name && f.Question != nil && !slices.Contains(gaps, g) {
			gaps = append(gaps, g)
		}
	}
	return gaps
}
