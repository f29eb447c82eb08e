package rules

import (
	"slices"
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

// An answer is said of what was in view: of the photos of the cards that it is about, and of what their rows read. It is kept with that,
// its view, and counts while the view is the same. What has changed since may be what the answer rested on; then it is asked anew, which
// says what was answered before. A view holds no number of a card, no time and no name: two copies of a race that have read one photo
// alike have one view of it. What people couldn't read when they answered, a bib that was doubtful then, they said nothing of.
//
//	1|r;0f3a8e21c97b-1 gates-5;;3;8,9;46;F;12;no
//
// is row 3 of the card in that photo, which watches gates 8 and 9: bib 46, code F, gate 12, no re-run.

// viewForm begins each view. Views of another form aren't compared.
const viewForm = "1"

// Overtaken is an answer that counts no more, since what was in view when it was given has changed.
type Overtaken struct {
	Value string
	Why   string // what has changed, as part of a sentence
}

// subject is what a question is about.
type subject struct {
	rows  []*row
	cards []*card
	gates bool // the gates that its cards watch bear on it; they do on all questions about rows
	back  bool // it is about drawings too
}

// viewOf writes down a subject as it is now.
func viewOf(s subject) string {
	parts := []string{viewForm}
	for _, w := range s.rows {
		rerun := "no"
		if w.Rerun {
			rerun = "yes"
		}
		bib, code, gate := "", "", ""
		if w.hasBib() {
			bib = w.Bib
		}
		if w.CodeSure {
			code = orElse(w.Code, "-")
		}
		if w.GateSure {
			gate = orElse(w.Gate, "-")
		}
		parts = append(parts, viewPart("r", w.card.FrontPaper, backOf(w.card, s.back), strconv.Itoa(w.Ref.Row), strings.Join(w.card.gates, ","), bib, code, gate, rerun))
	}
	for _, c := range s.cards {
		gates := ""
		if s.gates {
			gates = strings.Join(c.gates, ",")
		}
		parts = append(parts, viewPart("c", c.FrontPaper, backOf(c, s.back), gates))
	}
	return strings.Join(parts, "|")
}

func backOf(c *card, counts bool) string {
	if counts {
		return c.BackPaper
	}
	return ""
}

// CardView is the view of a question about the paper of a card alone, such as whether a line through a row strikes it out.
func CardView(c Card) string { return viewOf(subject{cards: []*card{{Card: c}}}) }

// ViewChanged says what has changed from one view to another, as part of a sentence; it is empty if nothing has. An empty view, as that
// of an older program's answer, is like any.
func ViewChanged(kept, now string) string { return changed(kept, now, subject{}) }

// SaidOf reports whether what was said with views, as in Facts.Views, was said of what is there now.
func SaidOf(views []string, now string) bool { return changedFromAll(views, now, subject{}) == "" }

// changedFromAll says what has changed from the first of several views, if the present one is none of them.
func changedFromAll(views []string, now string, s subject) string {
	why := ""
	for i, kept := range views {
		since := changed(kept, now, s)
		if since == "" {
			return ""
		}
		if i == 0 {
			why = since
		}
	}
	return why
}

var viewSafe = strings.NewReplacer("%", "%25", "|", "%7c", ";", "%3b")

func viewPart(fields ...string) string {
	for i := range fields {
		fields[i] = viewSafe.Replace(fields[i])
	}
	return strings.Join(fields, ";")
}

// Fields of the parts of a view: those of a row, and after its kind and papers, those of a card.
const (
	viewFront    = 1
	viewBack     = 2
	viewRow      = 3
	viewRowGates = 4
	viewGates    = 3
)

// changed says what has changed from one view to another, empty if nothing has. s is what the latter is of, for the words.
func changed(kept, now string, s subject) string {
	was, is := strings.Split(kept, "|"), strings.Split(now, "|")
	if kept == "" || now == "" || was[0] != is[0] {
		return ""
	}
	switch {
	case len(was) < len(is):
		return "another row has come in"
	case len(was) > len(is):
		return "a row has gone"
	}
	for i := 1; i < len(is); i++ {
		a, b := strings.Split(was[i], ";"), strings.Split(is[i], ";")
		if a[0] != b[0] || len(a) != len(b) {
			return "it is about something else"
		}
		if why := partChanged(a, b, s, i-1); why != "" {
			return why
		}
	}
	return ""
}

// partChanged compares one part of two views; at is its place among the rows and cards of a subject.
func partChanged(a, b []string, s subject, at int) string {
	where, in := "the card", "a row"
	switch {
	case at < len(s.rows):
		where, in = s.rows[at].card.where(), s.rows[at].where()
	case at < len(s.rows)+len(s.cards):
		where = s.cards[at-len(s.rows)].where()
	}
	gates, row := viewGates, a[0] == "r"
	if row {
		gates = viewRowGates
	}
	switch {
	case row && a[viewRow] != b[viewRow]:
		return "it is about other rows"
	case a[viewFront] != b[viewFront]:
		return "another photo of " + where + " counts"
	case a[viewBack] != b[viewBack]:
		return "another photo of the drawings of " + where + " counts"
	case otherwise(a[gates], b[gates]):
		return where + " watches other gates"
	}
	for i := gates + 1; i < len(a); i++ {
		if otherwise(a[i], b[i]) {
			return in + " reads otherwise"
		}
	}
	return ""
}

// otherwise reports whether both are known and differ.
func otherwise(a, b string) bool { return a != "" && b != "" && a != b }

// subjectOf is what a question is about: the rows of its finding with those that wait for the answer or go by it, or else its card.
func (p *pass) subjectOf(q *question) subject {
	if p.views == nil {
		return subject{} // nobody holds anything against it
	}
	s := subject{back: q.drawings, gates: q.gates}
	if q.of != nil {
		s.cards = q.of
	}
	if len(q.finding.Rows) > 0 && !q.anyRow {
		for _, ref := range q.finding.Rows {
			if w := p.rowAt[ref]; w != nil && !slices.Contains(s.rows, w) {
				s.rows = append(s.rows, w)
			}
		}
		for _, w := range slices.Concat(q.hold, q.aside) {
			if !slices.Contains(s.rows, w) {
				s.rows = append(s.rows, w)
			}
		}
		slices.SortFunc(s.rows, func(a, b *row) int { return compareRefs(a.Ref, b.Ref) })
	} else if f := q.finding; f.Card != nil && len(f.Rows) == 0 && q.of == nil {
		if i := slices.IndexFunc(p.cr.cards, func(c *card) bool { return c.Key == *f.Card }); i >= 0 {
			s.cards = append(s.cards, p.cr.cards[i])
		}
	}
	return s
}

// given is the answer to a question as far as it counts: one that was given with another view than that which is there now counts no more.
// All that asks what was answered asks here.
func (d *desk) given(key string, s subject) string {
	value := d.answers[key]
	if value == "" || len(d.views[key]) == 0 {
		return value
	}
	why := changedFromAll(d.views[key], viewOf(s), s)
	if why == "" {
		return value
	}
	d.result.Overtaken[key] = Overtaken{Value: value, Why: why}
	return ""
}

// open puts a question to people: with its view, and with what was answered before, if that counts no more.
func (d *desk) open(f *sheetmodel.Finding, q sheetmodel.Question, s subject) {
	if d.views != nil {
		q.View = viewOf(s)
	}
	f.Question = &q
	was, before := d.result.Overtaken[q.Key]
	i := slices.IndexFunc(q.Answers, func(a sheetmodel.Answer) bool { return a.Value == was.Value })
	if !before || i < 0 {
		return
	}
	f.Sentence = strings.TrimSuffix(f.Sentence, ".") + ". It was answered before" + d.saidBy(q.Key) + ": " + q.Answers[i].Label + ". Since then " + was.Why + ", so it is asked anew."
}
