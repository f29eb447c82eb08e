package review_test

import (
	"context"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// With the desk out of reach an entry stays on its page, with what was typed, and says so; once it is back, one key
// sends it. With the session gone, what was typed is there again for the same person, and for nobody else. Source: our
// own logic.
func TestEntry_InChromium_DeskGone_TypedStays(t *testing.T) {
	table := afternoon(t)
	line := openAir(t, open(t, table).URL)
	b := startBrowser(t)
	enter := func(name string) {
		b.do(chromedp.Evaluate[chromedp.Void](`document.getElementById('name').value = ''`), chromedp.Focus(`#name`))
		b.keys(name + kb.Enter)
	}
	forgotten := func() {
		b.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, network.ClearBrowserCookies, cdp.Empty{})
			return err
		}))
	}
	heard := func() bool { return eval[bool](b, `document.getElementById('unheard') === null`) }
	b.do(chromedp.Navigate("http://127.0.0.1:" + line.port() + "/who?to=/next"))
	b.settle()
	enter("Cleo")
	page := eval[string](b, `location.pathname`)
	require.Contains(t, page, "/entry/")
	time.Sleep(time.Second) // its line is open
	line.breakNow()
	require.Eventually(t, func() bool { return !heard() }, 20*time.Second, 100*time.Millisecond)
	b.do(chromedp.KeyEvent("71" + kb.Enter))
	time.Sleep(500 * time.Millisecond)
	assert.Equal(t, page, eval[string](b, `location.pathname`), "no page of the browser's own")
	assert.Equal(t, "71", eval[string](b, `document.getElementById('text').value`))
	line.mend()
	require.Eventually(t, heard, 30*time.Second, 100*time.Millisecond)

	forgotten()
	b.keys(kb.Enter)
	assert.Contains(t, eval[string](b, `document.querySelector('main').innerText`), "Nobody is named at this desk")
	b.do(chromedp.Click(`main a[href^="/who"]`))
	b.settle()
	enter("Cleo")
	assert.Equal(t, page, eval[string](b, `location.pathname`))
	assert.Equal(t, "71", eval[string](b, `document.getElementById('text').value`))

	forgotten()
	b.keys(kb.Enter)
	b.do(chromedp.Click(`main a[href^="/who"]`))
	b.settle()
	enter("Dora")
	assert.Empty(t, eval[string](b, `document.getElementById('text').value`), "it is another person's")
}
