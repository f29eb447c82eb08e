package scantest

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"gatefold/scan"
	"gatefold/scan/camera"
)

var (
	devN     = flag.Int("dev.n", 0, "")
	devSeed  = flag.Uint64("dev.seed", 1, "")
	devLevel = flag.String("dev.level", "ordinary", "")
	devCache = flag.String("dev.cache", "", "")
	devDebug = flag.Bool("dev.debug", false, "")
	devOut   = flag.String("dev.out", "", "")
)

func TestDev(t *testing.T) {
	if *devN == 0 {
		t.Skip()
	}
	layouts, err := Layouts()
	require.NoError(t, err)
	start := time.Now()
	forms, err := scan.Prepare(layouts...)
	require.NoError(t, err)
	t.Log("prepare", time.Since(start))
	tally := &Tally{}
	Debug = *devDebug
	for i := range uint64(*devN) {
		seed := *devSeed + i
		s := cached(t, Kind{Level: *devLevel, Layouts: layouts}, seed)
		o := Judge(s, forms, time.Now)
		tally.Add(o)
		w := 0.0
		for _, e := range o.Errors {
			w = max(w, e)
		}
		one := &Tally{}
		one.Add(o)
		sh := s.View.Shot()
		var fk []string
		for _, f := range sh.Faults {
			fk = append(fk, fmt.Sprintf("%s %.2g", f.Kind, f.Amount))
		}
		fmt.Printf("%d %s %s %dx%d ppm %.1f tilt %.0f bend %.1f %v sig %.2f %s | %s p50 %.3f p99 %.3f max %.3f | marks %d/%d sig %.2f res %.3f %.3f seen %.2f noid %v extra %d hid %d | %s | %v\n", seed, s.Side.Name, s.Layout.Paper, sh.W, sh.H, sh.PxPerMM, sh.TiltDeg, sh.Bend.HeightMM, fk, sh.BlurSigmaMM, sh.Reason,
			o.Verdict, one.ErrorMM(.5), one.ErrorMM(.99), w, o.Quality.Marks, o.Quality.MarksOf, o.Quality.SigmaMM, o.Quality.ResidualMM, o.Quality.Residual95, o.Quality.PrintSeen, o.NoIdent, o.Extra, len(o.Quality.Hidden), o.Why, o.Took.Round(time.Millisecond))
		if *devOut != "" {
			require.NoError(t, os.WriteFile(filepath.Join(*devOut, fmt.Sprintf("%s-%d.jpg", *devLevel, seed)), s.JPEG, 0o644))
			m, _, err := scan.Decode("x", s.JPEG)
			require.NoError(t, err)
			pages, _ := scan.Pages(m, forms, scan.Options{})
			for k, p := range pages {
				gocv.IMWrite(filepath.Join(*devOut, fmt.Sprintf("%s-%d-page%d.png", *devLevel, seed, k)), p.Mat)
				p.Close()
			}
			m.Close()
		}
	}
	fmt.Println(tally)
}

func cached(t *testing.T, kind Kind, seed uint64) *Sample {
	if *devCache == "" {
		s, err := Make(kind, seed)
		require.NoError(t, err)
		return s
	}
	base := filepath.Join(*devCache, fmt.Sprintf("%s-%d", kind.Level, seed))
	type meta struct {
		Sample
		Shot   camera.Shot
		Layout int
		Side   string
	}
	if b, err := os.ReadFile(base + ".json"); err == nil {
		var m meta
		require.NoError(t, json.Unmarshal(b, &m))
		s := &m.Sample
		s.Layout = kind.Layouts[m.Layout]
		s.Side = s.Layout.Side(s.Identity.Side)
		s.View = m.Shot.View()
		s.JPEG, err = os.ReadFile(base + ".jpg")
		require.NoError(t, err)
		return s
	}
	s, err := Make(kind, seed)
	require.NoError(t, err)
	m := meta{Sample: Sample{Level: s.Level, Seed: s.Seed, Identity: s.Identity}, Shot: s.View.Shot(), Side: string(s.Side.Name)}
	for i, l := range kind.Layouts {
		if l == s.Layout {
			m.Layout = i
		}
	}
	b, err := json.Marshal(m)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(base+".jpg", s.JPEG, 0o644))
	require.NoError(t, os.WriteFile(base+".json", b, 0o644))
	return s
}
