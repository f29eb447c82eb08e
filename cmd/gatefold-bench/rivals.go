package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"sort"
	"strings"
	"time"

	"gatefold/scan"
	"gatefold/scan/camera"
	"gatefold/scan/scantest"
	"gatefold/scan/scantest/rivals"
)

// rivalsFile holds what each method did, beside the scoreboard that merge puts it into.
const rivalsFile = "rivals.json"

// rivalSeeds is the first seed of the comparison; nothing was chosen on these photos.
const rivalSeeds = 2_100_000

// rivalMethod is one way to straighten a photo, and what it did on each level.
type rivalMethod struct {
	Name       string       `json:"name"`
	Commit     string       `json:"commit"`
	Command    string       `json:"command"`
	Levels     string       `json:"levels"` // hash of scan/camera/levels.yaml
	Ordinary   *rivalCounts `json:"ordinary"`
	Hard       *rivalCounts `json:"hard"`
	Impossible *rivalCounts `json:"impossible"`
}

type rivalCounts struct {
	Seeds [2]uint64 `json:"seeds"` // first and last
	scanCounts
	Fields    int         `json:"fields"`  // in the picture and uncovered, of straightened photos
	Flagged   int         `json:"flagged"` // of these, said to be hidden: in no error
	FoundMM   percentiles `json:"found_mm"`
	AllMM     percentiles `json:"straightened_mm"` // wrongly straightened photos too
	foundErrs []float64
	allErrs   []float64
}

// way is how a method is asked.
type way struct {
	name  string
	ask   string             // of package rivals, empty: scan itself
	tags  scantest.TagFamily // printed on the card
	least int                // tags that must be seen
	blind bool               // take no notice of what scan flags
}

func ways() []way {
	aruco, april := scantest.ArUco, scantest.AprilTag
	return []way{
		{name: "gatefold"},
		{name: "gatefold, its flags ignored", blind: true},
		{name: "contour and quadrangle", ask: rivals.Contour},
		{name: "contour, convex hulls", ask: rivals.ContourHull},
		{name: "ArUco 4x4, all four tags", ask: string(aruco), tags: aruco, least: 4},
		{name: "ArUco 4x4, two tags or more", ask: string(aruco), tags: aruco, least: 2},
		{name: "AprilTag 36h11, all four tags", ask: string(april), tags: april, least: 4},
		{name: "AprilTag 36h11, two tags or more", ask: string(april), tags: april, least: 2},
	}
}

// compareRivals measures all ways, or those of s.only, and replaces them in the rivals' file. Photos are kept
// below s.photos: a later scan is measured on the same ones in minutes.
func compareRivals(ctx context.Context, s settings) error {
	made, err := madeNow(ctx)
	if err != nil {
		return err
	}
	layouts, err := scantest.Layouts()
	if err != nil {
		return err
	}
	forms, err := scan.Prepare(layouts...)
	if err != nil {
		return err
	}
	var chosen []*way
	var methods []rivalMethod
	for _, w := range ways() {
		if s.only == "" || strings.HasPrefix(w.name, s.only) {
			chosen = append(chosen, &w)
			methods = append(methods, rivalMethod{Name: w.name, Commit: made.Commit, Command: s.command, Levels: camera.LevelsHash()})
		}
	}
	if len(chosen) == 0 {
		return fmt.Errorf("-only %q: no method's name begins so", s.only)
	}
	if err := os.MkdirAll(s.photos, 0o755); err != nil {
		return err
	}
	runner, err := rivals.Open(ctx)
	if err != nil {
		return err
	}
	defer runner.Close() //nolint:errcheck // its answers have come
	for level, n := range map[string]int{camera.Ordinary: s.sizes.ordinary, camera.Hard: s.sizes.hard, camera.Impossible: s.sizes.impossible} {
		for i := range methods {
			*methods[i].level(level) = &rivalCounts{Seeds: [2]uint64{s.seed, s.seed + uint64(max(n, 1)) - 1}}
		}
		for seed := s.seed; seed < s.seed+uint64(n); seed++ {
			kind := scantest.Kind{Level: level, Layouts: layouts, Kept: s.photos}
			outs, err := straightenAll(ctx, kind, seed, chosen, forms, runner)
			if err != nil {
				return err
			}
			for i, o := range outs {
				(*methods[i].level(level)).add(o)
			}
		}
		for i := range methods {
			c := *methods[i].level(level)
			c.finish()
			fmt.Printf("%s %s: %d photos, %d found, %d wrong, %d refused\n", level, methods[i].Name, c.Total, c.Found, c.Wrong, c.Refused)
		}
	}
	old, err := readRivals(s.out)
	if err != nil {
		return err
	}
	for _, m := range methods {
		if i := slices.IndexFunc(old, func(o rivalMethod) bool { return o.Name == m.Name }); i >= 0 {
			old[i] = m
		} else {
			old = append(old, m)
		}
	}
	out, err := json.MarshalIndent(old, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(s.out, rivalsFile), append(out, '\n'), 0o644)
}

// straightenAll has one card straightened in every way. All photos of a seed have the same shot; only what is
// printed in the corners differs.
func straightenAll(ctx context.Context, kind scantest.Kind, seed uint64, chosen []*way, forms *scan.Forms, runner *rivals.Runner) ([]scantest.Outcome, error) {
	outs := make([]scantest.Outcome, len(chosen))
	photos := map[scantest.TagFamily]*scantest.Sample{}
	answers := map[string]rivals.Answer{}
	var own *scantest.Outcome
	for i, w := range chosen {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		if photos[w.tags] == nil {
			kind.Tags = w.tags
			s, err := scantest.Make(kind, seed)
			if err != nil {
				return nil, err
			}
			photos[w.tags] = s
		}
		photo := photos[w.tags]
		if w.ask == "" {
			if own == nil {
				o := scantest.Judge(photo, forms, time.Now)
				own = &o
			}
			outs[i] = *own
			if w.blind && own.Blind != nil {
				outs[i] = *own.Blind
			}
			continue
		}
		answer, ok := answers[w.ask]
		if !ok {
			var err error
			if answer, err = runner.Ask(w.ask, photo.Side, photo.JPEG); err != nil {
				return nil, err
			}
			answers[w.ask] = answer
		}
		outs[i] = rivals.Judge(photo, answer, w.least)
	}
	return outs, nil
}

func (m *rivalMethod) level(name string) **rivalCounts {
	switch name {
	case camera.Ordinary:
		return &m.Ordinary
	case camera.Hard:
		return &m.Hard
	default:
		return &m.Impossible
	}
}

func (c *rivalCounts) add(o scantest.Outcome) {
	c.Total++
	c.Fields, c.Flagged = c.Fields+o.Fields, c.Flagged+o.Flagged
	switch o.Verdict {
	case scantest.Right:
		c.Found++
		c.foundErrs = append(c.foundErrs, o.Errors...)
	case scantest.Wrong:
		c.Wrong++
	case scantest.Refused:
		c.Refused++
		return
	}
	c.allErrs = append(c.allErrs, o.Errors...)
}

// finish reckons the percentiles of all corners of all fields.
func (c *rivalCounts) finish() {
	for errs, into := range map[*[]float64]*percentiles{&c.foundErrs: &c.FoundMM, &c.allErrs: &c.AllMM} {
		if len(*errs) == 0 {
			continue
		}
		sort.Float64s(*errs)
		at := func(share float64) *float64 {
			// A map that puts a corner behind the camera misses by any length: JSON has no word for it.
			v := math.Min((*errs)[min(int(share*float64(len(*errs))), len(*errs)-1)], 9999)
			return &v
		}
		into.P50, into.P99 = at(.5), at(.99)
	}
}

// readRivals returns the methods measured before, none where there is no file.
func readRivals(dir string) ([]rivalMethod, error) {
	data, err := os.ReadFile(filepath.Join(dir, rivalsFile))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	var all []rivalMethod
	if err := json.Unmarshal(data, &all); err != nil {
		return nil, fmt.Errorf("%s: %w", rivalsFile, err)
	}
	return all, nil
}
