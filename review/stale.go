package review

import (
	"crypto/sha256"
	"fmt"
	"net/http"
	"strings"
)

// What a person is told whose entry was overtaken while it was open. Neither sentence says what others made of it.
const (
	newInk   = "Not kept yet: the card was photographed again while you had this open. Below is the new ink. What you typed is still here; look once more, then Enter."
	overtook = "Not kept yet: somebody else has been at this entry while you had it open. What you typed is still here. Enter keeps it as one more look; Esc leaves it as it is."
)

// marked is what others have decided of a reading so far, as a name that tells nothing of it but whether it is still
// the same. What the person did themselves is left out: a form that is sent twice is no surprise to its sender.
// It is of letters alone, so that no bib can stand in it.
func (m *moment) marked(s *session, key string) string {
	var all strings.Builder
	for _, dec := range m.full.Decisions {
		if dec.Reading == key && !mine(dec, s) {
			fmt.Fprintln(&all, dec.ID, dec.Undone != nil)
		}
	}
	sum := sha256.Sum256([]byte("seen " + all.String()))
	name := make([]byte, 12)
	for i := range name {
		name[i] = 'a' + sum[i]%16
	}
	return string(name)
}

// stale shows an entry as it is now, with what the person has typed, and keeps nothing.
func (d *Desk) stale(w http.ResponseWriter, r *http.Request, s *session, why string) error {
	return d.entry(w, r, s, http.StatusConflict, strings.TrimSpace(r.PostFormValue("text")), why)
}
