package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sort"
	"strings"

	"gatefold/ocr/weights"
	"gatefold/scan/camera"
)

// fullShards is how many shards make a full run; fewer are a subset, and the scoreboard says so.
const fullShards = 10

// merge puts shards and single figures together, of equal readers only. Without any whole shard the
// subset is used, and the scoreboard says so. A figure that is not there stays null.
func merge(_ context.Context, s settings) error {
	shards, err := shardsOf(s.work)
	if err != nil {
		return err
	}
	r := results{
		Format: 1, Levels: camera.LevelsHash(), Split: "report writers: MNIST's test part, drawn anew with pencil or ballpoint",
		Machine: machine(),
	}
	if len(shards) > 0 {
		if err := r.addShards(shards); err != nil {
			return err
		}
	}
	for name, into := range map[string]any{"digit": &r.Digit, "speed": &r.Speed, "rules": &r.Rules, "review": &r.Review, "bib1p": &r.Bib1P} {
		data, err := os.ReadFile(filepath.Join(s.work, name+".json"))
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return err
		}
		if err := json.Unmarshal(data, into); err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
	}
	if r.Digit != nil && r.Digit.Weights != weights.Combs() {
		r.Digit = nil // of another reader: not measured for this one
	}
	if r.Bib1P != nil && r.Bib1P.Weights != weights.Combs() {
		r.Bib1P = nil
	}
	if r.Rivals, err = readRivals(s.out); err != nil {
		return err
	}
	if r.Ticks, err = readTicks(s.ticksOut); err != nil {
		return err
	}
	out, err := json.MarshalIndent(r, "", "  ")
	if err != nil {
		return err
	}
	if err := os.MkdirAll(s.out, 0o755); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(s.out, "results.json"), append(out, '\n'), 0o644); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(s.out, "RESULTS.md"), []byte(r.markdown()), 0o644)
}

// shardsOf returns the whole shards below dir, or the subset where there are none, by name.
func shardsOf(dir string) ([]*shardFile, error) {
	names, err := filepath.Glob(filepath.Join(dir, "shard-*.json"))
	if err != nil {
		return nil, err
	}
	if len(names) == 0 {
		names, err = filepath.Glob(filepath.Join(dir, "subset.json"))
		if err != nil {
			return nil, err
		}
	}
	slices.Sort(names)
	var all []*shardFile
	for _, name := range names {
		f, err := readShard(name)
		if err != nil {
			return nil, err
		}
		if f.Made.Weights != weights.Combs() {
			fmt.Printf("%s: by other weights, left out\n", name)
			continue
		}
		if len(all) > 0 && all[0].Reader != f.Reader {
			return nil, fmt.Errorf("%s: read by %s, %d other shards by %s; draw the older ones again", name, f.Reader, len(all), all[0].Reader)
		}
		all = append(all, f)
	}
	return all, nil
}

func (r *results) addShards(shards []*shardFile) error {
	total := newTally()
	made := shards[0].Made
	for _, f := range shards {
		total.merge(f.Tally)
		r.Subset = r.Subset || f.Subset
		made.Seeds[0], made.Seeds[1] = min(made.Seeds[0], f.Made.Seeds[0]), max(made.Seeds[1], f.Made.Seeds[1])
		if f.Made.Commit != made.Commit {
			made.Commit = f.Made.Commit
		}
	}
	r.Subset = r.Subset || len(shards) < fullShards
	last := shards[len(shards)-1]
	r.Date, r.Layouts = last.Date.Format("2006-01-02"), last.Layout
	r.Scan = &scanGroup{
		MadeWith: made, Ordinary: total.Scan[camera.Ordinary], Hard: total.Scan[camera.Hard], Impossible: total.Scan[camera.Impossible],
		FieldErrorMM: percentilesOf(total.FieldMM),
	}
	r.Sheet = &askedGroup{made, total.Sheet.Total, total.Sheet.Wrong, total.Sheet.Asked}
	r.Tick = &askedGroup{made, total.Tick.Total, total.Tick.Wrong, total.Tick.Asked}
	r.Row = &rowGroup{made, total.Rows, total.RowsLost, total.RowsAdded, total.RowsUnder}
	for kind, into := range map[string]**levelsGroup{
		"bib1": &r.Bib1, "bib2": &r.Bib2, "code": &r.Code, "gate": &r.Gate, "spoilt": &r.Spoilt, "spoilt2": &r.Spoilt2,
	} {
		*into = &levelsGroup{
			MadeWith: made,
			Ordinary: account(total.Samples[kind][camera.Ordinary]), Hard: account(total.Samples[kind][camera.Hard]),
		}
	}
	for kind, g := range map[string]*levelsGroup{"bib1": r.Bib1, "bib2": r.Bib2} {
		g.Lengths = byDigits(total.Samples[kind])
	}
	r.notes, r.copied = total.Notes, total.Copied
	return nil
}

func percentilesOf(v []float64) *percentiles {
	if len(v) == 0 {
		return nil
	}
	s := slices.Clone(v)
	sort.Float64s(s)
	p50, p99 := s[len(s)/2], s[len(s)*99/100]
	return &percentiles{&p50, &p99}
}

// machine names the processor and the number of cores.
func machine() string {
	model := runtime.GOARCH
	if data, err := os.ReadFile("/proc/cpuinfo"); err == nil {
		for line := range strings.Lines(string(data)) {
			if name, ok := strings.CutPrefix(line, "model name"); ok {
				model = strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(name), ":"))
				break
			}
		}
	}
	return fmt.Sprintf("%s, %d cores, %s", model, runtime.NumCPU(), runtime.Version())
}
