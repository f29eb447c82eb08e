package review

import (
	"fmt"
	"maps"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

type questionsView struct {
	frame
	Which     []whichView
	Questions []questionView
	Photos    []questionView
	Later     int // questions that may come once more is typed
	Answered  []answeredView
}

type questionView struct {
	Key      string
	View     string // what is in view, see Desk.inView
	Course   string
	Sentence string
	Basis    string
	Ask      string
	Answers  []sheetmodel.Answer
	Ink      []inkView
	Words    []string // for each picture
	Cards    []string // for each picture, the page of its card: judge and phone number stand there
	Entries  []string // for each picture, the page of what waits in it, or empty
	NoInk    []string // rows without one
	Head     []headPart
	Sheet    int64
}

// headPart is a part of a card's head or foot that a person can type instead of what was read there.
type headPart struct {
	Name   string // of the form's field
	Label  string
	Digits bool
}

// heads says which parts of the head or foot a rule holds against what is known.
var heads = map[string][]headPart{
	"written-gates": {{string(sheetmodel.PartGateFrom), "Gates from", true}, {string(sheetmodel.PartGateTo), "to", true}},
	"run-gates":     {{string(sheetmodel.PartGateFrom), "Gates from", true}, {string(sheetmodel.PartGateTo), "to", true}},
	"row-count":     {{string(sheetmodel.PartRowCount), "Rows that stand", true}},
	"ringed-course": {{string(sheetmodel.PartCourse), "Course ringed", false}},
}

// questions are the findings that ask a person something, as far as they rest on nothing that may
// still be typed unseen. The others come when it is typed.
func (m *moment) questions() []sheetmodel.Finding {
	var all []sheetmodel.Finding
	for _, f := range m.said.Findings {
		if f.Question == nil || m.shown.Answers[f.Question.Key] != "" {
			continue
		}
		if slices.ContainsFunc(f.Rows, func(ref sheetmodel.RowRef) bool {
			r := m.full.Row(ref)
			return r != nil && m.covered[r.BibSeen.Key]
		}) && f.Bib != "" {
			continue
		}
		all = append(all, f)
	}
	return all
}

func (d *Desk) showQuestions(w http.ResponseWriter, r *http.Request, s *session) error {
	return d.questionsWith(w, r, s, http.StatusOK, func(*whichView) {})
}

// questionsWith shows the page; each side of an unknown card is given to which before.
func (d *Desk) questionsWith(w http.ResponseWriter, r *http.Request, s *session, status int, which func(*whichView)) error {
	m, f, err := d.view(r.Context(), s, "Questions", "questions")
	if err != nil {
		return err
	}
	v := questionsView{frame: f, Which: d.whichCards(m)}
	for i := range v.Which {
		which(&v.Which[i])
	}
	told := m.heardTold()
	for _, q := range m.questions() {
		view := questionView{
			Key: q.Question.Key, View: d.inView(m, q.Question.Key), Course: courseWords(q.Run, q.Course), Sentence: q.Sentence, Basis: q.Basis,
			Ask: q.Question.Ask, Answers: q.Question.Answers,
		}
		for _, ref := range q.Rows {
			row := m.shown.Row(ref)
			if row == nil {
				continue
			}
			told = append(told, openKeys(m, row)...)
			words := fmt.Sprintf("Card %d, row %d", ref.Card, ref.Row)
			if row.Sheet == nil {
				view.NoInk = append(view.NoInk, words+": no picture, see the paper")
				continue
			}
			if ink := d.rowInk(row.Sheet, ref); ink != nil {
				view.Ink, view.Words, view.Cards = append(view.Ink, *ink), append(view.Words, words), append(view.Cards, m.cardPage(ref.CardKey))
				view.Entries = append(view.Entries, m.firstWait(ref))
			}
		}
		if len(q.Rows) == 0 && q.Card != nil {
			if c := m.full.Card(*q.Card); c != nil && c.Front != nil {
				ink, words := d.headInk(c, q.Rule)
				view.Ink, view.Words, view.Cards = append(view.Ink, ink), append(view.Words, words), append(view.Cards, m.cardPage(c.Key))
				for _, part := range heads[q.Rule] {
					if e := headEntry(c, part.Name); e != nil {
						view.Head, view.Sheet = append(view.Head, part), c.Front.ID
						told = append(told, e.Key)
					}
				}
			}
		}
		v.Questions = append(v.Questions, view)
	}
	for _, q := range m.photoQuestions() {
		view := questionView{Key: q.Key, View: d.inView(m, q.Key), Sentence: q.Ask, Ask: "Which one counts?", Answers: q.Answers, Course: q.Words}
		for i, id := range []int64{q.Earlier, q.Later} {
			if id == 0 {
				continue // typed from the paper: there is no picture
			}
			ink := inkView{Src: inkPath(id, "side"), Alt: fmt.Sprintf("%s, %s, photo %d of 2", q.Words, q.Side, i+1)}
			sheet, err := d.opt.Store.Sheet(r.Context(), id)
			if err != nil {
				return err
			}
			if k, ok := d.crop(&sheet, "side"); ok {
				ink.Rect = k.Rect // buttons stay where they are while the pictures come
			}
			if q.OfAddedRow() {
				if row := d.rowInk(&sheet, sheetmodel.RowRef{CardKey: q.Card, Row: q.Rows[0]}); row != nil {
					ink = *row
				}
			}
			view.Ink = append(view.Ink, ink)
			view.Words = append(view.Words, []string{"the earlier photo", "the later photo"}[i])
		}
		v.Photos = append(v.Photos, view)
	}
	answered, more := m.answered()
	v.Answered, told = answered, append(told, more...)
	if err := d.serve(r.Context(), s, "questions", 0, true, told...); err != nil {
		return err
	}
	return d.render(w, "questions", status, v)
}

// cardPage is the page of a card by what it was used for, or empty.
func (m *moment) cardPage(key sheetmodel.CardKey) string {
	c := m.full.Card(key)
	if c == nil {
		return ""
	}
	return "/card/" + cardPath(c.Printed)
}

// firstWait is the page of the first entry that waits in a row, or empty.
func (m *moment) firstWait(ref sheetmodel.RowRef) string {
	for _, w := range m.waits {
		if w.Row == ref && w.Need != look.NeedNothing {
			return entryPath(w.Entry.Key)
		}
	}
	return ""
}

// headInk is the part of a card's front that a question is about.
func (d *Desk) headInk(c *stack.Card, rule string) (inkView, string) {
	what := map[string]string{"row-count": "foot"}[rule]
	if what == "" && heads[rule] != nil {
		what = "head"
	}
	if k, ok := d.crop(c.Front, what); ok {
		return inkView{Src: inkPath(c.Front.ID, what), Rect: k.Rect, Alt: fmt.Sprintf("Photo of the %s of card %d", what, c.Key.Card)},
			fmt.Sprintf("Card %d, %s", c.Key.Card, what)
	}
	side := inkView{Src: inkPath(c.Front.ID, "side"), Alt: fmt.Sprintf("Photo of the front of card %d", c.Key.Card)}
	if k, ok := d.crop(c.Front, "side"); ok {
		side.Rect = k.Rect
	}
	return side, fmt.Sprintf("Card %d, front", c.Key.Card)
}

// headEntry is a part of a card's head or foot, nil if its layout has none.
func headEntry(c *stack.Card, part string) *stack.Entry {
	i := slices.IndexFunc(c.Header, func(e stack.Entry) bool { return string(e.Part) == part && e.Key != "" })
	if i < 0 {
		return nil
	}
	return &c.Header[i]
}

// postHead keeps what a person reads in a card's head or foot, where a question rests on what was
// read there. It is never typed unseen, so it is no look: it takes the place of the reading in what is
// held against the placing list.
func (d *Desk) postHead(w http.ResponseWriter, r *http.Request, s *session) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	asked := m.questions()
	i := slices.IndexFunc(asked, func(f sheetmodel.Finding) bool { return f.Question.Key == r.PostFormValue("question") })
	if i < 0 || asked[i].Card == nil || heads[asked[i].Rule] == nil {
		return &pageError{http.StatusConflict, "This is not asked any more", "Nothing was kept: another entry has changed it. Look at the questions again."}
	}
	c := m.full.Card(*asked[i].Card)
	if c == nil || c.Front == nil || r.PostFormValue("sheet") != fmt.Sprint(c.Front.ID) {
		return photoChanged()
	}
	var entries []store.Entry
	for _, part := range heads[asked[i].Rule] {
		text := tidyHead(m.race, sheetmodel.Part(part.Name), r.PostFormValue(part.Name))
		if e := headEntry(c, part.Name); e != nil && text != "" {
			entries = append(entries, store.Entry{Reading: e.Key, Text: text, Basis: sheetmodel.BasisOnPaper, By: s.person, Session: s.id, Sheet: c.Front.ID})
		}
	}
	if len(entries) == 0 {
		return &pageError{http.StatusUnprocessableEntity, "Nothing was typed", "Go back and type what you read on the card, or answer the question."}
	}
	kept, err := d.opt.Store.Settle(r.Context(), entries...)
	if err != nil {
		return err
	}
	if m, err = d.now(r.Context()); err != nil {
		return err
	}
	n := notice{Words: fmt.Sprintf("%s: kept as you read it, under your name.", cardWords(c.Key, c.Spare)), Class: "settled", Undo: kept[0].ID}
	if c := m.full.Card(*asked[i].Card); c != nil && slices.ContainsFunc(m.questions(), func(f sheetmodel.Finding) bool { return f.Card != nil && *f.Card == c.Key && f.Rule == asked[i].Rule }) {
		n.Words, n.Class = n.Words+" The question stays: that is not what is known of the card.", "noted"
	}
	d.say(s, n)
	return see(w, r, "/questions")
}

// paperOf names what somebody looks at who answers a question: the paper that it is about, or, where it is asked which photo counts, all
// photos of the card, for of two that are asked about a third may say the same. Empty: it is about none.
func (m *moment) paperOf(key string) string {
	i := slices.IndexFunc(m.full.Questions, func(q stack.PhotoQuestion) bool { return q.Key == key })
	if i < 0 {
		return m.full.PaperOf(key)
	}
	var papers []string
	for k := range m.full.Cards {
		c := &m.full.Cards[k]
		if c.Printed != m.full.Questions[i].Card {
			continue
		}
		for _, sheet := range append([]*store.Sheet{c.Front, c.Back}, c.Other...) {
			if sheet != nil {
				papers = append(papers, sheet.Paper())
			}
		}
	}
	slices.Sort(papers)
	return strings.Join(papers, "+")
}

// photoChanged is what a person is told whose page shows a photo that counts no more.
func photoChanged() error {
	return &pageError{http.StatusConflict, "The photo of this card has changed", "Nothing was kept. Look at the questions again."}
}

// keptViews are so many moments of which the desk remembers what was in view; a page that is older is looked at again.
const keptViews = 500

// inView stands on a page for what somebody has in view who answers a question there: the moment that the page shows. It tells nothing
// of what is in view, for that may have to be typed unseen.
func (d *Desk) inView(m *moment, key string) string {
	view := m.viewOf(key)
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.views[m.number] == nil {
		d.views[m.number] = map[string]string{}
		if len(d.views) > keptViews {
			delete(d.views, slices.Min(slices.Collect(maps.Keys(d.views))))
		}
	}
	d.views[m.number][key] = view
	return fmt.Sprintf("%s-%d", d.started, m.number)
}

// wasInView is what was in view of a question on a page that somebody sends; false if nobody knows any more.
func (d *Desk) wasInView(page, key string) (string, bool) {
	started, number, _ := strings.Cut(page, "-")
	n, err := strconv.ParseInt(number, 10, 64)
	if err != nil || started != d.started {
		return "", false
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	view, known := d.views[n][key]
	return view, known
}

// viewOf is what somebody has in view who answers a question: what the rules say of it, or, where it is asked which photo counts, all photos.
func (m *moment) viewOf(key string) string {
	if slices.ContainsFunc(m.full.Questions, func(q stack.PhotoQuestion) bool { return q.Key == key }) {
		return m.paperOf(key)
	}
	return m.full.ViewOf(m.result, key)
}

// stillInView returns what an answer was given of, to be kept with it; the error is for whoever looked at something else than is
// there now. What was seen on another photo, that a line is a fold, say, is said of that photo.
func (d *Desk) stillInView(m *moment, key string, r *http.Request) (string, error) {
	now := m.viewOf(key)
	photos := slices.ContainsFunc(m.full.Questions, func(q stack.PhotoQuestion) bool { return q.Key == key })
	if r.PostForm.Has("view") {
		view, known := d.wasInView(r.PostFormValue("view"), key)
		switch why := rules.ViewChanged(view, now); {
		case known && photos && view != now:
			return "", photoChanged()
		case !known:
			return "", &pageError{http.StatusConflict, "This page is from before", "Nothing was kept, for nobody knows any more what it showed. Look at the questions again."}
		case !photos && why != "":
			return "", &pageError{http.StatusConflict, "What this question is about has changed", "Nothing was kept: " + why + ". Look at the questions again."}
		}
		now = view
	}
	if photos {
		return "", nil // its key names what it is about
	}
	return now, nil
}

// tidyHead brings typed text into its written form; a course is called as the race calls it.
func tidyHead(race *sheetmodel.Race, p sheetmodel.Part, text string) string {
	text = strings.Join(strings.Fields(text), " ")
	if p == sheetmodel.PartCourse {
		for _, c := range race.Courses {
			if strings.EqualFold(c, text) {
				return c
			}
		}
		return text
	}
	return sheetmodel.CanonicalGate(text)
}

// rowInk is a whole row as a picture, or nil.
func (d *Desk) rowInk(s *store.Sheet, ref sheetmodel.RowRef) *inkView {
	what := fmt.Sprintf("row-%02d", ref.Row)
	k, ok := d.crop(s, what)
	if !ok {
		return nil
	}
	return &inkView{Src: inkPath(s.ID, what), Rect: k.Rect, Alt: fmt.Sprintf("Photo of card %d, row %d", ref.Card, ref.Row)}
}

// openKeys are the readings of a row whose texts a page may show, and so gives away.
func openKeys(m *moment, r *stack.Row) []string {
	var keys []string
	for _, e := range []stack.Entry{r.BibSeen, r.Code, r.Gate} {
		if e.Key != "" && !m.covered[e.Key] && !m.drawn[e.Key] {
			keys = append(keys, e.Key)
		}
	}
	if r.Row.Panel != "" {
		keys = append(keys, r.Panel.Key)
	}
	if r.Row.Rerun {
		keys = append(keys, r.Rerun.Key)
	}
	return keys
}

func (d *Desk) postQuestion(w http.ResponseWriter, r *http.Request, s *session) error {
	d.answers.Lock()
	defer d.answers.Unlock()
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	key, value := r.PostFormValue("question"), r.PostFormValue("answer")
	if r.PostFormValue("do") == "again" {
		return d.askAgain(w, r, s, m, key)
	}
	known := func(q sheetmodel.Question) bool {
		return q.Key == key && slices.ContainsFunc(q.Answers, func(a sheetmodel.Answer) bool { return a.Value == value })
	}
	ok := slices.ContainsFunc(m.questions(), func(f sheetmodel.Finding) bool { return known(*f.Question) }) ||
		slices.ContainsFunc(m.photoQuestions(), func(q photoQuestion) bool { return known(q.Question) })
	if !ok {
		return &pageError{http.StatusConflict, "This is not asked any more", "Nothing was kept: another entry has changed it. Look at the questions again."}
	}
	view, err := d.stillInView(m, key, r)
	if err != nil {
		return err
	}
	// An answer lets a row stand or fall: whose word it is must be in the log, whatever sent the form.
	note := cleanNote(r.PostFormValue("note"))
	if note == "" {
		return &pageError{http.StatusUnprocessableEntity, "It isn't said whose word this is", "Nothing was kept. Go back and write who says so: the judge of a card, the finish referee, or you yourself from the paper."}
	}
	if i := slices.IndexFunc(m.full.Questions, func(q stack.PhotoQuestion) bool { return q.Key == key }); i >= 0 && value == stack.AnswerTwo {
		return d.tellApart(w, r, s, m, m.full.Questions[i].Earlier, m.full.Questions[i].Later, note)
	}
	said := []store.Answer{{Question: key, Value: value, By: s.person, Note: note, View: view}}
	if row := m.struckRow(key); row != nil && m.strikeOf(row) != nil {
		if _, struck := rules.StruckAnswer(row.Ref); value != struck { // of another photo than it was marked on
			said = append(said, store.Answer{Question: stack.StruckKey(m.full.Cards[row.Card].Printed, row.Ref.Row), By: s.person, Note: note})
		}
	}
	if err := d.opt.Store.Answer(r.Context(), m.full.OnPaper(said...)...); err != nil {
		return err
	}
	d.say(s, notice{Words: "Answer kept, under your name.", Class: "settled", Again: key})
	if m, err = d.now(r.Context()); err != nil {
		return err
	}
	if len(m.questions())+len(m.photoQuestions())+len(m.full.Unnamed) > 0 {
		return see(w, r, "/questions")
	}
	return see(w, r, d.nextPath(m, s))
}
