package byprint_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan/camera"
	"gatefold/scan/scantest"
	"gatefold/sheetmodel"
)

var keptIn = flag.String("kept", "", "folder that photos of impossible forms are kept in, so that measuring again takes none anew")

// truthOf returns what a form's photo says of reasons to refuse it.
func truthOf(l *sheetmodel.Layout, v *camera.View) *scantest.Truth {
	side := l.Side(sheetmodel.Front)
	return &scantest.Truth{View: v, W: side.W, H: side.H, Rows: rowsOf(side)}
}

// impossible photographs a form so that it must be refused.
func impossible(t *testing.T, l *sheetmodel.Layout, seed uint64) ([]byte, *camera.View) {
	t.Helper()
	if *keptIn == "" {
		p := shoot(t, l, camera.Impossible, seed, nil)
		return p.JPEG, p.View
	}
	name := filepath.Join(*keptIn, fmt.Sprintf("form-%.8s-%s-%d.jpg", camera.LevelsHash(), l.Name, seed))
	if b, err := os.ReadFile(name); err == nil {
		shot := drawn(l, camera.Impossible, seed)
		return b, shot.View()
	}
	p := shoot(t, l, camera.Impossible, seed, nil)
	require.NoError(t, os.WriteFile(name, p.JPEG, 0o600))
	return p.JPEG, p.View
}

// TestMeasureReasons tells which refusals of forms without marks give a reason that the truth gives too.
func TestMeasureReasons(t *testing.T) {
	if *measureN == 0 {
		t.Skip("no -photos given")
	}
	forms := threePrepared(t)
	all := joined(forms)
	for _, f := range forms {
		due, found := 0, 0
		for k := range *measureN {
			seed := *firstOne + uint64(k)
			jpeg, view := impossible(t, f.layout, seed)
			o := judge(t, jpeg, view, f.layout, all)
			switch {
			case o.kind != "refused":
				found++
			case truthOf(f.layout, view).Gives(o.fault):
				due++
				continue
			}
			shot := view.Shot()
			t.Logf("%s %d: %s %s; %s: %.1f px/mm, blur %.2f, motion %.1f; %s", f.layout.Name, seed, o.kind, o.fault, shot.Reason, view.PxPerMM(), shot.BlurSigmaMM, shot.MotionShare, o.why)
		}
		t.Logf("== %s: %d photos, %d not refused, reason true %d", f.layout.Name, *measureN, found, due)
	}
}

// Photos that are blurred so much, or so small, that nothing of the form is recognised: six of the seeds on which
// refusals gave untrue reasons while blur was looked for in single slopes of a noisy picture.
func TestReasons_ImpossibleForms_AreTrue(t *testing.T) {
	if testing.Short() {
		t.Skip("takes half a minute")
	}
	forms := threePrepared(t)
	all := joined(forms)
	for i, seeds := range [3][2]uint64{{90000, 90009}, {90006, 90010}, {90013, 90020}} {
		for _, seed := range seeds {
			f := forms[i]
			jpeg, view := impossible(t, f.layout, seed)
			o := judge(t, jpeg, view, f.layout, all)
			assert.Equal(t, "refused", o.kind, "%s %d", f.layout.Name, seed)
			assert.True(t, truthOf(f.layout, view).Gives(o.fault), "%s %d is %s: %s", f.layout.Name, seed, view.Shot().Reason, o.why)
		}
	}
}
