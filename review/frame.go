package review

import (
	"context"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"unicode"

	"gatefold/review/draft"
	"gatefold/review/look"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// frame is what every page shows around its own matter.
type frame struct {
	Title   string
	Here    string // the tab
	Person  string
	May     role
	Phone   bool // the page is on a phone
	Phones  bool // phones can be paired, from this page
	Taking  bool // photos come in through the page
	Placing bool // so does who stands where
	Race    string
	Day     string
	Left    left
	Notice  *notice
	Forth   bool   // what was taken back last can be put back, and the notice doesn't offer it
	Back    int64  // the last entry, where the notice offers nothing to take back; 0: none
	Notes   string // the draft's sentence
	Moment  int64  // that the page was made of
	// MayGo says whether the list may go out, in a word and in a sentence.
	Complete bool
	MayGo    string
}

// framed makes the frame of a page, and takes the session's notice, which is shown once.
func (d *Desk) framed(s *session, m *moment, title, here string) frame {
	f := d.framedQuietly(s, m, title, here)
	f.Notice = d.takeNotice(s)
	d.mu.Lock()
	f.Back, f.Forth = s.back, s.forth != nil || s.amends != nil
	d.mu.Unlock()
	if f.Notice != nil && f.Notice.Redo {
		f.Forth = false // the notice offers it
	}
	if f.Notice != nil && (f.Notice.Undo > 0 || f.Notice.Again != "") || !f.May.Settle() {
		f.Back = 0
	}
	return f
}

// framedQuietly makes the frame and leaves the notice to the next page.
func (d *Desk) framedQuietly(s *session, m *moment, title, here string) frame {
	f := frame{
		Title: title, Here: here, Person: s.person, May: s.roles(), Phone: s.phone != nil, Phones: s.phone == nil && d.pairing != nil, Taking: d.opt.Taker != nil, Placing: d.opt.SavePlace != nil, Race: m.race.Name, Day: m.race.Date,
		Left: d.left(m, d.todos(m, s)), Notes: draft.Notice, Moment: m.number,
	}
	f.Complete = len(m.full.Cards) > 0 && m.open == 0
	switch {
	case len(m.full.Cards) == 0:
		f.MayGo = "No card is expected or in yet."
	case f.Complete:
		f.MayGo = "Nothing is open: the list may go to the referee, as a draft."
	default:
		// What is open stands beside it, in the units in which people work on it; the draft lists every thing.
		f.MayGo = "The list goes out on the referee's word only."
		if len(m.done) > 0 {
			f.MayGo += " Nothing is open in " + strings.Join(m.done, ", ") + "."
		}
		if len(m.ahead) > 0 {
			for _, at := range m.aheadWords() {
				f.MayGo += " Nobody is placed yet for " + at + "."
			}
		} else if f.Left.Nothing() {
			f.MayGo += " The draft says what is open."
		}
	}
	return f
}

// view looks at the race and makes the frame.
func (d *Desk) view(ctx context.Context, s *session, title, here string) (*moment, frame, error) {
	m, err := d.now(ctx)
	if err != nil {
		return nil, frame{}, err
	}
	if s.roles().Nameless() {
		m = m.nameless()
	}
	return m, d.framed(s, m, title, here), nil
}

// words are the functions that templates may call.
var words = map[string]any{
	"plural": plural, "course": courseWords, "looks": lookWords, "settled": settledWords,
	"list": listWords, "basis": draft.BasisWords, "maybe": draft.MayBe, "sentence": sentence, "clock": func(t any) string { return clockWords(t) },
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprint(n) + " " + many
}

func courseWords(run int, course string) string {
	if run == 0 {
		return "Not bound to a run yet"
	}
	return fmt.Sprintf("%s · run %d", course, run)
}

// gateWords writes gates from the start down as judges say them: 6 to 12. Gates of the course that lie between are left out as they are
// left out of the card. course may be empty: then it isn't known.
func gateWords(gates, course []string) string {
	switch {
	case len(gates) == 0:
		return "not known"
	case len(gates) > 1 && slices.Equal(gates, course):
		return gates[0] + "–" + gates[len(gates)-1]
	}
	return strings.ReplaceAll(racefolder.SpellGates(gates, course), "-", "–")
}

// sentence begins with a capital, unless it begins with a path, and ends with a full stop.
func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return ""
	}
	if first, _, _ := strings.Cut(s, ": "); !strings.ContainsAny(first, `/\`) {
		runes := []rune(s)
		runes[0] = unicode.ToUpper(runes[0])
		s = string(runes)
	}
	if !strings.HasSuffix(s, ".") && !strings.HasSuffix(s, "?") && !strings.HasSuffix(s, "!") {
		s += "."
	}
	return s
}

func cardWords(k sheetmodel.CardKey, spare bool) string {
	if spare {
		return fmt.Sprintf("Spare card %d", k.Card)
	}
	return fmt.Sprintf("Card %d", k.Card)
}

type whoView struct {
	frame
	To    string
	Wrong string
}

func (d *Desk) showWho(w http.ResponseWriter, r *http.Request, s *session) error {
	return d.who(w, r, s, http.StatusOK, "")
}

func (d *Desk) who(w http.ResponseWriter, r *http.Request, s *session, status int, wrong string) error {
	race, err := d.opt.Race()
	if err != nil {
		return err
	}
	v := whoView{frame: frame{Title: "Who sits here?", Here: "who", Race: race.Name, Day: race.Date, Notes: draft.Notice}, Wrong: wrong, To: localPath(r.FormValue("to"))}
	if s != nil {
		v.Person, v.May, v.Phone, v.Phones = s.person, s.roles(), s.phone != nil, s.phone == nil && d.pairing != nil
		// Somebody can stand up too while the race can't be looked at.
		if m, err := d.now(r.Context()); err == nil {
			v.frame = d.framedQuietly(s, m, v.Title, v.Here)
		}
	}
	return d.render(w, "who", status, v)
}

// postWho begins a session. The way back is one of our own paths or the stack.
func (d *Desk) postWho(w http.ResponseWriter, r *http.Request, s *session) error {
	name := cleanName(r.PostFormValue("name"))
	if look.Person(name) == "" {
		return d.who(w, r, s, http.StatusUnprocessableEntity, "Type the name by which the others at the race know you.")
	}
	name, err := d.spelling(r.Context(), name)
	if err != nil {
		return err
	}
	var on *phone
	if s != nil {
		on = s.phone
	}
	if on != nil {
		d.pairing.rename(on, name)
	}
	if s != nil {
		d.letGoAll(s) // whoever sat here has stood up
	}
	first, err := d.nobodyYet(r.Context())
	if err != nil {
		return err
	}
	if err := d.begin(w, name, on); err != nil {
		return err
	}
	to := localPath(r.PostFormValue("to"))
	if first && on == nil && to == "/" {
		to = "/tour"
	}
	return see(w, r, to)
}

// spelling returns a name as it was spelled first, in the log or at this desk: a second person must be
// another person, not "ada".
func (d *Desk) spelling(ctx context.Context, name string) (string, error) {
	known, err := d.opt.Store.People(ctx)
	if err != nil {
		return "", err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, s := range d.sessions {
		known = append(known, s.person)
	}
	for _, other := range known {
		if look.Person(other) == look.Person(name) {
			return other, nil
		}
	}
	return name, nil
}
