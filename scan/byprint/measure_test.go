package byprint_test

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"gatefold/scan/camera"
)

var (
	measureN = flag.Int("photos", 0, "measure: so many photos of each form and level")
	firstOne = flag.Uint64("first", 1, "first seed")
	levels   = flag.String("levels", "ordinary,hard,impossible", "levels of camera to measure")
	saveBad  = flag.String("save", "", "folder for photos that were not found rightly")
)

// TestMeasureForms measures the three drawn forms at each level.
func TestMeasureForms(t *testing.T) {
	if *measureN == 0 {
		t.Skip("no -photos given")
	}
	forms := threePrepared(t)
	all := joined(forms)
	for _, level := range strings.Split(*levels, ",") {
		for _, f := range forms {
			count := map[string]int{}
			faults := map[string]int{}
			var errs []float64
			var took time.Duration
			for k := range *measureN {
				seed := *firstOne + uint64(k)
				photo := shoot(t, f.layout, level, seed, nil)
				start := time.Now()
				o := judge(t, photo.JPEG, photo.View, f.layout, all)
				took += time.Since(start)
				count[o.kind]++
				errs = append(errs, o.errors...)
				if o.kind != "found" {
					faults[string(o.fault)]++
				}
				shot := photo.View.Shot()
				if (o.kind != "found") != (level == camera.Impossible) || testing.Verbose() {
					t.Logf("%s %s %d: %s %s; worst %.2f, seen %.2f res %.2f/%.2f blur %.2f (true %.2f) contrast %.0f; tilt %.0f px/mm %.1f bend %.1f faults %v %s", f.layout.Name, level, seed, o.kind, o.why,
						percentile(o.errors, 1), o.page.PrintSeen, o.page.ResidualMM, o.page.Residual95, o.page.SigmaMM, shot.BlurSigmaMM, o.page.Contrast, shot.TiltDeg, shot.PxPerMM, shot.Bend.HeightMM, shot.Faults, shot.Reason)
					if *saveBad != "" && (o.kind != "found") != (level == camera.Impossible) {
						_ = os.WriteFile(fmt.Sprintf("%s/%s-%s-%d.jpg", *saveBad, f.layout.Name, level, seed), photo.JPEG, 0o644)
					}
				}
			}
			t.Logf("== %s, %s: found %d wrong %d refused %d; p50 %.3f p99 %.3f worst %.2f mm; %v; %.2f s a photo", f.layout.Name, level,
				count["found"], count["wrong"], count["refused"], percentile(errs, .5), percentile(errs, .99), percentile(errs, 1), faults, took.Seconds()/float64(*measureN))
		}
	}
}

// TestMeasureOthers shows photos of each form to all forms but it, our own cards' among them: all must be refused.
func TestMeasureOthers(t *testing.T) {
	if *measureN == 0 {
		t.Skip("no -photos given")
	}
	forms := threePrepared(t)
	_, own := ownCards(t)
	for i, f := range forms {
		others := own.And(forms[(i+1)%3].forms, forms[(i+2)%3].forms)
		refused := 0
		for _, level := range []string{camera.Ordinary, camera.Hard} {
			for k := range *measureN {
				seed := *firstOne + uint64(k)
				photo := shoot(t, f.layout, level, seed, nil)
				o := judge(t, photo.JPEG, photo.View, nil, others)
				if o.kind == "refused" {
					refused++
				} else {
					t.Logf("%s %s %d: %s %s", f.layout.Name, level, seed, o.kind, o.why)
				}
			}
		}
		t.Logf("== %s, itself not among the forms: %d of %d refused", f.layout.Name, refused, 2**measureN)
	}
}
