package review

import (
	"fmt"
	"net/http"
	"slices"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/sheetmodel"
)

// spotView is what the draft page says of the spot check. It names no row: whoever may still type one has not
// to know which.
type spotView struct {
	Certain, Drawn, Typed, Same int
	Mine                        int // that this person can type unseen now
	Others                      int // that only somebody else can
}

func (d *Desk) spotView(m *moment, s *session) *spotView {
	c := m.full.SpotCheck()
	if len(c.Drawn) == 0 {
		return nil
	}
	v := &spotView{Certain: c.Certain, Drawn: len(c.Drawn)}
	for _, x := range m.spots() {
		if d.fresh(m, s, x.Entry.Key) {
			v.Mine++
		} else {
			v.Others++
		}
	}
	for _, x := range c.Drawn {
		if x.Typed {
			v.Typed++
		}
		if x.Same {
			v.Same++
		}
	}
	return v
}

// spots are the bibs drawn that nobody has typed yet, of runs and courses whose draft is out: the check holds nothing up.
// A row that was set aside is none: what is typed after that would make it stand again.
func (m *moment) spots() []stack.Drawn {
	return slices.DeleteFunc(m.full.SpotCheck().Drawn, func(d stack.Drawn) bool {
		row := m.full.Row(d.Row)
		return d.Typed || row == nil || row.BibState == sheetmodel.BibSetAside || !slices.Contains(m.done, courseWords(d.Row.Run, d.Row.Course))
	})
}

// spot returns the bib drawn under a key, as something to be typed, or nil.
func (m *moment) spot(key string) *todo {
	for _, d := range m.spots() {
		if d.Entry.Key == key {
			return &todo{Wait: stack.Wait{Row: d.Row, Entry: d.Entry, Need: look.NeedEntry}, task: taskType}
		}
	}
	return nil
}

// onFrom is where a person goes on to after an entry, if to is where nothing that waits leads them: the draft would tell whoever is at the spot
// check what they are to type unseen, so from one of its bibs they go on with it.
func (m *moment) onFrom(key, to string) string {
	drawn := slices.ContainsFunc(m.full.SpotCheck().Drawn, func(x stack.Drawn) bool { return x.Entry.Key == key })
	if drawn && to == "/draft" && len(m.spots()) > 0 {
		return "/spot"
	}
	return to
}

// spotWays is what counts of a bib drawn by lot: what somebody reads off the ink who was told nothing of it.
var spotWays = ways{
	Paper: true, Nothing: true,
	Words: "Spot check: drawn by lot from the bibs that need no person. What you read off the ink counts; if it is another bib than was read, the row waits again.",
}

// showSpot leads to the next bib of the spot check that this person can type unseen.
func (d *Desk) showSpot(w http.ResponseWriter, r *http.Request, s *session) error {
	m, err := d.now(r.Context())
	if err != nil {
		return err
	}
	open, taken := m.spots(), false
	for _, x := range open {
		d.mu.Lock()
		later, held := s.later[x.Entry.Key] > 0, d.heldByOther(s, x.Entry.Key)
		d.mu.Unlock()
		switch {
		case later || !d.fresh(m, s, x.Entry.Key):
		case held:
			taken = true
		default:
			return see(w, r, entryPath(x.Entry.Key))
		}
	}
	words := "The spot check is done."
	check := m.full.SpotCheck()
	typed, _ := check.Typed()
	switch {
	case taken:
		words = "Somebody else is at what is left of the spot check just now."
	case len(open) > 0:
		words = "You were shown what is left of the spot check, or left it for later. Somebody who has not seen the draft types it."
	case len(check.Drawn) == 0:
		words = "No bib was drawn for the spot check."
	case typed > 0 && typed < len(check.Drawn):
		words = fmt.Sprintf("The spot check goes on with %s once nothing is open in that run and course.", plural(len(check.Drawn)-typed, "bib", "bibs"))
	case typed < len(check.Drawn):
		words = fmt.Sprintf("The spot check has not begun for %s drawn: first nothing may be open in that run and course.", plural(len(check.Drawn)-typed, "bib", "bibs"))
	}
	n := notice{Words: words, Class: "noted"}
	if last := d.takeNotice(s); last != nil { // what came of the bib before comes first: its row may wait again
		last.Words += " " + words
		n = *last
	}
	d.say(s, n)
	return see(w, r, "/") // not the draft: whoever sees it types nothing unseen any more
}
