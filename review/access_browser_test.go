package review_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// axeScript is the accessibility checker that .ci/axe fetched, or the one that -axe names; empty without one.
func axeScript(t *testing.T) string {
	t.Helper()
	path := *axe
	if path == "" {
		path = filepath.Join("..", "bin", "axe.min.js")
	}
	b, err := os.ReadFile(path)
	if os.IsNotExist(err) && *axe == "" {
		return ""
	}
	require.NoError(t, err)
	return string(b)
}

// violations are what axe finds on the page, a line each.
func (b *browser) violations(script string) []string {
	b.t.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](script + "; window.found = undefined; axe.run().then((r) => { window.found = r.violations.map((v) => v.id + ': ' + v.nodes.map((n) => n.html.slice(0, 100)).join(' | ')) }); undefined"))
	require.Eventually(b.t, func() bool { return eval[bool](b, `!!window.found`) }, 60*time.Second, 100*time.Millisecond)
	return eval[[]string](b, `window.found`)
}

func (b *browser) theme(name string) { b.media("", name) }

// media shows pages as on a screen or on paper, light or dark.
func (b *browser) media(medium, theme string) {
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: medium, Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: theme}}})
		return err
	}))
}

// deskPages are all pages of the desk in a state in which there is something on each.
var deskPages = []string{
	"/", "/next", "/questions", "/draft", "/posting", "/heard", "/why?bib=8", "/why?bib=14", "/packet?bib=14", "/spot",
	"/card/run1/Blue/card-1", "/card/run1/Blue/card-3", "/card/run1/Blue/card-6", "/who", "/tour", "/nowhere",
}

// Every page of the desk, light and dark, has nothing that axe finds, a name for every control, and at 200 %
// text on a laptop no line that runs out of the page. Sources: WCAG 2.2, 1.3.1, 1.4.3, 1.4.4, 1.4.10, 4.1.2.
func TestDesk_InChromium_PagesFitHandsAndEyes(t *testing.T) {
	b := startBrowser(t)
	script := axeScript(t)
	address := open(t, afternoon(t)).URL
	b.do(chromedp.EmulateViewport(1280, 860), chromedp.Navigate(address+"/who"))
	b.settle()
	b.keys("Cleo" + kb.Enter)
	for _, theme := range []string{"light", "dark"} {
		b.theme(theme)
		for _, path := range deskPages {
			b.do(chromedp.Navigate(address + path))
			b.do(chromedp.WaitReady("main"))
			assert.Empty(t, eval[[]string](b, unnamedFields), "%s: without a name", path)
			if script != "" {
				assert.Empty(t, b.violations(script), "%s, %s", path, theme)
			}
			b.do(chromedp.Evaluate[chromedp.Void](`document.documentElement.style.fontSize = '200%'; undefined`))
			assert.LessOrEqual(t, eval[int](b, `document.documentElement.scrollWidth`), 1280, "%s at 200 %%: %s", path,
				strings.Join(eval[[]string](b, `[...document.querySelectorAll('main *, header *')].filter((el) => !el.closest('.scroll') && el.getBoundingClientRect().right > 1281).map((el) => el.outerHTML.slice(0, 90))`), "\n"))
		}
		b.do(chromedp.Navigate(address + "/next"))
		b.settle()
		b.keys("?")
		if script != "" {
			assert.Empty(t, b.violations(script), "the keys, %s", theme)
		}
	}
	if script == "" {
		t.Log("axe-core was not fetched (.ci/axe): contrast and structure were not looked at")
	}
}

// Enter after who says so gives no answer: a form's first button would be an answer that nobody chose. Source: our own logic.
func TestDesk_InChromium_EnterInAQuestion_AnswersNothing(t *testing.T) {
	b := startBrowser(t)
	table := stacktest.New(t)
	coded(t, table, "one.jpg", front, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	coded(t, table, "two.jpg", front, stacktest.Row{Bib: "31", Code: "F", Gate: "7"})
	address := open(t, table).URL
	b.do(chromedp.EmulateViewport(1280, 860), chromedp.Navigate(address+"/who"))
	b.settle()
	b.keys("Cleo" + kb.Enter)
	b.do(chromedp.Navigate(address + "/questions"))
	b.settle()
	require.True(t, eval[bool](b, `(() => { const note = document.querySelector('.answers input[name=note]'); note?.focus(); return note !== null })()`), "a question is open")
	before, err := table.Store.Answers(t.Context())
	require.NoError(t, err)
	b.keys("the finish referee" + kb.Enter)
	after, err := table.Store.Answers(t.Context())
	require.NoError(t, err)
	assert.Equal(t, before, after)
	assert.Equal(t, "the finish referee", eval[string](b, `document.querySelector('.answers input[name=note]').value`))
	b.keys(kb.Tab + kb.Enter) // the first answer, chosen
	after, err = table.Store.Answers(t.Context())
	require.NoError(t, err)
	assert.Len(t, after, len(before)+1)
}

// On a phone of 390 px no page runs out to the side: with something heard, something made public, something typed.
// Source: WCAG 2.2, 1.4.10, for the width of a common phone.
func TestDesk_InChromium_PhoneWide_NoPageRunsOut(t *testing.T) {
	b := startBrowser(t)
	table := afternoon(t)
	plainCard(t, table, "league.jpg", sheetmodel.CardKey{}, stacktest.Row{Bib: "14", Code: "F", Gate: "6"}) // which card is it?
	server := open(t, table)
	dee := sit(t, server, "Dee")
	dee.send("/heard", heardForm("9", "31", "nine-missed-the-red-and-went-on-to-the-finish-all-the-same"))
	dee.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "6", "F")))
	dee.send("/packet", juryForm("protest", "from", "team official"))
	b.do(chromedp.EmulateViewport(390, 780, chromedp.EmulateMobile), chromedp.Navigate(server.URL+"/who"))
	b.settle()
	b.keys("Cleo" + kb.Enter)
	for _, path := range deskPages {
		b.do(chromedp.Navigate(server.URL + path))
		b.do(chromedp.WaitReady("main"), chromedp.Evaluate[chromedp.Void](`document.querySelectorAll('img').forEach((i) => { i.loading = 'eager' })`))
		require.Eventually(t, func() bool { return eval[bool](b, `[...document.images].every((i) => i.complete)`) }, 30*time.Second, 50*time.Millisecond)
		assert.LessOrEqual(t, eval[int](b, `document.documentElement.scrollWidth`), 390, "%s: %s", path,
			strings.Join(eval[[]string](b, `[...document.querySelectorAll('main *, header *')].filter((el) => !el.closest('.scroll') && el.getBoundingClientRect().right > 391).map((el) => el.outerHTML.slice(0, 90))`), "\n"))
	}
}

// What was refused is seen without scrolling, also where its form stands far down the page; and the ink stays in view
// while somebody writes why a row is set aside. Source: our own logic.
func TestDesk_InChromium_SmallLaptop_RefusalAndInkAreInView(t *testing.T) {
	b := startBrowser(t)
	address := open(t, afternoon(t)).URL
	b.do(chromedp.EmulateViewport(1366, 650), chromedp.Navigate(address+"/who"))
	b.settle()
	b.keys("Cleo" + kb.Enter)
	seen := func(selector string) bool {
		return eval[bool](b, fmt.Sprintf(`(() => { const r = document.querySelector(%q).getBoundingClientRect(); return r.top >= 0 && r.bottom <= innerHeight })()`, selector))
	}
	b.do(chromedp.Navigate(address + "/posting"))
	b.settle()
	b.do(chromedp.Evaluate[chromedp.Void](`[...document.querySelectorAll('button[value=posted]')].at(-1).click()`))
	b.settle()
	assert.Contains(t, eval[string](b, `document.querySelector('main .wrong').innerText`), "Not kept: mark the lines")
	assert.True(t, seen("main .wrong"))
	b.do(chromedp.Navigate(address + "/posting"))
	b.settle()
	b.do(chromedp.Navigate(address + "/nowhere"))
	b.settle()
	b.do(chromedp.Click(`#back button`))
	b.on("/posting")
	b.do(chromedp.Navigate(address + "/next"))
	b.settle()
	assert.True(t, seen(".loupe svg"))
	assert.True(t, seen("#type button[value=settle]"))
	b.keys("/")
	assert.Equal(t, "note", eval[string](b, `document.activeElement.id`))
	assert.True(t, seen("#note"))
	assert.True(t, seen(".loupe svg"))
	b.noFaultsBut("4") // what was refused, and what isn't there
}

// On paper nothing can be unfolded: draft and packet print what stands folded on the screen. Source: our own logic.
func TestDraft_InChromium_PrintsWhatIsFolded(t *testing.T) {
	b := startBrowser(t)
	address := open(t, afternoon(t)).URL
	b.do(chromedp.EmulateViewport(1280, 860), chromedp.Navigate(address+"/who"))
	b.settle()
	b.keys("Cleo" + kb.Enter)
	const folded = `[...document.querySelectorAll('main details:not(.off-paper)')].filter((d) => !d.lastElementChild.checkVisibility({contentVisibilityAuto: true}) || d.lastElementChild.getBoundingClientRect().height < 1).map((d) => d.firstElementChild.textContent)`
	for _, path := range []string{"/draft", "/packet?bib=14"} {
		b.media("", "light")
		b.do(chromedp.Navigate(address+path), chromedp.WaitReady("main"))
		require.NotEmpty(t, eval[[]string](b, folded), "%s: folded on the screen", path)
		b.media("print", "light")
		// A frame may pass until what was folded is laid out.
		assert.Eventually(t, func() bool { return len(eval[[]string](b, folded)) == 0 }, 5*time.Second, 100*time.Millisecond, path)
	}
}
