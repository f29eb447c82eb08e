package review

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"strconv"
	"time"

	"gatefold/review/look"
)

// How long an entry is kept for whoever was shown it: without a word from their page, and after the page
// has said that it closes or was lost.
const (
	holdLife  = 2 * time.Minute
	holdGrace = 10 * time.Second
)

// hold keeps an entry for one session, so that two people never type the same one at once.
type hold struct {
	by    *session
	until time.Time
}

// heldByOther reports whether somebody else is at an entry now. One person at two browsers is one person.
// d.mu must be held.
func (d *Desk) heldByOther(s *session, key string) bool {
	h, held := d.holds[key]
	return held && d.opt.Now().Before(h.until) && d.sessions[h.by.id] != nil && look.Person(h.by.person) != look.Person(s.person)
}

// take keeps an entry for a session and lets go of all others that it held; false: somebody else is at it.
func (d *Desk) take(s *session, key string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.heldByOther(s, key) {
		return false
	}
	for k, h := range d.holds {
		if h.by == s || !d.opt.Now().Before(h.until) {
			delete(d.holds, k)
		}
	}
	d.holds[key] = hold{s, d.opt.Now().Add(holdLife)}
	return true
}

// keepFor lengthens a session's own hold to the time given, or shortens it.
func (d *Desk) keepFor(s *session, key string, life time.Duration) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if h, held := d.holds[key]; held && h.by == s {
		d.holds[key] = hold{s, d.opt.Now().Add(life)}
	}
}

// letGo gives up what a session holds.
func (d *Desk) letGo(s *session, key string) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.holds[key].by == s {
		delete(d.holds, key)
	}
}

// letGoAll gives up everything that a session holds.
func (d *Desk) letGoAll(s *session) {
	d.mu.Lock()
	defer d.mu.Unlock()
	for key, h := range d.holds {
		if h.by == s {
			delete(d.holds, key)
		}
	}
}

// livePulse is how often an open page is looked after, and liveLife how long one connection lasts before the
// browser makes the next: what was lost on the way is not waited for.
const (
	livePulse = 500 * time.Millisecond
	liveLife  = 45 * time.Second
)

// maxLive is how many pages may listen at once, and of one session.
const (
	maxLive    = 200
	maxLiveOne = 12
)

// news is what a page is told when the race has moved: how much is left, as its own frame says it. It holds
// no text of any card.
type news struct {
	Moment int64  `json:"moment"` // the race as it is now; it counts up
	Nav    string `json:"nav"`    // the links above, as HTML
	Left   string `json:"left"`   // the line of what is left, as HTML; empty where the page has none
	Gone   bool   `json:"gone"`   // the entry that the page shows waits no more
}

// showLive sends news as server-sent events (WHATWG HTML, 9.2) for as long as a page is open; with "once", or as
// long as there is no news, one answer. here is the page's tab, at the moment it was made of, entry the entry it shows.
func (d *Desk) showLive(w http.ResponseWriter, r *http.Request, s *session) error {
	here, entry := r.FormValue("here"), r.FormValue("entry")
	at, err := strconv.ParseInt(r.FormValue("at"), 10, 64)
	if err != nil {
		at = -1
	}
	if r.URL.Query().Has("once") {
		n, err := d.news(r, s, here, entry)
		if err != nil {
			return err
		}
		w.Header().Set("Content-Type", "application/json")
		return json.NewEncoder(w).Encode(n)
	}
	if !d.listen(s) {
		w.Header().Set("Retry-After", "30")
		return &pageError{http.StatusServiceUnavailable, "Very many pages are open", "Close those that nobody looks at. This one works as before, and is new when it is loaded again."}
	}
	defer d.stopListening(s)
	to := http.NewResponseController(w)
	w.Header().Set("Content-Type", "text/event-stream")
	w.Header().Set("X-Accel-Buffering", "no")
	// The server's own limit is for pages. What is sent here is so little that it fits into the kernel's buffers
	// even when nobody reads, and a stream ends by itself.
	_ = to.SetWriteDeadline(time.Time{})
	write := func(text string) bool {
		if _, err := w.Write([]byte(text)); err != nil {
			return false
		}
		return to.Flush() == nil
	}
	if !write("retry: 1500\n\n") {
		return nil
	}
	if entry != "" {
		defer d.keepFor(s, entry, holdGrace)
	}
	pulse, end := time.NewTicker(livePulse), time.NewTimer(liveLife)
	defer pulse.Stop()
	defer end.Stop()
	for beat := 0; ; beat++ {
		if entry != "" {
			d.keepFor(s, entry, holdLife)
		}
		m, err := d.now(r.Context())
		if err != nil || !d.still(s) {
			return nil // the race's files are being mended, or nobody listens: the browser asks again
		}
		if m.number != at {
			n, err := d.news(r, s, here, entry)
			if err != nil {
				return nil
			}
			text, err := json.Marshal(n)
			if err != nil || !write("event: news\ndata: "+string(text)+"\n\n") {
				return nil
			}
			at = n.Moment
		} else if beat%20 == 19 && !write(":\n\n") { // so that a browser that has gone is noticed
			return nil
		}
		select {
		case <-pulse.C:
		case <-end.C:
			return nil
		case <-r.Context().Done():
			return nil
		case <-d.closing:
			return nil
		}
	}
}

// news looks at the race for one page.
func (d *Desk) news(r *http.Request, s *session, here, entry string) (news, error) {
	m, err := d.now(r.Context())
	if err != nil {
		return news{}, err
	}
	n := news{Moment: m.number}
	if s.roles().Nameless() {
		m = m.nameless()
	}
	f := d.framedQuietly(s, m, "", here)
	var b bytes.Buffer
	for part, into := range map[string]*string{"nav": &n.Nav, "left": &n.Left} {
		b.Reset()
		if err := d.pages["tour"].ExecuteTemplate(&b, part, f); err != nil {
			return n, fmt.Errorf("%s: %w", part, err)
		}
		*into = b.String()
	}
	if entry != "" {
		n.Gone = true
		for _, t := range d.todos(m, s) {
			if t.Entry.Key == entry {
				n.Gone = false
			}
		}
	}
	return n, nil
}

// still reports whether a session is one.
func (d *Desk) still(s *session) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.sessions[s.id] == s && (s.phone == nil || d.pairing.still(s.phone))
}

func (d *Desk) listen(s *session) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.live >= maxLive || s.live >= maxLiveOne {
		return false
	}
	d.live++
	s.live++
	return true
}

func (d *Desk) stopListening(s *session) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.live--
	s.live--
}

// HangUp ends all open streams of news, so that a server can shut down without waiting for them. Pages that
// were open work on, and ask again once there is a server. It may be called more than once.
func (d *Desk) HangUp() { d.hangUp.Do(func() { close(d.closing) }) }
