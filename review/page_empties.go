package review

import (
	"fmt"
	"net/http"
	"slices"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
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
	seenEmpty   = "no-row-ink"     // in the photo of the rows
	seenNoFault = "no-fault-drawn" // on the paper of the back
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

// mayBack reports whether it may be said of a card's back that no fault is drawn there, instead of photographing it.
func (m *moment) mayBack(c *stack.Card) bool {
	return c.Back == nil && !c.OneSided() && m.withoutRows(c)
}

// backSeen names who saw the back of a card that has no row and no photo of its back; empty: nobody. Another photo of its front tells
// that the card was in somebody's hand since, perhaps its judge's: then the back is looked at again.
func (m *moment) backSeen(c *stack.Card) string {
	if !m.backStands(c) {
		return ""
	}
	return m.saidOfBack(c)
}

func (m *moment) backStands(c *stack.Card) bool {
	return rules.SaidOf(m.full.Views[backKey(c)], rules.CardView(c.Card))
}

// backWas names who saw it before another photo of the front came in; empty: nobody.
func (m *moment) backWas(c *stack.Card) string {
	if m.backStands(c) {
		return ""
	}
	return m.saidOfBack(c)
}

// saidOfBack names who saw such a back, whatever has come in since.
func (m *moment) saidOfBack(c *stack.Card) string {
	if !m.mayBack(c) || m.full.Answers[backKey(c)] != seenNoFault {
		return ""
	}
	if by := m.full.Answerers[backKey(c)]; by != "" {
		return by
	}
	return somebody
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
			if i < 0 || !m.withoutRows(&m.full.Cards[i]) || what.value == seenNoFault && !m.mayBack(&m.full.Cards[i]) || r.PostFormValue("front-"+name) != fmt.Sprint(m.full.Cards[i].Front.ID) {
				return &pageError{http.StatusConflict, "A card has changed since this page was loaded", "Nothing was kept. Look at the cards without rows again."}
			}
			c, answer := &m.full.Cards[i], store.Answer{Value: what.value, By: s.person}
			if answer.Question = what.key(c); what.value == seenNoFault { // what is said of the rows names its photo
				answer.View = rules.CardView(c.Card)
			}
			all = append(all, answer)
		}
	}
	if len(all) == 0 {
		return &pageError{http.StatusUnprocessableEntity, "No card was marked", "Go back and mark the cards on which you see no ink in any row."}
	}
	if err := d.opt.Store.Answer(r.Context(), m.full.OnPaper(all...)...); err != nil {
		return err
	}
	d.say(s, notice{Words: "Kept: " + plural(len(r.PostForm["rows"]), "card", "cards") + " seen without row ink.", Class: "settled"})
	return see(w, r, "/")
}

// postBack keeps that a back was seen which has no photo, or takes that back.
func (d *Desk) postBack(w http.ResponseWriter, r *http.Request, s *session) error {
	m, c, err := d.cardNow(r)
	if err != nil {
		return err
	}
	value := ""
	if r.PostFormValue("do") == "seen" {
		if !m.mayBack(c) {
			return &pageError{http.StatusConflict, "This back needs its photo", "A back is answered without a photo only on a card that has no row."}
		}
		if r.PostFormValue("front") != fmt.Sprint(c.Front.ID) {
			return d.card(w, r, s, http.StatusConflict, "Another photo counts now: look at it first.")
		}
		value = seenNoFault
	}
	if err := d.opt.Store.Answer(r.Context(), m.full.OnPaper(store.Answer{Question: backKey(c), Value: value, By: s.person, View: rules.CardView(c.Card)})...); err != nil {
		return err
	}
	words := cardWords(c.Key, c.Spare) + ": back seen, no fault drawn."
	if value == "" {
		words = cardWords(c.Key, c.Spare) + ": its back is missing again."
	}
	d.say(s, notice{Words: words, Class: "settled"})
	return see(w, r, "/card/"+cardPath(c.Printed))
}
