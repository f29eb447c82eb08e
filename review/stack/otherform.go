package stack

import (
	"slices"
	"strings"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// Row 1 of one form is another row on another. A card may be read as another form than it was: its layout was mended, another paper
// has its number, or it was taken for what it isn't. What people said of its rows by their numbers says nothing of the rows of the
// other form.

// readings says as which form each sheet of paper was read, by its name, in order.
type readings map[string][]readAs

type readAs struct {
	sheet int64
	form  string
}

func (l *loader) readings() readings {
	all := readings{}
	for id, at := range l.inks {
		paper := store.PaperName(at.Photo, at.Part)
		all[paper] = append(all[paper], readAs{id, l.forms[id]})
	}
	for _, of := range all {
		slices.SortFunc(of, func(a, b readAs) int { return int(a.sheet - b.sheet) })
	}
	return all
}

// formsThen are the forms that the papers of an answer were taken for when it was given; empty where nobody knows.
func (r readings) formsThen(a store.Answer) []string {
	if a.Paper == "" {
		return nil
	}
	var forms []string
	for _, paper := range strings.Split(a.Paper, "+") {
		form := ""
		for _, was := range r[paper] {
			if was.sheet < a.ID {
				form = was.form
			}
		}
		forms = append(forms, form)
	}
	return forms
}

// ofOtherForm reports whether an answer about a card was given while its paper was taken for another form than that which counts. In another
// copy of the race it may have been so when this one had read it anew already: what that copy had read tells.
func (l *loader) ofOtherForm(question string, at int, c *Card) bool {
	if said := l.saidOn[question]; c.Front != nil && said != "" {
		papers := strings.Split(said, "+")
		if at < len(papers) && l.notYetOfForm(papers[at], l.saidWhen[question].seen, c.Front.Layout) {
			return true
		}
	}
	forms := l.saidAt[question]
	return c.Front != nil && at < len(forms) && forms[at] != "" && forms[at] != c.Front.Layout
}

// notYetOfForm reports whether no reader had taken a paper for a form, by its layout, in the copy of the race in which something was said.
func (l *loader) notYetOfForm(paper, seen, layout string) bool {
	photo, part, named := store.ParsePaperName(paper)
	if !named {
		return false
	}
	in, known := l.sights.Form(seen, store.Ink{Photo: photo, Part: part}, layout)
	return known && !in
}

// saidOfOtherPhoto reports whether an answer was given at another photo than that which a row is read from: what looks struck out there is
// another line perhaps. That of a fold, and said to be none, its judge may have struck out since.
func (l *loader) saidOfOtherPhoto(question string, s *store.Sheet) bool {
	photo, _, ok := store.ParsePaperName(l.saidOn[question])
	return ok && s != nil && !strings.HasPrefix(s.Photo, photo)
}

// otherBibsSince reports whether no photo that was read when somebody said that every racer under a drawing is in a row shows the bibs there
// as they count now. Their number may be the same: one rubbed out, and another written.
func (l *loader) otherBibsSince(question string) bool {
	parts := strings.Split(question, "/") // ends with the panel, its bibs and its rows
	for _, used := range rules.CardsAbout(question, l.Race.Courses) {
		c := l.Card(used)
		if c == nil || c.PanelSheet() == nil || len(parts) < 3 {
			continue
		}
		now, under := c.PanelSheet(), look.Tied{Panel: parts[len(parts)-3]}
		return !slices.ContainsFunc(l.sides[sideKey{now.Card, now.Side}], func(o *store.Sheet) bool {
			return l.readBefore(o, l.saidWhen[question]) && slices.Equal(seconds(o, under), seconds(now, under))
		})
	}
	return false
}

// saidBeforeDrawing reports whether the photo of a card's drawings that counts was read only after somebody said whether one shows the
// racer's path: that drawing may be another by now, and its lines are compared by nobody.
func (l *loader) saidBeforeDrawing(question string, c *Card) bool {
	now := c.PanelSheet()
	return now != nil && !l.readBefore(now, l.saidWhen[question])
}

// struckElsewhere reports whether a row counts as struck out only because a person said so of the line on another photo than that which it
// is read from: something else may be written there now. It stays struck out until it is asked again.
func (l *loader) struckElsewhere(r *Row, question string) bool {
	c := &l.Cards[r.Card]
	if r.Sheet == nil || !l.saidStruck(c, r.Ref.Row) || l.marked(c, r.Ref.Row) || !l.saidOfOtherPhoto(question, r.Sheet) {
		return false
	}
	return !slices.ContainsFunc(r.Sheet.Read.Reading.Rows, func(o sheetmodel.Row) bool { return o.Number == r.Ref.Row && o.Struck })
}

// otherPhoto is why an answer about a row counts no more.
const otherPhoto = "another photo of its card counts"

// otherFormsAnswers leaves out what was answered about rows of another form, whether a row is struck out where it was said of another
// photo, that no row is missing for a drawing whose bibs are others now, and whether a drawing of which there is a newer photo shows a path:
// it is asked again, and where marks are now, a person says. That is for answers of which nobody kept what was in view, as of older programs;
// the others are held against that by the rules.
func (l *loader) otherFormsAnswers() {
	gone, why := map[string]bool{}, map[string]string{}
	for question, value := range l.Answers {
		if _, card, row, mark := markOf(question); mark {
			i := slices.IndexFunc(l.Cards, func(c Card) bool { return c.Printed == card })
			if gone[question] = i >= 0 && l.ofOtherForm(question, 0, &l.Cards[i]); gone[question] && value != "" {
				l.left = append(l.left, leftBehind{card: card, row: row, paper: l.papers[question][len(l.papers[question])-1], form: l.Cards[i].Front.Layout})
			}
			continue
		}
		if len(l.Views[question]) > 0 {
			continue // held against what is in view now
		}
		for at, used := range rules.CardsAbout(question, l.Race.Courses) {
			c := l.Card(used)
			gone[question] = gone[question] || c != nil && l.ofOtherForm(question, at, c)
			why[question] = "its card is taken for another form"
		}
	}
	for question := range l.Answers {
		if strings.HasPrefix(question, "strip/") && len(l.Views[question]) == 0 && l.otherBibsSince(question) {
			gone[question], why[question] = true, "other bibs stand under that drawing"
		}
	}
	for i := range l.Rows {
		r := &l.Rows[i]
		if question := rules.PathKey(r.Ref, r.Row.Panel); l.Answers[question] != "" && len(l.Views[question]) == 0 && l.saidBeforeDrawing(question, &l.Cards[r.Card]) {
			gone[question], why[question] = true, otherPhoto
		}
	}
	for i := range l.Rows {
		question, _ := rules.StruckAnswer(l.Rows[i].Ref)
		if len(l.Views[question]) > 0 {
			continue
		}
		if l.struckElsewhere(&l.Rows[i], question) {
			gone[question], why[question] = true, otherPhoto
		}
		if rules.SaidToStand(l.Answers, l.Rows[i].Ref) && l.saidOfOtherPhoto(question, l.Rows[i].Sheet) {
			gone[question], why[question] = true, otherPhoto
		}
	}
	for question, other := range gone {
		if other {
			if value := l.Answers[question]; value != "" && why[question] != "" {
				l.Overtaken[question] = rules.Overtaken{Value: value, Why: why[question]}
			}
			delete(l.Answers, question)
		}
	}
	l.AnswerLog = slices.DeleteFunc(l.AnswerLog, func(a store.Answer) bool { return gone[a.Question] })
}
