package review_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// The desk's part of a day, in two browsers: a row that the reader missed is added with the mouse and typed by two
// people, a gap is closed, two people's different entries are settled by the judge, a line is posted and a protest
// against it answered. Source: our own logic.
func TestDay_InChromium_MissedRowGapConflictPostingProtest(t *testing.T) {
	table := stacktest.New(t)
	table.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"},
		stacktest.Row{Bib: "21", Code: "F", Gate: "5", Panel: "C", State: sheetmodel.Doubtful})
	table.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	server := open(t, table)
	enter := func(name string) *browser {
		b := startBrowser(t)
		b.do(chromedp.EmulateViewport(1280, 900), chromedp.Navigate(server.URL+"/who"))
		b.settle()
		b.keys(name + kb.Enter)
		require.Eventually(t, func() bool { // a busy machine takes its time
			return evalThere[bool](b, `location.pathname !== '/who' && document.readyState === 'complete'`)
		}, 30*time.Second, 50*time.Millisecond)
		b.settle()
		return b
	}
	to := func(b *browser, path string) {
		b.do(chromedp.Navigate(server.URL + path))
		b.settle()
	}
	says := func(b *browser) string {
		return eval[string](b, `document.querySelector('.notice')?.textContent ?? ''`)
	}
	bo := enter("Bo")

	// A missed row: a box is drawn over row 4 of the print.
	to(bo, "/card/run1/Blue/card-1")
	field := table.Layout.Side(sheetmodel.Front).Field("row-04.bib")
	require.NotNil(t, field)
	bo.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('svg[data-draw]').scrollIntoView(false)`))
	point := func(x, y sheetmodel.MM) []float64 {
		return eval[[]float64](bo, fmt.Sprintf(`{ const s = document.querySelector('svg[data-draw]'); const p = new DOMPoint(%f, %f).matrixTransform(s.getScreenCTM()); [p.x, p.y] }`, float64(x), float64(y)))
	}
	from, till := point(field.Rect.X+1, field.Rect.Y+1), point(field.Rect.X+60, field.Rect.Y+field.Rect.H-1)
	for _, step := range []struct {
		kind string
		at   []float64
	}{{"pointerdown", from}, {"pointermove", till}, {"pointerup", till}} {
		bo.do(chromedp.Evaluate[chromedp.Void](fmt.Sprintf(`document.querySelector('svg[data-draw]').setPointerCapture = () => {};
			document.querySelector('svg[data-draw]').dispatchEvent(new PointerEvent('%s', {pointerId: 1, pointerType: 'mouse', button: 0, clientX: %f, clientY: %f, bubbles: true})); undefined`, step.kind, step.at[0], step.at[1])))
	}
	assert.NotEmpty(t, eval[string](bo, `document.querySelector('[data-rowbox]').value`))
	bo.do(chromedp.Click(`form[action^="/addrow/"] button`))
	bo.settle()
	assert.Contains(t, says(bo), "Row 4 is added.")

	types := func(b *browser, part sheetmodel.Part, row int, text string) {
		to(b, "/entry/"+stacktest.Key("Blue", 1, row, part))
		if strings.HasSuffix(eval[string](b, `location.pathname`), fmt.Sprintf("row-%02d.%s", row, part)) {
			b.keys(text + kb.Enter)
		}
	}
	cy := enter("Cy")
	for _, b := range []*browser{bo, cy} {
		types(b, sheetmodel.PartBib, 4, "9")
		types(b, sheetmodel.PartCode, 4, "F")
		types(b, sheetmodel.PartGate, 4, "3")
	}
	st, _ := table.Load()
	assert.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(1, 4)).BibState)

	// A conflict: both read row 2 otherwise than the reader; then the judge names it.
	types(bo, sheetmodel.PartBib, 2, "27")
	types(cy, sheetmodel.PartBib, 2, "24")
	st, _ = table.Load()
	require.Equal(t, sheetmodel.BibWaiting, st.Row(ref(1, 2)).BibState)
	// The judge names the bib that one of the two read: their look and the witness's. What Cy typed isn't in the box.
	cy.on(bibPage(1, 2))
	assert.Empty(t, eval[string](cy, `document.getElementById('text').value`), "it was kept, and isn't the judge's word")
	assert.NotContains(t, eval[string](cy, `document.querySelector('main').textContent`), "27")
	// By keys: Enter alone asks where it comes from, and keeps nothing.
	assert.Contains(t, eval[string](cy, `document.getElementById('hint').textContent`), "to say how the judge named it")
	cy.keys("27" + kb.Enter)
	cy.on(bibPage(1, 2))
	require.Equal(t, sheetmodel.BibWaiting, stateOf(table, 1, 2))
	for range 5 {
		if eval[string](cy, `document.querySelector('input[name=how]:checked')?.value ?? ''`) == "asked" {
			break
		}
		cy.keys("*")
	}
	cy.keys(kb.Enter)
	st, _ = table.Load()
	assert.Equal(t, sheetmodel.BibTwoLooks, st.Row(ref(1, 2)).BibState)
	assert.Equal(t, "27", st.Row(ref(1, 2)).Bib)

	// A gap is closed with a reason.
	to(bo, "/card/run1/Blue/card-6")
	bo.do(chromedp.SendKeys(`input[name=reason]`, "lost in the snow"), chromedp.Click(`button[value=close]`))
	bo.settle()
	assert.Contains(t, says(bo), "its gap is closed with your reason")

	// The lines of 14, of the added row and of the conflict are posted; 14's is protested against, and the jury's answer is kept.
	// All of it by keyboard.
	bo.do(chromedp.Evaluate[chromedp.Void](`document.activeElement.blur()`))
	bo.keys("p")
	bo.on("/posting")
	bo.tabTo(`input[name=all]`)
	bo.keys(" ")
	bo.tabTo(`button[value=posted]`)
	bo.keys(kb.Enter)
	assert.Contains(t, eval[string](bo, `document.querySelector('.wrong').textContent`), "this list is incomplete. Ask the referee")
	bo.do(chromedp.Sleep(time.Second)) // as hands do
	bo.tabTo(`input[name=all]`)
	bo.keys(" ")
	bo.tabTo(`input[name=word]`)
	bo.keys(" ")
	bo.tabTo(`input[name=at]`)
	bo.write("12:04")
	bo.keys(kb.Enter)
	assert.Contains(t, says(bo), "Made public at 12:04:00: 3 lines.")

	dee := enter("Dee")
	dee.do(chromedp.Evaluate[chromedp.Void](`document.activeElement.blur()`))
	dee.keys("p")
	dee.on("/posting")
	dee.tabTo(`a[href^="/packet?bib=14"]`)
	dee.keys(kb.Enter)
	dee.on("/packet")
	dee.tabTo(`form.jury input[name=at]`)
	dee.write("12:10")
	dee.tabTo(`form.jury input[name=from]`)
	dee.write("team official")
	dee.tabTo(`button[value=protest]`)
	dee.keys(kb.Enter)
	assert.Contains(t, says(dee), "Protest kept, handed in at 12:10:00.")
	dee.tabTo(`form.jury input[name=at]`)
	dee.write("12:31")
	dee.tabTo(`form.jury input[name=reason]`)
	dee.write("tracks at the gate")
	dee.tabTo(`button[value=overruled]`)
	dee.keys(kb.Enter)
	// Nobody was marked as present: it comes back with what was typed, at the members.
	assert.Contains(t, eval[string](dee, `document.querySelector('.wrong').textContent`), "mark who of the jury was present")
	assert.Equal(t, "present", eval[string](dee, `document.activeElement.name`))
	assert.Equal(t, "tracks at the gate", eval[string](dee, `document.querySelector('form.jury input[name=reason]').value`))
	dee.keys(" ")
	dee.tabTo(`button[value=overruled]`)
	dee.do(chromedp.Sleep(time.Second)) // hands take longer than a test; the second Enter of two in a hurry does nothing
	dee.keys(kb.Enter)
	assert.Contains(t, says(dee), "The jury's decision is kept: overruled at 12:31:00.")
	_, result := table.Load()
	overruled := false
	for _, c := range result.Calls {
		overruled = overruled || c.Bib == "14" && c.Overruled
	}
	assert.True(t, overruled)
	dee.noFaultsBut("422")
	bo.noFaultsBut("422") // the form that came back
	cy.noFaults()
}

// stateOf is how the bib of a row stands.
func stateOf(b *stacktest.Table, card, row int) sheetmodel.BibState {
	st, _ := b.Load()
	return st.Row(ref(card, row)).BibState
}

// tabTo goes on by the tabulator until an element that fits has the focus.
func (b *browser) tabTo(selector string) {
	b.t.Helper()
	for range 300 {
		b.do(chromedp.KeyEvent(kb.Tab))
		if eval[bool](b, fmt.Sprintf("document.activeElement.matches(%q)", selector)) {
			return
		}
	}
	require.Fail(b.t, "no way there by the tabulator", "%s on %s", selector, eval[string](b, "location.pathname"))
}

// write types a text in the place of what the field holds.
func (b *browser) write(text string) {
	b.t.Helper()
	b.do(chromedp.Evaluate[chromedp.Void](`document.activeElement.select(); undefined`), chromedp.KeyEvent(text))
}

// A page of postings stands open while somebody walks to the board: a time that nobody has touched is that of the key, not that of
// the page, and one that was typed stays. Source: our own logic.
func TestPosting_InChromium_TimeRunsUntilItIsTouched(t *testing.T) {
	b := startBrowser(t)
	b.do(chromedp.Navigate(open(t, afternoon(t)).URL + "/who?to=/posting"))
	b.settle()
	b.do(chromedp.Focus(`#name`))
	b.keys("Cleo" + kb.Enter)
	b.on("/posting")
	b.do(chromedp.Sleep(2100 * time.Millisecond))
	times := eval[[]string](b, `(() => { const at = document.querySelector('button[value=posted]').form.querySelector('input[name=at]'); return [at.defaultValue, at.value]; })()`)
	require.Greater(t, times[1], times[0])
	b.do(chromedp.Click(`input[name=all]`), chromedp.Click(`input[name=word]`), chromedp.Click(`button[value=posted]`))
	b.settle()
	public := eval[string](b, `document.querySelector('table.board tbody td[data-head="Made public"]').textContent`)
	assert.GreaterOrEqual(t, public, times[1])

	b.do(chromedp.Evaluate[chromedp.Void](`document.querySelector('details').open = true`))
	b.do(chromedp.Focus(`details input[name=at]`), chromedp.Evaluate[chromedp.Void](`document.activeElement.select()`))
	b.write("12:04")
	b.do(chromedp.Focus(`details input[name=why]`), chromedp.Sleep(2100*time.Millisecond))
	assert.Equal(t, "12:04", eval[string](b, `document.querySelector('details input[name=at]').value`))
}
