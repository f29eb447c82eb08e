package review

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"html/template"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode"

	"gatefold/review/crop"
	"gatefold/review/say"
	"gatefold/review/store"
	"gatefold/review/web"
	"gatefold/sheetmodel"
)

// Options are the desk's outside world; none may be nil.
type Options struct {
	// Race returns the race as its folder stands now: judges are placed while the desk is open.
	Race   func() (*sheetmodel.Race, error)
	Store  *store.Store
	Layout func(hash string) *sheetmodel.Layout // by content hash; returns nil where there is none
	// Blank names the file, a PNG, that shows one side of a layout of another make with nothing written on it, by content
	// hash; empty where there is none. Nil: there are none.
	Blank  func(hash string, side sheetmodel.SideName) string
	Now    func() time.Time
	Random io.Reader // for the names of sessions
	// Host is a name under which the desk was asked to listen, beside the loopback; may be empty.
	Host string
	// Network says how phones reach the desk; nil: they don't.
	Network *Network
	// Taker reads photos that come in through the page; nil: none do.
	Taker Taker
	// Language is that of the pages; nil: English. Lists and archives stay English.
	Language *say.Catalogue
	// SavePlace keeps who stands where; nil: that is written into the race's files by hand only.
	SavePlace SavePlace
}

// Desk serves the pages of one race. Safe for concurrent use.
type Desk struct {
	opt     Options
	cutter  *crop.Cutter
	pages   map[string]*template.Template
	pairing *pairing // nil: no phones
	started string   // tells the pages of this desk from those of one that was here before

	looking sync.Mutex // held by the one who makes a new moment
	logging sync.Mutex // held while the log of what is sent grows
	places  sync.Mutex // held while a place is kept
	answers sync.Mutex // held while an answer is looked at and kept: of two at one instant the second is told, and no line gets two clocks

	mu       sync.Mutex
	sessions map[string]*session
	told     told
	latest   *moment
	// latestHead is the store's head when latest was looked at. It is no part of the moment: those who hold one read it
	// without a lock.
	latestHead int64
	moments    int64
	taking     map[string]int              // photos that are coming in now, by phone
	took       map[string]int              // photos that came in, by phone
	holds      map[string]hold             // of entries, by the reading's key
	toLog      []*toServe                  // waits for the log
	views      map[int64]map[string]string // what was in view of each question, by the number of the moment that a page showed
	live       int                         // pages that listen

	closing chan struct{} // closed by HangUp
	hangUp  sync.Once
}

// New returns a desk. The error is that of the store's log, which the desk reads once to know who was
// told what.
func New(ctx context.Context, opt Options) (*Desk, error) {
	pages, err := web.Pages(words, opt.Language)
	if err != nil {
		return nil, err
	}
	log, err := opt.Store.ServedLog(ctx)
	if err != nil {
		return nil, err
	}
	d := &Desk{
		opt: opt, started: strconv.FormatInt(opt.Now().UnixNano(), 36), views: map[int64]map[string]string{}, pages: pages, sessions: map[string]*session{}, told: told{}, took: map[string]int{}, taking: map[string]int{}, holds: map[string]hold{}, closing: make(chan struct{}),
		cutter: &crop.Cutter{Open: func(file string) (io.ReadCloser, error) { return opt.Store.OpenFile(file) }},
	}
	for _, v := range log {
		d.told.note(v)
	}
	if opt.Network != nil {
		d.pairing = &pairing{now: opt.Now, random: opt.Random}
	}
	return d, nil
}

// Handler returns the pages for whoever sits at the laptop.
func (d *Desk) Handler() http.Handler {
	return d.through(door{cookie: cookieName, start: "/who", names: []string{d.opt.Host}})
}

// route is a page or a form, and who may use it: those who hold one of the roles. Without one, anybody may.
type route struct {
	pattern string
	may     role
	run     func(http.ResponseWriter, *http.Request, *session) error
}

// routes are in the order in which a person meets them.
func (d *Desk) routes() []route {
	return []route{
		{"GET /who", anybody, d.showWho}, // who sits here
		{"POST /who", anybody, d.postWho},
		{"GET /{$}", roleSettle | roleView, d.showStack}, // what is in, what is missing
		{"GET /live", roleSettle | roleView, d.showLive}, // what has moved since a page was made
		{"GET /tour", roleSettle, d.showTour},
		{"GET /card/{card...}", roleSettle, d.showCard},
		{"POST /bind/{card...}", roleSettle, d.postBind},
		{"POST /gap/{card...}", roleSettle, d.postGap},
		{"POST /empties", roleSettle, d.postEmpties}, // cards without a row, seen so
		{"POST /back/{card...}", roleSettle, d.postBack},
		{"POST /addrow/{card...}", roleSettle, d.postAddRow}, // that a reader missed
		{"POST /strike/{card...}", roleSettle, d.postStrike},
		{"POST /paper/{card...}", roleSettle, d.postPaper},
		{"GET /next", roleSettle, d.showNext}, // what only a person can settle
		{"GET /entry/{key...}", roleSettle, d.showEntry},
		{"POST /entry/{key...}", roleSettle, d.postEntry},
		{"GET /readback", roleHear | roleSettle, d.showReadBacks}, // what judges read aloud
		{"GET /readback/{card...}", roleHear | roleSettle, d.showReadBack},
		{"POST /readback/{card...}", roleHear | roleSettle, d.postReadBack},
		{"POST /undo", roleHear | roleSettle, d.postUndo},
		{"POST /redo", roleHear | roleSettle, d.postRedo},
		{"GET /spot", roleSettle, d.showSpot}, // what lot gives to a person all the same
		{"GET /ink/{sheet}/{what}", roleSettle | roleView, d.showInk},
		{"GET /questions", roleSettle, d.showQuestions}, // what the rules ask
		{"POST /questions", roleSettle, d.postQuestion},
		{"POST /head", roleSettle, d.postHead},
		{"POST /which", roleSettle, d.postWhich},      // which card a side without an identity is
		{"GET /form/{sheet}", roleSettle, d.showForm}, // the blank form that it may be
		{"GET /heard", roleSettle, d.showHeard},       // what came by radio or voice
		{"POST /heard", roleSettle, d.postHeard},
		{"GET /draft", roleSettle | roleView, d.showDraft}, // what goes to the referee
		{"GET /draft/{file}", roleSettle, d.showDownload},
		{"GET /posting", roleSettle | roleView, d.showPosting}, // what is public, and until when
		{"POST /posting", roleSettle, d.postPosting},
		{"GET /why", roleSettle, d.showWhy}, // of one bib
		{"GET /packet", roleSettle, d.showPacket},
		{"GET /packet/pdf", roleSettle, d.showPacketPDF},
		{"POST /packet", roleSettle, d.postPacket}, // what referee and jury did
		{"GET /coach", roleSettle, d.showCoach},
		{"GET /coach/{file}", roleSettle, d.showCoachFile},
		{"/", anybody, d.showNothing},
	}
}

// door is a way in: the laptop's own, or the network's.
type door struct {
	cookie string   // that holds a session's secret
	start  string   // the page for somebody without a session
	names  []string // under which it is reached beside its address
	phones bool     // only phones that were paired come in
	scheme string   // of the phones' addresses
}

// through returns all routes that lead through a door.
func (d *Desk) through(in door) http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /static/{file}", http.StripPrefix("/static/", http.FileServerFS(web.Static())))
	all := d.routes()
	switch {
	case in.phones:
		all = append(all, route{"GET /pair", anybody, d.showPair}, route{"POST /pair", anybody, d.postPair})
	case d.pairing != nil:
		all = append(all, route{"GET /phones", allRoles, d.showPhones}, route{"POST /phones", allRoles, d.postPhones})
	default:
		all = append(all, route{"GET /phones", allRoles, d.showNoPhones})
	}
	if d.opt.Taker != nil {
		all = append(all,
			route{"GET /photos", rolePhotos, d.showPhotos}, // what comes in from the finish
			route{takePattern, rolePhotos, d.postPhoto},
			route{"GET /photos/seen", rolePhotos, d.showSeen})
	}
	if d.opt.SavePlace != nil {
		all = append(all, route{"GET /placing", rolePhotos | roleSettle, d.showPlacing}, route{"POST /placing", rolePhotos | roleSettle, d.postPlacing})
	}
	for _, r := range all {
		mux.Handle(r.pattern, d.wrap(in, r))
	}
	return d.harden(mux, in)
}

// HTTP returns a server for the handler with time limits that suit a page on one laptop.
func HTTP(h http.Handler) *http.Server {
	return &http.Server{
		Handler: h, ReadHeaderTimeout: 5 * time.Second, ReadTimeout: 30 * time.Second,
		WriteTimeout: 60 * time.Second, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 64 << 10,
	}
}

// maxForm bounds a posted form; the longest holds a reason of a few lines.
const maxForm = 64 << 10

// harden adds what every answer has: nothing from elsewhere runs in a page, no other site posts here,
// and no other name than this laptop's own leads here.
func (d *Desk) harden(next http.Handler, in door) http.Handler {
	protection := http.NewCrossOriginProtection()
	protection.SetDenyHandler(http.HandlerFunc(d.foreignForm))
	guarded := protection.Handler(next)
	if in.phones {
		guarded = d.ownForms(guarded, in.scheme)
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'self'; object-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'self'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		if in.phones {
			// A browser that may not name a referrer says "Origin: null" of our own forms. On the laptop it also
			// says Sec-Fetch-Site; over plain HTTP it doesn't, and the origin is all that there is.
			h.Set("Referrer-Policy", "same-origin")
		} else {
			h.Set("Cross-Origin-Opener-Policy", "same-origin") // which counts at trusted addresses only
		}
		h.Set("Cache-Control", "no-store")
		if in.phones && !nearby(r) {
			d.away(w, &pageError{http.StatusForbidden, "This page is for phones in the laptop's own network",
				"Join the hotspot or Wi-Fi that the laptop is in, and open the page by scanning the code that the laptop shows under Phones. Nothing was kept."}, "")
			return
		}
		if !ownHost(r, in.names) {
			d.away(w, &pageError{http.StatusForbidden, "This page doesn't answer to that name",
				"Open it by the address that gatefold printed where it was started, or scan the code that the laptop shows under Phones. Nothing was kept."}, d.addressFor(r, in))
			return
		}
		guarded.ServeHTTP(w, r)
	})
}

// addressFor is where the page can be opened that was asked for under a wrong name; empty where it isn't known.
func (d *Desk) addressFor(r *http.Request, in door) string {
	if in.phones {
		if all := d.opt.Network.Addresses(); len(all) > 0 {
			return all[0] + "/"
		}
		return ""
	}
	local, ok := r.Context().Value(http.LocalAddrContextKey).(*net.TCPAddr)
	if !ok || !local.IP.IsLoopback() {
		return ""
	}
	return "http://" + local.String() + "/"
}

// away turns a request away whose sender may be anybody: the page names neither race nor people, and loads nothing.
func (d *Desk) away(w http.ResponseWriter, why *pageError, address string) {
	var b bytes.Buffer
	view := failView{frame: frame{Title: "Not possible"}, What: why.what, Remedy: why.remedy, Address: address}
	if err := d.pages["fail"].ExecuteTemplate(&b, "away", view); err != nil {
		http.Error(w, why.Error(), why.status)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(why.status)
	_, _ = w.Write(b.Bytes()) // the browser has gone: there is nobody left to tell
}

// foreignForm refuses a form that another site, or another program, has sent through a person's browser.
func (d *Desk) foreignForm(w http.ResponseWriter, r *http.Request) {
	d.fail(w, r, nil, &pageError{http.StatusForbidden, "This form was not sent by a page of this desk", "Nothing was kept. Open the page here and send it again."})
}

// ownHost lets through what this laptop is called by itself: the loopback, the address that the request
// came in at, and the name it was told to listen under. Any other name may be another site's whose DNS
// points here.
func ownHost(r *http.Request, told []string) bool {
	name, _, err := net.SplitHostPort(r.Host)
	if err != nil {
		name = strings.TrimSuffix(strings.TrimPrefix(r.Host, "["), "]")
	}
	if slices.ContainsFunc(told, func(t string) bool { return t != "" && strings.EqualFold(name, t) }) {
		return true
	}
	local, ok := r.Context().Value(http.LocalAddrContextKey).(*net.TCPAddr)
	here := !ok || local.IP.IsLoopback() // whoever asks is on this laptop
	if strings.EqualFold(name, "localhost") {
		return here
	}
	ip := net.ParseIP(name)
	if ip == nil {
		return false
	}
	return here && ip.IsLoopback() || ok && ip.Equal(local.IP)
}

// localPath returns to if it is the path of one of our own pages, else the stack's.
func localPath(to string) string {
	u, err := url.Parse(to)
	odd := func(r rune) bool { return unicode.IsControl(r) || r == '\\' }
	switch {
	case err != nil, u.Scheme != "", u.Host != "", u.User != nil, u.Opaque != "":
	case !strings.HasPrefix(to, "/"), strings.HasPrefix(to, "//"), strings.ContainsFunc(to, odd), strings.ContainsFunc(u.Path, odd),
		strings.HasPrefix(u.Path, "//"), u.Path == "/who", u.Path == "/pair":
	default:
		return to
	}
	return "/"
}

// wrap gives a page its session, keeps out who may not see it, and turns its error into a page that says
// what to do.
func (d *Desk) wrap(in door, to route) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s := d.session(r, in)
		if err := d.letIn(w, r, in, to, s); err != nil {
			if !errors.Is(err, errSentOn) {
				d.fail(w, r, s, err)
			}
			return
		}
		var err error
		if to.pattern == takePattern {
			// A photo is no form: whatever it says it is, it is never read into memory as one.
			r.Body = http.MaxBytesReader(w, r.Body, maxPhoto)
		} else {
			r.Body = http.MaxBytesReader(w, r.Body, maxForm)
			err = readForm(r)
		}
		if err == nil {
			err = to.run(w, r, s)
		}
		if err != nil {
			d.fail(w, r, s, err)
		}
	})
}

// errSentOn says that the browser was already sent to another page.
var errSentOn = errors.New("sent on")

// letIn returns an error unless a session may use a route.
func (d *Desk) letIn(w http.ResponseWriter, r *http.Request, in door, to route, s *session) error {
	switch {
	case s == nil && r.URL.Path == in.start:
		return nil
	case s == nil && in.phones:
		if r.Method != http.MethodGet && r.Method != http.MethodHead {
			return &pageError{http.StatusUnauthorized, "This phone is not paired", "Your last step was not kept. Scan the code that the laptop shows under Phones, and do it again."}
		}
		http.Redirect(w, r, in.start, http.StatusSeeOther)
		return errSentOn
	case s == nil:
		if r.Method != http.MethodGet {
			return &pageError{http.StatusUnauthorized, nobodyNamed, "Your last step was not kept. Enter your name and do it again."}
		}
		http.Redirect(w, r, in.start+"?to="+url.QueryEscape(r.URL.EscapedPath()), http.StatusSeeOther)
		return errSentOn
	case to.may == anybody || s.roles()&to.may != 0:
		return nil
	case r.Method == http.MethodGet && r.URL.Path == "/":
		http.Redirect(w, r, s.roles().home(), http.StatusSeeOther)
		return errSentOn
	}
	return &pageError{http.StatusForbidden, "This phone was not paired for that", "It may " + s.roles().String() + ". Whoever sits at the laptop can pair it for more, under Phones."}
}

// readForm reads what was sent; an address or a form that is no form is the sender's fault.
func readForm(r *http.Request) error {
	err := r.ParseForm()
	var tooLong *http.MaxBytesError
	if err == nil || errors.As(err, &tooLong) {
		return err
	}
	return &pageError{http.StatusBadRequest, "What was sent can't be read", "Nothing was kept. Go back, open the page again by its link and send it once more."}
}

// render writes a page to memory first, so that half a page is never sent.
func (d *Desk) render(w http.ResponseWriter, name string, status int, view any) error {
	var b bytes.Buffer
	if err := d.pages[name].Execute(&b, view); err != nil {
		return fmt.Errorf("page %s: %w", name, err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes()) // the browser has gone: there is nobody left to tell
	return nil
}

// renderPart writes a part of a page, for a script that puts it in place.
func (d *Desk) renderPart(w http.ResponseWriter, name, part string, view any) error {
	var b bytes.Buffer
	if err := d.pages[name].ExecuteTemplate(&b, part, view); err != nil {
		return fmt.Errorf("page %s, %s: %w", name, part, err)
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	_, _ = w.Write(b.Bytes()) // the browser has gone: there is nobody left to tell
	return nil
}

// pageError is an error that has a page of its own: what is wrong, and what to do.
type pageError struct {
	status int
	what   string
	remedy string
}

func (e *pageError) Error() string { return e.what + "; " + e.remedy }

type failView struct {
	frame
	What, Remedy string
	Name         string // page that asks for a name; empty: a name is not what is missing
	Address      string // where the page answers; empty: where it was asked for, or nobody knows
}

// nobodyNamed is what somebody is told whose session is over, or was never begun.
const nobodyNamed = "Nobody is named at this desk"

func (d *Desk) fail(w http.ResponseWriter, r *http.Request, s *session, err error) {
	var known *pageError
	var tooLong *http.MaxBytesError
	switch {
	case errors.As(err, &known):
	case errors.As(err, &tooLong):
		known = &pageError{http.StatusRequestEntityTooLarge, "That was too much text for one form", "Shorten it and send it again."}
	case errors.Is(err, store.ErrNotFound), errors.Is(err, os.ErrNotExist):
		known = &pageError{http.StatusNotFound, "Nothing in this race has this address", "Go back to the stack; the card may have been photographed again."}
	case r.Context().Err() != nil:
		return // the browser has gone
	default:
		known = &pageError{http.StatusInternalServerError, sentence(err.Error()), "Nothing was lost that was settled before. Try again; if it stays, close gatefold and open it anew."}
	}
	if known.status == http.StatusInternalServerError && s != nil && s.roles().Nameless() {
		// What is wrong with a file or the disk is told with a line of it or its place, which may name somebody.
		known = &pageError{known.status, "The laptop can't do that just now", "Whoever sits at the laptop opens this page there and is told what is wrong. Nothing is lost that was kept before."}
	}
	view := failView{frame: frame{Title: "Not possible", Race: "gatefold"}, What: known.what, Remedy: known.remedy}
	if known.what == nobodyNamed {
		view.Name = "/who"
		if strings.HasPrefix(r.URL.Path, "/entry/") { // it can be looked at too: back to what was being typed
			view.Name += "?to=" + url.QueryEscape(r.URL.EscapedPath())
		}
	}
	if s != nil {
		if m, err := d.now(r.Context()); err == nil {
			view.frame = d.framed(s, m, "Not possible", "")
		}
	}
	if err := d.render(w, "fail", known.status, view); err != nil {
		http.Error(w, known.Error(), known.status)
	}
}

func (d *Desk) showNothing(http.ResponseWriter, *http.Request, *session) error {
	return &pageError{http.StatusNotFound, "There is no such page", "Use the links above."}
}

// showNoPhones says how to let phones in.
func (d *Desk) showNoPhones(http.ResponseWriter, *http.Request, *session) error {
	return &pageError{http.StatusNotFound, "No phones are let in at this desk", "It was opened for this laptop alone. Close it with Ctrl+C where it runs and open it with: gatefold desk RACE --network. Nothing is lost; then pair phones on this page."}
}

// see sends the browser on after a form was accepted.
func see(w http.ResponseWriter, r *http.Request, to string) error {
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}
