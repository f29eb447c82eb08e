package review

import (
	"crypto/sha256"
	"fmt"
	"net/http"
	"strings"
)

// What a person is told whose entry was overtaken while it was open. Neither sentence says what others made of it.
const (
	newInk   = "Not kept yet: the card was photographed again while you had this open. Here is the new ink; look once more, then Enter."
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

// stale shows an entry as it is now, with what the person has typed, and keeps nothing. What was typed at other ink is said
// and not left in the field: an Enter too many would make it a look at ink that nobody has looked at.
func (d *Desk) stale(w http.ResponseWriter, r *http.Request, s *session, why string) error {
	typed := strings.TrimSpace(r.PostFormValue("text"))
	if old := cleanText(typed, maxTyped); why == newInk && old != "" {
		typed, why = "", fmt.Sprintf("Not kept yet: the card was photographed again while you had this open. Here is the new ink; type what you see now. At the old picture you typed “%s”.", old)
	}
	return d.entry(w, r, s, http.StatusConflict, typed, why)
}
