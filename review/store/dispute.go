package store

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"gatefold/review/jury"
	"gatefold/sheetmodel"
)

// DisputeKind says what two copies of a race settled differently.
type DisputeKind string

// The kinds.
const (
	DisputeReading DisputeKind = "reading" // subject: a reading's key
	DisputeAnswer  DisputeKind = "answer"  // subject: a question's key
	DisputeBinding DisputeKind = "place"   // subject: a card's name, see CardName; so of the next two
	DisputeGap     DisputeKind = "gap"
	DisputePaper   DisputeKind = "paper"
)

// Dispute is something that was settled in two copies of a race, and differently. Neither counts until a
// person settles it after the two were joined.
type Dispute struct {
	ID      int64       `json:"id"`
	Kind    DisputeKind `json:"kind"`
	Subject string      `json:"subject"`
	// Ours and Theirs are what each said. As secret as what was typed.
	Ours   string    `json:"-"`
	Theirs string    `json:"-"`
	At     time.Time `json:"at"` // when they were joined
}

// Disputes returns those that nobody has settled since, in order.
//
// A reading is settled by somebody who types it unseen, by the judge's unprompted word, or by setting it aside: whoever
// typed it before can't outvote the other by typing it again, nor by a text to which the judge only agreed. The rest is settled by
// saying it again. A dispute about a side without an identity goes with its ink: its subject is the reading's name as it is now.
func (s *Store) Disputes(ctx context.Context) ([]Dispute, error) {
	all, err := s.disputesBut(ctx, "")
	if err != nil || !slices.ContainsFunc(all, func(d Dispute) bool { return d.Kind == DisputeReading }) {
		return all, err
	}
	decisions, err1 := s.Decisions(ctx)
	sheets, err2 := s.Sheets(ctx)
	inks, err3 := s.Inks(ctx)
	if err = errors.Join(err1, err2, err3); err != nil {
		return nil, err
	}
	lost, err := s.Lost(ctx, decisions, sheets, inks)
	if err != nil {
		return nil, err
	}
	now := slices.Clone(decisions)
	Follow(now, append(slices.Clone(sheets), lost...), inks)
	last := map[string]int64{} // number of what was said last, by the reading's name now
	for _, d := range now {
		if d.Undone == nil && (d.Blind || d.Basis == sheetmodel.BasisJudgeAsked && d.ReadBack || d.Basis == sheetmodel.BasisSetAside) {
			last[d.Reading] = d.ID
		}
	}
	var open []Dispute
	for _, d := range all {
		if d.Kind != DisputeReading {
			open = append(open, d)
			continue
		}
		var subjects []string
		for i, was := range decisions {
			if was.Reading == d.Subject && was.ID < d.ID && !slices.Contains(subjects, now[i].Reading) {
				subjects = append(subjects, now[i].Reading)
			}
		}
		if len(subjects) == 0 {
			subjects = []string{d.Subject}
		}
		for _, d.Subject = range subjects {
			if last[d.Subject] <= d.ID {
				open = append(open, d)
			}
		}
	}
	return open, nil
}

// disputesBut returns those that nobody has settled since, but for one kind; of readings all that ever were.
func (s *Store) disputesBut(ctx context.Context, but DisputeKind) ([]Dispute, error) {
	all, err := collect(ctx, s.db, func(scan func(...any) error) (Dispute, error) {
		var d Dispute
		var at stamp
		err := scan(&d.ID, &d.Kind, &d.Subject, &d.Ours, &d.Theirs, &at.utc, &at.offset)
		if err == nil {
			d.At, err = at.time()
		}
		return d, err
	}, `SELECT id, kind, subject, ours, theirs, at_utc, at_offset_s FROM disputes WHERE kind <> $1 ORDER BY id`, string(but))
	if err != nil || len(all) == 0 {
		return nil, err
	}
	last := map[string]int64{} // number of what was said last, by kind and subject
	type saying struct {
		id      int64
		subject string
	}
	for kind, query := range map[DisputeKind]string{
		DisputeBinding: `SELECT id, run, course, card FROM bindings ORDER BY id`,
		DisputeGap:     `SELECT id, run, course, card FROM gap_reasons ORDER BY id`,
		DisputePaper:   `SELECT id, run, course, card FROM paper_cards ORDER BY id`,
	} {
		said, err := collect(ctx, s.db, func(scan func(...any) error) (v saying, err error) {
			var card sheetmodel.CardKey
			err = scan(&v.id, &card.Run, &card.Course, &card.Card)
			v.subject = CardName(card)
			return v, err
		}, query)
		if err != nil {
			return nil, err
		}
		for _, v := range said {
			last[string(kind)+" "+v.subject] = v.id
		}
	}
	said, err := collect(ctx, s.db, func(scan func(...any) error) (v saying, err error) {
		return v, scan(&v.id, &v.subject)
	}, `SELECT id, question FROM answers ORDER BY id`)
	if err != nil {
		return nil, err
	}
	for _, v := range said {
		last[string(DisputeAnswer)+" "+v.subject] = v.id
	}
	return slices.DeleteFunc(all, func(d Dispute) bool { return d.Kind != DisputeReading && last[string(d.Kind)+" "+d.Subject] > d.ID }), nil
}

// disputes finds what both copies said since they parted, and not alike, in the order of kinds and subjects.
func (w *join) disputes() []Dispute {
	kinds := map[DisputeKind]func(*snapshot, *snapshot) map[string]string{
		DisputeReading: readingsSince,
		DisputeAnswer: since("answers", func(r *kin) string { return r.text("question") },
			func(r *kin) string { return r.text("answer") }),
		DisputeBinding: since("bindings", cardOf, func(r *kin) string {
			return fmt.Sprintf("run %d, %s, gates %s, %s %s", r.number("used_run"), r.text("used_course"), r.text("gates"), r.text("judge"), r.text("grp"))
		}),
		DisputeGap:   since("gap_reasons", cardOf, func(r *kin) string { return r.text("reason") }),
		DisputePaper: since("paper_cards", cardOf, func(r *kin) string { return fmt.Sprint(r.number("row_count")) }),
	}
	var all []Dispute
	unsettled := w.unsettled()
	for kind, said := range kinds {
		ours, theirs := said(w.ours, w.theirs), said(w.theirs, w.ours)
		for subject := range theirs {
			if d, open := unsettled[string(kind)+" "+subject]; open && ours[subject] == theirs[subject] {
				all = append(all, d)
			}
		}
		for subject, our := range ours {
			names := []string{subject}
			if kind == DisputeReading {
				names = w.called.names(subject) // one copy may have given the side another card's number
			}
			for _, name := range names {
				their, both := theirs[name]
				if !both || our == their || kind == DisputeAnswer && jury.IsShown(name) {
					continue
				}
				d := Dispute{Kind: kind, Subject: min(subject, name), Ours: our, Theirs: their}
				if !slices.ContainsFunc(all, func(o Dispute) bool { return o.Kind == d.Kind && o.Subject == d.Subject }) {
					all = append(all, d)
				}
			}
		}
	}
	for _, d := range slices.Concat(w.otherSides(), w.otherPapers(unsettled), w.twoOrOne()) {
		if !slices.ContainsFunc(all, func(o Dispute) bool { return o.Kind == d.Kind && o.Subject == d.Subject }) {
			all = append(all, d)
		}
	}
	slices.SortFunc(all, func(a, b Dispute) int {
		return cmp.Or(strings.Compare(string(a.Kind), string(b.Kind)), strings.Compare(a.Subject, b.Subject))
	})
	return all
}

// unsettled are the disputes of this copy that the other doesn't know and that nobody has settled here, by kind and subject.
// What is said there was said without knowing of them: it settles none, whichever side it takes.
func (w *join) unsettled() map[string]Dispute {
	last := map[string]int64{}
	for table, subject := range map[string]func(*kin) string{
		"answers":     func(r *kin) string { return string(DisputeAnswer) + " " + r.text("question") },
		"bindings":    func(r *kin) string { return string(DisputeBinding) + " " + cardOf(r) },
		"gap_reasons": func(r *kin) string { return string(DisputeGap) + " " + cardOf(r) },
		"paper_cards": func(r *kin) string { return string(DisputePaper) + " " + cardOf(r) },
	} {
		for _, r := range w.ours.rows[table] {
			last[subject(r)] = r.id
		}
	}
	open := map[string]Dispute{}
	for _, r := range w.ours.rows["disputes"] {
		d := Dispute{Kind: DisputeKind(r.text("kind")), Subject: r.text("subject"), Ours: r.text("ours"), Theirs: r.text("theirs")}
		at := string(d.Kind) + " " + d.Subject
		if d.Kind != DisputeReading && last[at] < r.id && !w.theirs.holds(r.said) {
			open[at] = d
		}
	}
	return open
}

func cardOf(r *kin) string {
	return CardName(sheetmodel.CardKey{Run: int(r.number("run")), Course: r.text("course"), Card: int(r.number("card"))})
}

// since returns, for each subject of which a copy said something that the other doesn't hold, its last word.
func since(table string, subject, word func(*kin) string) func(mine, other *snapshot) map[string]string {
	return func(mine, other *snapshot) map[string]string {
		said, last := map[string]string{}, map[string]string{}
		for _, r := range mine.rows[table] {
			last[subject(r)] = word(r)
			if !other.holds(r.said) {
				said[subject(r)] = ""
			}
		}
		for s := range said {
			said[s] = last[s]
		}
		return said
	}
}

// readingsSince does the same for readings, whose word is all that stands of them: several people may have
// typed one. A dispute that waits in one of the copies is no word of it.
func readingsSince(mine, other *snapshot) map[string]string {
	fresh := map[string]bool{}
	undone := map[int64]bool{}
	for _, r := range mine.rows["undone"] {
		undone[r.number("decision")] = true
		if d := mine.byID["decisions"][r.number("decision")]; d != nil && !other.holds(r.said) {
			fresh[d.text("reading")] = true
		}
	}
	words, aside := map[string]map[string]bool{}, map[string]bool{}
	for _, d := range mine.rows["decisions"] {
		key := d.text("reading")
		if !other.holds(d.said) {
			fresh[key] = true
		}
		if undone[d.id] {
			continue
		}
		if words[key] == nil {
			words[key] = map[string]bool{}
		}
		basis := sheetmodel.Basis(d.text("basis"))
		aside[key] = basis == sheetmodel.BasisSetAside
		switch basis {
		case sheetmodel.BasisSetAside:
		case sheetmodel.BasisNoWriting:
			words[key]["no writing"] = true
		default:
			words[key][strings.ToUpper(strings.TrimSpace(d.text("text")))] = true
		}
	}
	for _, r := range mine.rows["answers"] {
		if key, ok := staysAside(r.text("question")); ok && r.text("answer") != "" && !other.holds(r.said) && aside[key] {
			fresh[key] = true // somebody has looked at it again
		}
	}
	said := map[string]string{}
	for key := range fresh {
		switch {
		case aside[key]:
			said[key] = "set aside"
		case len(words[key]) == 0:
			said[key] = "taken back"
		default:
			said[key] = strings.Join(slices.Sorted(maps.Keys(words[key])), " and ")
		}
	}
	return said
}

// AsideAgain begins the key of the answer that a row which was set aside stays so, though another photo shows it otherwise: then the card, the row, and
// of which entry and photo it is said.
const AsideAgain = "aside-again"

// staysAside is the reading whose row an answer says to stay aside; false if it is another answer.
func staysAside(question string) (reading string, ok bool) {
	rest, ours := strings.CutPrefix(question, AsideAgain+"/")
	at := strings.Index(rest, "/row-")
	if !ours || at < 0 {
		return "", false
	}
	row, _, _ := strings.Cut(rest[at+1:], "/")
	card, ok := ParseCardName(rest[:at])
	return Key(card, sheetmodel.Front, row+"."+string(sheetmodel.PartBib)), ok
}
