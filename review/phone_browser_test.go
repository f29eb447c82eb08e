package review_test

import (
	"context"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

var axe = flag.String("axe", "", "file axe.min.js of the package axe-core, to let it look at the phone's pages")

// readsLater stands for a reader of photos: it finds the side that a photo's first bytes after the mark name.
type readsLater struct {
	t     testing.TB
	table *stacktest.Table
	rows  map[int][]stacktest.Row // what stands on a card; others are blank

	mu     sync.Mutex
	held   bool // photos wait until release
	queue  []string
	cannot string
}

func (r *readsLater) Take(photo string) {
	r.mu.Lock()
	r.queue = append(r.queue, photo)
	held := r.held
	r.mu.Unlock()
	if !held {
		r.release()
	}
}

func (r *readsLater) Fault(photo string) string {
	r.mu.Lock()
	defer r.mu.Unlock()
	if photo == "" {
		return r.cannot
	}
	return ""
}

func (r *readsLater) release() {
	r.mu.Lock()
	queue := r.queue
	r.queue, r.held = nil, false
	r.mu.Unlock()
	for _, photo := range queue {
		p, err := r.table.Store.Photo(context.Background(), photo)
		if !assert.NoError(r.t, err) {
			return
		}
		assert.NoError(r.t, r.read(p))
	}
}

func (r *readsLater) read(p store.Photo) error {
	f, err := r.table.Store.OpenFile(p.File)
	if err != nil {
		return err
	}
	defer f.Close() //nolint:errcheck // it was only read
	head := make([]byte, 64)
	if _, err = io.ReadFull(f, head); err != nil {
		return err
	}
	var card int
	var side string
	if _, err = fmt.Sscanf(string(head[3:]), "card %d %s", &card, &side); err != nil {
		return r.table.Store.Refuse(context.Background(), p.ID, "test reader", store.Refusal{Fault: "marks", Detail: "no registration marks found", Remedy: "retake with the whole card in view"})
	}
	name := sheetmodel.SideName(side)
	sheet := store.NewSheet{
		Part: 1, Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card}, Layout: r.table.Layout.Hash(),
		Identity: sheetmodel.Identity{Run: 1, Course: 1, Card: card, Side: name, Race: sheetmodel.RaceHash(r.table.Race.ID), Layout: r.table.Layout.HashStart()},
		Read:     store.SideRead{Reading: sheetmodel.SheetReading{Side: name, Reader: "test reader"}},
	}
	if rows := r.rows[card]; rows != nil {
		sheet = r.table.Sheets("Blue", card, rows...)[map[sheetmodel.SideName]int{sheetmodel.Front: 0, sheetmodel.Back: 1}[name]]
		sheet.Part = 1
	}
	if strings.Contains(string(head), "glare") {
		sheet.Quality.Flaws = []store.Flaw{{Kind: "glare", Detail: "glare over rows 3 and 4", Remedy: "tilt the card and retake"}}
	}
	return r.table.Store.AddSheets(context.Background(), p.ID, "test reader", []store.NewSheet{sheet})
}

// photoOf is a file that begins like a JPEG and that readsLater knows.
func photoOf(t testing.TB, dir, name, shows string, size int) string {
	t.Helper()
	b := append([]byte("\xff\xd8\xff"+shows+" \n"), make([]byte, size)...)
	r := rand.New(rand.NewPCG(uint64(len(name)), uint64(size)))
	for i := len(shows) + 40; i < len(b); i++ {
		b[i] = byte(r.Uint32())
	}
	file := filepath.Join(dir, name)
	require.NoError(t, os.WriteFile(file, b, 0o600))
	return file
}

// air is the radio between a phone and the laptop: it can break, also while something is on its way.
type air struct {
	t  testing.TB
	l  net.Listener
	to string

	mu    sync.Mutex
	conns map[net.Conn]bool
	gone  atomic.Bool
	deaf  atomic.Bool  // answers don't come back
	left  atomic.Int64 // bytes that still get through to the laptop before it breaks; negative: all
}

func openAir(t testing.TB, to string) *air {
	t.Helper()
	l, err := (&net.ListenConfig{}).Listen(t.Context(), "tcp", "127.0.0.1:0")
	require.NoError(t, err)
	a := &air{t: t, l: l, to: strings.TrimPrefix(to, "http://"), conns: map[net.Conn]bool{}}
	a.left.Store(-1)
	go a.serve()
	t.Cleanup(func() {
		_ = l.Close()
		a.cut()
	})
	return a
}

func (a *air) port() string { _, port, _ := net.SplitHostPort(a.l.Addr().String()); return port }

func (a *air) serve() {
	for {
		phone, err := a.l.Accept()
		if err != nil {
			return
		}
		if a.gone.Load() {
			_ = phone.Close()
			continue
		}
		laptop, err := (&net.Dialer{}).DialContext(context.Background(), "tcp", a.to)
		if err != nil {
			_ = phone.Close()
			continue
		}
		a.mu.Lock()
		a.conns[phone], a.conns[laptop] = true, true
		a.mu.Unlock()
		go a.carry(laptop, phone, true)
		go a.carry(phone, laptop, false)
	}
}

func (a *air) carry(to, from net.Conn, up bool) {
	b := make([]byte, 16<<10)
	for {
		n, err := from.Read(b)
		if up && a.left.Load() >= 0 && a.left.Add(int64(-n)) < 0 {
			a.gone.Store(true)
			a.cut()
			return
		}
		if !up && a.deaf.Load() {
			a.gone.Store(true)
			a.cut()
			return
		}
		if n > 0 {
			if _, werr := to.Write(b[:n]); werr != nil {
				err = werr
			}
		}
		if err != nil {
			_ = to.Close()
			_ = from.Close()
			return
		}
	}
}

func (a *air) cut() {
	a.mu.Lock()
	defer a.mu.Unlock()
	for c := range a.conns {
		_ = c.Close()
	}
	a.conns = map[net.Conn]bool{}
}

func (a *air) breakNow()          { a.gone.Store(true); a.cut() }
func (a *air) breakAfter(n int64) { a.left.Store(n) }
func (a *air) mend()              { a.left.Store(-1); a.deaf.Store(false); a.gone.Store(false) }

// phoneHut is a desk with a reader, reached by a browser of a phone's size through the air, under a name that is
// not the loopback's: browsers trust that less.
type phoneHut struct {
	*hut
	reader *readsLater
	air    *air
	b      *browser
	url    string
}

func openPhoneHut(t *testing.T, b *stacktest.Table) *phoneHut {
	reader := &readsLater{t: t, table: b}
	h := &phoneHut{hut: openHut(t, b, func(o *review.Options) { o.Taker = reader }), reader: reader}
	h.air = openAir(t, h.out.URL)
	h.url = "http://hut-laptop.local:" + h.air.port()
	h.b = startBrowser(t, chromedp.Flag("host-resolver-rules", "MAP hut-laptop.local 127.0.0.1"))
	h.b.do(chromedp.EmulateViewport(390, 780, chromedp.EmulateMobile))
	return h
}

// letIn pairs the browser, as by a scanned square.
func (h *phoneHut) letIn(name string, roles ...string) {
	h.t.Helper()
	code := strings.ReplaceAll(h.code(roles...), "-", "")
	h.b.do(chromedp.Navigate("about:blank"), chromedp.Navigate(h.url+"/pair#"+code))
	h.b.settle()
	require.Equal(h.t, code, eval[string](h.b, `document.getElementById('code').value`), "the square fills the form")
	require.Empty(h.t, eval[string](h.b, `location.hash`), "and the code leaves the address")
	h.b.keys(name + kb.Enter)
	require.NotEqual(h.t, "/pair", eval[string](h.b, `location.pathname`), "let in")
	h.awake()
}

// awake waits until the page of photos, if it is that, takes photos: it has looked at its shelf.
func (h *phoneHut) awake() {
	h.t.Helper()
	h.eventually("the page is awake", func() bool { return eval[bool](h.b, `document.getElementById('asleep')?.hidden ?? true`) })
}

func (h *phoneHut) shots() []string {
	h.t.Helper()
	return eval[[]string](h.b, `[...document.querySelectorAll('#shots li')].map((li) => li.className.replace('shot ', '') + ': ' + [...li.querySelectorAll('strong')].map((s) => s.textContent).join(' '))`)
}

func (h *phoneHut) eventually(want string, check func() bool) {
	h.t.Helper()
	ok := assert.Eventually(h.t, check, 30*time.Second, 100*time.Millisecond, want)
	if !ok {
		h.b.mu.Lock()
		defer h.b.mu.Unlock()
		h.t.Fatal(want, eval[string](h.b, `location.href + ' ' + document.readyState + ' ' + document.querySelector('main')?.textContent.trim().slice(0, 300)`), h.shots(), h.b.faults)
	}
}

func (h *phoneHut) originals() int {
	h.t.Helper()
	photos, err := h.table.Store.Photos(h.t.Context())
	require.NoError(h.t, err)
	return len(photos)
}

// all reports whether n shots are on the page and each begins with one of the states.
func (h *phoneHut) all(n int, states ...string) bool {
	shots := h.shots()
	return len(shots) == n && !slices.ContainsFunc(shots, func(s string) bool {
		return !slices.ContainsFunc(states, func(state string) bool { return strings.HasPrefix(s, state+":") })
	})
}

func TestPhone_InChromium_PhotosSurviveTheHill(t *testing.T) {
	h := openPhoneHut(t, afternoon(t))
	dir := t.TempDir()
	before := h.originals()
	h.letIn("Ida", "photos")
	require.Equal(t, "/photos", eval[string](h.b, `location.pathname`))
	require.False(t, eval[bool](h.b, `isSecureContext`), "nothing may need a secure context")

	// Take one: kept, then read.
	h.reader.held = true
	h.b.do(chromedp.SetUploadFiles(`input[name=one]`, []string{photoOf(t, dir, "IMG_1.jpg", "card 7 front", 200_000)}))
	h.eventually("kept", func() bool { return h.all(1, "reading") })
	require.Equal(t, before+1, h.originals(), "acknowledged is kept")
	h.reader.release()
	h.eventually("read", func() bool { return slices.Equal(h.shots(), []string{"good: card 7, run 1, front: good"}) })
	assert.Contains(t, eval[string](h.b, `document.getElementById('last').textContent`), "card 7, run 1, front: good")
	h.eventually("the list follows", func() bool {
		return strings.Contains(eval[string](h.b, `document.getElementById('lists').textContent`), "Card 7 back")
	})

	// Choose many; the connection breaks in the middle of the second one.
	h.air.breakAfter(500_000)
	h.b.do(chromedp.SetUploadFiles(`input[name=many]`, []string{
		photoOf(t, dir, "IMG_2.jpg", "card 7 back", 300_000), photoOf(t, dir, "IMG_3.jpg", "card 8 front glare", 300_001), photoOf(t, dir, "IMG_4.jpg", "a menu", 300_002),
	}))
	h.eventually("out of reach", func() bool {
		shots := strings.Join(h.shots(), "\n")
		return strings.Count(shots, "pile: not checked yet: second pile") == 2 && eval[bool](h.b, `document.getElementById('away').checkVisibility()`)
	})
	assert.Equal(t, before+2, h.originals(), "half a photo is none")
	h.air.mend()
	h.eventually("late verdicts", func() bool { return h.all(4, "good", "flawed", "refused") })
	shots := strings.Join(h.shots(), "\n")
	assert.Contains(t, shots, "good: card 7, run 1, back: good")
	assert.Contains(t, shots, "flawed: card 8, run 1, front: usable, but glare over rows 3 and 4")
	assert.Contains(t, shots, "refused: No registration marks found.")
	assert.False(t, eval[bool](h.b, `document.getElementById('away').checkVisibility()`))
	require.Equal(t, before+4, h.originals())

	// The laptop keeps a photo, and its answer is lost: sent again, it is the same photo.
	h.air.deaf.Store(true)
	h.b.do(chromedp.SetUploadFiles(`input[name=one]`, []string{photoOf(t, dir, "IMG_5.jpg", "card 9 front", 100_000)}))
	h.eventually("no answer", func() bool { return strings.Contains(strings.Join(h.shots(), "\n"), "second pile") })
	h.air.mend()
	h.eventually("sent again", func() bool { return h.all(5, "good", "flawed", "refused") })
	require.Equal(t, before+5, h.originals())

	// The same photo, chosen again: one line, one original.
	h.b.do(chromedp.SetUploadFiles(`input[name=many]`, []string{filepath.Join(dir, "IMG_5.jpg"), filepath.Join(dir, "IMG_1.jpg")}))
	h.b.settle()
	h.eventually("no doubles", func() bool { return h.all(5, "good", "flawed", "refused") })
	require.Equal(t, before+5, h.originals())

	// Out of reach, and the page is closed with a photo on it; it goes out when the page is opened again.
	h.air.breakNow()
	h.b.do(chromedp.SetUploadFiles(`input[name=one]`, []string{photoOf(t, dir, "IMG_6.jpg", "card 9 back", 100_000)}))
	h.eventually("kept here", func() bool { return strings.Contains(strings.Join(h.shots(), "\n"), "second pile") })
	h.b.do(chromedp.Navigate("about:blank"))
	h.air.mend()
	h.b.do(chromedp.Navigate(h.url + "/photos"))
	h.eventually("sent from the shelf", func() bool { return h.all(6, "good", "flawed", "refused") })
	require.Equal(t, before+6, h.originals())

	// Shut out: the photo stays on the phone, and goes out once the phone is let in again.
	laptop := sit(t, h.here, "Lou")
	id := revokeID.FindStringSubmatch(laptop.get("/phones").body)
	require.NotNil(t, id)
	laptop.send("/phones", formOf("do", "revoke", "id", id[1]))
	h.b.do(chromedp.SetUploadFiles(`input[name=one]`, []string{photoOf(t, dir, "IMG_7.jpg", "card 10 front", 100_000)}))
	h.eventually("shut out", func() bool { return eval[bool](h.b, `document.getElementById('unpaired').checkVisibility()`) })
	h.eventually("on the shelf", func() bool { return len(h.shots()) == 7 })
	require.Equal(t, before+6, h.originals())
	h.letIn("Ida", "photos")
	h.eventually("let in again", func() bool { return h.all(7, "good", "flawed", "refused") })
	require.Equal(t, before+7, h.originals())
}

// A browser that neither opens its database nor says why: the page wakes up, says that it forgets, and sends all the same.
func TestPhone_InChromium_ShelfStaysShut_PhotosGoFromMemory(t *testing.T) {
	h := openPhoneHut(t, afternoon(t))
	before := h.originals()
	h.b.do(chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		_, err := cdp.Call(ctx, target, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: `indexedDB.open = () => ({})`})
		return err
	}))
	h.letIn("Ida", "photos")
	assert.True(t, eval[bool](h.b, `document.getElementById('forgetful').checkVisibility()`))
	h.b.do(chromedp.SetUploadFiles(`input[name=one]`, []string{photoOf(t, t.TempDir(), "IMG_1.jpg", "card 7 front", 100_000)}))
	h.eventually("read", func() bool { return h.all(1, "good") })
	require.Equal(t, before+1, h.originals())
	h.b.noFaults()
}

// Forms sent from a page that may name no referrer carry "Origin: null": a real browser must get through.
func TestPhone_InChromium_SettlesOverPlainHTTP(t *testing.T) {
	h := openPhoneHut(t, afternoon(t))
	h.letIn("Sam", "settle")
	require.Equal(t, "/", eval[string](h.b, `location.pathname`))
	h.b.do(chromedp.Navigate(h.url + bibPage(2, 2)))
	h.b.settle()
	h.b.keys("40" + kb.Enter)
	assert.Contains(t, eval[string](h.b, `document.querySelector('.notice')?.textContent ?? document.body.textContent`), "40")
	decisions, err := h.table.Store.Decisions(t.Context())
	require.NoError(t, err)
	assert.True(t, slices.ContainsFunc(decisions, func(d store.Decision) bool { return d.By == "Sam" && d.Text == "40" && d.Blind }))
	h.b.noFaults()
}

// tooSmall lists what is to be touched and is smaller than 44 by 44 px. Links within a sentence may be.
// Source: WCAG 2.2, success criterion 2.5.5 (44 px), which is stricter than 2.5.8.
const tooSmall = `[...document.querySelectorAll('button, input:not([type=hidden]), select, summary, nav a, label.tick, label.taker, .how label, .who a, a.phone, .go-on')]
  .filter((el) => el.checkVisibility() && !el.closest('dialog:not([open])') && !(el.matches('input') && el.closest('label.tick, label.taker, .how label')))
  .map((el) => [el, el.getBoundingClientRect()])
  .filter(([el, r]) => r.height < 43.5 || r.width < 43.5)
  .map(([el, r]) => el.outerHTML.slice(0, 80) + ' ' + Math.round(r.width) + 'x' + Math.round(r.height))`

// unnamed lists fields without a label and buttons without words. Source: WCAG 2.2, 1.3.1 and 4.1.2.
const unnamedFields = `[...document.querySelectorAll('input:not([type=hidden]), select, button:not([hidden]), a, svg[role=img], img')]
  .filter((el) => !(el.labels?.length || el.textContent.trim() || el.getAttribute('aria-label') || el.alt))
  .map((el) => el.outerHTML.slice(0, 80))`

// phonePages are those that a phone shows, after something has come in.
func (h *phoneHut) phonePages() []string {
	return []string{"/pair", "/photos", "/readback", readBackPage(3), "/placing", "/who", "/", "/draft", "/next", "/nowhere"}
}

// desksOwn are pages that the desk has without phones too; what axe finds there is theirs to mend.
var desksOwn = map[string]bool{"/": true, "/draft": true, "/next": true}

func (h *phoneHut) theme(name string) {
	h.b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: name}}})
		return err
	}))
}

// dayOnThePhone lets everything happen that the page can show.
func dayOnThePhone(t *testing.T) *phoneHut {
	table := afternoon(t)
	table.Card("Blue", 9, stacktest.Row{Bib: "33", Code: "K"}, stacktest.Row{Bib: "34", Code: "F", Gate: "31"}) // which lack something
	h := openPhoneHut(t, table)
	dir := t.TempDir()
	h.letIn("Ida", "photos", "hear", "settle", "view")
	h.b.do(chromedp.SetUploadFiles(`input[name=many]`, []string{
		photoOf(t, dir, "IMG_0412.jpg", "card 7 front", 50_000), photoOf(t, dir, "IMG_0413.jpg", "card 7 back", 50_001),
		photoOf(t, dir, "IMG_0414.jpg", "a menu", 50_002), photoOf(t, dir, "IMG_0415.jpg", "card 8 front glare", 50_003),
	}))
	h.eventually("all read", func() bool { return h.all(4, "good", "flawed", "refused") })
	return h
}

func TestPhone_InChromium_PagesFitHandsAndEyes(t *testing.T) {
	h := dayOnThePhone(t)
	h.b.noFaults()
	script := axeScript(t)
	for _, theme := range []string{"light", "dark"} {
		h.theme(theme)
		for _, path := range append(h.phonePages(), "/questions", "/posting", "/heard", "/packet?bib=14", "/why?bib=14", "/card/run1/Blue/card-9") {
			h.b.do(chromedp.Navigate(h.url + path))
			h.b.settle()
			assert.Empty(t, eval[[]string](h.b, tooSmall), "%s: smaller than a finger", path)
			assert.Empty(t, eval[[]string](h.b, unnamedFields), "%s: without a name", path)
			assert.LessOrEqual(t, eval[int](h.b, `document.documentElement.scrollWidth`), 390, "%s: wider than the phone", path)
			if script != "" && !desksOwn[path] {
				h.b.do(chromedp.Evaluate[chromedp.Void](script + "; axe.run().then((r) => { window.found = r.violations.map((v) => v.id + ': ' + v.nodes.map((n) => n.html.slice(0, 100)).join(' | ')) }); undefined"))
				require.Eventually(t, func() bool { return eval[bool](h.b, `!!window.found`) }, 30*time.Second, 100*time.Millisecond)
				assert.Empty(t, eval[[]string](h.b, `window.found`), "%s, %s", path, theme)
			}
			// Source: WCAG 2.2, 1.4.4 (200 %) and 1.4.10 (reflow).
			h.b.do(chromedp.Evaluate[chromedp.Void](`document.documentElement.style.fontSize = '200%'; undefined`))
			assert.Empty(t, eval[[]string](h.b, `document.documentElement.scrollWidth <= 390 ? [] : [...document.querySelectorAll('main *, header *, section *')].filter((el) => !el.closest('.scroll') && el.getBoundingClientRect().right > 391).map((el) => el.outerHTML.slice(0, 90))`))
			assert.LessOrEqual(t, eval[int](h.b, `document.documentElement.scrollWidth`), 390, "%s at 200 %%: wider than the phone", path)
		}
	}
}

// Everything on the page of photos is reached, and shows that it is, with the Tab key.
func TestPhone_InChromium_PhotosByKeyboard(t *testing.T) {
	h := dayOnThePhone(t)
	h.b.do(chromedp.Navigate(h.url + "/photos"))
	h.b.settle()
	var reached []string
	for range 40 {
		h.b.do(chromedp.KeyEvent(kb.Tab))
		reached = append(reached, eval[string](h.b, `document.activeElement.name || document.activeElement.textContent.trim().slice(0, 20)`))
	}
	assert.Contains(t, reached, "one")
	assert.Contains(t, reached, "many")
	assert.True(t, slices.ContainsFunc(reached, func(s string) bool { return strings.HasPrefix(s, "Blue") }), reached)
	h.b.do(chromedp.Focus(`input[name=one]`))
	assert.NotEqual(t, "0px", eval[string](h.b, `getComputedStyle(document.querySelector('.taker')).outlineWidth`))
}

// TestPhoneShots keeps pictures of the phone's pages: -shots DIR.
func TestPhoneShots(t *testing.T) {
	if *shots == "" {
		t.Skip("no folder to keep pictures in: -shots DIR")
	}
	h := dayOnThePhone(t)
	for _, theme := range []string{"light", "dark"} {
		h.theme(theme)
		for _, path := range h.phonePages() {
			h.b.do(chromedp.Navigate(h.url + path))
			h.b.settle()
			name := strings.Trim(path, "/")
			if path == readBackPage(3) {
				name = "heard"
			}
			h.b.shot("phone-"+name+"-"+theme+".png", 390)
		}
		h.code("photos")
		h.b.do(chromedp.Navigate(h.here.URL + "/who"))
		h.b.settle()
		h.b.keys("Lou" + kb.Enter)
		h.b.do(chromedp.Navigate(h.here.URL + "/phones"))
		h.b.settle()
		h.b.shot("phones-"+theme+".png", 1280)
	}
	h.theme("light")
	h.air.breakNow()
	h.b.do(chromedp.EmulateViewport(390, 780, chromedp.EmulateMobile))
	h.air.mend()
	h.b.do(chromedp.Navigate(h.url + "/photos"))
	h.b.settle()
	h.air.breakNow()
	h.b.do(chromedp.SetUploadFiles(`input[name=one]`, []string{photoOf(t, t.TempDir(), "IMG_0416.jpg", "card 9 back", 100_000)}))
	h.eventually("out of reach", func() bool { return strings.Contains(strings.Join(h.shots(), "\n"), "second pile") })
	h.b.shot("phone-away-light.png", 390)
}
