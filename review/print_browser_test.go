package review_test

import (
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
)

// Paper shows nothing that can only be pressed or typed into, on whatever page. Our own logic.
func TestPrint_InChromium_NoFormIsOnPaper(t *testing.T) {
	address := open(t, afternoon(t)).URL
	b := startBrowser(t)
	b.do(chromedp.EmulateViewport(794, 1123), chromedp.Navigate(address+"/who"))
	b.settle()
	b.keys("Cleo" + kb.Enter)
	b.media("print", "light")
	for _, path := range []string{"/", "/questions", "/draft", "/posting", "/heard", "/why?bib=14", "/packet?bib=14", "/card/run1/Blue/card-1"} {
		b.do(chromedp.Navigate(address + path))
		b.settle()
		assert.Empty(t, eval[[]string](b, `[...document.querySelectorAll('form, button, input, nav')].filter((e) => e.getClientRects().length).map((e) => e.outerHTML.slice(0, 80))`), path)
	}
	b.noFaults()
}
