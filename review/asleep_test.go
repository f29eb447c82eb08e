package review_test

import (
	"net/http"
	"net/url"
	"testing"
	"time"
	"unsafe"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// slept is a moment some time after another on the wall and at once after it by the steady clock, as a laptop that was
// asleep reads them.
func slept(t *testing.T, from time.Time, d time.Duration) time.Time {
	t.Helper()
	to := from.Add(d)
	steady := (*struct {
		wall uint64
		ext  int64
	})(unsafe.Pointer(&to)) // the layout of time.Time in Go 1.26; what follows fails where it is another
	steady.ext -= int64(d)
	require.Zero(t, to.Sub(from))
	require.Equal(t, d, to.Round(0).Sub(from.Round(0)))
	return to
}

// A laptop that sleeps with its lid closed lengthens no session and no code: Go's steady clock doesn't run meanwhile.
// Source: Go, package time, "Monotonic Clocks".
func TestSession_LaptopWasAsleep_EndsByTheWall(t *testing.T) {
	for _, c := range []struct {
		slept time.Duration
		in    bool
		code  int
	}{{9 * time.Minute, true, http.StatusOK}, {11 * time.Minute, true, http.StatusForbidden}, {5 * time.Hour, false, http.StatusForbidden}} {
		h := openHut(t, afternoon(t))
		h.now = time.Now()
		p, code := h.pair("Mia", "settle"), h.code("settle")
		h.mu.Lock()
		h.now = slept(t, h.now, c.slept)
		h.mu.Unlock()
		assert.Equal(t, c.in, p.get("/draft").path == "/draft", "%v", c.slept)
		assert.Equal(t, c.code, h.stranger().send("/pair", url.Values{"code": {code}, "name": {"Eve"}}).status, "%v", c.slept)
	}
}
