package review

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// entryView is one writing that waits. It holds nothing that a reader made of the ink.
type entryView struct {
	frame
	Path   string
	Key    string // of the reading, where it waits; it tells where the ink is and nothing of what it may say
	Card   string // where it is, in words
	Course string
	Part   string // bib, gate, what happened
	Label  string // of the line to type into
	Hint   string // how to type it
	Judge  string
	Call   string // the number of the judge; the frame's Phone says where the page is
	Ink    *inkView
	Sheet  int64
	Ways   ways
	How    string // the way that is chosen beforehand
	Aloud  bool   // this judge is reading rows aloud
	Why    string
	Codes  []sheetmodel.Code // what the card's own list says; for what happened only
	// Typed comes back after a typing fault; it is the person's own.
	Typed  string
	Seen   string // what others had decided of it when it was shown, as a name that tells nothing
	Note   string // the person's own reason for setting the row aside
	Wrong  string
	Anew   bool // what was typed last was of other ink
	Digits bool
	Box    bool   // the box alone may hold no writing, and the row some
	After  string // ink to fetch early
	Number int    // how many are left with this one
	Spot   bool   // drawn by lot
	Beside bool   // this person has typed another lost ski of the run
}

// entryPath is where a reading's page is.
func entryPath(key string) string { return "/entry/" + escapePath(key) }

// waitPath is where what waits is settled: on its own page, or with the questions.
func waitPath(w stack.Wait) string {
	if w.Need == look.NeedNothing {
		return "/questions"
	}
	return entryPath(w.Entry.Key)
}

func cardPath(card sheetmodel.CardKey) string { return escapePath(store.CardName(card)) }

func escapePath(path string) string {
	parts := strings.Split(path, "/")
	for i := range parts {
		parts[i] = url.PathEscape(parts[i])
	}
	return strings.Join(parts, "/")
}

// showNext leads to the next writing that waits, or to what is left when none does.
func (d *Desk) showNext(w http.ResponseWriter, r *http.Request, s *session) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	path := d.nextPath(m, s)
	if !strings.HasPrefix(path, "/entry/") {
		words := "No entry waits."
		switch left := d.left(m, d.todos(m, s)); {
		case left.Kept > 0 && left.Held+left.Kept == left.Type+left.Judge:
			words = "What waits is lost skis of a run of which you have typed one. Somebody else is here who has typed none, and is given them first. When nobody comes, open them from the stack."
		case left.Held > 0 && left.Held == left.Type+left.Judge:
			words = "The entries that wait are in front of other people just now."
		case left.Entries() > 0:
			words = "The entries that wait need another person, or the judge: you have typed them or were shown what was read. Open them from the stack."
		}
		d.say(s, notice{Words: words, Class: "noted"})
	}
	return see(w, r, path)
}

func (d *Desk) nextPath(m *moment, s *session) string {
	for _, t := range d.todos(m, s) {
		if t.offered() {
			return entryPath(t.Entry.Key)
		}
	}
	if len(m.questions())+len(m.photoQuestions()) > 0 {
		return "/questions"
	}
	return "/draft"
}

// following is the entry that nextPath will lead to once this one is done, as far as that is known now; nil: none.
func (*Desk) following(todos []todo, key string) *todo {
	for i, t := range todos {
		if t.Entry.Key != key && t.offered() {
			return &todos[i]
		}
	}
	return nil
}

// nextOnPaper is the next page for whoever types a card without a photo: the paper is in their hand, so
// what they can type of it comes first, its rows from top to bottom.
func (d *Desk) nextOnPaper(m *moment, s *session, card sheetmodel.CardKey) string {
	path, first := "", 0
	for _, t := range d.todos(m, s) {
		row := m.full.Row(t.Row)
		if row == nil || row.Sheet != nil || m.full.Cards[row.Card].Printed != card || t.task != taskType || t.later > 0 || !t.offered() {
			continue
		}
		if path == "" || row.Ref.Row < first {
			path, first = entryPath(t.Entry.Key), row.Ref.Row
		}
	}
	if path == "" {
		return d.nextPath(m, s)
	}
	return path
}

func (d *Desk) showEntry(w http.ResponseWriter, r *http.Request, s *session) error {
	return d.entry(w, r, s, http.StatusOK, "", "")
}

func (d *Desk) entry(w http.ResponseWriter, r *http.Request, s *session, status int, typed, wrong string) error {
	m, f, err := d.view(r.Context(), s, "An entry", "next")
	if err != nil {
		return err
	}
	key := r.PathValue("key")
	todos := d.todos(m, s)
	var it *todo
	for i := range todos {
		if todos[i].Entry.Key == key {
			it = &todos[i]
		}
	}
	if it == nil {
		row, e := m.row(key)
		if row == nil {
			return &pageError{http.StatusNotFound, "No row with ink has this entry", "Go to the next entry that waits."}
		}
		if len(row.Nothing) > 0 || status == http.StatusConflict { // somebody may see writing there all the same
			it = &todo{Wait: stack.Wait{Row: row.Ref, Entry: *e, Need: look.NeedEntry}, task: taskType}
		}
	}
	spot := false
	if it == nil && d.fresh(m, s, key) {
		it = m.spot(key)
		spot = it != nil
	}
	if row, _ := m.row(key); it == nil && f.Notice == nil && m.photosDiffer(row.Ref) {
		d.say(s, notice{Words: "Two photos of that card differ. Say first which one counts; then the entry can be typed.", Class: "noted"})
		return see(w, r, "/questions")
	}
	if it == nil {
		if f.Notice != nil {
			d.say(s, *f.Notice)
		} else {
			d.say(s, notice{Words: "That entry is settled or can't change the draft.", Class: "noted"})
		}
		if to := d.nextPath(m, s); m.onFrom(key, to) != to {
			return see(w, r, m.onFrom(key, to))
		}
		return see(w, r, "/next")
	}
	if it.task != taskOther && !d.take(s, key) && status == http.StatusOK { // who can only look keeps it from nobody; what was typed is never left behind
		to := m.onFrom(key, d.nextPath(m, s))
		words := "Somebody else is at that entry now. Here is the next."
		if to == "/spot" { // which says what is next
			words = "Somebody else is at that entry now."
		}
		d.say(s, notice{Words: words, Class: "noted"})
		return see(w, r, to)
	}
	row := m.full.Row(it.Row)
	card := &m.full.Cards[row.Card]
	v := entryView{
		frame: f, Path: entryPath(key), Key: key, Course: courseWords(card.Key.Run, card.Key.Course),
		Card: fmt.Sprintf("%s, row %d", cardWords(card.Key, card.Spare), row.Ref.Row), Judge: card.Judge, Call: card.Phone,
		Ways: d.ways(m, s, it), Why: strings.TrimSpace(whyWords(it.Wait) + " " + row.Hint), Typed: typed, Wrong: wrong,
		Seen: m.marked(s, key), Note: strings.TrimSpace(r.PostFormValue("note")),
		Number: f.Left.Type + f.Left.Judge,
		Anew:   status == http.StatusConflict && typed == "",
	}
	if v.Spot = spot; spot {
		v.Ways, v.Why = spotWays, ""
	}
	if !slices.ContainsFunc(todos, func(t todo) bool { return t.Entry.Key == key }) {
		v.Key = "" // it doesn't wait, so it can't be gone
	}
	v.Part, v.Hint, v.Digits = partWords(it.Entry.Part)
	v.Box = it.Entry.Part != sheetmodel.PartBib
	v.Title = v.Card + ": " + v.Part
	v.Beside = it.Entry.Part == sheetmodel.PartBib && it.task == taskType && m.typedBeside(m.spent(s), it.Row)
	v.Label = labelWords(it.Entry.Part, !v.Ways.Paper)
	if it.Entry.Part == sheetmodel.PartCode {
		v.Codes = m.race.Codes.Codes
	}
	d.mu.Lock()
	v.Aloud = s.aloud == store.CardName(card.Printed)
	d.mu.Unlock()
	switch {
	case v.Aloud && v.Ways.Aloud && v.Ways.Paper:
		v.How = howAloud
	case v.Ways.Paper:
		v.How = howPaper
	}
	switch chosen := r.PostFormValue("how"); { // the form comes back as it was sent
	case chosen == howAloud && v.Ways.Aloud, chosen == howAsked && v.Ways.Asked, chosen == howPaper && v.Ways.Paper:
		v.How = chosen
	}
	if row.Sheet != nil {
		v.Sheet = row.Sheet.ID
		v.Ink = d.entryInk(row, it.Entry)
	}
	if next := d.following(todos, key); next != nil {
		if row := m.full.Row(next.Row); row != nil && row.Sheet != nil {
			v.After = inkPath(row.Sheet.ID, fmt.Sprintf("row-%02d", row.Ref.Row))
		}
	}
	// The picture is that of the whole row.
	keys := []string{key}
	for _, e := range row.Boxes() {
		keys = append(keys, e.Key)
	}
	if err := d.serve(r.Context(), s, "entry", v.Sheet, false, keys...); err != nil {
		return err
	}
	return d.render(w, "entry", status, v)
}

// whyWords says why a field waits, in words that hold nothing of its text.
func whyWords(w stack.Wait) string {
	switch w.Need {
	case look.NeedJudge:
		return "Only the judge knows what was meant: " + w.Entry.Seen.Reason + "."
	case look.NeedSecondPerson:
		return "Another person's eyes are needed."
	case look.NeedEntry, look.NeedNothing:
		return ""
	}
	return ""
}

func labelWords(p sheetmodel.Part, judge bool) string {
	name, _, _ := partWords(p)
	switch {
	case p == sheetmodel.PartCode && judge:
		return "What happened, as the judge names it"
	case p == sheetmodel.PartCode:
		return "What happened, as marked or written"
	case judge:
		return "The " + name + ", as the judge names it"
	default:
		return "The " + name + " you see"
	}
}

func partWords(p sheetmodel.Part) (name, hint string, digits bool) {
	switch p {
	case sheetmodel.PartBib:
		return "bib", "every digit, zeros in front too", true
	case sheetmodel.PartGate:
		return "gate", "as written: 12, 12a or 18-19", true
	case sheetmodel.PartCode:
		return "what happened", "the letter of the box that is marked, or of the word that is written", false
	default:
		return strings.ReplaceAll(string(p), "-", " "), "as written", false
	}
}
