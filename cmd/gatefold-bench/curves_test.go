package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/ocr/net"
)

// By hand from the definition of risk and coverage (Geifman and El-Yaniv 2017, section 2), with all bibs below the line.
func TestRiskAt(t *testing.T) {
	bibs := []judged{{0.9, true}, {0.1, false}, {0.8, false}, {0.95, true}}
	require.InDelta(t, 0.5, riskAt(bibs, 0), 1e-9)
	require.InDelta(t, 0.25, riskAt(bibs, 0.25), 1e-9, "the least sure one is asked, and is wrong")
	require.InDelta(t, 0.0, riskAt(bibs, 0.5), 1e-9)
	require.InDelta(t, 0.0, riskAt(bibs, 1), 1e-9)
	equal := []judged{{1, false}, {1, true}, {1, true}, {1, false}}
	require.InDelta(t, 0.5, riskAt(equal, 0.5), 1e-9, "a reader that is sure of everything gains nothing by asking")
}

// Our own logic: what a plain reader does with its boxes.
func TestLikeliest(t *testing.T) {
	box := func(class int, p float32) (b net.Probs) {
		b[class], b[(class+1)%net.Classes] = p, 1-p
		return b
	}
	text, sure := likeliest([]net.Probs{box(net.Empty, 1), box(4, 0.75), box(7, 0.5+1e-3)})
	require.Equal(t, "47", text)
	require.InDelta(t, 0.75*0.501, sure, 1e-4)
	text, sure = likeliest([]net.Probs{box(4, 1), box(net.Other, 0.9)})
	require.Empty(t, text)
	require.Zero(t, sure)
}

// The plots are drawn whatever the voices say; what they look like is for eyes.
func TestCurves_Draw(t *testing.T) {
	dir := t.TempDir()
	items := []eyeItem{
		{Level: "hard", Truth: "1", Machine: "7", Score: 0.5}, {Level: "hard", Truth: "1", Machine: "1", Score: 0.999},
		{Level: "ordinary", Truth: "2", Machine: "2", Score: 0.99}, {Level: "ordinary", Truth: "2", Machine: "3", Score: 0.9},
	}
	voices := []*voice{{"one", map[string][]judged{"hard": {{0.5, false}, {0.6, true}}, "ordinary": {{0.9, true}}}}}
	require.NoError(t, coveragePlot(filepath.Join(dir, "a.svg"), voices))
	require.NoError(t, reliabilityPlot(filepath.Join(dir, "b.svg"), items))
	for _, name := range []string{"a.svg", "b.svg"} {
		data, err := os.ReadFile(filepath.Join(dir, name))
		require.NoError(t, err)
		require.Contains(t, string(data), "hard")
	}
	text := curvesText(&eyeFile{Made: MadeWith{Seeds: []uint64{1, 2}}, Items: items}, voices)
	require.Contains(t, text, "| one | hard | 2 | 5000.0 (1) |")
	require.Contains(t, text, "None.")
}
