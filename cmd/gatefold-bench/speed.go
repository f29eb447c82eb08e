package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"time"

	"gocv.io/x/gocv"

	"gatefold/cmd/internal/hands"
	"gatefold/cmd/internal/reading"
	"gatefold/cmd/internal/resident"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// oneThread tells OpenCV and Go to use one core; it must stand in the environment before the start.
const oneThread = "OPENCV_FOR_THREADS_NUM"

// finishedButRefused is gatefold's exit code when all was done and a photo, or a second card in one, can't be used.
const finishedButRefused = 3

// speed measures everything that is timed. Times are medians; the machine stands in the scoreboard.
func speed(ctx context.Context, s settings) error {
	if os.Getenv(oneThread) != "1" {
		self, err := os.Executable()
		if err != nil {
			return err
		}
		c := exec.CommandContext(ctx, self, "speed", "-work", s.work, "-out", s.out)
		c.Env = append(os.Environ(), oneThread+"=1")
		c.Stdout, c.Stderr = os.Stdout, os.Stderr
		return c.Run()
	}
	if err := os.MkdirAll(s.work, 0o755); err != nil {
		return err
	}
	made, err := madeNow(ctx, 1)
	if err != nil {
		return err
	}
	sp := speedGroup{MadeWith: made}
	dir, err := os.MkdirTemp("", "gatefold-speed-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // a temporary folder
	photos, err := phonePhotos(ctx, dir, 12)
	if err != nil {
		return err
	}
	if err := sp.onePhoto(ctx, photos); err != nil {
		return err
	}
	if err := sp.stack(ctx, dir, photos); err != nil {
		return err
	}
	if err := keep(s, "speed", sp); err != nil {
		return err
	}
	ns, err := goBench(ctx, "./rules", "BenchmarkCheck300x60$", `([0-9.]+) ns/op`)
	if err != nil {
		return err
	}
	ms := ns / 1e6
	if err := keep(s, "rules", rulesGroup{made, &ms}); err != nil {
		return err
	}
	p95, err := goBench(ctx, "./review", "BenchmarkKeyToNext$", `([0-9.]+) p95-ms`)
	if err != nil {
		fmt.Println("page not measured:", err)
		return nil
	}
	return keep(s, "review", reviewGroup{made, &p95})
}

func keep(s settings, name string, v any) error {
	out, err := json.Marshal(v)
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(s.work, name+".json"), out, 0o644)
}

// demoRace is the race whose cards the stack shows; its folder is copied, never touched.
const demoRace = "testdata/demo-race"

// phonePhotos takes n ordinary photos of 12 megapixels, of cards of the demo race.
func phonePhotos(ctx context.Context, dir string, n int) ([]string, error) {
	benchers, closeAll, err := openBenchers(ctx, hands.Calibration, 1, reading.Options{})
	if err != nil {
		return nil, err
	}
	defer closeAll() //nolint:errcheck // freeing nets
	layouts, err := filepath.Glob(filepath.Join(demoRace, "layouts", "*.yaml"))
	if err != nil || len(layouts) == 0 {
		return nil, fmt.Errorf("%s has no layout: %w", demoRace, errors.Join(err, os.ErrNotExist))
	}
	data, err := os.ReadFile(layouts[0])
	if err != nil {
		return nil, err
	}
	layout, err := sheetmodel.ParseLayout(layouts[0], data)
	if err != nil {
		return nil, err
	}
	var files []string
	level := camera.Levels()[camera.Ordinary]
	for i := range n {
		rng := rand.New(rand.NewPCG(77, uint64(i)))
		side := layout.Side([]sheetmodel.SideName{sheetmodel.Front, sheetmodel.Back}[i%2])
		h := benchers[0].hands[i%len(benchers[0].hands)]
		plan := drawPlan(layout.Side(sheetmodel.Front), layout.Side(sheetmodel.Back), false, rng)
		plan.Rows = plan.Rows[:4] // a card with four rows is a full one on a real day
		id := sheetmodel.Identity{
			Run: 1, Course: 1, Card: 1 + i/2, Side: side.Name,
			Race: sheetmodel.RaceHash("quibble-2027"), Layout: layout.HashStart(),
		}
		w := fill.Writer{Pen: hand.DrawWriter(level.Pens(), rng), Digits: h}
		written, err := fill.Write(side, print.CardPrint{Race: "Speed", Identity: id}, plan, w, rng)
		if err != nil {
			return nil, err
		}
		shot := level.Draw(fill.SceneOf(side, image.Pt(4032, 3024)), rng)
		photo, err := shot.View().Take(written.Sheet, 1)
		if err != nil {
			return nil, err
		}
		name := filepath.Join(dir, fmt.Sprintf("phone-%02d.jpg", i))
		if err := os.WriteFile(name, photo.JPEG, 0o644); err != nil {
			return nil, err
		}
		files = append(files, name)
	}
	return files, nil
}

// onePhoto compares decode-to-readings with OpenCV's colour decode of the same files, on one thread.
func (g *speedGroup) onePhoto(ctx context.Context, photos []string) error {
	defer runtime.GOMAXPROCS(runtime.GOMAXPROCS(1))
	reader, closeAll, err := openReaderFor(ctx, demoRace)
	if err != nil {
		return err
	}
	defer closeAll() //nolint:errcheck // freeing nets
	var ratios []float64
	for round := range 2 {
		for _, name := range photos {
			data, err := os.ReadFile(name)
			if err != nil {
				return err
			}
			t := time.Now()
			m, err := gocv.IMDecode(data, gocv.IMReadColor)
			if err != nil {
				return err
			}
			decode := time.Since(t)
			m.Close()
			t = time.Now()
			p, err := reader.Read(ctx, name, data)
			if err != nil {
				return err
			}
			if len(p.Cards) == 0 {
				return fmt.Errorf("%s: refused: %v", name, p.Refused)
			}
			if round > 0 { // the first round warms caches
				ratios = append(ratios, float64(time.Since(t))/float64(decode))
			}
		}
	}
	slices.Sort(ratios)
	median := ratios[len(ratios)/2]
	g.PhotoVsDecode = &median
	return nil
}

// stack collects 60 photos with the real program and two cores.
func (g *speedGroup) stack(ctx context.Context, dir string, photos []string) error {
	c, err := collectStack(ctx, dir, photos, 60)
	if err != nil {
		return err
	}
	if c.peakMB > 0 {
		g.Stack60PeakMB = &c.peakMB
	}
	g.Stack60S = &c.seconds
	if c.firstS > 0 {
		g.Stack60FirstS = &c.firstS
	}
	return nil
}

// collected is what collecting a stack of photos took: memory of the program and its workers together, wall
// seconds, and seconds to the first photo that was kept.
type collected struct{ peakMB, seconds, firstS float64 }

// collectStack collects n photos, some of them again in other bytes, into a copy of the demo race below dir.
func collectStack(ctx context.Context, dir string, photos []string, n int) (done collected, err error) {
	bin := filepath.Join(dir, "gatefold")
	build := exec.CommandContext(ctx, "go", "build", "-o", bin, "./cmd/gatefold")
	if out, err := build.CombinedOutput(); err != nil {
		return done, fmt.Errorf("build: %w\n%s", err, out)
	}
	race := filepath.Join(dir, "race")
	if err := os.CopyFS(race, os.DirFS(demoRace)); err != nil {
		return done, err
	}
	args := []string{"collect", "--timing", race}
	for i := range n {
		data, err := os.ReadFile(photos[i%len(photos)])
		if err != nil {
			return done, err
		}
		// Other bytes, the same picture: a photo that is there already isn't read twice.
		data = append(data, fmt.Sprintf("copy %d", i)...)
		name := filepath.Join(dir, fmt.Sprintf("stack-%03d.jpg", i))
		if err := os.WriteFile(name, data, 0o644); err != nil {
			return done, err
		}
		args = append(args, name)
	}
	c := exec.CommandContext(ctx, bin, args...)
	c.Env = append(os.Environ(), oneThread+"=1")
	var errs bytes.Buffer
	c.Stderr = &errs
	t := time.Now()
	if err := c.Start(); err != nil {
		return done, fmt.Errorf("collect: %w", err)
	}
	stop := make(chan struct{})
	peak := resident.Peak(c.Process.Pid, stop)
	err = c.Wait()
	close(stop)
	if mb := <-peak; mb > 0 {
		done.peakMB = mb
	}
	var exit *exec.ExitError
	if err != nil && (!errors.As(err, &exit) || exit.ExitCode() != finishedButRefused) {
		return done, fmt.Errorf("collect: %w\n%s", err, errs.String())
	}
	done.seconds = time.Since(t).Seconds()
	if m := regexp.MustCompile(`first photo kept after ([0-9.]+) s`).FindStringSubmatch(errs.String()); m != nil {
		if first, err := strconv.ParseFloat(m[1], 64); err == nil {
			done.firstS = first
		}
	}
	return done, nil
}

// goBench runs one Go benchmark and takes a figure out of its line.
func goBench(ctx context.Context, pkg, name, figure string) (float64, error) {
	out, err := exec.CommandContext(ctx, "go", "test", pkg, "-run", "^$", "-bench", name, "-benchtime", "3s").CombinedOutput()
	if err != nil {
		return 0, fmt.Errorf("%s: %w\n%s", name, err, out)
	}
	m := regexp.MustCompile(figure).FindSubmatch(out)
	if m == nil {
		return 0, fmt.Errorf("%s: no figure in\n%s", name, out)
	}
	return strconv.ParseFloat(string(m[1]), 64)
}
