package review_test

import (
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// A person sits down and works with the keyboard alone: name, entry, next, back, later, aside, draft.
func TestKeys_FromTheNameToTheDraft(t *testing.T) {
	table := afternoon(t)
	server := open(t, table)
	b := startBrowser(t)
	b.do(chromedp.Navigate(server.URL))
	b.settle()
	focused := `document.activeElement.id`
	require.Equal(t, "name", eval[string](b, focused))
	b.keys("Cleo" + kb.Enter)
	b.on("/")

	b.keys("e")
	b.on(bibPage(1, 2))
	require.Equal(t, "text", eval[string](b, focused))
	// What the machine read is nowhere in the page before it is typed.
	assert.NotRegexp(t, `[^0-9]9[^0-9]`, eval[string](b, `document.querySelector('main').innerText + [...document.querySelectorAll('main input')].map(i => i.value).join(' ')`))
	box := eval[string](b, `document.querySelector('.loupe svg').getAttribute('viewBox')`)
	b.keys("+")
	assert.NotEqual(t, box, eval[string](b, `document.querySelector('.loupe svg').getAttribute('viewBox')`))
	assert.Empty(t, eval[string](b, `document.getElementById('text').value`), "a key is no text")

	b.keys("9" + kb.Enter)
	b.on(bibPage(2, 2))
	assert.Equal(t, "text", eval[string](b, focused))
	assert.Contains(t, eval[string](b, `document.querySelector('[role=status]').innerText`), "9 settled, two looks agree")
	assert.Contains(t, eval[string](b, `document.querySelector('[aria-live]').innerText`), "2 entries to type")
	b.keys("<")
	b.on(bibPage(1, 2))
	assert.Contains(t, eval[string](b, `document.querySelector('main').innerText`), "You have typed this one.")
	b.keys("<")
	b.on(bibPage(1, 2))
	assert.Contains(t, eval[string](b, `document.getElementById('no-way-back').innerText`), "Nothing to take back", "the key says so where it does nothing")
	b.keys(">")
	b.on(bibPage(2, 2))
	assert.Contains(t, eval[string](b, `document.querySelector('[role=status]').innerText`), "Put back as it was")
	b.keys(">")
	b.on(bibPage(2, 2))
	assert.Contains(t, eval[string](b, `document.getElementById('no-way-forth').innerText`), "Nothing to put back")
	b.keys("<")
	b.on(bibPage(1, 2))

	b.do(chromedp.Navigate(server.URL + "/next"))
	b.settle()
	b.keys(kb.Escape)
	b.on(bibPage(3, 3))
	b.keys("?")
	assert.True(t, eval[bool](b, `document.getElementById('keys').open`))
	assert.Equal(t, 15, eval[int](b, `document.querySelectorAll('#keys tr').length`))
	b.keys(kb.Escape)
	assert.False(t, eval[bool](b, `document.getElementById('keys').open`))
	b.keys("*")
	assert.Equal(t, "aloud", eval[string](b, `document.querySelector('input[name=how]:checked').value`))
	b.keys("/")
	assert.Equal(t, "note", eval[string](b, focused))
	assert.Empty(t, eval[string](b, `document.activeElement.value`), "the key that opens the reason is no part of it")
	b.keys("wind tore it" + kb.Enter)
	b.do(chromedp.Evaluate[chromedp.Void](`document.activeElement.blur()`))
	b.keys("d")
	b.on("/draft")
	assert.Contains(t, eval[string](b, `document.querySelector('main').innerText`), "wind tore it")
	b.shot("draft.png", 1280)
	b.noFaults()

	s, _ := table.Load()
	assert.Equal(t, sheetmodel.BibSetAside, s.Row(ref(3, 3)).BibState)
}
