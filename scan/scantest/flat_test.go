package scantest

import (
	"bytes"
	"errors"
	"flag"
	"fmt"
	"image"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan"
	"gatefold/scan/camera"
	"gatefold/scan/cmem"
	"gatefold/scan/scantest/mats"
)

var flatFor = flag.Int("flat", 0, "read so many photos in this process, those kept in -photos again and again, and see that memory stays flat")

const (
	flatEvery = 500  // photos from one look at memory to the next
	flatWarm  = 2000 // photos after which nothing new is to come: each kind of photo and refusal was seen
	// flatSlope is what resident memory may grow by, in bytes a photo. The least picture kept for a card, 64
	// squares of 32 px, has 64 kB and a straightened page 1 MB: one forgotten in eight photos would pass the bound.
	// A lost C++ object of a few bytes a photo would not, nor does it matter: 8 kB are 0.5 MB after a day's 60 photos.
	flatSlope = 8 << 10
	// flatNative is what libraries may hold more of, in bytes a photo: they count it without chance.
	flatNative = 256
)

// TestFlat reads many photos in one process, good, bad and broken ones, and fails if memory grows:
//
//	go test -c -tags matprofile -o flat.test ./scan/scantest
//	cd scan/scantest && OPENCV_FOR_THREADS_NUM=1 ../../flat.test -test.run 'TestFlat$' -test.v -test.timeout 5h -flat 10000 -photos DIR
//
// DIR holds photos that TestMeasure kept, also of the impossible level. What it saw stands in scan/memory.md.
func TestFlat(t *testing.T) {
	if *flatFor == 0 {
		t.Skip("no -flat given")
	}
	names, err := filepath.Glob(filepath.Join(*photos, "*.jpg"))
	require.NoError(t, err)
	require.NotEmpty(t, names, "-photos: no photo kept there")
	var seen []held
	r := newAgain(t)
	t.Logf("%7s %8s %8s %8s %10s %6s  %s", "photos", "RSS MB", "Go MB", "C MB", "native MB", "Mats", "pages, refused, unknown, no photo")
	for i := range *flatFor {
		// Stepped through, so that levels, which lie one after the other in the folder, take turns.
		file, err := os.ReadFile(names[i*617%len(names)])
		require.NoError(t, err)
		r.read(i, file)
		if (i+1)%flatEvery == 0 {
			h := holds()
			h.photos = i + 1
			seen = append(seen, h)
			t.Logf("%7d %8.1f %8.1f %8.1f %10.2f %6d  %v", h.photos, mb(h.resident), mb(h.goHeap), mb(h.heaps), mb(h.native), h.mats, r.came)
		}
	}
	assert.NotZero(t, r.came[1], "a photo refused")
	seen = slices.DeleteFunc(seen, func(h held) bool { return h.photos < flatWarm })
	require.Greater(t, len(seen), 3, "too short to say anything")
	first, last := seen[0], seen[len(seen)-1]
	n := float64(last.photos - first.photos)
	slope := slopeOf(seen)
	t.Logf("after the first %d: resident %+.0f bytes a photo, native %+.1f, Mats %+d in all", flatWarm, slope, float64(last.native-first.native)/n, last.mats-first.mats)
	assert.Less(t, slope, float64(flatSlope), "resident memory, bytes a photo")
	assert.Less(t, float64(last.native-first.native)/n, float64(flatNative), "memory of libraries, bytes a photo")
	assert.LessOrEqual(t, last.mats, first.mats, "open Mats")
}

const tunables = "GLIBC_TUNABLES" // Source: GNU C Library manual, "Memory Allocation Tunables"

// The same in ten seconds, by what libraries count: a forgotten picture of 64 kB in any of 12 photos fails it.
func TestPhotos_ReadAgain_LeaveNothingBehind(t *testing.T) {
	if testing.Short() {
		t.Skip("takes ten seconds")
	}
	if _, ok := mats.Native(); !ok {
		t.Skip("nothing counts here what libraries hold")
	}
	var files [][]byte
	for _, level := range []string{camera.Ordinary, camera.Hard, camera.Impossible} {
		_, kind := ready(t, level)
		for i := range uint64(2) {
			s, err := Make(kind, testSeeds+i)
			require.NoError(t, err)
			files = append(files, s.JPEG)
		}
	}
	// What threads keep at hand for themselves counts as held, up to 200 kB a thread, and Go moves work between
	// threads as it likes. A process without such stores counts what is held and nothing else.
	if os.Getenv(tunables) == "" {
		again := exec.Command(os.Args[0], "-test.run=^"+t.Name()+"$", "-test.v")
		again.Env = append(os.Environ(), tunables+"=glibc.malloc.tcache_count=0")
		out, err := again.CombinedOutput()
		require.NoError(t, err, "%s", out)
		require.Contains(t, string(out), "--- PASS: "+t.Name())
		return
	}
	r := newAgain(t)
	round := func(from int) int64 {
		for i := range 2 * len(files) {
			r.read(from+i, files[i%len(files)])
		}
		return holds().native
	}
	round(0)
	before := round(0)
	after := round(0)
	t.Logf("%d bytes, then %d (%+d); %v", before, after, after-before, r.came)
	assert.NotZero(t, r.came[0], "a page")
	assert.NotZero(t, r.came[1], "a photo refused")
	assert.NotZero(t, r.came[2], "a layout not known")
	assert.NotZero(t, r.came[3], "a file that is no photo")
	assert.Less(t, after-before, int64(60<<10))
}

// again reads photos and broken ones and closes what it got.
type again struct {
	t     *testing.T
	forms *scan.Forms
	few   *scan.Forms // without the layouts that most photos show
	none  []byte      // a PNG that shows no card
	came  [4]int      // pages, refused cards, unknown layouts, files that are no photo
}

func newAgain(t *testing.T) *again {
	t.Helper()
	layouts, err := Layouts()
	require.NoError(t, err)
	r := &again{t: t}
	cmem.Tame()
	r.forms, err = scan.Prepare(layouts...)
	require.NoError(t, err)
	r.few, err = scan.Prepare(layouts[:1]...)
	require.NoError(t, err)
	var b bytes.Buffer
	empty := image.NewGray(image.Rect(0, 0, 800, 600))
	for i := range empty.Pix {
		empty.Pix[i] = uint8(i / 800 / 3)
	}
	require.NoError(t, png.Encode(&b, empty))
	r.none = b.Bytes()
	return r
}

// read reads one photo, and at times also what is left when it is cut short, emptied, or given with too few layouts.
func (r *again) read(i int, file []byte) {
	defer cmem.AfterPhoto() // as the reader of the program does
	r.pages(file, r.forms)
	switch i % 12 {
	case 3:
		r.pages(file[:len(file)*2/3], r.forms)
	case 5:
		r.pages(append(slices.Clone(file[:len(file)*2/3]), 0xFF, 0xD9), r.forms)
	case 6:
		r.pages(file, r.few)
	case 8:
		r.pages(r.none, r.forms)
	case 9:
		r.pages(r.none[:len(r.none)/2], r.forms)
		r.pages(nil, r.forms)
	}
}

func (r *again) pages(file []byte, forms *scan.Forms) {
	photo, _, err := scan.Decode("photo.jpg", file)
	if err != nil {
		r.came[3]++
		return
	}
	defer photo.Close()
	pages, err := scan.Pages(photo, forms, scan.Options{})
	for _, p := range pages {
		p.Close()
	}
	r.came[0] += len(pages)
	var refused *scan.RefusedError
	var unknown *scan.UnknownLayoutError
	switch {
	case errors.As(err, &unknown):
		r.came[2]++
	case errors.As(err, &refused):
		r.came[1]++
	default:
		require.NoError(r.t, err)
	}
}

// held is what this process holds, in bytes.
type held struct {
	photos                          int
	resident, goHeap, heaps, native int64
	mats                            int
}

func holds() held {
	debug.FreeOSMemory() // else resident memory is mostly what Go has freed and keeps for later
	var h held
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	h.goHeap = int64(m.HeapAlloc)
	h.native, _ = mats.Native()
	h.heaps, _ = mats.Resident()
	h.mats, _ = mats.Open()
	status, _ := os.ReadFile("/proc/self/status")
	if _, rest, ok := strings.Cut(string(status), "VmRSS:"); ok {
		_, _ = fmt.Sscan(rest, &h.resident)
		h.resident <<= 10
	}
	return h
}

func mb(n int64) float64 { return float64(n) / (1 << 20) }

// slopeOf is the straight line through resident memory, in bytes a photo, by least squares.
func slopeOf(seen []held) float64 {
	var x, y float64
	for _, h := range seen {
		x += float64(h.photos) / float64(len(seen))
		y += float64(h.resident) / float64(len(seen))
	}
	var xy, xx float64
	for _, h := range seen {
		xy += (float64(h.photos) - x) * (float64(h.resident) - y)
		xx += (float64(h.photos) - x) * (float64(h.photos) - x)
	}
	return xy / xx
}
