package review

import (
	"fmt"
	"slices"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// sideView is a straightened photo of a side with what is settled or clear laid over it.
type sideView struct {
	inkView
	Name  string
	Laid  []laid
	Spare string // why this photo doesn't count; empty: it does
	Sheet int64  // of a card that people named; 0: it says itself which one it is
	Apart int64  // of a card of which there are further photos of this side, which may be of another paper; 0: there are none
}

// W and H are the drawing's size in sheet mm.
func (v sideView) W() float64 { return float64(v.Rect.W) }

// H is described at W.
func (v sideView) H() float64 { return float64(v.Rect.H) }

// laid is a text over its ink. Two looks carry two filled marks, one look a hollow one.
type laid struct {
	Part, Text string
	Two        bool
	Field      sheetmodel.Rect // sheet mm
	Key        string
}

// How says in words what the marks say.
func (l laid) How() string {
	if l.Two {
		return "two looks"
	}
	return "one look"
}

// The label's place, in sheet mm: at the lower right of its field, so that most of the ink stays free.

// X is the label's left edge.
func (l laid) X() float64 { return float64(l.Field.X+l.Field.W) - l.Width() }

// Y is its upper edge.
func (l laid) Y() float64 { return float64(l.Field.Y+l.Field.H) - labelHigh }

// Width is that of the label.
func (l laid) Width() float64 { return labelSign + labelLetter*float64(len([]rune(l.Text))) }

const (
	labelHigh   = 3.9
	labelSign   = 4.2 // the marks before the text
	labelLetter = 2.2
)

// laidOf is what may be shown of a row behind the veil: fields that are settled or clear. A field that waits,
// one of a row that may be struck out, and one that lot has drawn and nobody has typed yet show only their ink.
func (m *moment) laidOf(r *stack.Row) []laid {
	if m.photosDiffer(r.Ref) || len(r.Nothing) > 0 {
		return nil
	}
	var all []laid
	for _, e := range r.Boxes() {
		if e.Key == "" || m.covered[e.Key] || m.lot[e.Key] || e.Seen.Text == "" {
			continue
		}
		if e.Seen.State != sheetmodel.BibTwoLooks && e.Seen.State != sheetmodel.BibOneLook {
			continue
		}
		if e.Part == sheetmodel.PartBib && r.BibState != e.Seen.State {
			continue // held for another reason
		}
		name, _, _ := partWords(e.Part)
		all = append(all, laid{Part: name, Text: e.Seen.Text, Two: e.Seen.State == sheetmodel.BibTwoLooks, Field: e.Reading.Region, Key: e.Key})
	}
	return all
}

// cardSides are the photos of a card: those that count, each with the other photos of its side after it. told
// are the readings whose texts are on them.
func (d *Desk) cardSides(m *moment, c *stack.Card) (all []sideView, told []string, err error) {
	add := func(s *store.Sheet, spare string) {
		k, ok := d.crop(s, "side")
		if !ok {
			return
		}
		v := sideView{Name: string(s.Side), Spare: spare}
		if s.Renamable() {
			v.Sheet = s.ID
		} else if slices.ContainsFunc(c.Other, func(o *store.Sheet) bool { return o.Side == s.Side }) {
			v.Apart = s.ID
		}
		v.inkView = inkView{Src: inkPath(s.ID, "side"), Rect: k.Rect, Alt: fmt.Sprintf("Photo of the %s of card %d", s.Side, c.Key.Card)}
		if s == c.Front {
			v.Laid = d.laidOver(m, c, s)
			for _, l := range v.Laid {
				told = append(told, l.Key)
			}
		}
		all = append(all, v)
	}
	for _, side := range []*store.Sheet{c.Front, c.Back} {
		if side == nil {
			continue
		}
		add(side, "")
		for _, o := range c.Other {
			if o.Side == side.Side {
				add(o, "photo "+m.sentName(o.Photo)+", not the one that counts")
			}
		}
	}
	// Rows that are listed without being on a photo tell their texts too.
	for i := range m.shown.Rows {
		if m.shown.Rows[i].Ref.CardKey == c.Key {
			for _, l := range m.laidOf(&m.shown.Rows[i]) {
				told = append(told, l.Key)
			}
		}
	}
	return all, told, nil
}

// laidOver are the texts over the front: the rows' from behind the veil, and what head and foot say for certain,
// without names and phone numbers.
func (d *Desk) laidOver(m *moment, c *stack.Card, s *store.Sheet) []laid {
	var all []laid
	for i := range m.shown.Rows {
		r := &m.shown.Rows[i]
		if r.Ref.CardKey != c.Key || r.Sheet != s {
			continue
		}
		for _, l := range m.laidOf(r) {
			for _, e := range r.Boxes() {
				if e.Key == l.Key {
					l.Field = d.fieldRect(s, e.Reading)
				}
			}
			all = append(all, l)
		}
	}
	for _, e := range c.Header {
		if personal := e.Part == sheetmodel.PartJudge || e.Part == sheetmodel.PartPhone || e.Part == sheetmodel.PartDate; personal || !e.Sure() || e.Seen.Text == "" {
			continue
		}
		all = append(all, laid{Part: "", Text: e.Seen.Text, Two: e.Seen.State == sheetmodel.BibTwoLooks, Field: d.fieldRect(s, e.Reading), Key: e.Key})
	}
	return slices.DeleteFunc(all, func(l laid) bool { return l.Field.W <= 0 })
}
