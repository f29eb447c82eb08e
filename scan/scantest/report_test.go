package scantest

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"runtime"
	"sort"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/calib"
	"gatefold/scan"
	"gatefold/scan/camera"
)

// Seeds below developSeeds were looked at while scan was built, and 1,000,000 to 1,000,299 since: a first
// report on them found faults, which were mended. The report's begin at reportSeeds; nothing is chosen on them.
const (
	developSeeds = 100_000
	testSeeds    = 500_000
	reportSeeds  = 2_000_000
)

var (
	level  = flag.String("level", "", "measure this level instead of running the table of floors")
	count  = flag.Int("n", 100, "how many photos to measure")
	first  = flag.Uint64("seed", reportSeeds, "first seed")
	into   = flag.String("into", "", "append the tally, as JSON, to this file")
	photos = flag.String("photos", "", "folder that photos of the levels are kept in, so that measuring again takes none anew")
	take   = flag.Bool("take", false, "only take photos, into -photos; read none")
	tags   = flag.String("tags", "", "print tags of this family in place of our marks: aruco-4x4 or apriltag-36h11")
	files  = flag.String("report", "", "write scan/report.md from the tallies in this file")
)

// line is one measured chunk.
type line struct {
	Level   string
	From, N uint64
	Tally   Tally
}

// TestMeasure measures photos of one level; its tallies add up to the report.
func TestMeasure(t *testing.T) {
	if *level == "" {
		t.Skip("no -level given")
	}
	forms, kind := ready(t, *level)
	tally := &Tally{}
	kind.Kept, kind.Tags = *photos, TagFamily(*tags)
	for seed := *first; seed < *first+uint64(*count); seed++ {
		if *take {
			_, err := Make(kind, seed)
			require.NoError(t, err)
			continue
		}
		o := measureOne(t, kind, seed, forms)
		tally.Add(o)
	}
	t.Log(tally)
	if *into == "" {
		return
	}
	appendLine(t, *into, line{*level, *first, uint64(*count), *tally})
}

func ready(t *testing.T, name string) (*scan.Forms, Kind) {
	t.Helper()
	layouts, err := Layouts()
	require.NoError(t, err)
	forms, err := scan.Prepare(layouts...)
	require.NoError(t, err)
	return forms, Kind{Level: name, Layouts: layouts}
}

func measureOne(t *testing.T, kind Kind, seed uint64, forms *scan.Forms) Outcome {
	t.Helper()
	s, err := Make(kind, seed)
	require.NoError(t, err)
	o := Judge(s, forms, time.Now)
	shot := s.View.Shot()
	worst := 0.0
	for _, e := range o.Errors {
		worst = max(worst, e)
	}
	var faults []string
	for _, f := range shot.Faults {
		faults = append(faults, fmt.Sprintf("%s %.2g", f.Kind, f.Amount))
	}
	t.Logf("%s %d: %s, worst %.2f mm, %s, %s, %.1f px/mm, tilt %.0f, blur %.2f mm (measured %.2f), %s%s; due %v, print %.2f, residual %.3f; %s",
		kind.Level, seed, o.Verdict, worst, s.Side.Name, s.Layout.Paper, shot.PxPerMM, shot.TiltDeg, shot.BlurSigmaMM, o.Quality.SigmaMM,
		strings.Join(faults, ", "), shot.Reason, o.Due, o.Quality.PrintSeen, o.Quality.ResidualMM, o.Why)
	return o
}

// The floors: what may not get worse. n is checked by the loop, wrong ones are never allowed.
func TestPhotos_TableOfFloors(t *testing.T) {
	if testing.Short() || *level != "" {
		t.Skip("takes half a minute")
	}
	for _, floor := range []struct {
		level       string
		n, found    int
		p50mm, p99m float64
	}{
		{level: camera.Ordinary, n: 6, found: 6, p50mm: 0.05, p99m: 0.5},
		{level: camera.Hard, n: 14, found: 14, p50mm: 0.08, p99m: 1.0},
		{level: camera.Impossible, n: 8},
	} {
		forms, kind := ready(t, floor.level)
		tally := &Tally{}
		for i := range floor.n {
			tally.Add(measureOne(t, kind, testSeeds+uint64(i), forms))
		}
		assert.Equal(t, floor.n, tally.Total, floor.level)
		assert.Zero(t, tally.Wrong, floor.level)
		assert.GreaterOrEqual(t, tally.Found, floor.found, floor.level)
		assert.LessOrEqual(t, tally.ErrorMM(.5), max(floor.p50mm, 0), floor.level)
		assert.LessOrEqual(t, tally.ErrorMM(.99), max(floor.p99m, 0), floor.level)
		if floor.level == camera.Impossible {
			assert.Equal(t, floor.n, tally.Refused, floor.level)
			assert.Equal(t, floor.n, tally.Due, "%s: reasons that are true", floor.level)
		}
	}
}

func TestPhotos_StoredInAnyOrientation_GiveTheSameCard(t *testing.T) {
	forms, kind := ready(t, camera.Ordinary)
	kind.Change = func(s *camera.Shot) {
		flat := camera.Flat(s.SheetW, s.SheetH, 6)
		flat.Level, flat.TurnDeg = s.Level, 20
		*s = flat
	}
	for orientation := 1; orientation <= 8; orientation++ {
		kind.Orientation = orientation
		s, err := Make(kind, testSeeds)
		require.NoError(t, err)
		o := Judge(s, forms, time.Now)
		assert.Equal(t, Right, o.Verdict, "orientation %d: %s", orientation, o.Why)
		tally := Tally{}
		tally.Add(o)
		assert.Less(t, tally.ErrorMM(1), 0.3, "orientation %d", orientation)
	}
}

// TestReport writes the report from tallies.
func TestReport(t *testing.T) {
	if *files == "" {
		t.Skip("no -report given")
	}
	b, err := os.ReadFile(*files)
	require.NoError(t, err)
	byLevel, seeds := map[string]*Tally{}, map[string][2]uint64{}
	for text := range strings.SplitSeq(strings.TrimSpace(string(b)), "\n") {
		var l line
		require.NoError(t, json.Unmarshal([]byte(text), &l))
		require.GreaterOrEqual(t, l.From, uint64(reportSeeds), "only seeds that nothing was chosen on")
		if byLevel[l.Level] == nil {
			byLevel[l.Level], seeds[l.Level] = &Tally{}, [2]uint64{l.From, 0}
		}
		byLevel[l.Level].Merge(&l.Tally)
		s := seeds[l.Level]
		seeds[l.Level] = [2]uint64{min(s[0], l.From), max(s[1], l.From+l.N-1)}
	}
	var w strings.Builder
	fmt.Fprintf(&w, "# How well cards are found and straightened\n\n")
	fmt.Fprintf(&w, "Photos by the simulated camera, levels file %.12s, all layouts of `scantest.Layouts`, both sides, written on.\n", camera.LevelsHash())
	fmt.Fprintf(&w, "No photo of these seeds was seen while scan was built; limits were set on seeds below %d\nand on those of a first report.", developSeeds)
	fmt.Fprintf(&w, " It, on the seeds 1,000,000 to 1,000,299, found one hard photo of 283 straightened wrongly (8.5 mm, a fold walked\n")
	fmt.Fprintf(&w, "over with too bold steps) and a crash near the picture's edge; a later one, on the seeds 4,000,000 to 4,001,999, 4 of 2,000\n")
	fmt.Fprintf(&w, "hard photos straightened wrongly and 4 refused for nothing. All were mended and those hard seeds used up.\n")
	fmt.Fprintf(&w, "Machine: %s/%s, %s. Command: `scan/scantest/report.sh`.\n\n", runtime.GOOS, runtime.GOARCH, runtime.Version())
	fmt.Fprintf(&w, "| level | seeds | photos | found | wrong | refused | reason true | wrong, 95 %% bound | card not named |\n|---|---|---|---|---|---|---|---|---|\n")
	var names []string
	for name := range byLevel {
		names = append(names, name)
	}
	sort.Strings(names)
	for _, n := range names {
		l := byLevel[n]
		bound := fmt.Sprintf("%.2f %%", 100*calib.Upper(l.Wrong, l.Total, .05))
		fmt.Fprintf(&w, "| %s | %d to %d | %d | %d | %d | %d | %d of %d | %s | %d |\n", n, seeds[n][0], seeds[n][1], l.Total, l.Found, l.Wrong, l.Refused, l.Due, l.Refused, bound, l.NoIdent)
	}
	fmt.Fprintf(&w, "\n*Found*: right side, card, layout and turn; no field corner off by 3 mm, half of them by less than 1 mm. *Reason true*: what is wrong with the photo, by its truth (`Truth.Gives`).\n")
	fmt.Fprintf(&w, "\n## Where a field lands, mm on paper\n\nAll corners of all fields in the picture and uncovered, on found pages; fields that the page flags are left out and counted.\n\n")
	fmt.Fprintf(&w, "| level | corners | median | 99th percentile | largest | fields flagged | of these off by > 3 mm | covered fields flagged | deeply covered and not flagged | estimate covers | estimate over truth |\n|---|---|---|---|---|---|---|---|---|---|---|\n")
	for _, n := range names {
		l := byLevel[n]
		if len(l.Errors) == 0 {
			continue
		}
		fmt.Fprintf(&w, "| %s | %d | %.3f | %.3f | %.2f | %d of %d | %d | %d of %d | %d of %d | %s |\n", n, len(l.Errors), l.ErrorMM(.5), l.ErrorMM(.99), l.ErrorMM(1), l.Flagged, l.Fields, l.Strayed, l.Caught, l.Caught+l.Missed, l.Buried, l.Deep, l.estimate())
	}
	fmt.Fprintf(&w, "\nA field counts as covered if anything lies over any part of it, be it 1 mm of its edge, as deeply\ncovered if more than %.0f %% of it lies under something. Targets: median 0.25, 99th percentile 1.0.\n", 100*deepShare)
	fmt.Fprintf(&w, "\nThe estimate is what a page says of a field's error (`Quality.ErrorMM`), the truth the worst of its corners: *covers* is the\n")
	fmt.Fprintf(&w, "share of fields where the truth is no larger, *over truth* the median of one over the other. Targets: 95 %%, 2.\n")
	fmt.Fprintf(&w, "\n## Refusals by fault\n\n| level | fault | photos |\n|---|---|---|\n")
	for _, n := range names {
		var faults []string
		for f := range byLevel[n].Faults {
			faults = append(faults, string(f))
		}
		sort.Strings(faults)
		for _, f := range faults {
			fmt.Fprintf(&w, "| %s | %s | %d |\n", n, f, byLevel[n].Faults[scan.Fault(f)])
		}
	}
	// What is said of fault families is measured by itself and stays.
	if old, err := os.ReadFile("../report.md"); err == nil {
		if _, part, ok := strings.Cut(string(old), familyHead); ok {
			w.WriteString(familyHead + part)
		}
	}
	require.NoError(t, os.WriteFile("../report.md", []byte(w.String()), 0o644))
}
