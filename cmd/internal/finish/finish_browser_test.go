package finish_test

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/draw"
	_ "image/png" // pictures of blank cards
	"math"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/cmd/internal/finish"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/propose"
)

// The operators of the keystroke-level model. Source: Card, Moran and Newell, The keystroke-level model for user
// performance time with interactive systems, Communications of the ACM 23 (1980) 396-410: a key by an average typist who is
// no secretary, pointing with a mouse, a button's press or release, a hand that moves between both, making up one's mind.
const (
	klmKey    = 280 * time.Millisecond
	klmPoint  = 1100 * time.Millisecond
	klmButton = 100 * time.Millisecond
	klmHome   = 400 * time.Millisecond
	klmMental = 1350 * time.Millisecond
)

const blanks = "../../../testdata/blank-cards"

// secretary is somebody at the page who knows what the card is for.
type secretary struct {
	t     *testing.T
	ctx   context.Context
	truth *sheetmodel.Side
	took  time.Duration
	mouse bool // the hand is there

	mu     sync.Mutex
	faults []string
}

func (p *secretary) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, 60*time.Second)
	defer cancel()
	require.NoError(p.t, chromedp.Do(ctx, steps...))
}

func look[T any](p *secretary, js string) T {
	p.t.Helper()
	ctx, cancel := context.WithTimeout(p.ctx, 60*time.Second)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](js))
	require.NoError(p.t, err, js)
	return v
}

func (p *secretary) think() { p.took += klmMental }

// press presses keys one after the other.
func (p *secretary) press(keys ...string) {
	p.t.Helper()
	p.toKeys()
	for _, k := range keys {
		p.took += klmKey
		if k == kb.Enter {
			p.command("Enter", 13)
			continue
		}
		p.do(chromedp.KeyEvent(k))
	}
}

// toKeys takes the hand from the mouse.
func (p *secretary) toKeys() {
	if p.mouse {
		p.mouse, p.took = false, p.took+klmHome
	}
}

// command presses a key that the page acts on itself: a browser sends no character after it then, and neither must we.
func (p *secretary) command(key string, code int64) {
	p.t.Helper()
	for _, what := range []input.DispatchKeyEventType{input.DispatchKeyEventTypeRawKeyDown, input.DispatchKeyEventTypeKeyUp} {
		p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
			_, err := cdp.Call(ctx, t, input.DispatchKeyEvent, input.DispatchKeyEventParams{Type: what, Key: key, WindowsVirtualKeyCode: code})
			return err
		}))
	}
}

// pick types as much of a word as tells it from the others that a box takes.
func (p *secretary) pick(id, value string) {
	p.t.Helper()
	all := look[[]string](p, `[...document.getElementById('`+id+`').list.options].map((o) => o.value)`)
	typed := value
	for n := range value {
		begin := value[:n+1]
		if !slices.ContainsFunc(all, func(a string) bool { return a != value && strings.HasPrefix(a, begin) }) {
			typed = begin
			break
		}
	}
	p.press(strings.Split(typed, "")...)
}

// drag draws a rectangle on the card.
func (p *secretary) drag(r sheetmodel.Rect) {
	p.t.Helper()
	box := look[[]float64](p, `(() => { const b = document.getElementById('over').getBoundingClientRect(); return [b.x, b.y, b.width, b.height]; })()`)
	at := func(x, y sheetmodel.MM) (float64, float64) {
		return box[0] + box[2]*float64(x/p.truth.W), box[1] + box[3]*float64(y/p.truth.H)
	}
	x0, y0 := at(r.X, r.Y)
	x1, y1 := at(r.X+r.W, r.Y+r.H)
	p.do(chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x0, y0), chromedp.MouseEvent(input.DispatchMouseEventTypeMousePressed, x0, y0, chromedp.ButtonLeft),
		chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, (x0+x1)/2, (y0+y1)/2, chromedp.ButtonLeft), chromedp.MouseEvent(input.DispatchMouseEventTypeMouseMoved, x1, y1, chromedp.ButtonLeft),
		chromedp.MouseEvent(input.DispatchMouseEventTypeMouseReleased, x1, y1, chromedp.ButtonLeft))
	p.mouse, p.took = true, p.took+klmHome+2*klmPoint+2*klmButton
}

// pressOn presses on the middle of a place on the card.
func (p *secretary) pressOn(r sheetmodel.Rect, times int64, shift bool) {
	p.t.Helper()
	box := look[[]float64](p, `(() => { const b = document.getElementById('over').getBoundingClientRect(); return [b.x, b.y, b.width, b.height]; })()`)
	c := r.Center()
	x, y := box[0]+box[2]*float64(c.X/p.truth.W), box[1]+box[3]*float64(c.Y/p.truth.H)
	for n := int64(1); n <= times; n++ {
		for _, what := range []input.DispatchMouseEventType{input.DispatchMouseEventTypeMousePressed, input.DispatchMouseEventTypeMouseReleased} {
			p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
				m := input.DispatchMouseEventParams{Type: what, X: x, Y: y, Button: "left", ClickCount: n}
				if shift {
					m.Modifiers = 8
				}
				_, err := cdp.Call(ctx, t, input.DispatchMouseEvent, m)
				return err
			}))
		}
	}
	p.toMouse()
	p.took += klmPoint + time.Duration(2*times)*klmButton
}

// toMouse takes the hand from the keys.
func (p *secretary) toMouse() {
	if !p.mouse {
		p.mouse, p.took = true, p.took+klmHome
	}
}

// chosen are the places of the fields that are chosen.
func (p *secretary) chosen() []sheetmodel.Rect {
	p.t.Helper()
	var all []sheetmodel.Rect
	for _, r := range look[[][]float64](p, `[...document.querySelectorAll('#over rect.chosen')].map((r) => ['x', 'y', 'width', 'height'].map((k) => Number(r.getAttribute(k))))`) {
		all = append(all, sheetmodel.Rect{X: sheetmodel.MM(r[0]), Y: sheetmodel.MM(r[1]), W: sheetmodel.MM(r[2]), H: sheetmodel.MM(r[3])})
	}
	return all
}

func near(a, b sheetmodel.Rect) bool {
	return max(math.Abs(float64(a.X-b.X)), math.Abs(float64(a.Y-b.Y)), math.Abs(float64(a.X+a.W-b.X-b.W)), math.Abs(float64(a.Y+a.H-b.Y-b.H))) <= 1.5
}

// finishCard goes through the list once, says of each column what it is for, removes what is none, and draws what is missing.
func (p *secretary) finishCard() {
	p.t.Helper()
	have := map[string]bool{}
	p.press(kb.Home)
	for n := look[int](p, `document.querySelectorAll('#groups [role=option]').length`); n > 0; n-- {
		p.think()
		var of []sheetmodel.Field
		for _, r := range p.chosen() {
			if i := slices.IndexFunc(p.truth.Fields, func(f sheetmodel.Field) bool { return near(f.Rect, r) }); i >= 0 {
				of = append(of, p.truth.Fields[i])
				have[p.truth.Fields[i].Name] = true
			}
		}
		if len(of) == 0 {
			p.press(kb.Delete)
			continue
		}
		p.say(of[0])
		p.press(kb.ArrowDown)
	}
	for _, column := range columnsOf(p.truth, have) {
		p.think()
		r := column[0].Rect
		for _, f := range column {
			r = r.Union(f.Rect)
		}
		p.drag(r)
		if len(column) > 1 {
			p.toKeys()
			p.took += klmKey
			p.command("s", 'S')
			p.press(strings.Split(fmt.Sprint(len(column)), "")...)
			p.press(kb.Enter)
		}
		p.say(column[0])
	}
}

// say settles part and kind of what is chosen, and what goes with them.
func (p *secretary) say(f sheetmodel.Field) {
	p.t.Helper()
	value := func(id string) string { return look[string](p, `document.getElementById('`+id+`').value`) }
	if value("part") != string(f.Part) {
		p.press(kb.Enter)
		p.pick("part", string(f.Part))
		p.press(kb.Enter)
	}
	if value("kind") != string(f.Kind) {
		p.press(kb.Enter, kb.Tab)
		p.pick("kind", string(f.Kind))
		p.press(kb.Enter)
	}
	if value("grammar") != string(f.Grammar) {
		p.press(kb.Enter, kb.Tab, kb.Tab)
		p.pick("grammar", string(f.Grammar))
		p.press(kb.Enter)
	}
	if words := wordsOf(f); f.Kind == sheetmodel.Choice && value("words") != words {
		p.press(kb.Enter, kb.Tab, kb.Tab, kb.Tab)
		require.Equal(p.t, "words", look[string](p, `document.activeElement.id`))
		p.press(strings.Split(words, "")...)
		p.press(kb.Enter)
	}
	if bib, ok := f.PrintedBib(); ok && value("bibs") != bib {
		p.press(kb.Enter, kb.Tab, kb.Tab, kb.Tab)
		require.Equal(p.t, "bibs", look[string](p, `document.activeElement.id`))
		p.press(strings.Split(bib, "")...)
		p.press(kb.Enter)
	}
	if f.Panel != "" && value("panel") != f.Panel {
		p.press(kb.Enter, kb.Tab, kb.Tab, kb.Tab)
		require.Equal(p.t, "panel", look[string](p, `document.activeElement.id`))
		p.press(f.Panel, kb.Enter)
	}
}

func wordsOf(f sheetmodel.Field) string {
	var all []string
	for _, o := range f.Options {
		all = append(all, o.Value)
	}
	return strings.Join(all, " ")
}

// columnsOf are the truth's fields that nobody has yet, column by column.
func columnsOf(side *sheetmodel.Side, have map[string]bool) [][]sheetmodel.Field {
	var all [][]sheetmodel.Field
	for _, f := range side.Fields {
		if have[f.Name] {
			continue
		}
		i := slices.IndexFunc(all, func(c []sheetmodel.Field) bool {
			last := c[len(c)-1]
			return f.Row > 0 && last.Part == f.Part && math.Abs(float64(last.Rect.X-f.Rect.X)) < 1 && f.Row == last.Row+1
		})
		if i < 0 {
			all = append(all, []sheetmodel.Field{f})
			continue
		}
		all[i] = append(all[i], f)
	}
	return all
}

func startPage(t *testing.T, d finish.Draft) (*secretary, func() *sheetmodel.Layout) {
	t.Helper()
	if testing.Short() {
		t.Skip("drives a browser")
	}
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("chromium is not installed; apt-get install chromium")
		}
		t.Skip("chromium is not installed, so the page was not driven: apt-get install chromium")
	}
	var mu sync.Mutex
	var saved *sheetmodel.Layout
	page, err := finish.Handler(finish.Options{Draft: d, Done: func() {}, Save: func(l *sheetmodel.Layout) error {
		mu.Lock()
		defer mu.Unlock()
		saved = l
		return nil
	}})
	require.NoError(t, err)
	server := httptest.NewServer(page)
	t.Cleanup(server.Close)
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true), chromedp.WSURLReadTimeout(60*time.Second))
	alloc, cancelAlloc := chromedp.NewExecAllocator(context.WithoutCancel(t.Context()), opts...)
	ctx, cancel := chromedp.NewContext(alloc)
	p := &secretary{t: t, ctx: ctx, truth: &sheetmodel.Side{}}
	t.Cleanup(func() {
		assert.NoError(t, chromedp.Cancel(ctx))
		cancel()
		cancelAlloc()
	})
	require.NoError(t, chromedp.Listen(ctx, func(ev any) {
		p.mu.Lock()
		defer p.mu.Unlock()
		switch e := ev.(type) {
		case *runtime.EventExceptionThrown:
			p.faults = append(p.faults, e.ExceptionDetails.Text)
		case *log.EventEntryAdded:
			p.faults = append(p.faults, e.Entry.Text+" "+e.Entry.URL)
		}
	}))
	p.do(chromedp.EmulateViewport(1500, 1500), chromedp.Navigate(server.URL))
	require.Eventually(t, func() bool { return look[bool](p, `document.body.dataset.ready === 'yes'`) }, 30*time.Second, 50*time.Millisecond)
	return p, func() *sheetmodel.Layout {
		p.do(chromedp.KeyEvent("s", chromedp.KeyModifiers(chromedp.ModifierCtrl)))
		p.took += 2 * klmKey
		mu.Lock()
		defer mu.Unlock()
		return saved
	}
}

// blankCard is a picture of testdata/blank-cards, and what was described by hand.
func blankCard(t *testing.T, name string) (*image.Gray, *sheetmodel.Layout) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(blanks, name+".yaml"))
	require.NoError(t, err)
	truth, err := sheetmodel.ParseLayout(name+".yaml", text)
	require.NoError(t, err)
	file := filepath.Join(blanks, name+".png")
	if _, err := os.Stat(file); err != nil {
		pdf := strings.TrimSuffix(file, ".png") + ".pdf"
		file = filepath.Join(t.TempDir(), name+".png")
		out, err := exec.CommandContext(t.Context(), "pdftoppm", "-r", "200", "-png", "-singlefile", pdf, strings.TrimSuffix(file, ".png")).CombinedOutput()
		require.NoError(t, err, string(out))
	}
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	m, _, err := image.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	g := image.NewGray(image.Rect(0, 0, m.Bounds().Dx(), m.Bounds().Dy()))
	draw.Draw(g, g.Rect, m, m.Bounds().Min, draw.Src)
	return g, truth
}

// Each of five blank cards in less than five minutes at the model's pace, from a proposal that read no word and of which
// the first column of the table is missing. What was described by hand is the truth; the limit is our own.
func TestFinish_InChromium_FiveCardsEachInMinutes(t *testing.T) {
	for _, name := range []string{"plain-table", "dense-columns", "every-racer", "landscape", "photocopy"} {
		t.Run(name, func(t *testing.T) {
			picture, truth := blankCard(t, name)
			side := truth.Sides[0]
			found, err := propose.Side(picture, side.W, side.H, nil)
			require.NoError(t, err)
			first := slices.IndexFunc(found.Fields, func(f sheetmodel.Field) bool { return f.Row > 0 })
			lost := found.Fields[first].Rect
			fields := slices.DeleteFunc(slices.Clone(found.Fields), func(f sheetmodel.Field) bool {
				return f.Row > 0 && math.Abs(float64(f.Rect.W-lost.W)) < 1 && math.Abs(float64(f.Rect.X-lost.X)) < 1
			})
			// And something that is no place to write.
			fields = append(fields, sheetmodel.Field{Name: "header.extra", Part: sheetmodel.PartUnnamed, Kind: sheetmodel.Cell, Rect: sheetmodel.Rect{X: side.W - 12, Y: 1, W: 10, H: 7}, Grammar: sheetmodel.GrammarFree})
			draft := &sheetmodel.Layout{Format: 1, Name: name, Version: 1, Style: truth.Style, Sides: []sheetmodel.Side{{
				Name: side.Name, W: side.W, H: side.H, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}, Fields: fields,
			}}}
			p, save := startPage(t, finish.Draft{Layout: draft, Sides: map[sheetmodel.SideName]finish.Side{side.Name: {Picture: found.Picture, Unsure: found.Unsure}}})
			p.truth = &side
			p.finishCard()
			var got *sheetmodel.Layout
			require.Eventually(t, func() bool { got = save(); return got != nil }, 20*time.Second, 200*time.Millisecond)
			t.Logf("%s: %.0f s of simulated work for %d fields", name, p.took.Seconds(), len(side.Fields))
			assert.Less(t, p.took, 5*time.Minute)
			var wrong []string
			for _, f := range side.Fields {
				if !slices.ContainsFunc(got.Sides[0].Fields, func(o sheetmodel.Field) bool {
					return o.Part == f.Part && o.Kind == f.Kind && o.Grammar == f.Grammar && o.Row == f.Row && o.Panel == f.Panel && o.Boxes == f.Boxes && wordsOf(o) == wordsOf(f) && near(o.Rect, f.Rect)
				}) {
					wrong = append(wrong, f.Name)
				}
			}
			assert.Empty(t, wrong)
			assert.Len(t, got.Sides[0].Fields, len(side.Fields))
			text, err := sheetmodel.EncodeDraft(got)
			require.NoError(t, err)
			_, err = sheetmodel.ParseLayout(name, text)
			require.NoError(t, err, "what was saved can be read again")
			p.mu.Lock()
			defer p.mu.Unlock()
			assert.Empty(t, p.faults, "the browser's console")
		})
	}
}

// By hand with the pointer, in one column of boxes that were taken for cells: pressed twice a field is chosen alone; one column by
// itself can't be joined, and with the next one it is a comb. A line of what is to be mended chooses its fields. Our own logic.
func TestFinish_InChromium_PointerChoosesOneAndMore(t *testing.T) {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	for row := range 4 {
		for column := range 2 {
			side.Fields = append(side.Fields, sheetmodel.Field{
				Name: fmt.Sprintf("row-%02d.column-%d", row+1, column+1), Part: sheetmodel.PartUnnamed, Kind: sheetmodel.Cell, Grammar: sheetmodel.GrammarFree, Row: row + 1,
				Rect: sheetmodel.Rect{X: 20 + 9*sheetmodel.MM(column), Y: 40 + 12*sheetmodel.MM(row), W: 7.5, H: 9},
			})
		}
	}
	draft := &sheetmodel.Layout{Format: 1, Name: "slip", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{side}}
	p, _ := startPage(t, finish.Draft{Layout: draft, Sides: map[sheetmodel.SideName]finish.Side{side.Name: {Picture: image.NewGray(image.Rect(0, 0, 740, 1050))}}})
	p.truth = &side
	press := func(i int, times int64, shift bool) { p.pressOn(side.Fields[i].Rect, times, shift) }
	said := func() string { return look[string](p, `document.getElementById('said').textContent`) }
	press(2, 1, false)
	assert.Len(t, p.chosen(), 4, "a column")
	press(2, 2, false)
	assert.Len(t, p.chosen(), 1, "it alone")
	press(0, 1, false)
	p.do(chromedp.Click("#join"))
	assert.Contains(t, said(), "Nothing to join")
	assert.Equal(t, 2, look[int](p, `document.querySelectorAll('#groups [role=option]').length`))
	press(1, 1, false)
	press(0, 1, true)
	p.do(chromedp.Click("#join"))
	assert.Empty(t, said())
	assert.Equal(t, "2 boxes", look[string](p, `document.querySelector('#groups [role=option]').lastChild.textContent`))
	p.drag(sheetmodel.Rect{X: 60, Y: 40, W: 3, H: 4})
	require.Eventually(t, func() bool { return look[bool](p, `!!document.querySelector('#lint button')`) }, 10*time.Second, 50*time.Millisecond)
	press(0, 1, false)
	p.do(chromedp.Click("#lint button"))
	require.Len(t, p.chosen(), 1)
	assert.InDelta(t, 3, float64(p.chosen()[0].W), 0.5)
	p.mu.Lock()
	defer p.mu.Unlock()
	assert.Empty(t, p.faults, "the browser's console")
}

// Two columns to tick on a card whose table stands there twice: joined in the one block, they are a choice in each row of both, a box
// for each, and no row of one block is joined with the row of the other on the same line. Our own logic.
func TestFinish_InChromium_TickColumnsJoinedInOneBlockAreJoinedInBoth(t *testing.T) {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 210, H: 148, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	add := func(row int, what string, part sheetmodel.Part, kind sheetmodel.Kind, g sheetmodel.Grammar, r sheetmodel.Rect) {
		side.Fields = append(side.Fields, sheetmodel.Field{Name: fmt.Sprintf("row-%02d.%s", row, what), Part: part, Kind: kind, Grammar: g, Row: row, Rect: r})
	}
	for block := range 2 {
		for k := range 4 {
			row, x, y := 4*block+k+1, 10+sheetmodel.MM(100*block), 40+12*sheetmodel.MM(k)
			add(row, "bib", sheetmodel.PartBib, sheetmodel.Cell, sheetmodel.GrammarBib, sheetmodel.Rect{X: x, Y: y, W: 20, H: 9})
			for c := range 3 {
				add(row, fmt.Sprintf("column-%d", c+2), sheetmodel.PartUnnamed, sheetmodel.Tick, sheetmodel.GrammarMark, sheetmodel.Rect{X: x + 24 + 8*sheetmodel.MM(c), Y: y + 2, W: 5, H: 5})
			}
		}
	}
	draft := &sheetmodel.Layout{Format: 1, Name: "twice", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{side}}
	p, save := startPage(t, finish.Draft{Layout: draft, Sides: map[sheetmodel.SideName]finish.Side{side.Name: {Picture: image.NewGray(image.Rect(0, 0, 1050, 740))}}})
	p.truth = &side
	p.pressOn(side.Fields[1].Rect, 1, false)
	p.pressOn(side.Fields[2].Rect, 1, true)
	p.do(chromedp.Click("#join"))
	p.press(kb.Enter)
	p.pick("part", "code")
	p.press(kb.Enter, kb.Enter, kb.Tab, kb.Tab, kb.Tab)
	p.press(strings.Split("F K", "")...)
	p.press(kb.Enter)
	var got *sheetmodel.Layout
	require.Eventually(t, func() bool { got = save(); return got != nil }, 20*time.Second, 200*time.Millisecond)
	codes := map[int]sheetmodel.Field{}
	ticks := 0
	for _, f := range got.Sides[0].Fields {
		switch {
		case f.Part == sheetmodel.PartCode:
			codes[f.Row] = f
		case f.Kind == sheetmodel.Tick:
			ticks++
		}
	}
	assert.Equal(t, 8, ticks, "the third column of each block is nobody's")
	require.Len(t, codes, 8)
	for row, f := range codes {
		assert.Equal(t, sheetmodel.Choice, f.Kind)
		require.Len(t, f.Options, 2)
		assert.Equal(t, "F K", wordsOf(f))
		x := 34 + sheetmodel.MM(100*((row-1)/4))
		assert.InDelta(t, float64(x), float64(f.Options[0].Rect.X), 0.1, "a box keeps its place")
		assert.InDelta(t, float64(x+8), float64(f.Options[1].Rect.X), 0.1)
	}
}

// A column of printed bibs of which one was not read: a press on what is said of it, the first bib typed, and all of them are there,
// though the first was known. The press counts at once, be the page just opened. Our own logic.
func TestFinish_InChromium_BibsNotRead_AreFilledFromTheFirst(t *testing.T) {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	for row := range 4 {
		f := sheetmodel.Field{
			Name: fmt.Sprintf("row-%02d.bib", row+1), Part: sheetmodel.PartBib, Kind: sheetmodel.Printed, Grammar: sheetmodel.GrammarBib, Row: row + 1,
			Rect: sheetmodel.Rect{X: 20, Y: 40 + 12*sheetmodel.MM(row), W: 12, H: 10},
		}
		if bib := fmt.Sprint(31 + row); row != 2 {
			f.Options = []sheetmodel.Option{{Value: bib, Label: bib, Rect: f.Rect}}
		} else {
			f.Name, f.Part = "row-03.printed", sheetmodel.PartUnnamed
		}
		side.Fields = append(side.Fields, f)
	}
	draft := &sheetmodel.Layout{Format: 1, Name: "roll", Version: 1, Style: sheetmodel.EveryRacer, Sides: []sheetmodel.Side{side}}
	p, save := startPage(t, finish.Draft{Layout: draft, Sides: map[sheetmodel.SideName]finish.Side{side.Name: {
		Picture: image.NewGray(image.Rect(0, 0, 740, 1050)), Unsure: []string{"1 to 4: bibs printed before the rows. Those of rows 3 were not read."},
	}}})
	p.truth = &side
	p.do(chromedp.Click("#unsure button"))
	assert.Len(t, p.chosen(), 4)
	p.press(kb.Enter, kb.Tab, kb.Tab, kb.Tab, "3", "1", kb.Enter)
	var got *sheetmodel.Layout
	require.Eventually(t, func() bool { got = save(); return got != nil }, 20*time.Second, 200*time.Millisecond)
	for _, f := range got.Sides[0].Fields {
		bib, ok := f.PrintedBib()
		require.True(t, ok, f.Name)
		assert.Equal(t, fmt.Sprint(30+f.Row), bib)
		assert.Equal(t, fmt.Sprintf("row-%02d.bib", f.Row), f.Name)
	}
}

// Of a column of printed bibs those of rows 2, 5 and 6 were not read, and stand in the list as a line of their own, as in a layout that is
// opened again: each takes the number that its row has from the first on, and not that of a row between them. Our own logic.
func TestFinish_InChromium_BibsNotRead_AreCountedByTheirRows(t *testing.T) {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	for row := 1; row <= 7; row++ {
		f := sheetmodel.Field{
			Name: fmt.Sprintf("row-%02d.bib", row), Part: sheetmodel.PartBib, Kind: sheetmodel.Printed, Grammar: sheetmodel.GrammarBib, Row: row,
			Rect: sheetmodel.Rect{X: 20, Y: 40 + 12*sheetmodel.MM(row), W: 12, H: 10},
		}
		if bib := fmt.Sprint(30 + row); row != 2 && row != 5 && row != 6 {
			f.Options = []sheetmodel.Option{{Value: bib, Label: bib, Rect: f.Rect}}
		} else {
			f.Name, f.Part = fmt.Sprintf("row-%02d.printed", row), sheetmodel.PartUnnamed
		}
		side.Fields = append(side.Fields, f)
	}
	draft := &sheetmodel.Layout{Format: 1, Name: "roll", Version: 1, Style: sheetmodel.EveryRacer, Sides: []sheetmodel.Side{side}}
	p, save := startPage(t, finish.Draft{Layout: draft, Sides: map[sheetmodel.SideName]finish.Side{side.Name: {Picture: image.NewGray(image.Rect(0, 0, 740, 1050))}}})
	p.truth = &side
	p.do(chromedp.Click("#groups .unnamed"))
	require.Len(t, p.chosen(), 3)
	p.press(kb.Enter, kb.Tab, kb.Tab, kb.Tab, "3", "2", kb.Enter)
	var got *sheetmodel.Layout
	require.Eventually(t, func() bool { got = save(); return got != nil }, 20*time.Second, 200*time.Millisecond)
	for _, f := range got.Sides[0].Fields {
		bib, ok := f.PrintedBib()
		require.True(t, ok, f.Name)
		assert.Equal(t, fmt.Sprint(30+f.Row), bib, f.Name)
	}
}

// Columns to tick are chosen in the list with Shift, as they are in the picture, and joined. The boxes stand so far apart that each column
// was taken for a table with rows of its own: joined they belong to the rows of the first. Our own logic.
func TestFinish_InChromium_ShiftChoosesFurtherLinesOfTheList(t *testing.T) {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	for i := range 2 {
		side.Fields = append(side.Fields, sheetmodel.Field{
			Name: fmt.Sprintf("row-%02d.bib", i+1), Part: sheetmodel.PartBib, Kind: sheetmodel.Comb, Boxes: 3, Grammar: sheetmodel.GrammarBib, Row: i + 1,
			Rect: sheetmodel.Rect{X: 10, Y: 38 + 12*sheetmodel.MM(i), W: 25, H: 10},
		})
	}
	for i := range 6 {
		side.Fields = append(side.Fields, sheetmodel.Field{
			Name: fmt.Sprintf("row-%02d.code", i+1), Part: sheetmodel.PartCode, Kind: sheetmodel.Tick, Grammar: sheetmodel.GrammarMark, Row: i + 1,
			Rect: sheetmodel.Rect{X: 40 + 14*sheetmodel.MM(i/2), Y: 40 + 12*sheetmodel.MM(i%2), W: 6, H: 6},
		})
	}
	draft := &sheetmodel.Layout{Format: 1, Name: "ticks", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{side}}
	p, save := startPage(t, finish.Draft{Layout: draft, Sides: map[sheetmodel.SideName]finish.Side{side.Name: {Picture: image.NewGray(image.Rect(0, 0, 740, 1050))}}})
	p.truth = &side
	lines := look[int](p, `document.querySelectorAll('#groups [role=option]').length`)
	require.Equal(t, 4, lines)
	press := func(line int, shift bool) {
		look[bool](p, fmt.Sprintf(`document.querySelectorAll('#groups [role=option]')[%d].dispatchEvent(new MouseEvent('click', { bubbles: true, shiftKey: %t }))`, line, shift))
	}
	press(1, false)
	require.Len(t, p.chosen(), 2)
	press(2, true)
	press(3, true)
	assert.Len(t, p.chosen(), 6, "those chosen before stay so")
	p.do(chromedp.Click("#join"))
	var got *sheetmodel.Layout
	require.Eventually(t, func() bool { got = save(); return got != nil }, 20*time.Second, 200*time.Millisecond)
	require.Len(t, got.Sides[0].Fields, 4)
	for i, f := range got.Sides[0].Fields[2:] {
		assert.Equal(t, i+1, f.Row)
		assert.Len(t, f.Options, 3)
	}
}

// A column of bibs that stand in print, begun one too high: over each printed number stands the one that is held for its row, whether it
// is chosen or not, and not at the place where the print is. Our own logic.
func TestFinish_InChromium_HeldBibsStandBesideThePrint(t *testing.T) {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	for row := 1; row <= 4; row++ {
		f := sheetmodel.Field{
			Name: fmt.Sprintf("row-%02d.bib", row), Part: sheetmodel.PartBib, Kind: sheetmodel.Printed, Grammar: sheetmodel.GrammarBib, Row: row,
			Rect: sheetmodel.Rect{X: 20, Y: 40 + 8*sheetmodel.MM(row), W: 11, H: 8},
		}
		if row < 4 {
			bib := fmt.Sprint(60 + row)
			f.Options = []sheetmodel.Option{{Value: bib, Label: bib, Rect: f.Rect}}
		}
		side.Fields = append(side.Fields, f, sheetmodel.Field{
			Name: fmt.Sprintf("row-%02d.passed", row), Part: sheetmodel.PartPassed, Kind: sheetmodel.Tick, Grammar: sheetmodel.GrammarMark, Row: row,
			Rect: sheetmodel.Rect{X: 32, Y: f.Rect.Y, W: 8, H: 8},
		})
	}
	draft := &sheetmodel.Layout{Format: 1, Name: "held", Version: 1, Style: sheetmodel.EveryRacer, Sides: []sheetmodel.Side{side}}
	p, _ := startPage(t, finish.Draft{Layout: draft, Sides: map[sheetmodel.SideName]finish.Side{side.Name: {Picture: image.NewGray(image.Rect(0, 0, 740, 1050))}}})
	p.truth = &side
	texts := func() []string {
		return look[[]string](p, `[...document.querySelectorAll('#over text')].map((t) => t.textContent).filter((t) => t.startsWith('bib'))`)
	}
	p.pressOn(side.Fields[1].Rect, 1, false)
	assert.Equal(t, []string{"bib 61", "bib 62", "bib 63", "bib ?"}, texts(), "none of them is chosen")
	low := look[[]float64](p, `[...document.querySelectorAll('#over text.held')].map((t) => t.getBBox().y)`)
	require.Len(t, low, 4)
	for i, y := range low {
		assert.Greater(t, y, float64(side.Fields[2*i].Rect.Center().Y), "print stands in the middle")
	}
	p.pressOn(side.Fields[0].Rect, 1, false)
	p.press(kb.Enter, kb.Tab, kb.Tab, kb.Tab, "6", "0", kb.Enter)
	assert.Equal(t, []string{"bib 60", "bib 61", "bib 62", "bib ?"}, texts(), "the place without one is no part of the column that was chosen")
}

// A table that stands on the card three times, and rows of another make below it: a column that is named, or filled otherwise, in one block
// is so in the others, and the page says in which. Taken back it is so nowhere, and said again it holds for the one block. What is typed
// for one block's bibs stays there. Our own logic.
func TestFinish_InChromium_AColumnNamedInOneBlockIsNamedInAll(t *testing.T) {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 210, H: 148, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	add := func(row, column int, r sheetmodel.Rect) {
		side.Fields = append(side.Fields, sheetmodel.Field{
			Name: fmt.Sprintf("row-%02d.column-%d", row, column), Part: sheetmodel.PartUnnamed, Kind: sheetmodel.Cell, Grammar: sheetmodel.GrammarFree, Row: row, Rect: r,
		})
	}
	for row := 1; row <= 12; row++ {
		x, y := 10+65*sheetmodel.MM((row-1)/4), 40+10*sheetmodel.MM((row-1)%4)
		add(row, 1, sheetmodel.Rect{X: x, Y: y, W: 11, H: 9})
		add(row, 2, sheetmodel.Rect{X: x + 12, Y: y, W: 11, H: 9})
		add(row, 3, sheetmodel.Rect{X: x + 24, Y: y, W: 11, H: 9})
	}
	for row := 13; row <= 16; row++ {
		y := 90 + 10*sheetmodel.MM(row-13)
		add(row, 1, sheetmodel.Rect{X: 40, Y: y, W: 11, H: 9})
		add(row, 2, sheetmodel.Rect{X: 52, Y: y, W: 11, H: 9})
		add(row, 3, sheetmodel.Rect{X: 64, Y: y, W: 40, H: 9})
	}
	draft := &sheetmodel.Layout{Format: 1, Name: "thrice", Version: 1, Style: sheetmodel.EveryRacer, Sides: []sheetmodel.Side{side}}
	p, _ := startPage(t, finish.Draft{Layout: draft, Sides: map[sheetmodel.SideName]finish.Side{side.Name: {Picture: image.NewGray(image.Rect(0, 0, 1050, 740))}}})
	p.truth = &side
	said := func() string { return look[string](p, `document.getElementById('said').textContent`) }
	columns := func(what string) []string {
		return slices.DeleteFunc(look[[]string](p, `[...document.querySelectorAll('#groups [role=option]')].map((o) => [...o.children].map((c) => c.textContent).join(' '))`),
			func(c string) bool { return !strings.Contains(c, what) })
	}
	p.pressOn(side.Fields[1].Rect, 1, false)
	p.press(kb.Enter)
	p.pick("part", "passed")
	p.press(kb.Enter)
	assert.Equal(t, "Drawn alike, so rows 5–8 and 9–12 follow. Undo it and say it again where only the rows that are chosen are meant.", said())
	assert.Len(t, p.chosen(), 4)
	assert.Equal(t, []string{"rows 1–4 passed tick", "rows 5–8 passed tick", "rows 9–12 passed tick"}, columns("passed"))

	p.do(chromedp.Click("#undo"))
	assert.Empty(t, columns("passed"))
	p.do(chromedp.Focus("#groups"))
	p.press(kb.Enter)
	p.pick("part", "passed")
	p.press(kb.Enter)
	assert.Empty(t, said())
	assert.Equal(t, []string{"rows 1–4 passed tick"}, columns("passed"))

	p.pressOn(side.Fields[0].Rect, 1, false)
	p.press(kb.Enter)
	p.pick("part", "bib")
	p.press(kb.Enter, kb.Enter, kb.Tab)
	p.pick("kind", "printed")
	p.press(kb.Enter, kb.Enter, kb.Tab, kb.Tab, kb.Tab, "3", "1", kb.Enter)
	assert.ElementsMatch(t, []string{"rows 1–4 bib printed", "rows 5–8 bib printed", "rows 9–12 bib printed"}, columns("bib"))
	assert.Equal(t, []string{"bib 31", "bib 32", "bib 33", "bib 34", "bib ?", "bib ?", "bib ?", "bib ?", "bib ?", "bib ?", "bib ?", "bib ?"},
		look[[]string](p, `[...document.querySelectorAll('#over text.held')].map((t) => t.textContent)`), "numbers may go on in the next block or not")

	p.pressOn(side.Fields[2].Rect, 1, false)
	p.press(kb.Enter)
	p.pick("part", "code")
	p.press(kb.Enter, kb.Enter, kb.Tab)
	p.pick("kind", "choice")
	p.press(kb.Enter, kb.Enter, kb.Tab, kb.Tab, kb.Tab)
	p.press(strings.Split("F K", "")...)
	p.press(kb.Enter)
	p.pressOn(side.Fields[3*9+2].Rect, 1, false)
	assert.Equal(t, "F K", look[string](p, `document.getElementById('words').value`), "no block keeps words that nobody typed")
	p.mu.Lock()
	defer p.mu.Unlock()
	assert.Empty(t, p.faults, "the browser's console")
}

// Two places to ring, drawn by hand, so that the second stands a little lower and is higher: joined, the field holds both whole, and the
// layout can be saved. Our own logic.
func TestFinish_InChromium_BoxesDrawnByHand_LieInTheirJoinedField(t *testing.T) {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}, Fields: []sheetmodel.Field{
		{Name: "header.run-1", Part: sheetmodel.PartUnnamed, Kind: sheetmodel.Tick, Grammar: sheetmodel.GrammarMark, Rect: sheetmodel.Rect{X: 100, Y: 20, W: 7, H: 7}},
		{Name: "header.run-2", Part: sheetmodel.PartUnnamed, Kind: sheetmodel.Tick, Grammar: sheetmodel.GrammarMark, Rect: sheetmodel.Rect{X: 112, Y: 20.8, W: 7, H: 7.6}},
	}}
	draft := &sheetmodel.Layout{Format: 1, Name: "rings", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{side}}
	p, save := startPage(t, finish.Draft{Layout: draft, Sides: map[sheetmodel.SideName]finish.Side{side.Name: {Picture: image.NewGray(image.Rect(0, 0, 740, 1050))}}})
	p.truth = &side
	p.pressOn(side.Fields[0].Rect, 1, false)
	p.pressOn(side.Fields[1].Rect, 1, true)
	p.do(chromedp.Click("#join"))
	p.press(kb.Enter)
	p.pick("part", "run")
	p.press(kb.Enter)
	var got *sheetmodel.Layout
	require.Eventually(t, func() bool { got = save(); return got != nil }, 20*time.Second, 200*time.Millisecond)
	require.Len(t, got.Sides[0].Fields, 1)
	assert.Equal(t, sheetmodel.Rect{X: 100, Y: 20, W: 19, H: 8.4}, got.Sides[0].Fields[0].Rect)
}

// Columns to tick that were found as cells, wide ones between ruled lines: joined and said to be the code, they are a choice with a box
// for each, where the cells were found and not on the lines between them. A code of four letters is written by nobody. Our own logic.
func TestFinish_InChromium_CellsJoinedForTheCode_AreBoxesToTick(t *testing.T) {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 210, H: 148, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	for row := 1; row <= 2; row++ {
		y := 40 + 9*sheetmodel.MM(row)
		side.Fields = append(side.Fields, sheetmodel.Field{Name: fmt.Sprintf("row-%02d.bib", row), Part: sheetmodel.PartBib, Kind: sheetmodel.Comb, Grammar: sheetmodel.GrammarBib, Boxes: 3, Row: row, Rect: sheetmodel.Rect{X: 20, Y: y, W: 24, H: 8}})
		for c := range 4 {
			side.Fields = append(side.Fields, sheetmodel.Field{Name: fmt.Sprintf("row-%02d.column-%d", row, c+2), Part: sheetmodel.PartUnnamed, Kind: sheetmodel.Cell, Grammar: sheetmodel.GrammarFree, Row: row, Rect: sheetmodel.Rect{X: 60.4 + 13*sheetmodel.MM(c), Y: y, W: 12.5, H: 8}})
		}
	}
	draft := &sheetmodel.Layout{Format: 1, Name: "cells", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{side}}
	p, save := startPage(t, finish.Draft{Layout: draft, Sides: map[sheetmodel.SideName]finish.Side{side.Name: {Picture: image.NewGray(image.Rect(0, 0, 1050, 740))}}})
	p.truth = &side
	for c := range 4 {
		p.pressOn(side.Fields[1+c].Rect, 1, c > 0)
	}
	p.do(chromedp.Click("#join"))
	p.press(kb.Enter)
	p.pick("part", "code")
	p.press(kb.Enter)
	assert.Contains(t, look[string](p, `document.getElementById('said').textContent`), "type the codes under Words")
	assert.Contains(t, look[string](p, `document.getElementById('means').textContent`), "what happened · several boxes to tick")
	p.press(kb.Enter, kb.Tab, kb.Tab, kb.Tab)
	p.press(strings.Split("F K P H", "")...)
	p.press(kb.Enter)
	var got *sheetmodel.Layout
	require.Eventually(t, func() bool { got = save(); return got != nil }, 20*time.Second, 200*time.Millisecond)
	codes := 0
	for _, f := range got.Sides[0].Fields {
		if f.Part != sheetmodel.PartCode {
			continue
		}
		codes++
		assert.Equal(t, sheetmodel.Choice, f.Kind)
		require.Equal(t, "F K P H", wordsOf(f))
		for i, o := range f.Options {
			assert.InDelta(t, 60.4+13*float64(i), float64(o.Rect.X), 0.02)
			assert.InDelta(t, 12.5, float64(o.Rect.W), 0.02)
		}
	}
	assert.Equal(t, 2, codes)
}

// Two cells that were joined and said to be the code may be two letters or two places to tick. The page can't know, and asks: ticks
// that are read as letters are nobody's code. Our own logic.
func TestFinish_InChromium_TwoCellsJoinedForTheCode_AreAskedAbout(t *testing.T) {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 210, H: 148, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	for row := 1; row <= 2; row++ {
		y := 40 + 11*sheetmodel.MM(row)
		side.Fields = append(side.Fields, sheetmodel.Field{Name: fmt.Sprintf("row-%02d.bib", row), Part: sheetmodel.PartBib, Kind: sheetmodel.Comb, Grammar: sheetmodel.GrammarBib, Boxes: 3, Row: row, Rect: sheetmodel.Rect{X: 20, Y: y, W: 24, H: 10}})
		for c := range 2 {
			side.Fields = append(side.Fields, sheetmodel.Field{Name: fmt.Sprintf("row-%02d.column-%d", row, c+2), Part: sheetmodel.PartUnnamed, Kind: sheetmodel.Cell, Grammar: sheetmodel.GrammarFree, Row: row, Rect: sheetmodel.Rect{X: 60 + 13*sheetmodel.MM(c), Y: y, W: 12.5, H: 10}})
		}
	}
	draft := &sheetmodel.Layout{Format: 1, Name: "two-cells", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{side}}
	p, _ := startPage(t, finish.Draft{Layout: draft, Sides: map[sheetmodel.SideName]finish.Side{side.Name: {Picture: image.NewGray(image.Rect(0, 0, 1050, 740))}}})
	p.truth = &side
	p.pressOn(side.Fields[1].Rect, 1, false)
	p.pressOn(side.Fields[2].Rect, 1, true)
	p.do(chromedp.Click("#join"))
	p.press(kb.Enter)
	p.pick("part", "code")
	p.press(kb.Enter)
	assert.Contains(t, look[string](p, `document.getElementById('said').textContent`), "Does a judge tick one of the boxes?")
	assert.Equal(t, "comb", look[string](p, `document.getElementById('kind').value`), "nothing is changed unasked")
	p.press(kb.Enter, kb.Tab)
	p.pick("kind", "choice")
	p.press(kb.Enter)
	assert.Equal(t, "1 2", look[string](p, `document.getElementById('words').value`))
}

// Two places for bibs below one drawing, which a person gives its letter: each has a number of its own, by which its ink is found. Our own logic.
func TestFinish_InChromium_BibsBelowOneDrawing_AreNumbered(t *testing.T) {
	side := sheetmodel.Side{Name: sheetmodel.Front, W: 148, H: 210, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}}
	for i := range 2 {
		side.Fields = append(side.Fields, sheetmodel.Field{
			Name: fmt.Sprintf("header-%d.bib", i+1), Part: sheetmodel.PartBib, Kind: sheetmodel.Comb, Boxes: 3, Grammar: sheetmodel.GrammarBib,
			Rect: sheetmodel.Rect{X: 20 + 50*sheetmodel.MM(i), Y: 140, W: 24, H: 10},
		})
	}
	draft := &sheetmodel.Layout{Format: 1, Name: "strips", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{side}}
	p, save := startPage(t, finish.Draft{Layout: draft, Sides: map[sheetmodel.SideName]finish.Side{side.Name: {Picture: image.NewGray(image.Rect(0, 0, 740, 1050))}}})
	p.truth = &side
	for i, f := range side.Fields {
		p.pressOn(f.Rect, 1, i > 0)
	}
	assert.Len(t, p.chosen(), 2)
	look[bool](p, `(() => { const e = document.getElementById('panel'); e.value = 'b'; return e.dispatchEvent(new Event('change')); })()`)
	var got *sheetmodel.Layout
	require.Eventually(t, func() bool { got = save(); return got != nil }, 20*time.Second, 200*time.Millisecond)
	entries := map[int]string{}
	for _, f := range got.Sides[0].Fields {
		entries[f.Entry] = f.Panel
	}
	assert.Equal(t, map[int]string{1: "B", 2: "B"}, entries)
}
