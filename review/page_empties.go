package review

import (
	"cmp"
	"fmt"
	"net/http"
	"slices"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// emptyView is a card on which no row holds ink, as a thumbnail of its rows. Whoever looks at it says that
// they see none either: a row that a reader missed would be as bad as a wrong one.
type emptyView struct {
	Name    string // of the card, for the form
	Words   string
	Course  string
	Path    string
	Front   int64 // the sheet that is shown
	Ink     *inkView
	NoCount bool // nothing is written at its foot: what the judge meant is still asked
	Back    bool // a photo of its back is there, or it has none
}

// Answers to what a person sees on a card without rows.
const (
	seenEmpty   = "no-row-ink"      // in the photo of the rows
	seenNoFault = stack.BackNoFault // on the paper of the back
)

// emptyKey is the key of the answer about a card's rows; another photo that counts asks anew.
func emptyKey(c *stack.Card) string {
	return fmt.Sprintf("rows-empty/%s/%s", store.CardName(c.Printed), c.Front.Paper())
}

// backKey is the key of the answer about a back that is not photographed.
func backKey(c *stack.Card) string { return stack.BackKey(c.Printed) }

// withoutRows reports whether no row of a photographed card holds ink and its foot says no other number than none.
func (m *moment) withoutRows(c *stack.Card) bool {
	if c.Front == nil || c.RowCount != nil && *c.RowCount != 0 {
		return false
	}
	return !slices.ContainsFunc(m.full.Rows, func(r stack.Row) bool { return r.Ref.CardKey == c.Key })
}

// mayBack reports whether something may be said of a card's back instead of photographing it.
func (m *moment) mayBack(c *stack.Card) bool { return c.LacksBack() }

// backSeen names who saw that no fault is drawn on a back without a photo; empty: nobody, or a row says otherwise.
func (m *moment) backSeen(c *stack.Card) string {
	value, _, by, stands := m.full.BackSaid(c)
	if value != stack.BackNoFault || !stands || c.BackAgainst > 0 {
		return ""
	}
	return cmp.Or(by, somebody)
}

// backWas names who said something of a back before another photo of the front came in; empty: nobody.
func (m *moment) backWas(c *stack.Card) string {
	if value, _, by, stands := m.full.BackSaid(c); value != "" && !stands {
		return cmp.Or(by, somebody)
	}
	return ""
}

// empties lists the cards without rows that nobody has looked at yet.
func (d *Desk) empties(m *moment) []emptyView {
	var all []emptyView
	for i := range m.full.Cards {
		c := &m.full.Cards[i]
		if !m.withoutRows(c) || m.full.Answers[emptyKey(c)] == seenEmpty {
			continue
		}
		v := emptyView{
			Name: cardPath(c.Printed), Words: cardWords(c.Key, c.Spare), Course: courseWords(c.Key.Run, c.Key.Course),
			Path: "/card/" + cardPath(c.Printed), Front: c.Front.ID, NoCount: c.RowCount == nil, Back: !m.mayBack(c),
		}
		if k, ok := d.crop(c.Front, "rows"); ok {
			v.Ink = &inkView{Src: inkPath(c.Front.ID, "rows"), Rect: k.Rect, Alt: fmt.Sprintf("Photo of the rows of card %d", c.Key.Card)}
		}
		all = append(all, v)
	}
	return all
}

// backView is a card whose back alone isn't in, and of which it may be said that no fault is drawn there.
type backView struct {
	Name, Words, Course, Path string
	Front                     int64
	Judge, Phone              string
}

// backs lists them, but for those that are asked about as cards without rows, and those of which a row names a drawing.
func (m *moment) backs(empty []emptyView) []backView {
	var all []backView
	for i := range m.full.Cards {
		c := &m.full.Cards[i]
		if c.BackState != rules.BackMissing || m.full.NamesDrawing(c) > 0 || slices.ContainsFunc(empty, func(v emptyView) bool { return v.Front == c.Front.ID }) {
			continue
		}
		all = append(all, backView{cardPath(c.Printed), cardWords(c.Key, c.Spare), courseWords(c.Key.Run, c.Key.Course), "/card/" + cardPath(c.Printed), c.Front.ID, c.Judge, c.Phone})
	}
	return all
}

// postEmpties keeps which cards a person saw without row ink, and of which they saw the back in their hand.
func (d *Desk) postEmpties(w http.ResponseWriter, r *http.Request, s *session) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	var all []store.Answer
	for _, what := range []struct {
		field, value string
		key          func(*stack.Card) string
	}{{"rows", seenEmpty, emptyKey}, {"back", seenNoFault, backKey}} {
		for _, name := range r.PostForm[what.field] {
			i := slices.IndexFunc(m.full.Cards, func(c stack.Card) bool { return cardPath(c.Printed) == name })
			if i < 0 || !m.maySee(&m.full.Cards[i], what.value) || r.PostFormValue("front-"+name) != fmt.Sprint(m.full.Cards[i].Front.ID) {
				return &pageError{http.StatusConflict, "A card has changed since this page was loaded", "Nothing was kept. Look at the cards again."}
			}
			c, answer := &m.full.Cards[i], store.Answer{Value: what.value, By: s.person}
			if answer.Question = what.key(c); what.value == seenNoFault { // what is said of the rows names its photo
				answer.View = rules.CardView(c.Card)
			}
			all = append(all, answer)
		}
	}
	if len(all) == 0 {
		return &pageError{http.StatusUnprocessableEntity, "No card was marked", "Go back and mark the cards of which you have seen what stands there."}
	}
	if err := d.opt.Store.Answer(r.Context(), m.full.OnPaper(all...)...); err != nil {
		return err
	}
	words := "Kept: " + plural(len(r.PostForm["rows"]), "card", "cards") + " seen without row ink."
	if len(r.PostForm["rows"]) == 0 {
		words = "Kept: " + plural(len(r.PostForm["back"]), "back", "backs") + " seen, no fault drawn."
	}
	d.say(s, notice{Words: words, Class: "settled"})
	return see(w, r, "/")
}

// maySee reports whether somebody may say of a card that they saw no ink in its rows, or no fault drawn on its back.
func (m *moment) maySee(c *stack.Card, what string) bool {
	if what == seenNoFault {
		return m.mayBack(c) && m.full.NamesDrawing(c) == 0
	}
	return m.withoutRows(c)
}

// postBack keeps what somebody says of a back that has no photo, or takes that back.
func (d *Desk) postBack(w http.ResponseWriter, r *http.Request, s *session) error {
	m, c, err := d.cardNow(r)
	if err != nil {
		return err
	}
	answer := store.Answer{Question: backKey(c), By: s.person, View: rules.CardView(c.Card)}
	name, words := cardWords(c.Key, c.Spare), ""
	do := r.PostFormValue("do")
	if do == "seen" || do == "close" {
		if !m.mayBack(c) {
			return &pageError{http.StatusConflict, "This back is not missing any more", "Nothing was kept. Look at the card again."}
		}
		if r.PostFormValue("front") != fmt.Sprint(c.Front.ID) {
			return d.card(w, r, s, http.StatusConflict, "Another photo counts now: look at it first.")
		}
	}
	switch do {
	case "seen":
		if row := m.full.NamesDrawing(c); row > 0 {
			return d.card(w, r, s, http.StatusUnprocessableEntity, fmt.Sprintf("Row %d names a drawing, or may: photograph the back, or give the reason why it will not come.", row))
		}
		answer.Value, words = seenNoFault, name+": back seen, no fault drawn."
	case "close":
		if answer.Note = reasonOf(backReasons, r.PostFormValue("why"), r.PostFormValue("reason")); answer.Note == "" {
			return d.card(w, r, s, http.StatusUnprocessableEntity, "Give the reason: the referee reads it beside the gap.")
		}
		answer.Value, words = stack.BackClosed, name+": its back is closed with your reason; the draft prints it."
	default:
		words = name + ": its back is missing again."
	}
	if err := d.opt.Store.Answer(r.Context(), m.full.OnPaper(answer)...); err != nil {
		return err
	}
	d.say(s, notice{Words: words, Class: "settled"})
	return see(w, r, "/card/"+cardPath(c.Printed))
}

// backReasons are those that come up at a race; any other is written. Source: common practice, no source.
var backReasons = []sheetmodel.Answer{
	{Value: "gone", Label: "the card is lost, and only its front was photographed"},
	{Value: "unreadable", Label: "no photo of it can be read"},
	{Value: "no-use", Label: "nobody draws in this race"},
}
