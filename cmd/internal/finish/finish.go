// Package finish lets a person finish the layout of a card of another make on a page in their browser.
//
//	Draft (layout, pictures, what is unsure) --page--> moved, split, named, linted --Save--> layout
//
// The page is served on this computer only. What it sends is a whole layout; the server holds the last one that was kept
// and writes nothing itself. Safe for concurrent use.
package finish

import (
	"bytes"
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"io/fs"
	"net"
	"net/http"
	"strings"

	"gatefold/review/web"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/propose"
)

// Draft is what the page starts from.
type Draft struct {
	Layout *sheetmodel.Layout
	Sides  map[sheetmodel.SideName]Side
}

// Side is a blank side: its picture, which the layout's millimetres fill, and what to look at first.
type Side struct {
	Picture *image.Gray
	Unsure  []string
}

// Options are the page's outside world.
type Options struct {
	Draft Draft
	// Save keeps a layout that a person pressed Save for. Its error is shown to them.
	Save func(*sheetmodel.Layout) error
	// Done is called once somebody says that they have finished.
	Done func()
}

//go:embed web
var files embed.FS

// maxLayout bounds what is sent: a thousand fields with options have a tenth of it.
const maxLayout = 8 << 20

// Handler returns the page. Only names of this computer itself lead to it.
func Handler(opt Options) (http.Handler, error) {
	own, err := fs.Sub(files, "web")
	if err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	for _, shared := range []string{"tokens.css", "page.css", "mark.svg"} { // as on the desk's pages
		mux.Handle("GET /static/"+shared, http.StripPrefix("/static/", http.FileServerFS(web.Static())))
	}
	mux.HandleFunc("GET /{$}", func(w http.ResponseWriter, r *http.Request) { http.ServeFileFS(w, r, own, "finish.html") })
	for _, name := range []string{"finish.js", "fields.js", "means.js", "finish.css"} {
		mux.HandleFunc("GET /static/"+name, func(w http.ResponseWriter, r *http.Request) { http.ServeFileFS(w, r, own, name) })
	}
	for name, s := range opt.Draft.Sides {
		var text bytes.Buffer
		if err := png.Encode(&text, s.Picture); err != nil {
			return nil, err
		}
		mux.HandleFunc("GET /picture/"+string(name), func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", "image/png")
			_, _ = w.Write(text.Bytes()) // the browser has gone: there is nobody left to tell
		})
	}
	mux.HandleFunc("GET /draft", func(w http.ResponseWriter, _ *http.Request) { sendDraft(w, opt.Draft) })
	mux.HandleFunc("POST /lint", func(w http.ResponseWriter, r *http.Request) {
		l, err := read(r)
		if err != nil {
			refuse(w, err)
			return
		}
		send(w, map[string]any{"found": append([]sheetmodel.Weak{}, sheetmodel.Weaknesses(l)...)})
	})
	mux.HandleFunc("POST /save", func(w http.ResponseWriter, r *http.Request) {
		l, err := read(r)
		if err == nil {
			err = sound(l)
		}
		if err == nil {
			err = opt.Save(l)
		}
		if err != nil {
			refuse(w, err)
			return
		}
		send(w, map[string]any{"saved": true, "found": append([]sheetmodel.Weak{}, sheetmodel.Weaknesses(l)...)})
	})
	mux.HandleFunc("POST /done", func(w http.ResponseWriter, _ *http.Request) {
		send(w, map[string]any{"done": true})
		opt.Done()
	})
	return harden(mux), nil
}

// draftView is what the page's script is given.
type draftView struct {
	Layout   *sheetmodel.Layout                     `json:"layout"`
	Unsure   map[sheetmodel.SideName][]string       `json:"unsure"`
	Written  []propose.Written                      `json:"written"`
	Kinds    []sheetmodel.Kind                      `json:"kinds"`
	Grammars []sheetmodel.Grammar                   `json:"grammars"`
	Boxes    map[sheetmodel.Kind]sheetmodel.Grammar `json:"boxes"` // the grammar of kinds whose part doesn't matter
}

func sendDraft(w http.ResponseWriter, d Draft) {
	v := draftView{
		Layout: d.Layout, Unsure: map[sheetmodel.SideName][]string{}, Written: propose.HowWritten(), Kinds: sheetmodel.Kinds, Grammars: sheetmodel.Grammars,
		Boxes: map[sheetmodel.Kind]sheetmodel.Grammar{
			sheetmodel.Tick: sheetmodel.GrammarMark, sheetmodel.Drawing: sheetmodel.GrammarDrawing, sheetmodel.Choice: sheetmodel.GrammarWord,
		},
	}
	for name, s := range d.Sides {
		v.Unsure[name] = append([]string{}, s.Unsure...)
	}
	send(w, v)
}

func read(r *http.Request) (*sheetmodel.Layout, error) {
	d := json.NewDecoder(http.MaxBytesReader(nil, r.Body, maxLayout))
	d.DisallowUnknownFields()
	l := &sheetmodel.Layout{}
	if err := d.Decode(l); err != nil {
		return nil, fmt.Errorf("what the page sent is no layout: %w; load it again", err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("what the page sent is more than a layout; load it again")
	}
	return l, nil
}

// sound returns what would keep a file with this layout from being read again.
func sound(l *sheetmodel.Layout) error {
	text, err := sheetmodel.EncodeDraft(l)
	if err != nil {
		return err
	}
	_, err = sheetmodel.ParseLayout("the layout", text)
	return err
}

func send(w http.ResponseWriter, v any) {
	text, err := json.Marshal(v)
	if err != nil {
		http.Error(w, err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "application/json")
	_, _ = w.Write(text) // the browser has gone: there is nobody left to tell
}

func refuse(w http.ResponseWriter, err error) {
	w.Header().Set("Content-Type", "application/json")
	w.WriteHeader(http.StatusUnprocessableEntity)
	text, _ := json.Marshal(map[string]string{"wrong": err.Error()}) // a string always marshals
	_, _ = w.Write(text)                                             // the browser has gone: there is nobody left to tell
}

// harden lets nothing from elsewhere run in the page, no other site send to it, and no other name than this computer's
// own lead to it.
func harden(next http.Handler) http.Handler {
	guarded := http.NewCrossOriginProtection().Handler(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'self'; object-src 'none'; frame-ancestors 'none'; base-uri 'none'; form-action 'self'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cache-Control", "no-store")
		if !ownName(r.Host) {
			http.Error(w, "This page doesn't answer to that name; open it by the address that gatefold printed.", http.StatusForbidden)
			return
		}
		guarded.ServeHTTP(w, r)
	})
}

// ownName reports whether a host is this computer by itself. Any other name may be another site's whose DNS points here.
func ownName(host string) bool {
	name, _, err := net.SplitHostPort(host)
	if err != nil {
		name = strings.Trim(host, "[]")
	}
	ip := net.ParseIP(name)
	return strings.EqualFold(name, "localhost") || ip != nil && ip.IsLoopback()
}
