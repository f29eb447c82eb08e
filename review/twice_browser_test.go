package review_test

import (
	"context"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// hold sends a key as a keyboard does that is held down: each press says whether it is the repetition of one before.
func (b *browser) hold(key, code, text string, vk int64, presses ...bool) {
	b.t.Helper()
	for _, again := range presses {
		b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, input.DispatchKeyEvent, input.DispatchKeyEventParams{
				Type: "keyDown", Key: key, Code: code, Text: text, WindowsVirtualKeyCode: vk, AutoRepeat: &again,
			})
			return err
		}))
		b.settle()
	}
	b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, input.DispatchKeyEvent, input.DispatchKeyEventParams{Type: "keyUp", Key: key, Code: code, WindowsVirtualKeyCode: vk})
		return err
	}))
}

// pressTwice sends the presses of a double click on one place; with wait, the page that the first one leads to is there before the second.
func (b *browser) pressTwice(selector string, wait bool) {
	b.t.Helper()
	type point struct{ X, Y float64 }
	at := eval[point](b, `(() => { const el = document.querySelector('`+selector+`'); el.scrollIntoView({ block: 'center' }); const r = el.getBoundingClientRect(); return { X: r.x + r.width / 2, Y: r.y + r.height / 2 }; })()`)
	for n := range 2 {
		b.do(chromedp.MouseClickXY(at.X, at.Y, chromedp.ClickCount(n+1)))
		if wait {
			b.settle()
		} else {
			b.do(chromedp.Sleep(100 * time.Millisecond))
		}
	}
	b.settle()
}

// A key that is held a moment too long, and the second press of a double click, do nothing on the page that the first one led to:
// nobody has looked at its ink. Source: our own logic.
func TestEntry_InChromium_KeyHeldOrPressedTwice_SaysNothingOfTheNextInk(t *testing.T) {
	table := afternoon(t)
	b := startBrowser(t)
	b.do(chromedp.Navigate(open(t, table).URL + "/who?to=/next"))
	b.settle()
	b.do(chromedp.Focus(`#name`))
	b.keys("Cleo" + kb.Enter)
	first := eval[string](b, `location.pathname`)
	require.Contains(t, first, "/entry/")

	b.hold(".", "Period", ".", 190, false, true, true)
	assert.Len(t, emptyRowsBy(t, table, "Cleo"), 1, "of the row that was shown when the key was pressed")
	assert.NotEqual(t, first, eval[string](b, `location.pathname`))

	b.pressTwice(`button[data-key="."]`, true)
	assert.Len(t, emptyRowsBy(t, table, "Cleo"), 2)

	// What was asked about once more is looked at before Enter keeps it.
	b.do(chromedp.Focus(`#text`), chromedp.KeyEvent("41414"))
	b.keys(kb.Enter)
	b.hold("Enter", "Enter", "\r", 13, true, true)
	assert.Contains(t, eval[string](b, `document.querySelector('main').innerText`), "has not the shape of a bib")
	for _, d := range decisionsOf(t, table, "Cleo") {
		assert.Equal(t, sheetmodel.BasisNoWriting, d.Basis)
	}
	b.keys(kb.Enter)
	assert.NotContains(t, eval[string](b, `document.querySelector('main').innerText`), "41414 kept", "the second press of two in a hurry")
	b.do(chromedp.Sleep(time.Second))
	b.keys(kb.Enter)
	assert.Contains(t, eval[string](b, `document.querySelector('main').innerText`), "41414 kept")
}

// The card is photographed again while somebody types, and they press Enter twice: what they typed is no look at the new ink,
// and the tab's own shelf doesn't put it back into the field. Source: our own logic.
func TestEntry_InChromium_NewInk_EnterTwice_IsNoLook(t *testing.T) {
	table := afternoon(t)
	b := startBrowser(t)
	b.do(chromedp.Navigate(open(t, table).URL + "/who?to=" + bibPage(1, 2)))
	b.settle()
	b.do(chromedp.Focus(`#name`))
	b.keys("Cleo" + kb.Enter)
	require.Equal(t, bibPage(1, 2), eval[string](b, `location.pathname`))
	b.do(chromedp.Focus(`#text`), chromedp.KeyEvent("9"))
	readAgain(t, table, func(sheetmodel.CardKey, *sheetmodel.Row) {})
	b.keys(kb.Enter)
	assert.Contains(t, eval[string](b, `document.querySelector('main').innerText`), "At the old picture you typed “9”")
	assert.Empty(t, eval[string](b, `document.querySelector('#text').value`))
	b.keys(kb.Enter)
	b.do(chromedp.Sleep(time.Second))
	b.keys(kb.Enter)
	assert.Empty(t, decisionsOf(t, table, "Cleo"))
}

// A form whose button is pressed twice is sent once: the second answer would say that nothing was kept, or keep a double.
// Source: our own logic.
func TestForms_InChromium_ButtonPressedTwice_SentOnce(t *testing.T) {
	table := afternoon(t)
	b := startBrowser(t)
	desk := open(t, table).Config.Handler
	slow := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/heard" && r.Method == http.MethodPost {
			time.Sleep(300 * time.Millisecond) // over the air, an answer takes its time
		}
		desk.ServeHTTP(w, r)
	}))
	t.Cleanup(func() { slow.CloseClientConnections(); slow.Close() })
	b.do(chromedp.Navigate(slow.URL + "/who?to=/heard"))
	b.settle()
	b.do(chromedp.Focus(`#name`))
	b.keys("Cleo" + kb.Enter)
	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('input[name=from]').value = 'finish'; document.querySelector('input[name=words]').value = 'fog'; const at = document.querySelector('select[name=at]'); if (at) at.selectedIndex = 1`))
	b.pressTwice(`main form button`, false)
	heard, err := table.Store.HeardLog(t.Context())
	require.NoError(t, err)
	assert.Len(t, heard, 1)
}

// emptyRowsBy are the rows of which a person has said that nothing is written there.
func emptyRowsBy(t *testing.T, b *stacktest.Table, who string) map[string]bool {
	t.Helper()
	rows := map[string]bool{}
	for _, d := range decisionsOf(t, b, who) {
		if d.Basis == sheetmodel.BasisNoWriting {
			row, _, _ := strings.Cut(d.Reading, ".")
			rows[row] = true
		}
	}
	return rows
}

// What referee and jury do is said by a button: Enter in a field of that form would press the first one, and say of a line that is
// public that a protest was handed in. Source: our own logic; which button Enter presses, HTML's implicit submission.
func TestPacket_InChromium_EnterInAField_SaysNothing(t *testing.T) {
	table := afternoon(t)
	desk := open(t, table)
	require.Equal(t, http.StatusOK, sit(t, desk, "Bo").send("/packet", juryForm("posted")).status)
	b := startBrowser(t)
	b.do(chromedp.Navigate(desk.URL + "/who?to=" + url.QueryEscape("/packet?bib=14&group=girls")))
	b.settle()
	b.do(chromedp.Focus(`#name`))
	b.keys("Cleo" + kb.Enter)
	said := func() int {
		all, err := table.Store.Answers(t.Context())
		require.NoError(t, err)
		return len(all)
	}
	for _, field := range []string{"at", "from", "reason"} {
		b.do(chromedp.Sleep(1100*time.Millisecond), chromedp.Focus(`.jury input[name=`+field+`]`)) // in the first second nothing is sent anyway
		b.keys(kb.Enter)
		assert.Equal(t, 1, said(), field)
	}
	b.do(chromedp.Click(`.jury button[value=protest]`))
	b.settle()
	assert.Equal(t, 2, said(), "a button still says it")
}
