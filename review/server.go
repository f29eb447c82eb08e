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
	"sync"
	"time"

	"gatefold/review/crop"
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
	Now    func() time.Time
	Random io.Reader // for the names of sessions
}

// Desk serves the pages of one race. Safe for concurrent use.
type Desk struct {
	opt    Options
	cutter *crop.Cutter
	pages  map[string]*template.Template

	mu       sync.Mutex
	sessions map[string]*session
	told     told
	latest   *moment
}

// New returns a desk. The error is that of the store's log, which the desk reads once to know who was
// told what.
func New(ctx context.Context, opt Options) (*Desk, error) {
	pages, err := web.Pages(words)
	if err != nil {
		return nil, err
	}
	log, err := opt.Store.ServedLog(ctx)
	if err != nil {
		return nil, err
	}
	d := &Desk{
		opt: opt, pages: pages, sessions: map[string]*session{}, told: told{},
		cutter: &crop.Cutter{Open: func(file string) (io.ReadCloser, error) { return opt.Store.OpenFile(file) }},
	}
	for _, v := range log {
		d.told.note(v)
	}
	return d, nil
}

// Handler returns all routes, in the order in which a person meets them.
func (d *Desk) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /static/{file}", http.StripPrefix("/static/", http.FileServerFS(web.Static())))
	for _, r := range []struct {
		pattern string
		run     func(http.ResponseWriter, *http.Request, *session) error
	}{
		{"GET /who", d.showWho}, // who sits here
		{"POST /who", d.postWho},
		{"GET /{$}", d.showStack}, // what is in, what is missing
		{"GET /card/{card...}", d.showCard},
		{"POST /bind/{card...}", d.postBind},
		{"POST /gap/{card...}", d.postGap},
		{"POST /paper/{card...}", d.postPaper},
		{"GET /next", d.showNext}, // what only a person can settle
		{"GET /entry/{key...}", d.showEntry},
		{"POST /entry/{key...}", d.postEntry},
		{"POST /undo", d.postUndo},
		{"GET /ink/{sheet}/{what}", d.showInk},
		{"GET /questions", d.showQuestions}, // what the rules ask
		{"POST /questions", d.postQuestion},
		{"POST /head", d.postHead},
		{"GET /draft", d.showDraft}, // what goes to the referee
		{"GET /draft/{file}", d.showDownload},
		{"/", d.showNothing},
	} {
		mux.Handle(r.pattern, d.wrap(r.run))
	}
	return harden(mux)
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
func harden(next http.Handler) http.Handler {
	guarded := http.NewCrossOriginProtection().Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'self'; frame-ancestors 'none'; base-uri 'none'; form-action 'self'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if !ownHost(r.Host) {
			http.Error(w, "This page answers to 127.0.0.1 and localhost only; open it by the address that gatefold printed.", http.StatusMisdirectedRequest)
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, maxForm)
		guarded.ServeHTTP(w, r)
	})
}

// ownHost refuses names that another site's DNS may point at this laptop.
func ownHost(host string) bool {
	name, _, err := net.SplitHostPort(host)
	if err != nil {
		name = host
	}
	return name == "localhost" || net.ParseIP(name) != nil
}

// wrap gives a page its session and turns its error into a page that says what to do.
func (d *Desk) wrap(run func(http.ResponseWriter, *http.Request, *session) error) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s := d.session(r)
		if s == nil && r.URL.Path != "/who" {
			if r.Method == http.MethodGet {
				http.Redirect(w, r, "/who?to="+template.URLQueryEscaper(r.URL.Path), http.StatusSeeOther)
			} else {
				d.fail(w, r, nil, &pageError{http.StatusUnauthorized, "Nobody is named at this desk", "Your last step was not kept. Enter your name and do it again."})
			}
			return
		}
		err := r.ParseForm()
		if err == nil {
			err = run(w, r, s)
		}
		if err != nil {
			d.fail(w, r, s, err)
		}
	})
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
}

func (d *Desk) fail(w http.ResponseWriter, r *http.Request, s *session, err error) {
	var known *pageError
	var tooLong *http.MaxBytesError
	var escape url.EscapeError
	switch {
	case errors.As(err, &known):
	case errors.As(err, &tooLong):
		known = &pageError{http.StatusRequestEntityTooLarge, "That was too much text for one form", "Shorten it and send it again."}
	case errors.As(err, &escape):
		known = &pageError{http.StatusBadRequest, "The form can't be read", "Go back, open the page again and send it once more."}
	case errors.Is(err, store.ErrNotFound), errors.Is(err, os.ErrNotExist):
		known = &pageError{http.StatusNotFound, "This is not in the race's store", "Go back to the stack; the card may have been photographed again."}
	case r.Context().Err() != nil:
		return // the browser has gone
	default:
		known = &pageError{http.StatusInternalServerError, sentence(err.Error()), "Nothing was lost that was settled before. Try again; if it stays, close gatefold and open it anew."}
	}
	view := failView{frame: frame{Title: "Not possible"}, What: known.what, Remedy: known.remedy}
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
	return &pageError{http.StatusNotFound, "There is no such page", "Use the links above: the stack, what waits, the questions, the draft."}
}

// see sends the browser on after a form was accepted.
func see(w http.ResponseWriter, r *http.Request, to string) error {
	http.Redirect(w, r, to, http.StatusSeeOther)
	return nil
}
