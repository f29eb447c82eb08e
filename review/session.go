package review

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"net/http"
	"strings"
	"unicode"

	"gatefold/review/look"
	"gatefold/review/store"
)

// session is one person at one browser. Another person at the same browser is another session: what
// one was shown is not what the other was shown.
type session struct {
	id     string // as the log names it; the cookie holds a secret from which it is made
	person string
	phone  *phone // nil: at the laptop itself

	// below: guarded by Desk.mu
	later  map[string]int // entries left for later, in the order in which they were last left
	rounds int            // counts them
	aloud  string         // card whose judge is reading rows aloud
	said   *notice        // shown once, on the next page
	back   int64          // the last entry of this session, to be taken back by its key; 0: the last step was none
	forth  []int64        // what this session took back last, to be put back; nil: the last step was none
	amends []store.Answer // so for answers
	served map[servedKey]bool
	live   int // pages that listen
}

type servedKey struct {
	reading string
	sheet   int64
	reveals bool
}

// notice is what the next page says about the last step.
type notice struct {
	Words string
	Class string // settled, noted, wrong
	Undo  int64  // decision that can be taken back; 0: none
	Again string // question whose answer can be taken back; empty: none
	Redo  bool   // what was taken back can be put back
}

// Browsers send a cookie to all ports of a name, so each door has one of its own.
const (
	cookieName  = "gatefold-desk"
	phoneCookie = "gatefold-phone"
)

// roles are what a session may do. The laptop may do everything.
func (s *session) roles() role {
	if s.phone == nil {
		return allRoles
	}
	return s.phone.Roles
}

// session returns the session of a request, or nil. A session that began at one door is none at the other.
func (d *Desk) session(r *http.Request, in door) *session {
	c, err := r.Cookie(in.cookie)
	if err != nil {
		return nil
	}
	d.mu.Lock()
	s := d.sessions[sessionID(c.Value)]
	d.mu.Unlock()
	if s == nil || (s.phone != nil) != in.phones {
		return nil
	}
	if s.phone != nil && !d.pairing.still(s.phone) {
		d.mu.Lock()
		delete(d.sessions, s.id)
		d.mu.Unlock()
		return nil
	}
	return s
}

// sessionID is what the log may hold of a cookie: nobody can take a session over from an archive.
func sessionID(secret string) string {
	sum := sha256.Sum256([]byte("desk session " + secret))
	return hex.EncodeToString(sum[:8])
}

// begin makes a new session for a person, on a phone if it isn't nil. An old session of that phone ends.
func (d *Desk) begin(w http.ResponseWriter, person string, on *phone) error {
	b := make([]byte, 16)
	if _, err := io.ReadFull(d.opt.Random, b); err != nil {
		return err
	}
	secret := hex.EncodeToString(b)
	s := &session{id: sessionID(secret), person: person, phone: on, later: map[string]int{}, served: map[servedKey]bool{}}
	d.mu.Lock()
	for id, old := range d.sessions {
		if on != nil && old.phone == on {
			delete(d.sessions, id)
		}
	}
	d.sessions[s.id] = s
	d.mu.Unlock()
	c := &http.Cookie{Name: cookieName, Value: secret, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode}
	if on != nil {
		c.Name, c.MaxAge = phoneCookie, int(sessionLife.Seconds()) // phones close their browser when they like
		c.Secure = d.opt.Network.Secure                            // over plain HTTP such a cookie would never come back
	}
	http.SetCookie(w, c)
	return nil
}

// cleanName is a person's name as it is kept and shown: as typed, but with one spelling of spaces and
// nothing that can't be printed. Which names are one person is look.Person's to say.
func cleanName(name string) string { return cleanText(name, 60) }

// cleanNote is what a person says of a ground, as it is kept and shown.
func cleanNote(text string) string { return cleanText(text, 200) }

// cleanReason is a reason in a person's own words, which lists print: a line of text, and no more than a form lets in.
func cleanReason(text string) string { return cleanText(text, 300) }

func cleanText(text string, most int) string {
	text = strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Cf, r) {
			return -1 // it doesn't show, or turns the line around
		}
		if unicode.IsControl(r) || r == unicode.ReplacementChar {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(text, " "))
	text = strings.Join(strings.Fields(text), " ")
	if runes := []rune(text); len(runes) > most {
		text = string(runes[:most])
	}
	return text
}

// serve logs what is about to be sent; the caller sends only after it returned nil.
func (d *Desk) serve(ctx context.Context, s *session, what string, sheet int64, reveals bool, keys ...string) error {
	var fresh []string
	d.mu.Lock()
	for _, k := range keys {
		if k != "" && !s.served[servedKey{k, sheet, reveals}] {
			fresh = append(fresh, k)
		}
	}
	if len(fresh) == 0 {
		d.mu.Unlock()
		return nil
	}
	mine := &toServe{by: s, Served: store.Served{Session: s.id, Person: s.person, Readings: fresh, Sheet: sheet, Reveals: reveals, What: what}}
	d.toLog = append(d.toLog, mine)
	d.mu.Unlock()
	d.logging.Lock() // so that what two pages add to the log is not taken for news
	defer d.logging.Unlock()
	if !mine.done {
		d.logAll(context.WithoutCancel(ctx)) // others' pages wait for it as well
	}
	return mine.err
}

// toServe is what is about to be sent, until the log has it. done and err are guarded by Desk.logging.
type toServe struct {
	store.Served
	by   *session
	done bool
	err  error
}

// logAll logs what all pages that wait are about to send, at once: each commit waits for the disk, and what came
// while one did is one more commit, not one for every page. d.logging must be held.
func (d *Desk) logAll(ctx context.Context) {
	d.mu.Lock()
	all := d.toLog
	d.toLog = nil
	d.mu.Unlock()
	served := make([]store.Served, len(all))
	for i, one := range all {
		served[i] = one.Served
	}
	err := d.opt.Store.Serve(ctx, served...)
	var head int64
	if err == nil {
		head, err = d.opt.Store.Head(ctx)
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	var added int64
	for _, one := range all {
		one.done, one.err = true, err
		if err != nil {
			continue
		}
		for _, k := range one.Readings {
			key := servedKey{k, one.Sheet, one.Reveals}
			if !one.by.served[key] {
				one.by.served[key] = true
				added++
			}
		}
		d.told.note(one.Served)
	}
	if err == nil && d.latest != nil && head == d.latestHead+added {
		d.latestHead = head // only the log grew: what was seen still stands
	}
}

// told knows, by session and by person in any spelling, which readings were given away.
type told map[string]map[string]bool

func (t told) note(v store.Served) {
	if !v.Reveals {
		return
	}
	for _, who := range []string{"session " + v.Session, "person " + look.Person(v.Person)} {
		if t[who] == nil {
			t[who] = map[string]bool{}
		}
		for _, k := range v.Readings {
			t[who][k] = true
		}
	}
}

func (t told) knows(s *session, key string) bool {
	for _, who := range []string{"session " + s.id, "person " + look.Person(s.person)} {
		if t[who][key] || t[who][store.AllReadings] {
			return true
		}
	}
	return false
}

// say keeps words for the next page of a session.
func (d *Desk) say(s *session, n notice) {
	d.mu.Lock()
	s.said = &n
	if n.Class == "settled" || n.Undo > 0 {
		s.back = n.Undo // a step of another kind came after it
	}
	if n.Class == "settled" {
		s.forth, s.amends = nil, nil
	}
	d.mu.Unlock()
}

// takeNotice returns the words for this page and forgets them.
func (d *Desk) takeNotice(s *session) *notice {
	d.mu.Lock()
	defer d.mu.Unlock()
	n := s.said
	s.said = nil
	return n
}
