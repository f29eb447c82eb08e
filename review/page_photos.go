package review

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
)

// Taker reads photos that the store has kept. review knows no image processing; who opens the desk does.
type Taker interface {
	// Take asks for a photo to be read and returns at once. What came of it will stand in the store.
	Take(photo string)
	// Fault says why a photo could not be read, in a sentence; empty: it was, or it is still to be.
	// With an empty name it says why no photo can be read at all.
	Fault(photo string) string
}

// Tier is a Taker that also reads the two writings of a card together once people have said which sides belong to it.
type Tier interface {
	// Tie asks for it and returns at once.
	Tie()
}

// maxPhoto is the largest photo that is taken, in bytes: what a photo may have anywhere in gatefold.
const maxPhoto = 128 << 20

// maxTaking bounds how many photos come in at the same time; the others are asked to come again.
const maxTaking = 4

// maxTakingOne bounds how many of them are of one device: one whose uploads hang leaves the others a place.
const maxTakingOne = maxTaking - 1

// maxPerPhone bounds how many photos one phone sends: ten times those of a large race.
const maxPerPhone = 2000

// newestAsks is of how many cards it is told at once what they lack: those whose judges stand here.
const newestAsks = 3

const takePattern = "POST /photos"

type photosView struct {
	frame
	Cannot  string // read photos
	RaceID  string
	Stable  []string    // where else the laptop may be found
	Sent    []verdict   // of a browser without scripts
	Hear    []heardCard // whose rows can be read back, the newest first
	Unheard int         // further ones
	Asks    []cardAsks  // what only judges can mend, the newest card first
	Earlier []cardAsks
	Missing []missingCourse
}

// missingCourse is what is still to be photographed of one course in one run.
type missingCourse struct {
	Name    string
	In, All int
	Cards   []missingCard
	Open    bool // shown unfolded
}

type missingCard struct {
	Words string
	Lacks string // "front", "back", "both sides"
	Gates string
	Judge string
	Phone string
}

// verdict is what a phone is told of one photo it sent.
type verdict struct {
	ID    string      `json:"id"`
	State verdictKind `json:"state"`
	Words []string    `json:"words,omitempty"` // one for each card in the photo, or why it can't be used
	Do    []string    `json:"do,omitempty"`    // what the person holding the card should do
}

type verdictKind string

const (
	verdictGood    verdictKind = "good"
	verdictFlawed  verdictKind = "flawed"  // kept and used; a better photo would spare questions
	verdictRefused verdictKind = "refused" // take it again
	verdictReading verdictKind = "reading"
	verdictUnread  verdictKind = "unread"  // kept; it can't be read here
	verdictUnknown verdictKind = "unknown" // not in this store
)

func (d *Desk) showPhotos(w http.ResponseWriter, r *http.Request, s *session) error {
	m, f, err := d.view(r.Context(), s, "Photos", "photos")
	if err != nil {
		return err
	}
	v := photosView{frame: f, Cannot: d.faultFor(s, ""), RaceID: m.race.ID}
	if d.opt.Network != nil && s.phone != nil {
		v.Stable = d.opt.Network.stable()
		v.Stable = slices.DeleteFunc(v.Stable, func(a string) bool { return a == d.opt.Network.scheme()+"://"+r.Host })
	}
	if s.roles().Photos() { // names of judges are for those who look for them
		if m, err = d.now(r.Context()); err != nil {
			return err
		}
	}
	v.Missing = m.missing()
	if s.roles().Hear() {
		v.Hear, _ = d.hearings(m, s)
		if v.Unheard = len(v.Hear) - newestAsks; v.Unheard > 0 {
			v.Hear = v.Hear[:newestAsks]
		}
	}
	v.Asks = m.asks()
	if len(v.Asks) > newestAsks {
		v.Asks, v.Earlier = v.Asks[:newestAsks], v.Asks[newestAsks:]
	}
	if r.URL.Query().Has("part") { // the script's question what is still missing
		if f.Notice != nil {
			d.say(s, *f.Notice) // it is for the next page that somebody opens
		}
		return d.renderPart(w, "photos", "lists", v)
	}
	if ids := r.URL.Query()["sent"]; len(ids) > 0 {
		if v.Sent, err = d.verdicts(r.Context(), s, ids); err != nil {
			return err
		}
	}
	return d.render(w, "photos", http.StatusOK, v)
}

// missing lists what is still to be photographed.
func (m *moment) missing() []missingCourse {
	var all []missingCourse
	at := map[string]int{}
	for i := range m.full.Cards {
		c := &m.full.Cards[i]
		name := courseWords(c.Key.Run, c.Key.Course)
		n, ok := at[name]
		if !ok {
			n = len(all)
			at[name] = n
			all = append(all, missingCourse{Name: name})
		}
		v := &all[n]
		v.All++
		lacks := lacksOf(c)
		if lacks == lacksBack && c.BackState != rules.BackMissing {
			lacks = "" // somebody saw it, or it will not come
		}
		if lacks == "" {
			v.In++
			continue
		}
		if c.GapReason != "" {
			continue
		}
		v.Cards = append(v.Cards, missingCard{cardWords(c.Key, c.Spare), lacks, gateWords(m.gatesOf(c), m.gatesIn(c.Key.Run, c.Key.Course)), c.Judge, c.Phone})
	}
	// Unfolded is the run that is being photographed: the last one with a card in.
	open := -1
	for i, v := range all {
		if begun := v.In > 0 || slices.ContainsFunc(v.Cards, func(c missingCard) bool { return c.Lacks != bothSides }); begun {
			open = i
		}
	}
	for i := range all {
		all[i].Open = open < 0 && i == 0 || open >= 0 && strings.HasSuffix(all[i].Name, runOf(all[open].Name))
	}
	return all
}

// runOf is the end of a course's name that names its run.
func runOf(name string) string { return name[strings.LastIndex(name, "·")+1:] }

const (
	bothSides = "both sides"
	lacksBack = "back"
)

func lacksOf(c *stack.Card) string {
	switch {
	case c.Paper != nil, c.Front != nil && (c.Back != nil || c.OneSided()):
		return ""
	case c.Front != nil:
		return lacksBack
	case c.Back != nil:
		return "front"
	}
	return bothSides
}

// postPhoto keeps one photo that a script sent as it is, or those of a form. It answers only once the
// originals are on disk.
func (d *Desk) postPhoto(w http.ResponseWriter, r *http.Request, s *session) error {
	if !d.startTaking(s) {
		w.Header().Set("Retry-After", "2")
		return &pageError{http.StatusServiceUnavailable, "Many photos are coming in at once, or this phone has sent very many", "Send it again in a moment."}
	}
	defer d.doneTaking(s)
	kind, params, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil {
		kind = ""
	}
	switch kind {
	case "application/octet-stream":
		name, err := url.PathUnescape(r.Header.Get("Gatefold-Name"))
		if err != nil {
			name = ""
		}
		if r.ContentLength > maxPhoto {
			return d.failPhoto(w, &http.MaxBytesError{Limit: maxPhoto})
		}
		id, err := d.keepPhoto(r.Context(), s, name, r.Body, r.ContentLength)
		if err != nil {
			return d.failPhoto(w, err)
		}
		all, err := d.verdicts(r.Context(), s, []string{id})
		if err != nil {
			return d.failPhoto(w, err)
		}
		return sendJSON(w, http.StatusOK, d.inLanguage(all)[0])
	case "multipart/form-data":
		ids, err := d.keepForm(r, s, multipart.NewReader(r.Body, params["boundary"]))
		if err != nil {
			return photoError(err)
		}
		if len(ids) == 0 {
			return &pageError{http.StatusUnprocessableEntity, "No photo was chosen", "Go back and choose one."}
		}
		return see(w, r, "/photos?"+url.Values{"sent": ids}.Encode())
	}
	return &pageError{http.StatusUnsupportedMediaType, "What was sent is no photo", "Send it from the page Photos."}
}

func (d *Desk) keepForm(r *http.Request, s *session, form *multipart.Reader) (ids []string, err error) {
	for {
		part, err := form.NextPart()
		if errors.Is(err, io.EOF) {
			return ids, nil
		}
		if err != nil {
			return ids, fmt.Errorf("%w: %w", store.ErrTruncated, err)
		}
		if part.FileName() == "" {
			continue
		}
		id, err := d.keepPhoto(r.Context(), s, part.FileName(), part, -1)
		if err != nil {
			return ids, err
		}
		ids = append(ids, id)
	}
}

// errNoPicture says that a file doesn't begin as any photo does.
var errNoPicture = errors.New("no photo")

// keepPhoto keeps an original and has it read. A photo that was there before is the same photo.
func (d *Desk) keepPhoto(ctx context.Context, s *session, name string, body io.Reader, size int64) (string, error) {
	head := make([]byte, 16)
	n, err := io.ReadFull(body, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) && !errors.Is(err, io.EOF) {
		return "", fmt.Errorf("%w: %w", store.ErrTruncated, err)
	}
	if !store.LooksLikePhoto(head[:n]) {
		return "", errNoPicture
	}
	p, known, err := d.opt.Store.AddPhoto(ctx, name, io.MultiReader(bytes.NewReader(head[:n]), body), size, time.Time{})
	if err != nil {
		return "", err
	}
	d.mu.Lock()
	d.took[s.device()]++
	d.mu.Unlock()
	if !known || p.Fate != store.FateAccepted {
		d.opt.Taker.Take(p.ID)
	}
	return p.ID, nil
}

// device names what a person sits at.
func (s *session) device() string {
	if s.phone == nil {
		return ""
	}
	return s.phone.ID
}

func (d *Desk) startTaking(s *session) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	all := 0
	for _, n := range d.taking {
		all += n
	}
	if all >= maxTaking || d.taking[s.device()] >= maxTakingOne || d.took[s.device()] >= maxPerPhone {
		return false
	}
	d.taking[s.device()]++
	return true
}

func (d *Desk) doneTaking(s *session) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.taking[s.device()]--; d.taking[s.device()] == 0 {
		delete(d.taking, s.device())
	}
}

// photoError says what is wrong with what was sent, where it is the sender's to mend.
func photoError(err error) error {
	var tooLong *http.MaxBytesError
	switch {
	case errors.As(err, &tooLong):
		return &pageError{http.StatusRequestEntityTooLarge, fmt.Sprintf("The photo has more than %d MB", maxPhoto>>20), "Let the phone make smaller ones."}
	case errors.Is(err, errNoPicture):
		return &pageError{http.StatusUnsupportedMediaType, "This is no photo that gatefold knows", "Send JPEG, HEIC, PNG, TIFF or PDF."}
	case errors.Is(err, store.ErrTruncated):
		return &pageError{http.StatusBadRequest, "The photo didn't arrive whole", "Send it again."}
	}
	return err
}

// failPhoto tells a script. Anything that isn't the photo's fault is to be tried again.
func (d *Desk) failPhoto(w http.ResponseWriter, err error) error {
	var known *pageError
	if errors.As(photoError(err), &known) {
		v := verdict{State: verdictRefused, Words: []string{known.what}, Do: []string{known.remedy}}
		if known.status == http.StatusBadRequest {
			v.State = verdictUnknown
		}
		return sendJSON(w, known.status, d.inLanguage([]verdict{v})[0])
	}
	return err
}

func sendJSON(w http.ResponseWriter, status int, v any) error {
	b, err := json.Marshal(v)
	if err != nil {
		return err
	}
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(status)
	_, _ = w.Write(b) // the browser has gone: there is nobody left to tell
	return nil
}

// showSeen tells a phone's script what became of photos it sent.
func (d *Desk) showSeen(w http.ResponseWriter, r *http.Request, s *session) error {
	all, err := d.verdicts(r.Context(), s, r.URL.Query()["id"])
	if err != nil {
		return err
	}
	return sendJSON(w, http.StatusOK, d.inLanguage(all))
}

// inLanguage puts what a script will show into the language of the pages. Templates do so themselves.
func (d *Desk) inLanguage(all []verdict) []verdict {
	for i := range all {
		for _, texts := range [][]string{all[i].Words, all[i].Do} {
			for k := range texts {
				texts[k] = d.opt.Language.Text(texts[k])
			}
		}
	}
	return all
}

// verdicts says of photos what the person holding the card has to know: which card it was and whether it
// can be used. Nothing of what stands on a card is in it.
func (d *Desk) verdicts(ctx context.Context, s *session, ids []string) ([]verdict, error) {
	sheets, err := d.opt.Store.Sheets(ctx)
	if err != nil {
		return nil, err
	}
	all := []verdict{}
	for _, id := range ids {
		p, err := d.opt.Store.Photo(ctx, id)
		if errors.Is(err, store.ErrNotFound) {
			all = append(all, verdict{ID: id, State: verdictUnknown})
			continue
		}
		if err != nil {
			return nil, err
		}
		all = append(all, d.verdict(s, p, sheets))
	}
	return all, nil
}

// faultFor says why a photo, or with an empty name any photo, could not be read; empty: nothing is known. As on error pages, a
// phone that doesn't settle isn't told a line of the race's files, or a place on the disk.
func (d *Desk) faultFor(s *session, photo string) string {
	why := d.opt.Taker.Fault(photo)
	if why != "" && s.roles().Nameless() {
		return "the laptop can't read photos just now; whoever sits there is told why"
	}
	return why
}

func (d *Desk) verdict(by *session, p store.Photo, sheets []store.Sheet) verdict {
	v := verdict{ID: p.ID, State: verdictGood}
	switch p.Fate {
	case store.FateUnread:
		v.State = verdictReading
		if why := cmp.Or(d.faultFor(by, p.ID), d.faultFor(by, "")); why != "" {
			v.State, v.Words = verdictUnread, []string{why}
		}
		return v
	case store.FateRefused:
		v.State = verdictRefused
		if p.Refusal != nil {
			v.Words, v.Do = []string{sentence(p.Refusal.Detail)}, []string{sentence(p.Refusal.Remedy)}
		}
		return v
	case store.FateAccepted:
	}
	for _, s := range sheets {
		if s.Photo != p.ID {
			continue
		}
		words := sideWords(s)
		if s.Undecided() {
			if !slices.Contains(v.Words, words) { // once for all the forms that it may be
				v.Words = append(v.Words, words)
			}
			continue
		}
		if len(s.Quality.Flaws) == 0 {
			v.Words = append(v.Words, words+": good")
			continue
		}
		v.State = verdictFlawed
		var flaws []string
		for _, f := range s.Quality.Flaws {
			flaws = append(flaws, f.Detail)
			v.Do = append(v.Do, sentence(f.Remedy))
		}
		v.Words = append(v.Words, words+": usable, but "+strings.Join(flaws, "; "))
	}
	for _, why := range p.Further {
		v.State = verdictFlawed
		v.Words = append(v.Words, "a further card in the picture is not used: "+why.Detail)
		v.Do = append(v.Do, sentence(why.Remedy))
	}
	return v
}

// sideWords names a side of a card as people call it across a table.
func sideWords(s store.Sheet) string {
	if s.Undecided() {
		return "a card whose print fits several forms (the desk asks which)"
	}
	if !s.Named() && s.Code.Card > 0 {
		return fmt.Sprintf("%s of card %d, which two papers are (the desk asks which this is)", s.Side, s.Code.Card)
	}
	if !s.Named() {
		return fmt.Sprintf("%s of a card that carries no number a machine reads (the desk asks which)", s.Side)
	}
	if s.Card.Run == 0 {
		return fmt.Sprintf("spare card %d, %s", s.Card.Card, s.Side)
	}
	return fmt.Sprintf("card %d, run %d, %s", s.Card.Card, s.Card.Run, s.Side)
}
