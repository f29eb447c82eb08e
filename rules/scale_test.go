//go:build unix

package rules_test

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"gatefold/rules"
)

// scaleTo draws how the time of one Check grows with the race; nothing is asserted of time in tests.
//
//	go test ./rules -run Scale -scale docs/scale.svg -v
var scaleTo = flag.String("scale", "", "time races of 1 to 100 times 300 racers and 60 cards, and draw the times here")

func TestScale_IsDrawn(t *testing.T) {
	if *scaleTo == "" {
		t.Skip("times nothing without -scale")
	}
	var factors, ms []float64
	for _, factor := range []int{1, 2, 5, 10, 20, 50, 100} {
		f := raceDay(300*factor, 60*factor)
		best := time.Hour
		for range max(4, 100/factor) {
			began := cpuTime(t)
			rules.Check(f)
			best = min(best, cpuTime(t)-began)
		}
		factors, ms = append(factors, float64(factor)), append(ms, float64(best.Microseconds())/1000)
		t.Logf("%d racers, %d cards, %d rows: %.2f ms, %.3f ms for each 300 racers", 300*factor, 60*factor, len(f.Rows), ms[len(ms)-1], ms[len(ms)-1]/float64(factor))
	}
	require.NoError(t, os.WriteFile(*scaleTo, []byte(scalePlot(factors, ms)), 0o600))
}

// cpuTime is what the process has used of all processors: a clock on the wall would time whatever else runs.
func cpuTime(t *testing.T) time.Duration {
	t.Helper()
	var u syscall.Rusage
	require.NoError(t, syscall.Getrusage(syscall.RUSAGE_SELF, &u))
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// scalePlot draws time against size on plain axes, with the straight line through the first point: a
// course of time above it would be more than linear.
func scalePlot(factors, ms []float64) string {
	const w, h, left, low = 640.0, 400.0, 70.0, 50.0
	top := 0.0
	for i, f := range factors {
		top = max(top, ms[i], ms[0]*f/factors[0])
	}
	x := func(f float64) float64 { return left + (w-left-20)*f/factors[len(factors)-1] }
	y := func(v float64) float64 { return h - low - (h-low-30)*v/top }
	var b strings.Builder
	p := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	p(`<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %.0f %.0f" font-family="sans-serif" font-size="13">`, w, h)
	p(`<rect width="%.0f" height="%.0f" fill="white"/>`, w, h)
	p(`<path d="M %.1f %.1f V %.1f H %.1f" fill="none" stroke="black"/>`, left, 30.0, h-low, w-20)
	for i := range 5 {
		v := top * float64(i) / 4
		p(`<text x="%.1f" y="%.1f" text-anchor="end">%.0f</text>`, left-8, y(v)+4, v)
	}
	for _, f := range []float64{0, 20, 50, 100} {
		p(`<text x="%.1f" y="%.1f" text-anchor="middle">%.0f</text>`, x(f), h-low+18, f*300)
	}
	p(`<text x="%.1f" y="%.1f" text-anchor="middle">racers, with 60 cards and 600 rows for every 300</text>`, (left+w)/2, h-10)
	p(`<text x="10" y="20">ms of processor time for one look at all cards; dashed: 100 times the first point</text>`)
	p(`<line x1="%.1f" y1="%.1f" x2="%.1f" y2="%.1f" stroke="grey" stroke-dasharray="5 4"/>`, x(0), y(0), x(factors[len(factors)-1]), y(ms[0]*factors[len(factors)-1]/factors[0]))
	path := ""
	for i, f := range factors {
		path += fmt.Sprintf("%s %.1f %.1f ", map[bool]string{true: "M", false: "L"}[i == 0], x(f), y(ms[i]))
		p(`<circle cx="%.1f" cy="%.1f" r="4"/>`, x(f), y(ms[i]))
	}
	p(`<path d="%s" fill="none" stroke="black" stroke-width="1.5"/>`, strings.TrimSpace(path))
	p(`</svg>`)
	return b.String()
}
