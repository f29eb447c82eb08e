package review

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// The read-back: the judge, still at the finish, reads their own rows aloud, and somebody who was told nothing of
// what was read types the bibs they hear. Where that is what the ink shows, it is the second look.
//
//	/readback --a card--> empty lines, one a row --typed--> looks; what differs goes to the desk
//
// The pages hold numbers of rows and nothing that was made of their ink, and no picture of it either: what is
// typed comes from the judge's mouth.

type readBackView struct {
	frame
	Open, Done []heardCard
}

// heardCard is a card in the list, newest first.
type heardCard struct {
	Words, Course, Judge, Path string
	Rows                       int // that can be heard by this person
	Heard                      int
	order                      int64
}

type readBackCardView struct {
	frame
	Card, Course, Judge, Path string
	Sheet                     int64
	Rows                      []heardRow
	Closed                    []string // rows that this person can't hear, with the reason
	More                      []heardRow
	MoreRow, MoreTyped        string
	Wrong                     string
	Anyway                    []string // typed bibs of a shape that was asked about
}

type heardRow struct {
	Name  string // of the form's line, such as row-03
	Words string
	Typed string
	Odd   bool // what was typed has not the shape of a bib
	key   string
}

func readBackPath(card sheetmodel.CardKey) string { return "/readback/" + cardPath(card) }

// Reasons why a row isn't heard.
const (
	heardBefore = "the judge has read it already"
	heardTold   = "you were shown it or have typed it; somebody else hears it"
	heardCalled = "you wrote down or read a call that names a bib and may be of it; somebody else hears it"
	heardStruck = "it looks struck out; the desk asks"
	heardAside  = "it is set aside"
	heardPhotos = "its photos differ; the desk asks"
)

// hearing lists the rows of a card that a person can hear, and why they can't hear the others. None of it
// follows from what was read in a bib.
func (d *Desk) hearing(m *moment, s *session, c *stack.Card) (open []heardRow, closed []string, heard int) {
	called := d.called(m, s)
	for i := range m.full.Rows {
		r := &m.full.Rows[i]
		if r.Ref.CardKey != c.Key || r.BibSeen.Key == "" {
			continue
		}
		row := heardRow{Name: fmt.Sprintf("row-%02d", r.Ref.Row), Words: fmt.Sprintf("Row %d", r.Ref.Row), key: r.BibSeen.Key}
		why := ""
		switch {
		case m.heard(&r.BibSeen):
			why, heard = heardBefore, heard+1
		case r.Struck && !rules.SaidToStand(m.shown.Answers, r.Ref):
			why = heardStruck
		case r.BibState == sheetmodel.BibSetAside:
			why = heardAside
		case r.Sheet != c.Front, m.photosDiffer(r.Ref):
			why = heardPhotos
		case called[row.key]:
			why = heardCalled
		case !d.fresh(m, s, row.key):
			why = heardTold
		}
		if why == "" {
			open = append(open, row)
		} else {
			closed = append(closed, row.Words+": "+why+".")
		}
	}
	return open, closed, heard
}

// unseenRows are the rows of a card in which the photo that counts shows no ink.
func (d *Desk) unseenRows(m *moment, s *session, c *stack.Card) []heardRow {
	if c.Front == nil || d.calledOn(m, s, c) {
		return nil
	}
	side := d.side(c.Front)
	if side == nil {
		return nil
	}
	var all []heardRow
	for _, f := range side.Fields {
		if f.Row == 0 || f.Part != sheetmodel.PartBib || slices.ContainsFunc(m.full.Rows, func(r stack.Row) bool { return r.Ref.CardKey == c.Key && r.Ref.Row == f.Row }) {
			continue
		}
		all = append(all, heardRow{Name: fmt.Sprintf("row-%02d", f.Row), Words: fmt.Sprintf("Row %d", f.Row), key: c.Front.Key(f.Name)})
	}
	return all
}

// hearings lists the cards that have rows, the one photographed last first.
func (d *Desk) hearings(m *moment, s *session) (open, done []heardCard) {
	for i := range m.full.Cards {
		c := &m.full.Cards[i]
		rows, closed, heard := d.hearing(m, s, c)
		if len(rows)+len(closed) == 0 || c.Front == nil && c.Paper == nil {
			continue
		}
		h := heardCard{Words: cardWords(c.Key, c.Spare), Course: courseWords(c.Key.Run, c.Key.Course), Judge: c.Judge, Path: readBackPath(c.Printed), Rows: len(rows), Heard: heard}
		if c.Front != nil {
			h.order = c.Front.PhotoOrder
		}
		if h.Rows > 0 {
			open = append(open, h)
		} else {
			done = append(done, h)
		}
	}
	newest := func(a, b heardCard) int { return cmp.Compare(b.order, a.order) }
	slices.SortStableFunc(open, newest)
	slices.SortStableFunc(done, newest)
	return open, done
}

func (d *Desk) showReadBacks(w http.ResponseWriter, r *http.Request, s *session) error {
	m, f, err := d.heardFrame(r, s)
	if err != nil {
		return err
	}
	v := readBackView{frame: f}
	v.Open, v.Done = d.hearings(m, s)
	return d.render(w, "readbacks", http.StatusOK, v)
}

// heardFrame looks at the race with the names of judges: whoever hears them stands before them.
func (d *Desk) heardFrame(r *http.Request, s *session) (*moment, frame, error) {
	_, f, err := d.view(r.Context(), s, "Read back", "readback")
	if err != nil {
		return nil, f, err
	}
	m, err := d.now(r.Context())
	return m, f, err
}

func (d *Desk) showReadBack(w http.ResponseWriter, r *http.Request, s *session) error {
	return d.readBack(w, r, s, http.StatusOK, "", nil)
}

// readBack shows a card's empty lines; odd are the lines whose text has not the shape of a bib.
func (d *Desk) readBack(w http.ResponseWriter, r *http.Request, s *session, status int, wrong string, odd []string) error {
	m, f, err := d.heardFrame(r, s)
	if err != nil {
		return err
	}
	c, err := m.cardAt(r)
	if err != nil {
		return err
	}
	v := readBackCardView{
		frame: f, Card: cardWords(c.Key, c.Spare), Course: courseWords(c.Key.Run, c.Key.Course), Judge: c.Judge, Path: readBackPath(c.Printed),
		Sheet: frontID(c), Wrong: wrong, MoreRow: r.PostFormValue("more-row"), MoreTyped: r.PostFormValue("more"),
	}
	v.Title = "Read back: " + v.Card
	v.Rows, v.Closed, _ = d.hearing(m, s, c)
	v.More = d.unseenRows(m, s, c)
	var keys []string
	for i := range v.Rows {
		row := &v.Rows[i]
		row.Typed, row.Odd = r.PostFormValue(row.Name), slices.Contains(odd, row.Name)
		if row.Odd {
			v.Anyway = append(v.Anyway, row.Typed)
		}
		keys = append(keys, row.key)
	}
	for _, row := range v.More {
		if slices.Contains(odd, row.Name) {
			v.Anyway = append(v.Anyway, v.MoreTyped)
		}
		keys = append(keys, row.key)
	}
	if err := d.serve(r.Context(), s, "read-back", v.Sheet, false, keys...); err != nil {
		return err
	}
	return d.render(w, "readback", status, v)
}

// frontID is the sheet that a read-back of a card stands for, 0 for one that is typed from the paper.
func frontID(c *stack.Card) int64 {
	if c.Front == nil {
		return 0
	}
	return c.Front.ID
}

// postReadBack keeps what was heard, all of it at once.
func (d *Desk) postReadBack(w http.ResponseWriter, r *http.Request, s *session) error {
	m, c, err := d.cardNow(r)
	if err != nil {
		return err
	}
	if r.PostFormValue("sheet") != strconv.FormatInt(frontID(c), 10) {
		return d.readBack(w, r, s, http.StatusConflict, "The card was photographed again. Nothing is kept yet: see whether each bib stands at its row, and keep it once more.", nil)
	}
	open, _, _ := d.hearing(m, s, c)
	unseen := d.unseenRows(m, s, c)
	typed := map[string]string{} // by key
	names := map[string]string{}
	take := func(name, text string, rows []heardRow) bool {
		at := slices.IndexFunc(rows, func(row heardRow) bool { return row.Name == name })
		if at >= 0 {
			typed[rows[at].key], names[rows[at].key] = text, name
		}
		return at >= 0
	}
	var again []store.Entry // what this person has sent before, word for word
	var refused []string
	for name := range r.PostForm {
		text := cleanText(r.PostFormValue(name), maxForm)
		if !strings.HasPrefix(name, "row-") || text == "" || take(name, text, open) {
			continue
		}
		e := d.heardEntry(s, c, store.Key(c.Printed, sheetmodel.Front, name+"."+string(sheetmodel.PartBib)), text)
		if m.saidBefore(e) {
			again = append(again, e)
		} else {
			refused = append(refused, strings.TrimLeft(strings.TrimPrefix(name, "row-"), "0"))
		}
	}
	if len(refused) > 0 {
		slices.Sort(refused)
		return &pageError{http.StatusConflict, "Not kept: rows " + strings.Join(refused, ", ") + " can't be heard by you", "The judge has read it already, or you were shown what was read there, or the row was set aside. Open the card again: it says which rows are left."}
	}
	if more := cleanText(r.PostFormValue("more"), maxForm); more != "" && !take(r.PostFormValue("more-row"), more, unseen) {
		return d.readBack(w, r, s, http.StatusUnprocessableEntity, "Choose the row that the judge read and that isn't listed, or empty its line.", nil)
	}
	var entries []store.Entry
	var odd []string
	for key, text := range typed {
		if len([]rune(text)) > maxTyped {
			return d.readBack(w, r, s, http.StatusUnprocessableEntity, tooMuchTyped, nil)
		}
		if !sheetmodel.GrammarBib.Fits(sheetmodel.CanonicalBib(text)) && !slices.Contains(r.PostForm["anyway"], text) {
			odd = append(odd, names[key])
		}
		entries = append(entries, d.heardEntry(s, c, key, text))
	}
	entries = append(entries, again...)
	slices.SortFunc(entries, func(a, b store.Entry) int { return strings.Compare(a.Reading, b.Reading) })
	switch {
	case len(odd) > 0:
		return d.readBack(w, r, s, http.StatusUnprocessableEntity, "Not kept yet: what is marked has not the shape of a bib. Keep once more if it is meant so.", odd)
	case len(entries) == 0:
		return d.readBack(w, r, s, http.StatusUnprocessableEntity, "Nothing was typed. Type the bibs that the judge reads.", nil)
	}
	for i := range entries {
		entries[i].Head = m.full.Head
	}
	kept, err := d.opt.Store.Settle(r.Context(), entries...)
	if errors.Is(err, store.ErrSetAside) {
		return d.readBack(w, r, s, http.StatusConflict, "A row was set aside while you typed. Nothing is kept yet: see which rows are left, and keep it once more.", nil)
	}
	if err != nil {
		return err
	}
	if m, err = d.now(r.Context()); err != nil {
		return err
	}
	d.say(s, m.heardOutcome(cardWords(c.Key, c.Spare), kept))
	return see(w, r, "/readback")
}

func (d *Desk) heardEntry(s *session, c *stack.Card, key, text string) store.Entry {
	return store.Entry{Reading: key, Text: sheetmodel.CanonicalBib(text), Basis: sheetmodel.BasisOnPaper, ReadBack: true, By: s.person, Session: s.id, Sheet: frontID(c)}
}

// saidBefore reports whether an entry is the newest word about its reading already.
func (m *moment) saidBefore(e store.Entry) bool {
	same := false
	for _, dec := range m.full.Decisions {
		if dec.Reading == e.Reading && dec.Undone == nil {
			same = dec.Session == e.Session && dec.Text == e.Text && dec.ReadBack && dec.Sheet == e.Sheet
		}
	}
	return same
}

// heardOutcome says what came of a read-back, by the numbers of rows: no bib is named aloud on a page that the
// judge may see too.
func (m *moment) heardOutcome(card string, kept []store.Decision) notice {
	var two, rest []string
	for _, dec := range kept {
		_, _, field, _ := store.ParseKey(dec.Reading)
		row := strings.TrimLeft(strings.TrimPrefix(strings.TrimSuffix(field, "."+string(sheetmodel.PartBib)), "row-"), "0")
		if _, e := m.row(dec.Reading); e != nil && e.Seen.State == sheetmodel.BibTwoLooks {
			two = append(two, row)
		} else {
			rest = append(rest, row)
		}
	}
	n := notice{Class: "settled", Undo: kept[0].ID, Words: card + "."}
	if len(two) > 0 {
		n.Words += " " + rowsWords(two) + ": two looks agree."
	}
	if len(rest) > 0 {
		n.Class = "noted"
		n.Words += " " + rowsWords(rest) + ": kept, not settled. Somebody at the desk looks at the ink unseen; name no bib to the judge, and let them stay if they can."
	}
	return n
}

func rowsWords(rows []string) string {
	if len(rows) == 1 {
		return "Row " + rows[0]
	}
	return "Rows " + strings.Join(rows, ", ")
}
