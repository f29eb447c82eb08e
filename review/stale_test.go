package review_test

import (
	"net/http"
	"net/url"
	"regexp"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

var undoField = regexp.MustCompile(`name="decision" value="(\d+)"`)

var seenField = regexp.MustCompile(`name="seen" value="([a-p]{12})"`)

// sends fills the form of an entry's page as a browser does, with what it says of the moment it was shown at.
func (p *person) sends(a answer, text, how string) answer {
	p.t.Helper()
	seen := seenField.FindStringSubmatch(a.body)
	require.NotNil(p.t, seen, a.body)
	return p.filled(a, url.Values{"text": {text}, "how": {how}, "do": {"settle"}, "seen": {seen[1]}})
}

// decisionsOf are the standing decisions of a person.
func decisionsOf(t *testing.T, b *stacktest.Table, who string) []store.Decision {
	t.Helper()
	all, err := b.Store.Decisions(t.Context())
	require.NoError(t, err)
	var own []store.Decision
	for _, d := range all {
		if d.By == who && d.Undone == nil {
			own = append(own, d)
		}
	}
	return own
}

// Somebody else settles an entry that was left open for long: the late form is not kept unasked, what was typed is still
// there, nothing tells what the other typed, and sent once more it is a look like any other. Source: our own logic.
func TestStale_SettledMeanwhile_IsRefusedKindlyAndKeepsWhatWasTyped(t *testing.T) {
	b := afternoon(t)
	h := openHut(t, b)
	ada, ben := sit(t, h.here, "Ada"), sit(t, h.here, "Ben")
	old := ben.get(bibPage(1, 2))
	h.wait(2*time.Minute + time.Second)
	require.Equal(t, bibPage(1, 2), ada.get(bibPage(1, 2)).path)
	ada.sends(ada.get(bibPage(1, 2)), "9", "paper")

	late := ben.sends(old, "40", "aloud")
	assert.Equal(t, http.StatusConflict, late.status)
	assert.Contains(t, late.body, "somebody else has been at this entry")
	assert.Contains(t, late.body, `name="text" type="text" inputmode="numeric" value="40"`)
	assert.Regexp(t, `value="aloud" checked`, late.body, "where it comes from is kept too")
	assert.NotContains(t, late.body, ">9<")
	assert.NotContains(t, late.body, "Ada")
	assert.Empty(t, decisionsOf(t, b, "Ben"))
	s, _ := b.Load()
	assert.Equal(t, "9", s.Row(ref(1, 2)).Bib)

	ben.sends(late, "40", "paper")
	own := decisionsOf(t, b, "Ben")
	require.Len(t, own, 1)
	assert.True(t, own[0].Blind, "nothing had been told")
}

// A new photo comes in while somebody types: they see the new ink, and are told what they typed at the old. It isn't left in
// the field, where an Enter too many would make it a look at the new. Source: our own logic.
func TestStale_NewPhoto_ShowsTheNewInkAndSaysWhatWasTyped(t *testing.T) {
	b := afternoon(t)
	p := sit(t, open(t, b), "Cleo")
	old := p.get(bibPage(1, 2))
	readAgain(t, b, func(sheetmodel.CardKey, *sheetmodel.Row) {})
	late := p.sends(old, "9", "paper")
	assert.Equal(t, http.StatusConflict, late.status)
	assert.Contains(t, late.body, "photographed again")
	assert.Contains(t, late.body, "At the old picture you typed “9”")
	assert.Regexp(t, `<input id="text"[^>]* value=""`, late.body)
	assert.NotContains(t, late.body, `value="9"`)
	assert.NotEqual(t, rowInk.FindStringSubmatch(old.body)[1], rowInk.FindStringSubmatch(late.body)[1])
	assert.Empty(t, decisionsOf(t, b, "Cleo"))
	late = p.sends(late, "", "paper") // the Enter too many
	assert.Empty(t, decisionsOf(t, b, "Cleo"))
	p.sends(late, "9", "paper")
	assert.Len(t, decisionsOf(t, b, "Cleo"), 1)

	// So is the reason for setting a row aside.
	old = p.get(bibPage(2, 2))
	readAgain(t, b, func(sheetmodel.CardKey, *sheetmodel.Row) {})
	late = p.filled(old, url.Values{"note": {"wind tore it"}, "do": {"aside"}})
	assert.Equal(t, http.StatusConflict, late.status)
	assert.Contains(t, late.body, `value="wind tore it"`)
}

// A form that is sent twice, say by two taps, is no surprise to its sender and no double. Source: our own logic.
func TestStale_TheSameFormTwice_IsOneDecision(t *testing.T) {
	b := afternoon(t)
	p := sit(t, open(t, b), "Cleo")
	page := p.get(bibPage(1, 2))
	for range 2 {
		assert.Equal(t, http.StatusOK, p.sends(page, "9", "paper").status)
	}
	assert.Len(t, decisionsOf(t, b, "Cleo"), 1)
}

var framedRow = regexp.MustCompile(`data-after="(/ink/[^"]+)"`)

// The ink that is fetched early is that of the entry which one key leads to, past the one that somebody else is at.
func TestEarly_InkIsThatOfTheNextEntry(t *testing.T) {
	h := openHut(t, afternoon(t))
	ada, bo := sit(t, h.here, "Ada"), sit(t, h.here, "Bo")
	page := ada.get("/next")
	require.NotEqual(t, page.path, bo.get("/next").path)
	n := 0
	for page = ada.get(page.path); ; n++ {
		early := framedRow.FindStringSubmatch(page.body)
		if early == nil {
			break
		}
		next := ada.filled(page, url.Values{"do": {"settle"}, "text": {"9"}, "how": {"asked"}, "sure": {"9"}})
		require.Regexp(t, `^/entry/`, next.path)
		assert.Equal(t, early[1], rowInk.FindStringSubmatch(next.body)[1], next.path)
		page = next
	}
	assert.Positive(t, n, "no ink was fetched early: not a test")
}

// The line breaks at the very key that sends an entry: once it is back, so is what was typed, it is kept once, and whoever
// sits down at the same browser next finds nothing of it.
func TestKeep_InChromium_ALineThatBreaksLosesNothingTyped(t *testing.T) {
	table := afternoon(t)
	server := open(t, table)
	air := openAir(t, server.URL)
	b := startBrowser(t)
	at := "http://127.0.0.1:" + air.port()
	sitDown := func(name string) {
		b.do(chromedp.Navigate(at + "/who"))
		b.settle()
		b.do(chromedp.Evaluate[chromedp.Void](`document.getElementById('name').value = ''; document.getElementById('name').focus()`))
		b.keys(name + kb.Enter)
	}
	sitDown("Cleo")
	b.on("/")
	b.do(chromedp.Navigate(at + bibPage(1, 2)))
	b.on(bibPage(1, 2))
	text := `document.getElementById('text').value`
	b.keys("40")
	air.breakNow()
	b.do(chromedp.KeyEvent(kb.Enter), chromedp.Sleep(time.Second))
	// The page is gone, or stays if the browser has noticed first.
	air.mend()
	b.do(chromedp.Navigate(at + bibPage(1, 2)))
	b.on(bibPage(1, 2))
	assert.Equal(t, "40", eval[string](b, text))
	assert.True(t, eval[bool](b, `!document.getElementById('kept').hidden`))
	assert.Empty(t, decisionsOf(t, table, "Cleo"))
	b.keys(kb.Enter)
	require.Len(t, decisionsOf(t, table, "Cleo"), 1)
	assert.Equal(t, "40", decisionsOf(t, table, "Cleo")[0].Text)

	b.do(chromedp.Navigate(at + bibPage(3, 3)))
	b.on(bibPage(3, 3))
	b.keys("41")
	sitDown("Dora")
	b.on("/")
	b.do(chromedp.Navigate(at + bibPage(3, 3)))
	b.on(bibPage(3, 3))
	assert.Empty(t, eval[string](b, text))
	assert.NotContains(t, eval[string](b, `JSON.stringify({...sessionStorage})`), "41")
}
