package review

import (
	"errors"
	"fmt"
	"net/http"
	"strings"
	"time"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"gatefold/review/draft"
	"gatefold/review/look"
	"gatefold/sheetmodel"
)

type phonesView struct {
	frame
	Codes     []codeView
	Paired    []pairedView
	Addresses []string
	Stable    []string // addresses by name, which stay when the network changes
	Wrong     int      // codes, in the last minutes
	WrongLast string
	Roles     []roleChoice
	Stamp     string // changes when a phone came in or a code went
}

type roleChoice struct {
	Name, Words string
	Checked     bool
}

type codeView struct {
	pairCode
	Code    string
	Until   string // official time
	Address string // that the square leads to
	Square  square
}

type pairedView struct {
	phone
	Idle string // when it was seen last
}

// square is a QR code as a path of squares of 1 by 1.
type square struct {
	Size int // with the quiet zone
	Path string
}

// showPhones shows who may come in, and the codes for those who are about to. Only the laptop has this page.
func (d *Desk) showPhones(w http.ResponseWriter, r *http.Request, s *session) error {
	return d.phones(w, r, s, http.StatusOK, "")
}

func (d *Desk) phones(w http.ResponseWriter, r *http.Request, s *session, status int, wrong string) error {
	m, f, err := d.view(r.Context(), s, "Phones", "phones")
	if err != nil {
		return err
	}
	if _, err := sheetmodel.OfficialTime(d.opt.Now(), m.race); err != nil {
		return err
	}
	clock := func(at time.Time) string { // as everywhere on the pages, the race's
		at, _ = sheetmodel.OfficialTime(at, m.race)
		return at.Format("15:04")
	}
	codes, phones, wrongCodes := d.pairing.standing()
	v := phonesView{frame: f, Addresses: d.opt.Network.Addresses(), Wrong: wrongCodes, WrongLast: wrong}
	v.Stable = d.opt.Network.stable()
	for _, one := range roles {
		v.Roles = append(v.Roles, roleChoice{one.Name, one.Words, one.Bit&(rolePhotos|roleHear) != 0})
	}
	for _, c := range codes {
		view := codeView{pairCode: c, Code: spelled(c.code), Until: clock(c.Ends)}
		if len(v.Addresses) > 0 {
			view.Address = v.Addresses[0]
			if view.Square, err = squareOf(view.Address + "/pair#" + c.code); err != nil {
				return err
			}
		}
		v.Codes = append(v.Codes, view)
		v.Stamp += c.ID + " "
	}
	for _, h := range phones {
		v.Paired = append(v.Paired, pairedView{h, clock(h.Seen)})
		v.Stamp += h.ID + " "
	}
	if r.URL.Query().Has("stamp") { // the script's question whether anything has changed
		w.Header().Set("Content-Type", "text/plain; charset=utf-8")
		_, _ = w.Write([]byte(v.Stamp))
		return nil
	}
	return d.render(w, "phones", status, v)
}

// postPhones makes a code, shuts a phone out, or lets codes be tried again.
func (d *Desk) postPhones(w http.ResponseWriter, r *http.Request, s *session) error {
	switch r.PostFormValue("do") {
	case "code":
		may := parseRoles(r.PostForm["role"])
		if may == anybody {
			return d.phones(w, r, s, http.StatusUnprocessableEntity, "Choose what the phone may do.")
		}
		if _, err := d.pairing.offer(may); err != nil {
			return err
		}
	case "revoke":
		person, found := d.pairing.revoke(r.PostFormValue("id"))
		if !found {
			return &pageError{http.StatusNotFound, "This phone or code is not known any more", "It is shut out already."}
		}
		d.mu.Lock()
		for name, gone := range d.sessions {
			if gone.phone != nil && gone.phone.ID == r.PostFormValue("id") {
				delete(d.sessions, name) // and with it what it held: others get those entries at once
			}
		}
		d.mu.Unlock()
		if person != "" {
			d.say(s, notice{Words: person + "’s phone is shut out. What it sent is kept.", Class: "settled"})
			d.tell(person + "'s phone was shut out by " + s.person)
		}
	case "allow":
		d.pairing.allowAgain()
		d.say(s, notice{Words: "Codes can be tried again.", Class: "settled"})
	default:
		return &pageError{http.StatusBadRequest, "The form doesn't say what to do", "Nothing was changed. Open the page Phones again."}
	}
	return see(w, r, "/phones")
}

// tell says something at the laptop.
func (d *Desk) tell(words string) { d.opt.Network.Told(words) }

type pairView struct {
	frame
	Code  string
	Name  string
	Wrong string
}

// showPair asks a phone for its code. The code of a scanned square stands behind the # of the address, which
// no browser sends to anybody; a script on the page puts it into the form.
func (d *Desk) showPair(w http.ResponseWriter, r *http.Request, _ *session) error {
	return d.pair(w, http.StatusOK, pairView{})
}

func (d *Desk) pair(w http.ResponseWriter, status int, v pairView) error {
	// Who comes in isn't known yet: the page names no race and no person.
	v.frame = frame{Title: "Pair this phone", Here: "pair", Phone: true, Race: "gatefold", Notes: draft.Notice}
	return d.render(w, "pair", status, v)
}

func (d *Desk) postPair(w http.ResponseWriter, r *http.Request, s *session) error {
	v := pairView{Code: strings.TrimSpace(r.PostFormValue("code")), Name: cleanName(r.PostFormValue("name"))}
	if look.Person(v.Name) == "" {
		v.Wrong = "Type the name by which the others at the race know you."
		return d.pair(w, http.StatusUnprocessableEntity, v)
	}
	name, err := d.spelling(r.Context(), v.Name)
	if err != nil {
		return err
	}
	from := addressOf(r)
	on, err := d.pairing.join(v.Code, name, from)
	switch {
	case errors.Is(err, errTooManyGuesses):
		v.Code, v.Wrong = "", fmt.Sprintf("Too many wrong codes came in. Wait %d minutes, or let the laptop allow it again under Phones.", int(guessWindow.Minutes()))
		return d.pair(w, http.StatusTooManyRequests, v)
	case errors.Is(err, errNoSuchCode):
		d.tell("a wrong code came from " + from)
		v.Code, v.Wrong = "", "That code is wrong, was used, or is older than ten minutes. Take the one that the laptop shows now under Phones."
		return d.pair(w, http.StatusForbidden, v)
	case err != nil:
		return err
	}
	if s != nil && s.phone != nil {
		d.pairing.revoke(s.phone.ID) // paired anew, with other roles perhaps, it may no more what it might before
	}
	if err := d.begin(w, name, on); err != nil {
		return err
	}
	d.tell(fmt.Sprintf("%s's phone at %s was paired: %s", name, from, on.Roles))
	return see(w, r, on.Roles.home())
}

// squareOf draws a text as a QR code, with the quiet zone of four modules that ISO/IEC 18004 asks for.
func squareOf(text string) (square, error) {
	hints := map[gozxing.EncodeHintType]interface{}{gozxing.EncodeHintType_MARGIN: 4}
	m, err := qrcode.NewQRCodeWriter().Encode(text, gozxing.BarcodeFormat_QR_CODE, 0, 0, hints)
	if err != nil {
		return square{}, fmt.Errorf("square code: %w", err)
	}
	var path strings.Builder
	for y := range m.GetHeight() {
		for x := range m.GetWidth() {
			if m.Get(x, y) {
				fmt.Fprintf(&path, "M%d %dh1v1h-1z", x, y)
			}
		}
	}
	return square{Size: m.GetWidth(), Path: path.String()}, nil
}
