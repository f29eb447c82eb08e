package review_test

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"fmt"
	"html"
	"io"
	"io/fs"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review"
	"gatefold/review/draft"
	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/review/web"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// secretStack has waiting entries whose texts stand nowhere else: no gate, card, time, size or style
// of the page is written with these digits. Each is wrapped in what the rules make of it: twice on one
// card, seen by two judges, a second lost ski, on no start list, beside a call that stands.
func secretStack(t testing.TB) (*stacktest.Table, []string) {
	t.Helper()
	b := stacktest.New(t)
	b.Card("Blue", 1,
		stacktest.Row{Bib: "4871", Code: "F", Gate: "6", Panel: "B"},
		stacktest.Row{Bib: "5983", Code: "F", Gate: "3", Panel: "C", State: sheetmodel.Doubtful, Rivals: []string{"5933", "5883"}})
	b.Card("Blue", 2,
		stacktest.Row{Bib: "4871", Code: "F", Gate: "6", Panel: "B"},
		stacktest.Row{Bib: "6794", Code: "K", Gate: "9"},
		stacktest.Row{Bib: "6794", Code: "K", Gate: "11"})
	b.Card("Blue", 3,
		stacktest.Row{Bib: "7489", Code: "F", Gate: "15", Panel: "B", State: sheetmodel.Doubtful},
		stacktest.Row{Bib: "8597", Code: "K", Gate: "14"})
	// A lone lost ski that waits for something else: the gate isn't its judge's.
	b.Card("Blue", 5, stacktest.Row{Bib: "14", Code: "F", Gate: "25", Panel: "B"}, stacktest.Row{Bib: "9758", Code: "K", Gate: "2"})
	b.Type("Ada", stacktest.Key("Blue", 5, 1, sheetmodel.PartBib), "14")
	for _, n := range []string{"4871", "5983", "6794", "7489", "8597", "9758"} {
		b.Race.Starters = append(b.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: n, Group: "girls"}, Course: "Blue"})
	}
	return b, []string{"4871", "5983", "5933", "5883", "6794", "7489", "8597", "9758"}
}

// inFull skips a test that fetches every page, one after the other, where the race detector makes minutes of it.
func inFull(t *testing.T) {
	t.Helper()
	if testing.Short() {
		t.Skip("fetches every page; run without -short")
	}
}

var linked = regexp.MustCompile(`(?:href|src|action|data-after)="(/[^"]*)"`)

// crawl fetches every page that can be reached, and every route that is known, and returns all answers.
func crawl(t testing.TB, p *person, st *stack.Stack, more ...string) map[string]answer {
	t.Helper()
	queue := append(slices.Clone(pages), more...)
	for i := range st.Rows {
		r := &st.Rows[i]
		for _, e := range []stack.Entry{r.BibSeen, r.Code, r.Gate, r.Panel} {
			queue = append(queue, "/entry/"+e.Key)
		}
	}
	files, err := fs.Glob(web.Static(), "*")
	require.NoError(t, err)
	for _, f := range files {
		queue = append(queue, "/static/"+f)
	}
	got := map[string]answer{}
	for len(queue) > 0 {
		path := queue[0]
		queue = queue[1:]
		if _, done := got[path]; done || path == "/undo" {
			continue
		}
		a := p.get(path)
		got[path] = a
		for _, m := range linked.FindAllStringSubmatch(a.body, -1) {
			queue = append(queue, html.UnescapeString(m[1]))
		}
	}
	return got
}

// leak says where a text is in an answer: its path, headers or body. Pictures are searched as bytes.
func leak(a answer, text string) string {
	where := []string{}
	if strings.Contains(a.path, text) {
		where = append(where, "path")
	}
	for name, values := range a.header {
		if strings.Contains(strings.Join(values, " "), text) && name != "Date" && name != "Content-Length" && name != "Set-Cookie" {
			where = append(where, "header "+name)
		}
	}
	if strings.HasPrefix(a.header.Get("Content-Type"), "image/") {
		for _, chunk := range []string{"tEXt", "iTXt", "zTXt", "eXIf"} {
			if strings.Contains(a.body, chunk) {
				where = append(where, chunk)
			}
		}
	} else if bytes.Contains([]byte(a.body), []byte(text)) && !strings.HasPrefix(a.header.Get("Content-Type"), "application/pdf") {
		where = append(where, "body")
	}
	return strings.Join(where, ", ")
}

func TestSecrecy_EveryRoute_HoldsNoTextThatMayStillBeTyped(t *testing.T) {
	inFull(t)
	b, secrets := secretStack(t)
	st, result := b.Load()
	require.GreaterOrEqual(t, len(st.Waiting(result)), 6)
	p := sit(t, open(t, b), "Cleo")
	got := crawl(t, p, st)
	require.Greater(t, len(got), 40)
	for path, a := range got {
		require.NotEqual(t, http.StatusInternalServerError, a.status, "%s: %s", path, a.body)
		for _, secret := range secrets {
			assert.Empty(t, leak(a, secret), "%s in %s", secret, path)
		}
	}
	// The search can find what it looks for: the call that stands is there.
	assert.Contains(t, got["/draft"].body, `<span class="bib">14</span>`)
	assert.Contains(t, got["/draft/draft.csv"].body, "14")

	// After all that was sent, every entry is still typed unseen.
	for _, w := range st.Waiting(result) {
		if w.Need != look.NeedEntry {
			continue
		}
		p.typed(p.get("/entry/"+w.Entry.Key), w.Entry.Seen.Text, "paper")
	}
	decisions, err := b.Store.Decisions(t.Context())
	require.NoError(t, err)
	n := 0
	for _, d := range decisions {
		if d.By == "Cleo" {
			n++
			assert.True(t, d.Blind, d.Reading)
		}
	}
	assert.Equal(t, 7, n)
}

// everyPath are the pages of a desk with phones, for every photo, card and row of a stack.
func everyPath(t testing.TB, b *stacktest.Table) []string {
	t.Helper()
	photos, err := b.Store.Photos(t.Context())
	require.NoError(t, err)
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	line := "?run=1&course=Blue&group=girls&bib=14"
	paths := []string{"/pair", "/phones", "/phones?stamp", "/photos", "/photos?part", "/live?once", "/live?once&here=stack", "/placing", "/placing?run=2&course=Blue", "/readback", "/why?bib=9", "/packet?bib=14&group=girls", "/coach" + line, "/coach/sheet.pdf" + line, "/coach/row-0.png" + line, "/coach/drawing-0.png" + line}
	for _, p := range photos {
		paths = append(paths, "/photos/seen?id="+p.ID, "/photos?sent="+p.ID)
	}
	for card := range 7 {
		name := store.CardName(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card})
		paths = append(paths, "/readback/"+name, "/card/"+name)
	}
	for _, s := range sheets {
		for _, what := range []string{"side", "head", "foot", "row-01", "row-02", "panel-b"} {
			paths = append(paths, fmt.Sprintf("/ink/%d/%s", s.ID, what))
		}
	}
	return paths
}

// Every route, for whoever may come in and with each role, also the jury's: no text that may still be typed is in any
// answer. Source: our own logic.
func TestSecrecy_EveryRouteAndRole_HoldsNoTextThatMayStillBeTyped(t *testing.T) {
	inFull(t)
	b, secrets := secretStack(t)
	h := openHut(t, b)
	lou := sit(t, h.here, "Lou")
	require.Equal(t, http.StatusOK, lou.send("/packet", juryForm("posted")).status)
	require.Contains(t, lou.send("/packet", juryForm("coach")).body, "To show a coach")
	st, result := b.Load()
	require.GreaterOrEqual(t, len(st.Waiting(result)), 6)
	paths := everyPath(t, b)
	photos, err := b.Store.Photos(t.Context())
	require.NoError(t, err)
	who := map[string]*person{"the laptop": lou}
	for name, held := range map[string][]string{"Pia": {"photos"}, "Hal": {"hear"}, "Sam": {"settle"}, "Vic": {"view"}, "Ida": {"photos", "hear"}, "All": {"photos", "hear", "settle", "view"}} {
		who[name] = h.pair(name, held...)
	}
	phones := revokeID.FindAllStringSubmatch(lou.get("/phones").body, -1)
	require.Len(t, phones, len(who)-1)
	for name, p := range who {
		got := crawl(t, p, st, paths...)
		for path, a := range got {
			require.NotEqual(t, http.StatusInternalServerError, a.status, "%s: %s", path, a.body)
			for _, photo := range photos {
				a.body = strings.ReplaceAll(a.body, photo.ID, "") // a hash may hold any digits
			}
			for _, phone := range phones {
				a.body = strings.ReplaceAll(a.body, phone[1], "") // and so may a phone's random name
			}
			for _, secret := range secrets {
				assert.Empty(t, leak(a, secret), "%s in %s for %s", secret, path, name)
			}
		}
		if name == "Hal" || name == "Ida" {
			assert.Contains(t, got["/readback/run1/Blue/card-3"].body, `id="row-01"`, "the page is there, and so not empty of secrets by chance")
		}
		if name == "Sam" {
			assert.Contains(t, got["/coach?run=1&course=Blue&group=girls&bib=14"].body, "14")
		}
	}
	// After all that was sent, what waits is still heard unseen.
	hal := who["Hal"]
	require.Contains(t, hal.hears(3, "row-01", "7489").body, "Row 1: two looks agree.")
	decisions, err := b.Store.Decisions(t.Context())
	require.NoError(t, err)
	assert.True(t, decisions[len(decisions)-1].Blind)
}

// Asked for a bib that waits, and for one that nobody has written down, the pages say the same: whoever asks can't
// try numbers until one fits. Source: our own logic.
func TestSecrecy_AskedForABibThatWaits_SaysTheSameAsForNone(t *testing.T) {
	inFull(t)
	b, secrets := secretStack(t)
	none := "7938"
	for _, n := range []string{"5933", "5883", none} {
		b.Race.Starters = append(b.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: n, Group: "girls"}, Course: "Blue"})
	}
	p := sit(t, open(t, b), "Cleo")
	for _, secret := range secrets {
		for _, path := range []string{"/packet?bib=", "/packet?group=girls&bib=", "/packet/pdf?bib=", "/why?bib=", "/why?group=girls&bib=", "/coach?run=1&course=Blue&group=girls&bib=", "/coach/sheet.pdf?run=1&course=Blue&group=girls&bib="} {
			a, o := p.get(path+secret), p.get(path+none)
			assert.Equal(t, o.status, a.status, path+secret)
			if !strings.Contains(path, "pdf") {
				assert.Equal(t, o.body, strings.ReplaceAll(a.body, secret, none), path+secret)
			}
		}
	}
	// The call that stands is another matter.
	assert.NotEqual(t, p.get("/why?bib="+none).body, strings.ReplaceAll(p.get("/why?bib=14").body, "14", none))
}

// Whoever was shown the sheet for a coach was told its bib: taken back, it isn't typed unseen by them.
func TestSecrecy_CoachSheet_TellsItsBib(t *testing.T) {
	for _, path := range []string{"/coach", "/coach/sheet.pdf"} {
		b, _ := secretStack(t)
		server := open(t, b)
		lou := sit(t, server, "Lou")
		lou.send("/packet", juryForm("posted"))
		lou.send("/packet", juryForm("coach"))
		sam := sit(t, server, "Sam")
		require.Equal(t, http.StatusOK, sam.get(path+"?run=1&course=Blue&group=girls&bib=14").status)
		log, err := b.Store.ServedLog(t.Context())
		require.NoError(t, err)
		key := stacktest.Key("Blue", 5, 1, sheetmodel.PartBib)
		assert.True(t, slices.ContainsFunc(log, func(v store.Served) bool {
			return v.Person == "Sam" && v.Reveals && (v.Readings[0] == key || v.Readings[0] == store.AllReadings)
		}), path)
	}
}

// A first loss of a ski is recorded with one look; a second one would need both bibs typed unseen.
func TestSecrecy_RecordedLostSki_IsShownAsInkOnly(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 3, stacktest.Row{Bib: "8597", Code: "K", Gate: "14"})
	b.Race.Starters = append(b.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: "8597", Group: "girls"}, Course: "Blue"})
	_, result := b.Load()
	require.Equal(t, sheetmodel.StandsInform, result.Standings[0].Standing)
	p := sit(t, open(t, b), "Cleo")
	body := p.get("/draft").body
	assert.NotContains(t, body, "8597")
	assert.Contains(t, body, "its bib is not shown while it may still have to be typed unseen")
}

// A stack whose secret texts were read otherwise, from the very same ink, gives the very same bytes on
// every route, the PDF too: nothing that is sent depends on them.
func TestSecrecy_OtherSecrets_GiveTheSameBytes(t *testing.T) {
	inFull(t)
	names := map[string]string{"4871": "4970", "5983": "5071", "5933": "5077", "5883": "5070", "6794": "6890", "7489": "7391", "8597": "8390"}
	read := func(other bool) map[string]answer {
		b, _ := secretStack(t)
		for _, n := range names {
			b.Race.Starters = append(b.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: n, Group: "girls"}, Course: "Blue"})
		}
		readAgain(t, b, func(_ sheetmodel.CardKey, r *sheetmodel.Row) {
			if to := names[r.Bib.Text]; other && to != "" {
				r.Bib.Text = to
			}
			for i := range r.Bib.Rivals {
				if to := names[r.Bib.Rivals[i].Text]; other && to != "" {
					r.Bib.Rivals[i].Text = to
				}
			}
		})
		st, _ := b.Load()
		return crawl(t, sit(t, open(t, b), "Cleo"), st)
	}
	a, b := read(false), read(true)
	assert.Contains(t, a, "/draft/draft.pdf")
	require.Len(t, b, len(a))
	for path, got := range a {
		assert.Equal(t, got.status, b[path].status, path)
		assert.Equal(t, got.path, b[path].path, path)
		assert.Equal(t, sha256.Sum256([]byte(got.body)), sha256.Sum256([]byte(b[path].body)), "%s differs", path)
	}
}

// readAgain puts the same pages in once more, with rows read otherwise.
func readAgain(t testing.TB, b *stacktest.Table, otherwise func(sheetmodel.CardKey, *sheetmodel.Row)) {
	t.Helper()
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	byPhoto := map[string][]store.NewSheet{}
	var order []string
	for _, s := range sheets {
		f, err := b.Store.OpenFile(s.Page)
		require.NoError(t, err)
		page, err := io.ReadAll(f)
		require.NoError(t, errors.Join(err, f.Close()))
		read := s.Read
		read.Reading.Rows = slices.Clone(read.Reading.Rows)
		for i := range read.Reading.Rows {
			row := &read.Reading.Rows[i]
			row.Bib.Rivals = slices.Clone(row.Bib.Rivals)
			otherwise(s.Card, row)
		}
		if byPhoto[s.Photo] == nil {
			order = append(order, s.Photo)
		}
		byPhoto[s.Photo] = append(byPhoto[s.Photo], store.NewSheet{
			Part: s.Part, Card: s.Card, Layout: s.Layout, Page: page, PagePxPerMM: s.PagePxPerMM, Read: read,
			Identity: sheetmodel.Identity{Run: s.Card.Run, Card: s.Card.Card, Side: s.Side, Race: s.Race},
		})
	}
	for _, photo := range order {
		require.NoError(t, b.Store.AddSheets(t.Context(), photo, "another reader", byPhoto[photo]))
	}
}

func TestServed_IsLoggedBeforeItIsSent(t *testing.T) {
	b, _ := secretStack(t)
	p := sit(t, open(t, b), "Cleo")
	a := p.get("/next")
	log, err := b.Store.ServedLog(t.Context())
	require.NoError(t, err)
	key := strings.TrimPrefix(a.path, "/entry/")
	assert.True(t, slices.ContainsFunc(log, func(v store.Served) bool {
		return v.Person == "Cleo" && v.Readings[0] == key && !v.Reveals && v.Sheet != 0
	}))
	// With a log that can't be written nothing is sent.
	require.NoError(t, b.Store.Close())
	for _, path := range []string{"/next", "/draft", a.path} {
		assert.Equal(t, http.StatusInternalServerError, p.get(path).status, path)
	}
}

// A draft that is printed elsewhere than on the pages is made from Veil: it holds no text that may still be
// typed, says how many are left out, and proposes the same.
func TestVeil_DraftForPrint_HoldsNoTextThatMayStillBeTyped(t *testing.T) {
	b, secrets := secretStack(t)
	st, result := b.Load()
	shown, said, bibs := review.Veil(st, result)
	assert.Equal(t, 8, bibs)
	files := func(st *stack.Stack, said rules.Result) (string, []string) {
		d, err := draft.New(st, said, draft.Options{At: time.Date(2027, 1, 23, 11, 0, 0, 0, time.UTC), Layout: b.LayoutByHash})
		require.NoError(t, err)
		var text bytes.Buffer
		require.NoError(t, d.WriteJSON(&text))
		require.NoError(t, d.WriteCSV(&text))
		var bibs []string
		for _, s := range d.Sections {
			for _, l := range s.Proposed {
				bibs = append(bibs, l.Bib+" "+l.Gate)
			}
		}
		return text.String(), bibs
	}
	open, want := files(st, result)
	covered, got := files(shown, said)
	for _, s := range secrets {
		assert.Contains(t, open, s, "%s is in no draft: not a test", s)
		assert.NotContains(t, covered, s, "%s is told", s)
	}
	assert.Equal(t, []string{"14 25"}, want)
	assert.Equal(t, want, got)
}
