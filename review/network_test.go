package review_test

import (
	"context"
	"crypto/rand"
	"fmt"
	"image"
	"image/color"
	"maps"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// hut is a desk with both of its doors.
type hut struct {
	t     testing.TB
	table *stacktest.Table
	desk  *review.Desk
	here  *httptest.Server // for the laptop
	out   *httptest.Server // for phones

	mu   sync.Mutex
	now  time.Time
	told []string
}

func (h *hut) clock() time.Time {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.now
}

func (h *hut) wait(d time.Duration) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.now = h.now.Add(d)
}

func (h *hut) said() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return strings.Join(h.told, "\n")
}

func openHut(t testing.TB, b *stacktest.Table, change ...func(*review.Options)) *hut {
	t.Helper()
	h := &hut{t: t, table: b, now: at}
	opt := review.Options{
		Race: func() (*sheetmodel.Race, error) { return b.Race, nil }, Store: b.Store, Layout: b.LayoutByHash,
		Now: h.clock, Random: rand.Reader, Taker: &readsLater{t: t, table: b},
		SavePlace: func(int, string, sheetmodel.Place, bool) error { return nil },
		Network: &review.Network{
			Addresses: func() []string { return []string{"http://192.168.7.1:8470"} }, Names: []string{"hut-laptop.local"},
			Told: func(words string) {
				h.mu.Lock()
				defer h.mu.Unlock()
				h.told = append(h.told, words)
			},
		},
	}
	for _, c := range change {
		c(&opt)
	}
	var err error
	h.desk, err = review.New(t.Context(), opt)
	require.NoError(t, err)
	h.here, h.out = httptest.NewServer(h.desk.Handler()), httptest.NewServer(h.desk.PhoneHandler())
	t.Cleanup(h.here.Close)
	t.Cleanup(h.out.Close)
	t.Cleanup(h.desk.HangUp) // first: a server waits for its streams
	return h
}

var bigCode = regexp.MustCompile(`class="bigcode">([0-9A-Z]{4}-[0-9A-Z]{4})<`)

// code has the laptop show a code.
func (h *hut) code(roles ...string) string {
	h.t.Helper()
	laptop := sit(h.t, h.here, "Lou")
	a := laptop.send("/phones", url.Values{"do": {"code"}, "role": roles})
	require.Equal(h.t, http.StatusOK, a.status, a.body)
	all := bigCode.FindAllStringSubmatch(a.body, -1)
	require.NotEmpty(h.t, all, a.body)
	return all[len(all)-1][1]
}

// stranger is a phone that was not paired.
func (h *hut) stranger() *person {
	jar, err := cookiejar.New(nil)
	require.NoError(h.t, err)
	return &person{t: h.t, base: h.out.URL, http: &http.Client{Jar: jar}, origin: h.out.URL}
}

// pair lets a phone in.
func (h *hut) pair(name string, roles ...string) *person {
	h.t.Helper()
	p := h.stranger()
	a := p.send("/pair", url.Values{"code": {h.code(roles...)}, "name": {name}})
	require.Equal(h.t, http.StatusOK, a.status, a.body)
	require.NotEqual(h.t, "/pair", a.path)
	return p
}

// cameInAt says under which address of the laptop a request came in, as a server does.
func cameInAt(r *http.Request, ip net.IP) *http.Request {
	return r.WithContext(context.WithValue(r.Context(), http.LocalAddrContextKey, net.Addr(&net.TCPAddr{IP: ip, Port: 8470})))
}

var revokeID = regexp.MustCompile(`name="id" value="([0-9a-f]{16})"`)

// formOf is a form of names and values in turn.
func formOf(pairs ...string) url.Values {
	f := url.Values{}
	for i := 0; i+1 < len(pairs); i += 2 {
		f.Add(pairs[i], pairs[i+1])
	}
	return f
}

// doors are all pages and forms of the desk, with the roles that may use them. Our own logic.
var doors = map[string][]string{
	"GET /": {"settle", "view"}, "GET /card/run1/Blue/card-3": {"settle"}, "POST /bind/run1/Blue/card-1": {"settle"}, "POST /gap/run1/Blue/card-6": {"settle"},
	"POST /paper/run1/Blue/card-6": {"settle"}, "GET /next": {"settle"}, "GET /tour": {"settle"}, "GET /live?once": {"settle", "view"}, "GET /entry/run1/Blue/card-1/front/row-01.bib": {"settle"},
	"POST /entry/run1/Blue/card-1/front/row-01.bib": {"settle"}, "POST /undo": {"hear", "settle"}, "POST /redo": {"hear", "settle"}, "GET /spot": {"settle"}, "GET /ink/{front}/row-01": {"settle", "view"},
	"GET /ink/{front}/head": {"settle"}, "GET /ink/{front}/side": {"settle"}, "GET /ink/{front}/foot": {"settle"}, "GET /questions": {"settle"}, "POST /questions": {"settle"}, "POST /head": {"settle"},
	"GET /draft": {"settle", "view"}, "GET /draft/draft.pdf": {"settle"}, "GET /readback": {"hear", "settle"}, "GET /readback/run1/Blue/card-3": {"hear", "settle"}, "POST /readback/run1/Blue/card-3": {"hear", "settle"},
	"GET /draft/draft.csv": {"settle"}, "GET /draft/draft.json": {"settle"}, "GET /why": {"settle"}, "GET /packet": {"settle"}, "GET /packet/pdf": {"settle"}, "POST /packet": {"settle"}, "GET /coach": {"settle"}, "GET /coach/coach.pdf": {"settle"},
	"POST /empties": {"settle"}, "POST /back/run1/Blue/card-4": {"settle"}, "POST /addrow/run1/Blue/card-1": {"settle"}, "POST /strike/run1/Blue/card-1": {"settle"},
	"POST /which": {"settle"}, "GET /heard": {"settle"}, "POST /heard": {"settle"}, "GET /posting": {"settle", "view"}, "POST /posting": {"settle"},
	"GET /form/{front}": {"settle"},
	"GET /placing":      {"photos", "settle"}, "POST /placing": {"photos", "settle"},
	"GET /photos": {"photos"}, "POST /photos": {"photos"}, "GET /photos/seen": {"photos"},
}

// front is the number of the first front in the stack.
func (h *hut) front() string {
	sheets, err := h.table.Store.Sheets(h.t.Context())
	require.NoError(h.t, err)
	for _, s := range sheets {
		if s.Side == sheetmodel.Front {
			return fmt.Sprint(s.ID)
		}
	}
	h.t.Fatal("no front in the stack")
	return ""
}

func (h *hut) try(p *person, door string) answer {
	p.t.Helper()
	method, path, _ := strings.Cut(strings.ReplaceAll(door, "{front}", h.front()), " ")
	r, err := http.NewRequestWithContext(p.t.Context(), method, p.base+path, strings.NewReader("reason=x&rows=1&decision=1"))
	require.NoError(p.t, err)
	if method == http.MethodPost {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	return p.do(r)
}

func TestPhone_Unpaired_SeesOnlyTheDoor(t *testing.T) {
	h := openHut(t, afternoon(t))
	head, err := h.table.Store.Head(t.Context())
	require.NoError(t, err)
	p := h.stranger()
	for door := range doors {
		a := h.try(p, door)
		if strings.HasPrefix(door, "GET") {
			assert.Equal(t, "/pair", a.path, door)
		} else {
			assert.Equal(t, http.StatusUnauthorized, a.status, door)
		}
		assert.NotContains(t, a.body, "Quibble", door) // the race's name
	}
	// Nobody sits down by naming themselves.
	assert.Equal(t, http.StatusUnauthorized, p.send("/who", url.Values{"name": {"Eve"}}).status)
	assert.Equal(t, "/pair", p.get("/who").path)
	after, err := h.table.Store.Head(t.Context())
	require.NoError(t, err)
	assert.Equal(t, head, after, "nothing was kept")
}

func TestPhone_Roles_OpenTheirDoorsOnly(t *testing.T) {
	h := openHut(t, afternoon(t))
	for _, held := range [][]string{{"photos"}, {"hear"}, {"settle"}, {"view"}, {"photos", "view"}, {"photos", "hear"}, {"photos", "hear", "settle", "view"}} {
		p := h.pair("Vic", held...)
		for _, door := range slices.Sorted(maps.Keys(doors)) {
			may := slices.ContainsFunc(doors[door], func(r string) bool { return slices.Contains(held, r) })
			head, err := h.table.Store.Head(t.Context())
			require.NoError(t, err)
			a := h.try(p, door)
			if may {
				assert.NotContains(t, []int{http.StatusForbidden, http.StatusUnauthorized}, a.status, "%s for %s", door, held)
				unnamed := strings.HasPrefix(door, "GET /coach") || strings.HasPrefix(door, "GET /form") // they name no line, no blank form here
				if strings.HasPrefix(door, "GET") && !unnamed {
					assert.Equal(t, http.StatusOK, a.status, "%s for %s", door, held)
				}
				continue
			}
			if door == "GET /" { // sent on to the page it may see
				assert.NotEqual(t, "/", a.path, "%s for %s", door, held)
				continue
			}
			assert.Equal(t, http.StatusForbidden, a.status, "%s for %s", door, held)
			after, err := h.table.Store.Head(t.Context())
			require.NoError(t, err)
			assert.Equal(t, head, after, "%s for %s", door, held)
		}
	}
}

// Each route of the desk is tried above: one that is new fails here until it is said who may use it.
func TestPhone_EveryRoute_IsTried(t *testing.T) {
	source, err := os.ReadFile("server.go")
	require.NoError(t, err)
	routes := regexp.MustCompile(`(?:\t\t\{|route\{)"((?:GET|POST) /[^"]*)"`).FindAllStringSubmatch(string(source), -1)
	require.Greater(t, len(routes), 35)
	anybodys := []string{"GET /who", "POST /who", "GET /pair", "POST /pair", "GET /phones", "POST /phones"} // tried by tests of their own
	for _, r := range routes {
		if slices.Contains(anybodys, r[1]) {
			continue
		}
		start, _, open := strings.Cut(strings.TrimSuffix(r[1], "{$}"), "{")
		assert.True(t, slices.ContainsFunc(slices.Collect(maps.Keys(doors)), func(door string) bool {
			path, _, _ := strings.Cut(door, "?")
			return path == start || open && strings.HasPrefix(path, start)
		}), r[1])
	}
}

// Codes are made, and phones shut out, at the laptop alone.
func TestPhone_MakesNoCodes(t *testing.T) {
	h := openHut(t, afternoon(t))
	p := h.pair("Sam", "photos", "settle", "view")
	assert.Equal(t, http.StatusNotFound, p.get("/phones").status)
	assert.Equal(t, http.StatusNotFound, p.send("/phones", url.Values{"do": {"code"}, "role": {"settle"}}).status)
	assert.NotContains(t, p.get("/").body, "/phones")
	assert.Equal(t, http.StatusNotFound, sit(t, h.here, "Lou").get("/pair").status)
}

// A desk without a network has no page about phones at all.
func TestDesk_WithoutNetwork_NamesNoPhones(t *testing.T) {
	p := sit(t, open(t, afternoon(t)), "Cleo")
	assert.Equal(t, http.StatusNotFound, p.get("/phones").status)
	assert.NotContains(t, p.get("/").body, "/phones")
}

// A session of one door is none at the other, whatever name its cookie is given.
func TestPhone_Cookies_OpenTheirOwnDoorOnly(t *testing.T) {
	h := openHut(t, afternoon(t))
	laptop, p := sit(t, h.here, "Lou"), h.pair("Sam", "view")
	secret := func(p *person) string {
		u, err := url.Parse(p.base)
		require.NoError(t, err)
		c := p.http.Jar.Cookies(u)
		return c[len(c)-1].Value
	}
	for _, try := range []struct{ base, secret, start string }{{h.out.URL, secret(laptop), "/pair"}, {h.here.URL, secret(p), "/who"}} {
		for _, name := range []string{"gatefold-desk", "gatefold-phone"} {
			eve := &person{t: t, base: try.base, http: &http.Client{}}
			r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, try.base+"/draft", nil)
			require.NoError(t, err)
			r.AddCookie(&http.Cookie{Name: name, Value: try.secret})
			assert.Equal(t, try.start, eve.do(r).path, name)
		}
	}
}

// Source: RFC 6265 and the draft of its successor (SameSite).
func TestPhone_Cookie_StaysFromScriptsAndOtherSites(t *testing.T) {
	h := openHut(t, afternoon(t))
	p := h.stranger()
	p.http.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	a := p.send("/pair", url.Values{"code": {h.code("view")}, "name": {"Vic"}})
	require.Equal(t, http.StatusSeeOther, a.status)
	set := a.header.Get("Set-Cookie")
	for _, flag := range []string{"HttpOnly", "SameSite=Strict", "Path=/", "Max-Age=57600"} {
		assert.Contains(t, set, flag)
	}
	secret := regexp.MustCompile(`gatefold-phone=([0-9a-f]{32});`).FindStringSubmatch(set) // 128 bits
	require.NotNil(t, secret, set)
	p.get("/draft")
	log, err := h.table.Store.ServedLog(t.Context())
	require.NoError(t, err)
	told := false
	for _, v := range log {
		told = told || v.Person == "Vic"
		assert.NotContains(t, v.Session, secret[1], "the log goes into archives: nobody takes a session over from there")
	}
	assert.True(t, told, "Vic's pages are in the log")
	assert.NotContains(t, set, "Secure") // it would never come back over plain HTTP
}

func TestPhone_EveryAnswer_IsHardened(t *testing.T) {
	h := openHut(t, afternoon(t))
	p := h.pair("Sam", "photos", "settle", "view")
	for _, path := range []string{"/", "/draft", "/pair", "/nowhere", "/static/page.css", "/static/pair.js", "/ink/" + h.front() + "/row-01"} {
		a := p.get(path)
		policy := a.header.Get("Content-Security-Policy")
		assert.Contains(t, policy, "default-src 'self'", path)
		assert.Contains(t, policy, "frame-ancestors 'none'", path)
		assert.Contains(t, policy, "object-src 'none'", path)
		assert.Contains(t, policy, "base-uri 'none'", path)
		if !strings.HasPrefix(path, "/ink/") { // a picture of a sheet never changes; browsers keep it for an hour
			assert.Equal(t, "no-store", a.header.Get("Cache-Control"), path)
		}
		assert.NotContains(t, policy, "unsafe", path)
		assert.Equal(t, "nosniff", a.header.Get("X-Content-Type-Options"), path)
		assert.Equal(t, "same-origin", a.header.Get("Referrer-Policy"), path)
		assert.NotRegexp(t, `<script>|<script [^>]*>[^<]|<style| style=| on[a-z]+="`, a.body, path)
	}
}

// Over plain HTTP a browser says where a form comes from in Origin alone. Source: Fetch, WHATWG, "append a
// request Origin header"; Fetch Metadata, W3C, sends its headers to trustworthy addresses only.
func TestPhone_FormsOfOthers_AreRefused(t *testing.T) {
	h := openHut(t, afternoon(t))
	p := h.pair("Sam", "photos", "settle", "view")
	code := h.code("settle")
	head, err := h.table.Store.Head(t.Context())
	require.NoError(t, err)
	for door := range doors {
		method, path, _ := strings.Cut(door, " ")
		if method != http.MethodPost {
			continue
		}
		for _, origin := range []string{"", "null", "http://evil.example", "https://" + strings.TrimPrefix(h.out.URL, "http://"), h.here.URL, h.out.URL + ".evil.example", "http://127.0.0.1"} {
			r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, p.base+path, strings.NewReader("reason=x&rows=1&decision=1&name=Eve&code="+code))
			require.NoError(t, err)
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			r.Header["Origin"] = []string{origin}
			if origin == "" {
				r.Header["Origin"] = []string{}
			}
			assert.Equal(t, http.StatusForbidden, p.do(r).status, "%s from %q", path, origin)
		}
	}
	after, err := h.table.Store.Head(t.Context())
	require.NoError(t, err)
	assert.Equal(t, head, after, "nothing was kept")
	assert.Equal(t, http.StatusOK, h.stranger().send("/pair", url.Values{"code": {code}, "name": {"Kim"}}).status, "and the code was not used up")
}

// A page of another site may give its own name to the laptop's address, or ask from far away.
func TestPhone_WrongNameOrFarAway_IsRefused(t *testing.T) {
	h := openHut(t, afternoon(t))
	ask := func(host, from string, local net.IP) int {
		r := httptest.NewRequest(http.MethodGet, "http://x/pair", nil)
		r.Host, r.RemoteAddr = host, net.JoinHostPort(from, "50123")
		r = cameInAt(r, local)
		w := httptest.NewRecorder()
		h.desk.PhoneHandler().ServeHTTP(w, r)
		return w.Code
	}
	own := net.IPv4(192, 168, 7, 1)
	for host, want := range map[string]int{
		"192.168.7.1:8470": http.StatusOK, "192.168.7.1": http.StatusOK, "hut-laptop.local:8470": http.StatusOK, "HUT-laptop.local": http.StatusOK,
		"evil.example:8470": http.StatusForbidden, "192.168.7.2:8470": http.StatusForbidden, "localhost:8470": http.StatusForbidden, "127.0.0.1:8470": http.StatusForbidden,
		"192.168.7.1.evil.example": http.StatusForbidden, "hut-laptop.local.evil.example": http.StatusForbidden, "": http.StatusForbidden,
	} {
		assert.Equal(t, want, ask(host, "192.168.7.20", own), host)
	}
	for from, want := range map[string]int{
		"192.168.7.20": http.StatusOK, "10.1.2.3": http.StatusOK, "172.20.10.4": http.StatusOK, "fe80::1%wlan0": http.StatusOK, "fd00::9": http.StatusOK,
		"203.0.113.9": http.StatusForbidden, "2001:db8::1": http.StatusForbidden,
	} {
		assert.Equal(t, want, ask("192.168.7.1:8470", from, own), from)
	}
}

// Whoever is turned away reads on a page what to do, also before they were let in; it names no race and nobody.
func TestPhone_TurnedAway_IsToldWhatToDo(t *testing.T) {
	h := openHut(t, afternoon(t))
	for name, c := range map[string]struct {
		desk               http.Handler
		method, host, from string
		local              net.IP
		want, at           string
	}{
		"far away":         {h.desk.PhoneHandler(), http.MethodGet, "192.168.7.1:8470", "203.0.113.9", net.IPv4(192, 168, 7, 1), "Join the hotspot or Wi-Fi that the laptop is in", ""},
		"another name":     {h.desk.PhoneHandler(), http.MethodGet, "evil.example:8470", "192.168.7.20", net.IPv4(192, 168, 7, 1), "Open it by the address that gatefold printed", "http://192.168.7.1:8470/"},
		"another's form":   {h.desk.PhoneHandler(), http.MethodPost, "192.168.7.1:8470", "192.168.7.20", net.IPv4(192, 168, 7, 1), "Open the page here and send it again", ""},
		"the desk by name": {h.desk.Handler(), http.MethodGet, "evil.example", "127.0.0.1", net.IPv4(127, 0, 0, 1), "Open it by the address that gatefold printed", "http://127.0.0.1:8470/"},
		"form at the desk": {h.desk.Handler(), http.MethodPost, "127.0.0.1:8470", "127.0.0.1", net.IPv4(127, 0, 0, 1), "Open the page here and send it again", ""},
	} {
		r := httptest.NewRequest(c.method, "http://x/pair", strings.NewReader("code=x"))
		r.Host, r.RemoteAddr = c.host, net.JoinHostPort(c.from, "50123")
		r.Header.Set("Origin", "http://evil.example")
		w := httptest.NewRecorder()
		c.desk.ServeHTTP(w, cameInAt(r, c.local))
		assert.Equal(t, http.StatusForbidden, w.Code, name)
		assert.Equal(t, "text/html; charset=utf-8", w.Header().Get("Content-Type"), name)
		assert.NotEmpty(t, w.Header().Get("Content-Security-Policy"), name)
		page := w.Body.String()
		assert.Contains(t, page, "<h1", name)
		assert.Contains(t, page, c.want, name)
		if c.at != "" {
			assert.Contains(t, page, `<a href="`+c.at+`">`, name)
		}
		assert.NotContains(t, page, h.table.Race.Name, name)
	}
}

func TestPair_Code_WorksOnceAndRunsOut(t *testing.T) {
	h := openHut(t, afternoon(t))
	code := h.code("view")
	try := func(code string) answer {
		return h.stranger().send("/pair", url.Values{"code": {code}, "name": {"Vic"}})
	}
	assert.Equal(t, "/", try(" "+strings.ToLower(strings.ReplaceAll(code, "-", " "))+" ").path, "as people type it")
	assert.Equal(t, http.StatusForbidden, try(code).status, "used")
	late := h.code("view")
	h.wait(10*time.Minute - time.Second)
	early := h.code("view")
	h.wait(time.Second)
	assert.Equal(t, http.StatusForbidden, try(late).status, "too old")
	assert.Equal(t, "/", try(early).path)
	assert.Equal(t, http.StatusForbidden, try("").status)
}

func TestPair_Guessing_IsHeldUp(t *testing.T) {
	h := openHut(t, afternoon(t))
	code := h.code("settle")
	from := func(address, code string) int {
		form := url.Values{"code": {code}, "name": {"Eve"}}
		r := httptest.NewRequest(http.MethodPost, "http://192.168.7.1:8470/pair", strings.NewReader(form.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Origin", "http://192.168.7.1:8470")
		r.RemoteAddr = net.JoinHostPort(address, "50123")
		r = cameInAt(r, net.IPv4(192, 168, 7, 1))
		w := httptest.NewRecorder()
		h.desk.PhoneHandler().ServeHTTP(w, r)
		return w.Code
	}
	for range 5 {
		assert.Equal(t, http.StatusForbidden, from("192.168.7.66", "AAAA-AAAA"))
	}
	assert.Equal(t, http.StatusTooManyRequests, from("192.168.7.66", "AAAA-AAAA"))
	assert.Equal(t, http.StatusTooManyRequests, from("192.168.7.66", code), "the right one is not looked at any more")
	for i := range 45 { // one who changes the address
		assert.Equal(t, http.StatusForbidden, from(fmt.Sprintf("192.168.8.%d", i+1), "AAAA-AAAA"))
	}
	assert.Equal(t, http.StatusTooManyRequests, from("192.168.7.20", code))
	// The laptop knows, and can open the door again.
	laptop := sit(t, h.here, "Lou")
	assert.Contains(t, laptop.get("/phones").body, "50 wrong codes")
	assert.Contains(t, h.said(), "a wrong code came from 192.168.8.45")
	laptop.send("/phones", url.Values{"do": {"allow"}})
	assert.Equal(t, http.StatusSeeOther, from("192.168.7.20", code))
	// Or time passes.
	for range 5 {
		assert.Equal(t, http.StatusForbidden, from("192.168.7.66", "AAAA-AAAA"))
	}
	h.wait(10 * time.Minute)
	assert.Equal(t, http.StatusForbidden, from("192.168.7.66", "AAAA-AAAA"))
}

func TestPhone_Session_EndsByTimeAndByHand(t *testing.T) {
	h := openHut(t, afternoon(t))
	idle := h.pair("Idle", "view")
	h.wait(4*time.Hour - time.Minute)
	assert.Equal(t, "/draft", idle.get("/draft").path, "seen again, it stays")
	h.wait(4 * time.Hour)
	assert.Equal(t, "/pair", idle.get("/draft").path)

	busy := h.pair("Busy", "view")
	for range 15 {
		h.wait(time.Hour)
		assert.Equal(t, "/draft", busy.get("/draft").path)
	}
	h.wait(time.Hour)
	assert.Equal(t, "/pair", busy.get("/draft").path, "sixteen hours are over")

	lost := h.pair("Lost", "settle")
	laptop := sit(t, h.here, "Lou")
	page := laptop.get("/phones").body
	assert.Contains(t, page, "Lost")
	id := revokeID.FindStringSubmatch(page)
	require.NotNil(t, id)
	assert.Equal(t, "/draft", lost.get("/draft").path)
	assert.Contains(t, laptop.send("/phones", url.Values{"do": {"revoke"}, "id": {id[1]}}).body, "shut out")
	assert.Equal(t, "/pair", lost.get("/draft").path)
	assert.Equal(t, http.StatusUnauthorized, lost.send("/undo", url.Values{"decision": {"1"}}).status)
}

// Another person at the phone keeps what the phone may do, and no more.
func TestPhone_AnotherPerson_KeepsItsRoles(t *testing.T) {
	h := openHut(t, afternoon(t))
	p := h.pair("Vic", "view")
	u, err := url.Parse(p.base)
	require.NoError(t, err)
	before := p.http.Jar.Cookies(u)[0].Value
	assert.Equal(t, "/", p.send("/who", url.Values{"name": {"Wim"}, "to": {"/"}}).path)
	assert.Contains(t, p.get("/draft").body, "On this phone: <strong>Wim</strong>")
	assert.Equal(t, http.StatusForbidden, p.get("/next").status)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, p.base+"/draft", nil)
	require.NoError(t, err)
	r.AddCookie(&http.Cookie{Name: "gatefold-phone", Value: before})
	assert.Equal(t, "/pair", (&person{t: t, base: p.base, http: &http.Client{}}).do(r).path, "the old session is over")
}

// A phone that is paired anew, say to do less, is one phone: what it held before is over. Source: OWASP ASVS 5.0.0, 7.2.4.
func TestPhone_PairedAnew_ItsOldSessionIsOver(t *testing.T) {
	h := openHut(t, afternoon(t))
	p := h.pair("Vic", "settle")
	u, err := url.Parse(p.base)
	require.NoError(t, err)
	before := p.http.Jar.Cookies(u)[0].Value
	require.Equal(t, "/", p.send("/pair", url.Values{"code": {h.code("view")}, "name": {"Vic"}}).path)
	assert.Equal(t, http.StatusForbidden, p.get("/next").status)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, p.base+"/next", nil)
	require.NoError(t, err)
	r.AddCookie(&http.Cookie{Name: "gatefold-phone", Value: before})
	assert.Equal(t, "/pair", (&person{t: t, base: p.base, http: &http.Client{}}).do(r).path)
	assert.Len(t, revokeID.FindAllString(sit(t, h.here, "Lou").get("/phones").body, -1), 1, "one phone to shut out")
}

// Who only looks sees no name of a judge or of one who typed, no number, and nothing written freely.
func TestPhone_Viewer_SeesNoNames(t *testing.T) {
	b := afternoon(t)
	for i := range b.Race.Runs {
		for k := range b.Race.Runs[i].Courses {
			for n := range b.Race.Runs[i].Courses[k].Places {
				p := &b.Race.Runs[i].Courses[k].Places[n]
				p.Judge, p.Phone = fmt.Sprintf("Zenobia %d", p.Card), "0555 0100"
			}
		}
	}
	require.NoError(t, b.Store.CloseGap(t.Context(), store.GapReason{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 6}, Reason: "Ottokar lost it", By: "Ada"}))
	require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 7}, Rows: 1, By: "Pia"}))
	h := openHut(t, b)
	quentin := sit(t, h.here, "Quentin")
	key := stacktest.Key("Blue", 3, 1, sheetmodel.PartBib)
	sheet := regexp.MustCompile(`name="sheet" value="(\d+)"`).FindStringSubmatch(quentin.get("/entry/" + key).body)
	require.NotNil(t, sheet)
	quentin.send("/entry/"+key, url.Values{"do": {"aside"}, "sheet": {sheet[1]}, "note": {"Ottokar has left"}})
	require.Equal(t, http.StatusOK, quentin.send("/packet", juryForm("posted")).status)
	require.Equal(t, http.StatusOK, quentin.send("/posting", juryForm("withdrawn", "why", "Zwirbel said so")).status)
	for _, form := range []url.Values{
		juryForm("posted"), juryForm("protest", "from", "Coach Zwirbel"),
		juryForm("overruled", "present", b.Race.Rules.Jury[0], "reason", "Zwirbel showed a film"),
	} {
		require.Equal(t, http.StatusOK, quentin.send("/packet", form).status)
	}
	names := []string{"Zenobia", "0555", "Ottokar", "Quentin", "Zwirbel", "Ada", "Bo,", "by Bo", "Pia", "the judge has left"}
	settler, viewer := h.pair("Sam", "settle"), h.pair("Vic", "view")
	seen := ""
	for _, path := range []string{"/", "/draft", "/posting"} {
		seen += settler.get(path).body
	}
	for _, name := range names {
		assert.Contains(t, seen, name, "the test can find what it looks for")
	}
	st, _ := b.Load()
	for path, a := range crawl(t, viewer, st) {
		for _, name := range names {
			assert.NotContains(t, a.body, name, "%s in %s", name, path)
		}
		assert.NotRegexp(t, `action="/[^w]`, a.body, "nothing to send in %s but who sits there", path)
	}
	assert.Contains(t, viewer.get("/draft").body, "a reason was given")
	// Only rows and drawings are shown to them: no picture of anything that a name may stand in, by whatever name it is asked for.
	for _, what := range []string{"head", "foot", "top", "side", "rows", "panel-", "row-", "row-0", "row-00", "row--1", "row-+1", "row-1", "panel-%00", "row-01%2F..%2Fhead"} {
		a := viewer.get("/ink/" + h.front() + "/" + what)
		assert.Contains(t, []int{http.StatusForbidden, http.StatusNotFound}, a.status, what)
	}
	assert.Equal(t, http.StatusOK, viewer.get("/ink/"+h.front()+"/row-01").status)
}

// Who only hears rows read back learns no names of those who type by trying to take decisions back.
func TestPhone_Hearing_IsToldNoNames(t *testing.T) {
	h := openHut(t, afternoon(t))
	quentin := sit(t, h.here, "Quentin")
	quentin.typed(quentin.get(bibPage(1, 2)), "9", "paper")
	hal := h.pair("Hal", "hear")
	st, _ := h.table.Load()
	for _, d := range st.Decisions {
		a := hal.send("/undo", url.Values{"decision": {fmt.Sprint(d.ID)}})
		assert.Equal(t, http.StatusForbidden, a.status)
		assert.NotContains(t, a.body, d.By)
	}
	assert.NotEmpty(t, st.Decisions)
}

func TestPhone_OddPaths_LeadNowhere(t *testing.T) {
	h := openHut(t, afternoon(t))
	p := h.pair("Sam", "photos", "settle", "view")
	for _, path := range []string{
		"/static/../server.go", "/static/%2e%2e/server.go", "/static/..%2fserver.go", "/static/frame.tmpl", "/static/", "/ink/1/..%2f..%2fgatefold.db",
		"/ink/%2e%2e/row-01", "/ink/1/row-01%00", "/draft/..%2fgatefold.db", "/draft/%2e%2e%2frace.yaml", "/card/..%2f..%2frace.yaml", "/entry/%2e%2e/%2e%2e/gatefold.db", "/originals/x", "/race.yaml", "/gatefold.db",
	} {
		r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, p.base, nil)
		require.NoError(t, err)
		r.URL.Path, r.URL.RawPath, r.URL.Opaque = "", "", path
		a := p.do(r)
		assert.Equal(t, http.StatusNotFound, a.status, path)
		assert.NotContains(t, a.body, "SQLite format", path)
	}
}

func TestPhone_FormTooLong_IsRefused(t *testing.T) {
	h := openHut(t, afternoon(t))
	p := h.pair("Sam", "settle")
	a := p.send("/gap/run1/Blue/card-6", url.Values{"reason": {strings.Repeat("x", 70_000)}})
	assert.Equal(t, http.StatusRequestEntityTooLarge, a.status)
	assert.Equal(t, http.StatusRequestEntityTooLarge, h.stranger().send("/pair", url.Values{"code": {strings.Repeat("x", 70_000)}}).status)
}

// What is said at the laptop ends up in terminals and in files.
func TestPhone_WhatIsTold_HoldsNoSecret(t *testing.T) {
	h := openHut(t, afternoon(t))
	code := h.code("view")
	p := h.stranger()
	p.send("/pair", url.Values{"code": {code}, "name": {"Vic"}})
	p.send("/pair", url.Values{"code": {"WXYZ-2345"}, "name": {"Vic"}})
	u, err := url.Parse(p.base)
	require.NoError(t, err)
	require.Contains(t, h.said(), "Vic's phone at 127.0.0.1 was paired: view")
	for _, secret := range []string{code, strings.ReplaceAll(code, "-", ""), "WXYZ", p.http.Jar.Cookies(u)[0].Value} {
		assert.NotContains(t, h.said(), secret)
	}
}

// The square is read as another program would read it. Source: ISO/IEC 18004, by the reader of gozxing.
func TestPhones_Square_LeadsToThePairing(t *testing.T) {
	h := openHut(t, afternoon(t))
	code := h.code("photos")
	page := sit(t, h.here, "Lou").get("/phones").body
	assert.NotContains(t, page, "#"+strings.ReplaceAll(code, "-", ""), "not to be copied from the page's text")
	side := regexp.MustCompile(`viewBox="0 0 (\d+) (\d+)" role="img" aria-label="Square`).FindStringSubmatch(page)
	path := regexp.MustCompile(`class="dots" d="([^"]+)"`).FindStringSubmatch(page)
	require.NotNil(t, side)
	require.NotNil(t, path)
	var n int
	_, err := fmt.Sscan(side[1], &n)
	require.NoError(t, err)
	const px = 4
	img := image.NewGray(image.Rect(0, 0, n*px, n*px))
	for i := range img.Pix {
		img.Pix[i] = 255
	}
	for _, m := range regexp.MustCompile(`M(\d+) (\d+)h1v1h-1z`).FindAllStringSubmatch(path[1], -1) {
		var x, y int
		_, err = fmt.Sscan(m[1]+" "+m[2], &x, &y)
		require.NoError(t, err)
		for i := range px * px {
			img.SetGray(x*px+i%px, y*px+i/px, color.Gray{})
		}
	}
	bits, err := gozxing.NewBinaryBitmapFromImage(img)
	require.NoError(t, err)
	got, err := qrcode.NewQRCodeReader().Decode(bits, nil)
	require.NoError(t, err)
	assert.Equal(t, "http://192.168.7.1:8470/pair#"+strings.ReplaceAll(code, "-", ""), got.GetText())
}

// Without phones, the page says how to let them in.
func TestPhones_DeskForTheLaptopAlone_SaysHowToLetThemIn(t *testing.T) {
	a := sit(t, open(t, afternoon(t)), "Cleo").get("/phones")
	assert.Equal(t, http.StatusNotFound, a.status)
	assert.Contains(t, a.body, "gatefold desk RACE --network")
}

// What a judge says when asked settles ink that nobody else can, so not everybody who settles enters it: the laptop lets in
// the phones of the chief gate judge and the referee for that. Source: our own logic.
func TestPhone_JudgesWord_IsEnteredByWhoWasLetInForIt(t *testing.T) {
	h := openHut(t, afternoon(t))
	sam, rita := h.pair("Sam", "settle"), h.pair("Rita", "ask")
	page := sam.get(bibPage(3, 1))
	require.Contains(t, page.body, "Only the judge knows what was meant")
	assert.NotContains(t, page.body, `value="asked"`)
	assert.Contains(t, page.body, "is entered by the chief gate judge or the referee")
	state := func() sheetmodel.BibState {
		st, _ := h.table.Load()
		return st.Row(ref(3, 1)).BibState
	}
	before, _ := h.table.Load()
	for _, how := range []string{"asked", "nod"} {
		a := sam.typed(page, "46", how)
		assert.Equal(t, http.StatusForbidden, a.status, how)
		assert.Contains(t, a.body, `value="46"`, "what was typed stays")
	}
	after, _ := h.table.Load()
	assert.Len(t, after.Decisions, len(before.Decisions), "nothing is kept")
	require.Equal(t, sheetmodel.BibWaiting, state())

	sam.get(bibPage(1, 2)) // and so leaves the other entry
	page = rita.get(bibPage(3, 1))
	assert.Contains(t, page.body, `value="asked"`)
	rita.typed(page, "46", "asked")
	assert.Equal(t, sheetmodel.BibTwoLooks, state())
	assert.Contains(t, sit(t, h.here, "Lou").get("/phones").body, "settle, and ask judges (chief gate judge, referee)")

	// Who has typed a bib, and may not ask, isn't let round by a read-back: that would be the judge's word when asked.
	sam.typed(sam.get(bibPage(1, 2)), "4", "paper")
	sheet := regexp.MustCompile(`name="sheet" value="(\d+)"`).FindStringSubmatch(sam.get(bibPage(1, 2)).body)
	require.NotNil(t, sheet)
	a := sam.send(bibPage(1, 2), url.Values{"sheet": {sheet[1]}, "do": {"settle"}, "how": {"aloud"}, "text": {"9"}})
	assert.Equal(t, http.StatusForbidden, a.status)
	st, _ := h.table.Load()
	assert.Equal(t, sheetmodel.BibWaiting, st.Row(ref(1, 2)).BibState)
}
