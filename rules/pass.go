package rules

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

// pass is one rule looking at one course in one run.
type pass struct {
	*desk
	cr   *courseRun
	rule *Doc
	// basis replaces the rule's own where a race setting names an article or local rule.
	basis string
}

// Answers that several questions offer.
const (
	answerCounts   = "counts"    // the row counts as written
	answerSetAside = "set-aside" // no call from it
	answerLeave    = "leave-out" // a blocked row stays out, seen and settled
	answerTold     = "told"      // it is for the jury
	answerWritten  = "written"   // the judge has mended the card since
)

var (
	offerSetAside = sheetmodel.Answer{Value: answerSetAside, Label: "set it aside"}
	offerLeave    = sheetmodel.Answer{Value: answerLeave, Label: "seen: it stays set aside"}
)

// question is something a person is asked about rows.
type question struct {
	finding sheetmodel.Finding
	key     string
	ask     string
	answers []sheetmodel.Answer
	hold    []*row // rows that wait for the answer
	aside   []*row // rows that answerSetAside sets aside; nil: those that wait
	why     string // why they wait or go
	jury    string // the answer by which it goes to the jury; empty: none does

	of       []*card // the cards that it is about, where its finding doesn't say; else nil
	gates    bool    // what these cards watch bears on it
	drawings bool    // it is about drawings, whose photo bears on it too
	anyRow   bool    // it is about no row, whichever its finding names
	byRows   bool    // it rests on the rows that wait, though its finding names none
}

// say records a finding of the pass's rule, course and run.
func (p *pass) say(f sheetmodel.Finding) {
	f.Rule, f.Run, f.Course = p.rule.Name, p.cr.run, p.cr.course
	if f.Basis == "" {
		f.Basis = orElse(p.basis, p.rule.Basis)
	}
	p.result.Findings = append(p.result.Findings, f)
}

// key makes a question's key: rule, run, course and what it is about.
func (p *pass) key(about ...any) string {
	parts := []string{p.rule.Name, fmt.Sprint(p.cr.run), p.cr.course}
	for _, a := range about {
		parts = append(parts, fmt.Sprint(a))
	}
	return strings.Join(parts, "/")
}

// CardsAbout returns the cards, as they were used, that a question's key names by their number: one, two, or none where the question
// is about what rows say. An answer to it was given about sheets of paper, and says nothing of others that get the numbers.
// courses are the race's.
func CardsAbout(key string, courses []string) []sheetmodel.CardKey {
	_, rest, _ := strings.Cut(key, "/")
	number, rest, _ := strings.Cut(rest, "/")
	run, err := strconv.Atoi(number)
	if err != nil {
		return nil
	}
	for _, course := range courses {
		about, found := strings.CutPrefix(rest, course+"/")
		if !found {
			continue
		}
		about, _, _ = strings.Cut(about, "/")
		var cards []sheetmodel.CardKey
		for _, n := range strings.Split(about, "+") {
			card, err := strconv.Atoi(n)
			if err != nil || card < 1 {
				cards = nil // of a course whose name goes on
				break
			}
			cards = append(cards, sheetmodel.CardKey{Run: run, Course: course, Card: card})
		}
		if cards != nil {
			return cards
		}
	}
	return nil
}

// Moved is the key of the same question about a row whose card has another number now; false if the question must be asked anew,
// for it was about more than that row's paper.
func Moved(key string, from, to sheetmodel.CardKey) (string, bool) {
	for _, about := range []func(sheetmodel.RowRef) string{struckKey, OtherBibKey} {
		start := strings.TrimSuffix(about(sheetmodel.RowRef{CardKey: from}), "0")
		if row, err := strconv.Atoi(strings.TrimPrefix(key, start)); strings.HasPrefix(key, start) && err == nil {
			return about(sheetmodel.RowRef{CardKey: to, Row: row}), true
		}
	}
	return "", false
}

// ask records the finding with its question and holds the rows, or, if a person has answered,
// records what was answered. It returns the answer, empty while open.
func (p *pass) ask(q question) string {
	about := p.subjectOf(&q)
	given := p.given(q.key, about)
	at := slices.IndexFunc(q.answers, func(a sheetmodel.Answer) bool { return a.Value == given })
	if given == "" || at < 0 {
		q.finding.Severity = sheetmodel.Asks
		p.open(&q.finding, sheetmodel.Question{Key: q.key, Ask: q.ask, Answers: q.answers}, about)
		p.say(q.finding)
		loose := slices.ContainsFunc(q.finding.Rows, func(ref sheetmodel.RowRef) bool { return p.short[ref] }) ||
			q.byRows && slices.ContainsFunc(q.hold, func(w *row) bool { return p.short[w.Ref] })
		for _, w := range q.hold {
			if loose {
				w.loose = append(w.loose, q.why)
			} else {
				w.holds = append(w.holds, q.why)
			}
		}
		// What only notes or struck rows hang on keeps nothing waiting, but it is open all the same.
		if !slices.ContainsFunc(q.hold, func(w *row) bool { return p.weighs(w) && !w.gone() }) {
			p.gap(q.finding.Sentence, q.finding.Rows...)
		}
		return ""
	}
	q.finding.Severity = sheetmodel.Informs
	if q.jury == given {
		q.finding.Severity, q.finding.ForJury = sheetmodel.Warns, true
	}
	q.finding.Sentence += " Answered: " + q.answers[at].Label + "."
	p.say(q.finding)
	if given == answerSetAside {
		if q.aside == nil {
			q.aside = q.hold
		}
		for _, w := range q.aside {
			w.asides = append(w.asides, q.why)
		}
	}
	return given
}

// notWritten is what a question says whose answer was that the card is mended.
const notWritten = " It was answered that it is on the card now, but no photo shows it yet: photograph the card again, or answer otherwise."

// unlessDone turns a question to which it was answered that something is done now into another one, which that answer can't close:
// were it done, nothing would be asked. suffix tells the keys of the two apart.
func (p *pass) unlessDone(q question, done, suffix, words string) question {
	if p.given(q.key, p.subjectOf(&q)) == done {
		q.finding.Sentence += words
		q.key += "/" + suffix
		q.answers = slices.DeleteFunc(slices.Clone(q.answers), func(a sheetmodel.Answer) bool { return a.Value == done })
	}
	return q
}

// askRow asks about one row; a row that can propose nothing, or is set aside already, is only remarked on.
// reading is what the question is about, e.g. the gate: an answer holds for that and no other reading.
func (p *pass) askRow(w *row, reading, sentence, why, ask string, answers ...sheetmodel.Answer) string {
	f := p.about(sheetmodel.Informs, sentence, w)
	if !p.weighs(w) || w.gone() {
		p.say(f)
		return ""
	}
	return p.ask(question{
		finding: f, key: p.key(w.Ref.Card, w.Ref.Row, reading), ask: ask, why: why, hold: []*row{w},
		answers: append(answers, offerSetAside),
	})
}

// block sets a row aside until something on it changes, and asks a person to have seen that.
// reading is what the question is about, as for askRow; further are answers beside that one.
func (p *pass) block(w *row, reading, sentence, why string, further ...sheetmodel.Answer) {
	f := p.about(sheetmodel.Blocks, sentence, w)
	if !p.weighs(w) {
		f.Severity = sheetmodel.Informs
		p.say(f)
		return
	}
	key := p.key(w.Ref.Card, w.Ref.Row, reading)
	if about := (subject{rows: []*row{w}}); p.given(key, about) != answerLeave {
		w.open = true
		p.open(&f, sheetmodel.Question{Key: key, Ask: "Does this row stay out?", Answers: append([]sheetmodel.Answer{offerLeave}, further...)}, about)
	}
	w.asides = append(w.asides, why)
	p.say(f)
}

// blockBib blocks a row for its bib alone. With fewer than two looks the bib may simply be misread,
// so the row waits for another look instead.
func (p *pass) blockBib(w *row, sentence, why string) {
	if w.BibState == sheetmodel.BibTwoLooks || !p.weighs(w) {
		p.block(w, w.Bib, sentence, why)
		return
	}
	w.badBib = append(w.badBib, why)
	p.say(p.about(sheetmodel.Asks, sentence+" Its bib needs one more look first.", w))
}

// about makes a finding on rows, with the card, bib and gate they have in common.
func (p *pass) about(severity sheetmodel.Severity, sentence string, rows ...*row) sheetmodel.Finding {
	f := sheetmodel.Finding{Severity: severity, Sentence: sentence}
	for i, w := range rows {
		f.Rows = append(f.Rows, w.Ref)
		key, bib, gate := w.Ref.CardKey, w.bib(), w.gate()
		if i == 0 {
			f.Card, f.Bib, f.Group, f.Gate = &key, bib, w.racer.group, gate
			continue
		}
		if f.Card != nil && *f.Card != key {
			f.Card = nil
		}
		if f.Bib != bib || f.Group != w.racer.group {
			f.Bib, f.Group = "", ""
		}
		if f.Gate != gate {
			f.Gate = ""
		}
	}
	slices.SortFunc(f.Rows, compareRefs)
	return f
}

// onCard makes a finding on a card as a whole.
func (p *pass) onCard(severity sheetmodel.Severity, sentence string, c *card) sheetmodel.Finding {
	key := c.Key
	return sheetmodel.Finding{Severity: severity, Sentence: sentence, Card: &key}
}

// gap records why the draft of this run and course is not complete.
func (p *pass) gap(why string, rows ...sheetmodel.RowRef) {
	p.result.Incomplete = append(p.result.Incomplete, Gap{Run: p.cr.run, Course: p.cr.course, Why: why, rows: &rows})
}

// bib returns the certain text of a row's bib as the start list writes it, empty while doubtful:
// what is doubtful is never named.
func (w *row) bib() string {
	switch {
	case w.named:
		return w.racer.number
	case w.hasBib():
		return w.Bib
	}
	return ""
}

// hasBib reports whether looks agree on a text.
func (w *row) hasBib() bool {
	return w.BibState == sheetmodel.BibOneLook || w.BibState == sheetmodel.BibTwoLooks
}

// gate returns the first gate of the row's event, empty if there is none or it is not settled.
func (w *row) gate() string {
	if len(w.gates) == 0 {
		return ""
	}
	return w.gates[0]
}

// gone reports whether the row can't become a call as it is.
func (w *row) gone() bool {
	return w.Struck || w.BibState == sheetmodel.BibSetAside || len(w.asides) > 0
}

// live reports whether the row says something certain of a certain racer.
func (w *row) live() bool {
	return !w.gone() && w.named && w.coded && w.GateSure && len(w.badBib) == 0 && w.informed == ""
}

// firm reports whether the row has its two looks and no question of its own keeps it back. Firm rows
// alone say where an event is, what it is called and how many there are. A question that rests on rows
// without their two looks makes a proposal wait; it does not take a row out of it, or what is not
// settled could move the proposal to another gate.
func (w *row) firm() bool {
	return w.live() && w.BibState == sheetmodel.BibTwoLooks && len(w.holds) == 0
}

func (w *row) notFirm() bool { return !w.firm() }

// ready reports whether the row can carry a proposal now.
func (w *row) ready() bool { return w.firm() && len(w.loose) == 0 }

// weighs reports whether the row can change the draft, now or once its code is settled.
func (d *desk) weighs(w *row) bool {
	if !w.coded {
		return true
	}
	switch w.code.Effect {
	case sheetmodel.EffectInform:
		return false
	case sheetmodel.EffectLostSki, sheetmodel.EffectLostTwo:
		return d.lostSkiFrom() > 0
	case sheetmodel.EffectOvertaken:
		return d.race.Rules.Overtaken
	case sheetmodel.EffectPropose, sheetmodel.EffectLeft, sheetmodel.EffectHindered, sheetmodel.EffectMended:
		return true
	}
	return true
}

// accusing reports whether the row's code can propose a disqualification in this race.
func (d *desk) accusing(w *row) bool {
	if !w.coded || !d.weighs(w) {
		return false
	}
	switch w.code.Effect {
	case sheetmodel.EffectPropose, sheetmodel.EffectOvertaken, sheetmodel.EffectLostSki, sheetmodel.EffectLostTwo:
		return true
	default:
		return false
	}
}

// lost reports whether the row is about lost skis.
func (w *row) lost() bool {
	return w.coded && (w.code.Effect == sheetmodel.EffectLostSki || w.code.Effect == sheetmodel.EffectLostTwo)
}

// racerRows returns the unstruck rows of each racer, racers by number, rows by card.
func (cr *courseRun) racerRows() [][]*row {
	if cr.grouped {
		return cr.racers
	}
	cr.grouped = true
	at := map[racer]int{}
	for _, w := range cr.rows {
		if !w.named || w.Struck {
			continue
		}
		i, ok := at[w.racer]
		if !ok {
			i = len(cr.racers)
			at[w.racer] = i
			cr.racers = append(cr.racers, nil)
		}
		cr.racers[i] = append(cr.racers[i], w)
	}
	slices.SortFunc(cr.racers, func(a, b []*row) int {
		x, y := a[0].racer, b[0].racer
		return firstOf(compareLabels(x.number, y.number), strings.Compare(x.group, y.group))
	})
	return cr.racers
}

// keep returns the rows that pass all tests.
func keep(rows []*row, tests ...func(*row) bool) []*row {
	var kept []*row
	for _, w := range rows {
		if !slices.ContainsFunc(tests, func(t func(*row) bool) bool { return !t(w) }) {
			kept = append(kept, w)
		}
	}
	return kept
}
