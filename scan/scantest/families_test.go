package scantest

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"slices"
	"sort"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"gatefold/scan"
	"gatefold/scan/camera"
)

var (
	perStep  = flag.Int("per-step", 0, "measure fault families: so many photos of each step")
	staged   = flag.String("staged", "", "write the table of families into scan/report.md from the tallies in this file")
	savedTo  = flag.String("save", "", "folder for the photos of families that were not read rightly")
	familyPx = flag.Float64("px", 8, "px/mm of ordinary base photos; hard ones keep their level's")
)

// familyHead begins the part of the report that TestFamilyReport writes and TestReport keeps.
const familyHead = "\n## Fault families, one by one"

// familyLine is what came out of one family at one step.
type familyLine struct {
	Family  camera.FamilyName
	Step    int
	From, N uint64
	Tally   Tally
	Failed  []string
}

// TestMeasureFamilies measures each family at each step: half of the photos on an ordinary base, half on a hard one.
func TestMeasureFamilies(t *testing.T) {
	if *perStep == 0 {
		t.Skip("no -per-step given")
	}
	for i, f := range chosen() {
		for step := 1; step <= camera.FamilySteps; step++ {
			// No two photos have the same base: a step isn't easier than another for lying on easier photos.
			from := *first + uint64((slices.IndexFunc(camera.Families(), func(g camera.Family) bool { return g.Name == f.Name })*camera.FamilySteps+step-1)**perStep)
			l := familyLine{Family: f.Name, Step: step, From: from, N: uint64(*perStep)}
			for k := range *perStep {
				kind := Kind{Level: camera.Ordinary, PxPerMM: *familyPx}
				if (k+step+i)%2 == 1 {
					kind = Kind{Level: camera.Hard}
				}
				kind.Doses = []camera.Dose{{Family: f.Name, Step: step}}
				seed := from + uint64(k)
				o := measureStaged(t, kind, seed)
				l.Tally.Add(o)
				if o.Verdict != Right && !o.Due {
					l.Failed = append(l.Failed, fmt.Sprintf("%s step %d on %s, seed %d: %s: %s", f.Name, step, kind.Level, seed, o.Verdict, o.Why))
				}
			}
			t.Logf("%s step %d: %v", f.Name, step, &l.Tally)
			if *into != "" {
				appendLine(t, *into, l)
			}
		}
	}
}

func measureStaged(t *testing.T, kind Kind, seed uint64) Outcome {
	t.Helper()
	forms, full := ready(t, kind.Level)
	kind.Layouts = full.Layouts
	s, err := Make(kind, seed)
	require.NoError(t, err)
	o := JudgeCards(s, forms, time.Now)
	shot := s.View.Shot()
	worst := 0.0
	for _, e := range o.Errors {
		worst = max(worst, e)
	}
	t.Logf("%v on %s %d: %s (due %v), worst %.2f mm, %s, %s, %.1f px/mm, tilt %.0f, blur %.2f mm (measured %.2f); print %.2f, residual %.3f; %s",
		shot.Staging.Doses, kind.Level, seed, o.Verdict, o.Due, worst, s.Side.Name, s.Layout.Paper, shot.PxPerMM, shot.TiltDeg,
		shot.BlurSigmaMM, o.Quality.SigmaMM, o.Quality.PrintSeen, o.Quality.ResidualMM, o.Why)
	if *savedTo != "" && o.Verdict != Right && !o.Due {
		d := shot.Staging.Doses[0]
		require.NoError(t, os.WriteFile(fmt.Sprintf("%s/%s-%d-%s-%d.jpg", *savedTo, d.Family, d.Step, kind.Level, seed), s.JPEG, 0o644))
	}
	return o
}

func appendLine(t *testing.T, file string, l any) {
	t.Helper()
	b, err := json.Marshal(l)
	require.NoError(t, err)
	f, err := os.OpenFile(file, os.O_APPEND|os.O_CREATE|os.O_WRONLY, 0o644)
	require.NoError(t, err)
	_, err = f.Write(append(b, '\n'))
	require.NoError(t, err)
	require.NoError(t, f.Close())
}

// TestFamilyReport writes the families' part of the report from tallies.
func TestFamilyReport(t *testing.T) {
	if *staged == "" {
		t.Skip("no -staged given")
	}
	b, err := os.ReadFile(*staged)
	require.NoError(t, err)
	byFamily := map[camera.FamilyName][]familyLine{}
	var seeds [2]uint64
	for text := range strings.SplitSeq(strings.TrimSpace(string(b)), "\n") {
		var l familyLine
		require.NoError(t, json.Unmarshal([]byte(text), &l))
		byFamily[l.Family] = append(byFamily[l.Family], l)
		if seeds[1] == 0 {
			seeds = [2]uint64{l.From, l.From}
		}
		seeds = [2]uint64{min(seeds[0], l.From), max(seeds[1], l.From+l.N-1)}
	}
	report, err := os.ReadFile("../report.md")
	require.NoError(t, err)
	head, _, _ := strings.Cut(string(report), familyHead)
	require.NoError(t, os.WriteFile("../report.md", []byte(strings.TrimRight(head, "\n")+"\n"+familyPart(byFamily, seeds)), 0o644))
}

func familyPart(byFamily map[camera.FamilyName][]familyLine, seeds [2]uint64) string {
	var w strings.Builder
	total := 0
	for _, lines := range byFamily {
		for _, l := range lines {
			total += l.Tally.Total
		}
	}
	fmt.Fprintf(&w, "%s\n\n", familyHead)
	if seeds[0] < reportSeeds {
		fmt.Fprintf(&w, "**A subset**: %d photos, %d to %d, seeds that may be looked at and mended on. It shows where to work, not how good scan is.\n", total, seeds[0], seeds[1])
	} else {
		fmt.Fprintf(&w, "%d photos, seeds %d to %d.\n", total, seeds[0], seeds[1])
	}
	fmt.Fprintf(&w, "Families file %.12s. Each family is laid singly on photos of the levels drawn without their own faults, half ordinary at\n", camera.FamiliesHash())
	fmt.Fprintf(&w, "%g px/mm, half hard. Command: `scan/scantest/report.sh families`.\n\n", *familyPx)
	fmt.Fprintf(&w, "Each step: found / wrong / refused for a reason that the truth does not give. Refusals that it gives (a row outside or\n")
	fmt.Fprintf(&w, "covered, an empty side) are counted by themselves. A star marks steps beyond the hard level.\n\n")
	fmt.Fprintf(&w, "| family | 1 | 2 | 3 | 4 | 5 | duly refused | 99th percentile, mm | covered fields flagged | estimate covers | over truth | refusals |\n|---|---|---|---|---|---|---|---|---|---|---|---|\n")
	var failed []string
	for _, f := range camera.Families() {
		lines := byFamily[f.Name]
		if len(lines) == 0 {
			continue
		}
		var all Tally
		cells := make([]string, camera.FamilySteps)
		for step := 1; step <= camera.FamilySteps; step++ {
			var one Tally
			for i := range lines {
				if lines[i].Step == step {
					one.Merge(&lines[i].Tally)
					failed = append(failed, lines[i].Failed...)
				}
			}
			cells[step-1] = fmt.Sprintf("%d / %d / %d", one.Found, one.Wrong, one.Refused-one.Due)
			if f.Beyond > 0 && step >= f.Beyond {
				cells[step-1] += " *"
			}
			all.Merge(&one)
		}
		fmt.Fprintf(&w, "| %s | %s | %d | %.2f | %d of %d | %s | %s |\n", f.Name, strings.Join(cells, " | "), all.Due, all.ErrorMM(.99), all.Caught, all.Caught+all.Missed, all.estimate(), faultList(all.Faults))
	}
	fmt.Fprintf(&w, "\nNot read rightly:\n\n")
	slices.Sort(failed)
	for _, line := range slices.Compact(failed) {
		fmt.Fprintf(&w, "- %s\n", line)
	}
	return w.String()
}

func faultList(faults map[scan.Fault]int) string {
	var out []string
	for f, n := range faults {
		out = append(out, fmt.Sprintf("%s %d", f, n))
	}
	sort.Strings(out)
	return strings.Join(out, ", ")
}
