package review_test

import (
	"context"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var (
	shots = flag.String("shots", "", "folder to keep pictures of all pages in, to be looked at")
	desk  = flag.String("desk", "", "address of an open desk to take the pictures of, instead of a made-up one")
)

// browser is Chromium with nothing in it; noFaults fails the test on anything in its console.
type browser struct {
	t   *testing.T
	ctx context.Context

	mu      sync.Mutex
	faults  []string
	loading map[cdp.FrameID]bool
}

func startBrowser(t *testing.T, flags ...chromedp.ExecAllocatorOption) *browser {
	t.Helper()
	if testing.Short() {
		t.Skip("a browser beside the race detector is too much for two cores; others race without one")
	}
	path, err := exec.LookPath("chromium")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("chromium is not installed; apt-get install chromium")
		}
		t.Skip("chromium is not installed, so the page was not driven by keys: apt-get install chromium")
	}
	opts := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-component-update", true),
		chromedp.WSURLReadTimeout(60*time.Second)) // two busy cores start it slowly
	opts = append(opts, flags...)
	alloc, cancelAlloc := chromedp.NewExecAllocator(context.WithoutCancel(t.Context()), opts...)
	ctx, cancel := chromedp.NewContext(alloc)
	b := &browser{t: t, ctx: ctx, loading: map[cdp.FrameID]bool{}}
	t.Cleanup(func() {
		assert.NoError(t, chromedp.Cancel(ctx)) // waits until it has let go of its folder
		cancel()
		cancelAlloc()
	})
	require.NoError(t, chromedp.Listen(ctx, func(ev any) {
		b.mu.Lock()
		defer b.mu.Unlock()
		switch e := ev.(type) {
		case *runtime.EventExceptionThrown:
			b.faults = append(b.faults, e.ExceptionDetails.Text)
		case *runtime.EventConsoleAPICalled:
			b.faults = append(b.faults, "console."+string(e.Type))
		case *log.EventEntryAdded:
			b.faults = append(b.faults, e.Entry.Text+" "+e.Entry.URL)
		case *page.EventFrameStartedLoading:
			b.loading[e.FrameID] = true
		case *page.EventFrameStoppedLoading:
			delete(b.loading, e.FrameID)
		}
	}))
	return b
}

func (b *browser) do(steps ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, 60*time.Second)
	defer cancel()
	require.NoError(b.t, chromedp.Do(ctx, steps...))
}

// keys presses keys and waits until the page stands still.
func (b *browser) keys(keys string) {
	b.t.Helper()
	b.do(chromedp.KeyEvent(keys))
	b.settle()
}

// settle waits until the page stands still: a form that was sent has its answer, however long a busy machine takes for it.
func (b *browser) settle() {
	b.t.Helper()
	b.do(chromedp.Sleep(250 * time.Millisecond))
	require.Eventually(b.t, func() bool {
		b.mu.Lock()
		defer b.mu.Unlock()
		return len(b.loading) == 0
	}, 60*time.Second, 20*time.Millisecond, "the page still loads")
	b.do(chromedp.WaitReady("main"))
}

// on waits until the browser shows the page at a path, with all of its scripts: a busy machine takes its time.
func (b *browser) on(path string) {
	b.t.Helper()
	require.Eventually(b.t, func() bool {
		return evalThere[bool](b, fmt.Sprintf(`decodeURIComponent(location.pathname) === %q && document.readyState === 'complete'`, path))
	}, 30*time.Second, 50*time.Millisecond, path)
	b.settle()
}

func eval[T any](b *browser, js string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](js))
	require.NoError(b.t, err)
	return v
}

// evalThere is eval for what is waited for while one page gives way to the next: between the two nobody answers, and it returns nothing.
func evalThere[T any](b *browser, js string) (v T) {
	b.t.Helper()
	if got, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](js)); err == nil {
		v = got
	}
	return v
}

func (b *browser) noFaults() {
	b.t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	assert.Empty(b.t, b.faults)
}

// noFaultsBut leaves out what tells of answers with a status that the test asked for.
func (b *browser) noFaultsBut(status string) {
	b.t.Helper()
	b.mu.Lock()
	b.faults = slices.DeleteFunc(b.faults, func(f string) bool { return strings.Contains(f, "status of "+status) })
	b.mu.Unlock()
	b.noFaults()
}

// shot keeps a picture of the page at a width.
func (b *browser) shot(name string, width int64) {
	b.t.Helper()
	b.do(chromedp.EmulateViewport(width, 860), chromedp.Evaluate[chromedp.Void](`document.querySelectorAll('img').forEach((i) => { i.loading = 'eager' })`),
		chromedp.Sleep(400*time.Millisecond))
	require.Eventually(b.t, func() bool {
		return eval[bool](b, `[...document.images].every((i) => i.complete)`)
	}, 30*time.Second, 100*time.Millisecond, "pictures are still loading")
	png, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	require.NoError(b.t, err)
	dir := *shots
	if dir == "" {
		dir = b.t.ArtifactDir()
	}
	require.NoError(b.t, os.WriteFile(filepath.Join(dir, name), png, 0o600))
}

func TestShots(t *testing.T) {
	if *shots == "" {
		t.Skip("no folder to keep pictures in: -shots DIR")
	}
	b := startBrowser(t)
	address := strings.TrimSuffix(*desk, "/")
	if address == "" {
		address = open(t, afternoon(t)).URL
	}
	b.do(chromedp.EmulateViewport(1280, 860), chromedp.Navigate(address+"/who"))
	b.settle()
	b.shot("who-1280.png", 1280)
	b.keys("Cleo" + kb.Enter)
	for _, path := range []string{"/", "/tour", "/next", "/questions", "/heard", "/draft", "/posting", "/why?bib=14", "/packet?bib=14", "/spot", "/card/run1/Blue/card-1", "/card/run1/Blue/card-6", "/nowhere"} {
		b.do(chromedp.Navigate(address + path))
		b.settle()
		name, _, _ := strings.Cut(strings.Trim(strings.ReplaceAll(path, "/", "-"), "-"), "?")
		if name == "" {
			name = "stack"
		}
		b.shot(name+"-light.png", 1280)
		b.shot(name+"-phone.png", 400)
		b.theme("dark")
		b.shot(name+"-dark.png", 1280)
		b.media("print", "light")
		b.shot(name+"-print.png", 794)
		b.theme("light")
	}
}
