package review

import (
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

type cardPageView struct {
	frame
	Card       cardView
	CoursePage string
	Path       string // behind /card/, /bind/ …
	Spare      bool
	Head       *inkView
	MayBe      []mayBe // what its lines may say, beside the picture only
	Sides      []sideView
	FreeRows   []int // of the print, with no row in them yet
	Front      int64 // the sheet that a row is added to
	Runs       []int
	Courses    []string
	Run        int
	Course     string
	MayBind    bool
	MayPaper   bool
	MayBack    bool // something may be said of its back that has no photo, or taken back
	PaperRows  int
	GapReasons []sheetmodel.Answer
	BackWhy    []sheetmodel.Answer // reasons why its back will not come
	Rows       []cardRow
	Wrong      string
	Form       map[string]string // what was typed before a fault
}

// mayBe is what a line of a card's header may say, for whoever looks for its judge. It is no fact and binds nothing.
type mayBe struct{ What, Text string }

type cardRow struct {
	Words  string
	Ink    *inkView
	Entry  string // path of what waits in it
	Row    int
	Said   []laid // what is settled or clear in it
	Added  bool   // by a person; no reader saw it
	Struck bool   // it is seen or said to be struck out
	Marked string // who says so where no reader saw it, and why; empty: nobody
}

func parseCard(path string) (sheetmodel.CardKey, error) {
	card, _, _, err := store.ParseKey(path + "/front/any")
	if err != nil {
		return card, fmt.Errorf("card %q: %w", path, store.ErrNotFound)
	}
	return card, nil
}

func (d *Desk) showCard(w http.ResponseWriter, r *http.Request, s *session) error {
	return d.card(w, r, s, http.StatusOK, "")
}

func (d *Desk) card(w http.ResponseWriter, r *http.Request, s *session, status int, wrong string) error {
	m, f, err := d.view(r.Context(), s, "A card", "stack")
	if err != nil {
		return err
	}
	c, err := m.cardAt(r)
	if err != nil {
		return err
	}
	v := cardPageView{
		frame: f, CoursePage: courseWords(c.Key.Run, c.Key.Course), Path: cardPath(c.Printed), Spare: c.Spare,
		Courses: m.race.Courses, Run: c.Key.Run, Course: c.Key.Course, Wrong: wrong, Form: map[string]string{}, GapReasons: gapReasons, BackWhy: backReasons,
	}
	for _, name := range []string{"run", "course", "gates", "judge", "why", "reason", "rows"} {
		v.Form[name] = r.PostFormValue(name)
	}
	v.Card = cardView{
		Words: cardWords(c.Key, c.Spare), Place: m.place(c).Name, Judge: c.Judge, Phone: c.Phone, Gates: gateWords(m.gatesOf(c), m.gatesIn(c.Key.Run, c.Key.Course)),
		GatesKnown: len(m.gatesOf(c)) > 0, In: c.In, Front: c.Front != nil, Back: c.Back != nil, OneSided: c.OneSided(), Paper: c.Paper != nil, Reason: c.GapReason,
		BackSeen: m.backSeen(c), BackWas: m.backWas(c), BackReason: c.BackReason, BackAgainst: c.BackAgainst,
	}
	v.MayBack = m.mayBack(c)
	v.Title = v.Card.Words
	for _, run := range m.race.Runs {
		v.Runs = append(v.Runs, run.Number)
	}
	v.MayBind = c.In && (!v.Card.GatesKnown || c.Spare || c.Judge == "" || c.Bound) // what was typed wrongly is typed anew
	v.MayPaper = c.Front == nil
	if c.Paper != nil {
		v.PaperRows = c.Paper.Rows
	}
	var told []string
	if v.Sides, told, err = d.cardSides(m, c); err != nil {
		return err
	}
	v.FreeRows = d.freeRows(m, c)
	if c.Front != nil {
		if k, ok := d.crop(c.Front, "head"); ok {
			v.Head = &inkView{Src: inkPath(c.Front.ID, "head"), Rect: k.Rect, Alt: fmt.Sprintf("Photo of the head of card %d", c.Key.Card)}
		}
	}
	if v.Head != nil {
		v.MayBe = m.mayBe(c)
	}
	v.Rows = d.cardRows(m, c)
	if c.Front != nil {
		v.Front = c.Front.ID
	}
	if err := d.serve(r.Context(), s, "card", 0, true, told...); err != nil {
		return err
	}
	return d.render(w, "card", status, v)
}

// mayBe lists what was read in the lines for judge, phone and date. A name that is no judge's any more is left out;
// without names and phone numbers, a card has no header.
func (m *moment) mayBe(c *stack.Card) []mayBe {
	var all []mayBe
	for _, e := range c.Header {
		what := map[sheetmodel.Part]string{sheetmodel.PartJudge: "judge", sheetmodel.PartPhone: "phone", sheetmodel.PartDate: "date"}[e.Part]
		text := e.Reading.Text
		if what == "" || text == "" || m.viewer || e.Part == sheetmodel.PartJudge && !isJudge(m.race, text) {
			continue
		}
		all = append(all, mayBe{what, text})
	}
	return all
}

func isJudge(race *sheetmodel.Race, name string) bool {
	for _, run := range race.Runs {
		for _, course := range run.Courses {
			for _, p := range course.Places {
				if p.Judge == name || slices.ContainsFunc(p.Relief, func(r sheetmodel.Relief) bool { return r.Judge == name }) {
					return true
				}
			}
		}
	}
	return false
}

// cardRows are the rows of a card as pictures, with what is settled or clear in them.
func (d *Desk) cardRows(m *moment, c *stack.Card) []cardRow {
	var all []cardRow
	for i := range m.shown.Rows {
		row := &m.shown.Rows[i]
		if row.Ref.CardKey != c.Key {
			continue
		}
		v := cardRow{
			Words: fmt.Sprintf("Row %d", row.Ref.Row), Row: row.Ref.Row, Said: m.laidOf(row), Added: row.Added,
			Struck: row.Struck,
		}
		if a := m.strikeOf(row); a != nil {
			v.Marked = struckWords(*a)
		}
		if row.Sheet != nil {
			v.Ink = d.rowInk(row.Sheet, row.Ref)
		}
		for _, wait := range m.waits {
			if wait.Row == row.Ref {
				v.Entry = waitPath(wait)
				break
			}
		}
		all = append(all, v)
	}
	return all
}

func (m *moment) cardAt(r *http.Request) (*stack.Card, error) {
	printed, err := parseCard(r.PathValue("card"))
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(m.full.Cards, func(c stack.Card) bool { return c.Printed == printed })
	if i < 0 {
		return nil, fmt.Errorf("card %q: %w", r.PathValue("card"), store.ErrNotFound)
	}
	return &m.full.Cards[i], nil
}

// cardNow looks at the race and at the card that a form is about.
func (d *Desk) cardNow(r *http.Request) (*moment, *stack.Card, error) {
	m, err := d.now(r.Context())
	if err != nil {
		return nil, nil, err
	}
	c, err := m.cardAt(r)
	return m, c, err
}

// postBind keeps what a person read in the card's header: nothing of it is filled in beforehand.
func (d *Desk) postBind(w http.ResponseWriter, r *http.Request, s *session) error {
	m, c, err := d.cardNow(r)
	if err != nil {
		return err
	}
	if r.PostForm.Has("front") && r.PostFormValue("front") != fmt.Sprint(frontID(c)) {
		return d.card(w, r, s, http.StatusConflict, "Another photo counts now: look at it first.")
	}
	b := store.Binding{Card: c.Printed, Run: c.Key.Run, Course: c.Key.Course, Judge: cleanName(r.PostFormValue("judge")), Source: "header", By: s.person}
	if c.Front != nil {
		b.Paper = c.Front.Paper()
	}
	if c.Spare {
		b.Run, _ = strconv.Atoi(r.PostFormValue("run"))
		b.Course = r.PostFormValue("course")
	}
	if m.race.Run(b.Run) == nil || !slices.Contains(m.race.Courses, b.Course) {
		return d.card(w, r, s, http.StatusUnprocessableEntity, "Choose the run and the course that the card was used in.")
	}
	var known []string
	if course := m.race.Run(b.Run).Course(b.Course); course != nil {
		known = course.Gates
	}
	if b.Gates, err = racefolder.ParseGates(r.PostFormValue("gates"), known); err != nil {
		return d.card(w, r, s, http.StatusUnprocessableEntity, sentence(err.Error()))
	}
	taken := &store.TakenError{Card: b.Card, Used: b.Used()}
	if slices.ContainsFunc(m.full.Cards, func(o stack.Card) bool { return o.Printed != b.Card && o.Key == b.Used() }) {
		err = taken // also where that card is only expected
	} else {
		err = d.opt.Store.Bind(r.Context(), b)
	}
	if errors.As(err, &taken) {
		return d.card(w, r, s, http.StatusUnprocessableEntity, sentence(taken.Error()))
	}
	if err != nil {
		return err
	}
	d.say(s, notice{Words: fmt.Sprintf("%s is bound to gates %s, as its header says.", cardWords(c.Key, c.Spare), gateWords(b.Gates, known)), Class: "settled"})
	return see(w, r, "/")
}

// postGap keeps the reason why a card will not come.
func (d *Desk) postGap(w http.ResponseWriter, r *http.Request, s *session) error {
	_, c, err := d.cardNow(r)
	if err != nil {
		return err
	}
	if c.In && r.PostFormValue("do") != "open" {
		return &pageError{http.StatusConflict, "The card has come in since this page was loaded", "Nothing was kept: it is not missing. Look at the card again."}
	}
	reason := reasonOf(gapReasons, r.PostFormValue("why"), r.PostFormValue("reason"))
	if reason == "" && r.PostFormValue("do") != "open" {
		return d.card(w, r, s, http.StatusUnprocessableEntity, "Give the reason: the referee reads it beside the gap.")
	}
	if r.PostFormValue("do") == "open" {
		reason = ""
	}
	if err := d.opt.Store.CloseGap(r.Context(), store.GapReason{Card: c.Printed, Reason: reason, By: s.person}); err != nil {
		return err
	}
	words := cardWords(c.Key, c.Spare) + ": its gap is closed with your reason; the draft prints it."
	if reason == "" {
		words = cardWords(c.Key, c.Spare) + " is missing again."
	}
	d.say(s, notice{Words: words, Class: "settled"})
	return see(w, r, "/")
}

// gapReasons are those that come up at a race; any other is written. Source: common practice, no source.
var gapReasons = []sheetmodel.Answer{
	{Value: "lost", Label: "the card is lost"},
	{Value: "nobody", Label: "nobody stood there"},
	{Value: "neighbour", Label: "a neighbour watched its gates"},
	{Value: "orally", Label: "its judge told the referee by word of mouth; that is a remark, never a call"},
}

// reasonOf puts together what was chosen and what was written.
func reasonOf(reasons []sheetmodel.Answer, chosen, written string) string {
	var words []string
	if i := slices.IndexFunc(reasons, func(a sheetmodel.Answer) bool { return a.Value == chosen }); i >= 0 {
		words = append(words, reasons[i].Label)
	}
	if written = strings.TrimSpace(written); written != "" {
		words = append(words, written)
	}
	return cleanReason(strings.Join(words, ": "))
}

// maxPaperRows is more than any card has.
const maxPaperRows = 40

// postPaper says that a card has no photo and is typed from the paper, by two people in turn.
func (d *Desk) postPaper(w http.ResponseWriter, r *http.Request, s *session) error {
	_, c, err := d.cardNow(r)
	if err != nil {
		return err
	}
	rows, err := strconv.Atoi(strings.TrimSpace(r.PostFormValue("rows")))
	if err != nil || rows < 0 || rows > maxPaperRows {
		return d.card(w, r, s, http.StatusUnprocessableEntity, "Count the rows with any ink, struck out ones too, and type the number.")
	}
	if err := d.opt.Store.TypeFromPaper(r.Context(), store.PaperCard{Card: c.Printed, Rows: rows, By: s.person}); err != nil {
		return err
	}
	d.say(s, notice{Words: fmt.Sprintf("%s is typed from the paper: %s. Two people type each bib.", cardWords(c.Key, c.Spare), plural(rows, "row", "rows")), Class: "settled"})
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	return see(w, r, d.nextOnPaper(m, s, c.Printed))
}
