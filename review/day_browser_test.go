package review_test

import (
	"fmt"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// placesInMemory keeps who stands where as the race's files would.
type placesInMemory struct {
	mu   sync.Mutex
	race *sheetmodel.Race
}

func (p *placesInMemory) get() (*sheetmodel.Race, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.race, nil
}

func (p *placesInMemory) save(run int, course string, place sheetmodel.Place, gone bool) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	race := *p.race
	race.Runs = slices.Clone(race.Runs)
	for i := range race.Runs {
		race.Runs[i].Courses = slices.Clone(race.Runs[i].Courses)
		for j := range race.Runs[i].Courses {
			c := &race.Runs[i].Courses[j]
			if race.Runs[i].Number != run || c.Course != course {
				continue
			}
			c.Places = slices.DeleteFunc(slices.Clone(c.Places), func(o sheetmodel.Place) bool { return o.Card == place.Card })
			if !gone {
				c.Places = append(c.Places, place)
			}
		}
	}
	p.race = &race
	return nil
}

// A run as it goes, in two browsers at once: Ida with a phone at the finish, Bo at the desk with keys alone; the
// network breaks while photos are on their way and while a judge reads aloud. Nothing is lost, nothing comes twice,
// no page shows a bib before it was typed there, and what was heard otherwise than read becomes no call.
// Source: our own logic.
func TestDay_InChromium_PhoneAndDeskAtOnce(t *testing.T) {
	table := stacktest.New(t)
	for _, bib := range []string{"4871", "5983", "6794", "7489"} {
		table.Race.Starters = append(table.Race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: bib, Group: "girls"}, Course: "Blue"})
	}
	places := &placesInMemory{race: table.Race}
	reader := &readsLater{t: t, table: table, rows: map[int][]stacktest.Row{
		7: {{Bib: "4871", Code: "F", Gate: "6", Panel: "B"}, {Bib: "5983", Code: "F", Gate: "7", Panel: "C", State: sheetmodel.Doubtful, Rivals: []string{"5933"}}},
		8: {{Bib: "6794", Code: "F", Gate: "9", Panel: "B"}, {Bib: "7489", Code: "F", Panel: "C"}},
	}}
	secrets := []string{"4871", "5983", "5933", "6794", "7489"}
	h := &phoneHut{hut: openHut(t, table, func(o *review.Options) { o.Taker, o.Race, o.SavePlace = reader, places.get, places.save }), reader: reader}
	h.air = openAir(t, h.out.URL)
	h.url = "http://hut-laptop.local:" + h.air.port()
	h.b = startBrowser(t, chromedp.Flag("host-resolver-rules", "MAP hut-laptop.local 127.0.0.1"))
	h.b.do(chromedp.EmulateViewport(390, 780, chromedp.EmulateMobile))
	var typed []string // by Ida; what she typed she knows
	unknown := func(where string) {
		t.Helper()
		page := eval[string](h.b, `document.documentElement.outerHTML`)
		for _, s := range secrets {
			if !slices.Contains(typed, s) {
				assert.NotContains(t, page, s, where)
			}
		}
	}
	dir := t.TempDir()

	// Paired; a judge is placed.
	h.letIn("Ida", "photos", "hear")
	h.b.do(chromedp.Navigate(h.url + "/placing?run=1&course=Blue"))
	h.b.settle()
	h.b.do(chromedp.SetValue(`input[name=card]`, "7"), chromedp.SetValue(`input[name=judge]`, "Nell Pinebucket"), chromedp.SetValue(`input[name=phone]`, "555-0177"),
		chromedp.SetValue(`select[name=from]`, "5"), chromedp.SetValue(`select[name=to]`, "8"), chromedp.Click(`button[value=place]`))
	h.b.settle()
	assert.Contains(t, eval[string](h.b, `document.querySelector('.places').textContent`), "Nell Pinebucket")

	// Photographed; the network breaks in the middle of the second photo.
	h.b.do(chromedp.Navigate(h.url + "/photos"))
	h.b.settle()
	h.awake()
	h.air.breakAfter(400_000)
	h.b.do(chromedp.SetUploadFiles(`input[name=many]`, []string{
		photoOf(t, dir, "IMG_1.jpg", "card 7 front", 300_000), photoOf(t, dir, "IMG_2.jpg", "card 7 back", 300_001),
		photoOf(t, dir, "IMG_3.jpg", "card 8 front", 300_002), photoOf(t, dir, "IMG_4.jpg", "card 8 back", 300_003),
	}))
	h.eventually("second pile", func() bool { return strings.Contains(strings.Join(h.shots(), "\n"), "second pile") })
	// From here on the page counts for how long.
	h.eventually("out of reach", func() bool { return eval[bool](h.b, `document.getElementById('away').checkVisibility()`) })
	assert.False(t, eval[bool](h.b, `document.getElementById('gone').checkVisibility()`), "not at once")
	h.b.do(chromedp.Evaluate[chromedp.Void](`{ const now = Date.now; Date.now = () => now() + 90_000 } undefined`))
	h.eventually("how to send again", func() bool { return eval[bool](h.b, `document.getElementById('gone').checkVisibility()`) })
	assert.Contains(t, eval[string](h.b, `document.getElementById('gone').textContent`), "choose the photos there again from the gallery")
	h.air.mend()
	h.eventually("late verdicts", func() bool { return h.all(4, "good") })
	require.Equal(t, 4, h.originals())
	h.eventually("asked now", func() bool {
		return strings.Contains(eval[string](h.b, `document.getElementById('lists').textContent`), "row 2: no gate")
	})
	unknown("photos")

	// Bo sits down at the laptop and types what waits, by keys alone, while Ida has the lines of card 7 before her.
	h.eventually("the way to the read-back", func() bool { return eval[bool](h.b, `!!document.querySelector('#lists a[href$="/card-7"]')`) })
	h.b.do(chromedp.Click(`#lists a[href$="/card-7"]`))
	h.b.settle()
	require.Equal(t, 2, eval[int](h.b, `document.querySelectorAll('#heard > .line input').length`))
	assert.Contains(t, eval[string](h.b, `document.querySelector('main').textContent`), "Nell Pinebucket holds the card and reads")
	unknown("read-back")
	bo := startBrowser(t)
	bo.do(chromedp.Navigate(h.here.URL + "/next"))
	bo.settle()
	bo.keys("Bo" + kb.Enter)
	require.True(t, strings.HasSuffix(eval[string](bo, `location.pathname`), "/card-7/front/row-01.bib"), eval[string](bo, `location.pathname`))
	assert.NotContains(t, eval[string](bo, `document.documentElement.outerHTML`), "4871")
	bo.keys("4871" + kb.Enter)
	assert.Contains(t, eval[string](bo, `document.querySelector('.notice').textContent`), "settled, two looks agree")

	// The network is gone when Ida keeps what she heard: it stays, and goes through once it is back.
	h.air.breakNow()
	typed = []string{"4871", "5983"}
	h.b.keys("4871" + kb.Enter + "5983")
	h.b.do(chromedp.Click(`#heard button.main`))
	h.eventually("out of reach", func() bool { return eval[bool](h.b, `document.getElementById('lost').checkVisibility()`) })
	assert.Equal(t, []string{"4871", "5983"}, eval[[]string](h.b, `[...document.querySelectorAll('#heard > .line input')].map((i) => i.value)`))
	h.air.mend()
	h.b.do(chromedp.Click(`#heard button.main`))
	h.eventually("kept", func() bool {
		return strings.Contains(eval[string](h.b, `document.querySelector('.notice')?.textContent ?? ''`), "Rows 1, 2: two looks agree.")
	})
	assert.Equal(t, "/readback", eval[string](h.b, `location.pathname`))

	// The laptop keeps it, and only its answer is lost: kept again, it is no double.
	h.b.do(chromedp.Navigate(h.url + readBackPage(8)))
	h.b.settle()
	unknown("read-back of the next card")
	h.air.deaf.Store(true)
	typed = append(typed, "6794", "7480")
	h.b.keys("6794" + kb.Enter + "7480")
	h.b.do(chromedp.Click(`#heard button.main`))
	h.eventually("no answer", func() bool { return eval[bool](h.b, `document.getElementById('lost').checkVisibility()`) })
	h.air.mend()
	h.b.do(chromedp.Click(`#heard button.main`))
	h.eventually("kept once", func() bool {
		words := eval[string](h.b, `document.querySelector('.notice')?.textContent ?? ''`)
		return strings.Contains(words, "Row 1: two looks agree.") && strings.Contains(words, "Row 2: kept, not settled.")
	})
	unknown("after a mismatch")
	decisions, err := table.Store.Decisions(t.Context())
	require.NoError(t, err)
	require.Len(t, decisions, 5, "one of Bo's, two and two of Ida's")
	for _, d := range decisions {
		assert.True(t, d.Blind, d)
	}

	// Bo's page is of before: what waits now is the row that was heard otherwise, and its empty gate.
	for range 8 {
		bo.do(chromedp.Navigate(h.here.URL + "/next"))
		bo.settle()
		path := eval[string](bo, `location.pathname`)
		if !strings.HasPrefix(path, "/entry/") {
			break
		}
		require.Contains(t, path, "/card-8/front/row-02", "everything else is settled")
		assert.NotContains(t, eval[string](bo, `document.documentElement.outerHTML`), "7480", "nor what another typed")
		if strings.HasSuffix(path, ".bib") {
			assert.NotContains(t, eval[string](bo, `document.documentElement.outerHTML`), "7489")
			bo.keys("7489" + kb.Enter)
			continue
		}
		bo.keys("/")
		bo.keys("no gate, and heard otherwise" + kb.Enter)
	}
	st, result := table.Load()
	standing := map[string]bool{}
	for _, c := range result.Calls {
		if !c.Waiting {
			standing[c.Bib] = true
		}
	}
	assert.Equal(t, map[string]bool{"4871": true, "5983": true, "6794": true}, standing)
	row := st.Row(ref(8, 2))
	require.NotNil(t, row)
	assert.NotEqual(t, sheetmodel.BibTwoLooks, row.BibState)
	assert.NotContains(t, fmt.Sprint(standing), "748")
	bo.noFaults()
}
