package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"gatefold/cmd/internal/hands"
	"gatefold/cmd/internal/reading"
	"gatefold/ocr/calib"
	"gatefold/ocr/weights"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// shardFile is one finished shard.
type shardFile struct {
	Subset bool      `json:"subset"`
	Made   MadeWith  `json:"made"`
	Reader string    `json:"reader"`
	Layout string    `json:"layout"`
	Date   time.Time `json:"date"`
	Tally  *tally    `json:"tally"`
}

// unit is one card to be measured.
type unit struct {
	level string
	seed  uint64
}

// firstSeed of each shard keeps the seeds of all shards apart.
func firstSeed(shard int) uint64 { return uint64(shard) * 100000 }

func unitsOf(shard int, n sizes) []unit {
	var all []unit
	seed := firstSeed(shard)
	for level, count := range map[string]int{camera.Ordinary: n.ordinary, camera.Hard: n.hard, camera.Impossible: n.impossible} {
		offset := map[string]uint64{camera.Ordinary: 0, camera.Hard: 10000, camera.Impossible: 20000}[level]
		for i := range count {
			all = append(all, unit{level, seed + offset + uint64(i)})
		}
	}
	return all
}

// madeNow says which state of the program this is.
func madeNow(ctx context.Context, seeds ...uint64) (MadeWith, error) {
	commit, err := exec.CommandContext(ctx, "git", "rev-parse", "--short=12", "HEAD").Output()
	if err != nil {
		return MadeWith{}, fmt.Errorf("git rev-parse: %w", err)
	}
	// The scoreboard and its log of looks change while measuring; anything else means that nobody can
	// say what was measured.
	changed, err := exec.CommandContext(ctx, "git", "status", "--porcelain", "--", ".", ":!testdata/bench").Output()
	if err != nil {
		return MadeWith{}, fmt.Errorf("git status: %w", err)
	}
	state := strings.TrimSpace(string(commit))
	if len(changed) > 0 {
		state += "-dirty"
	}
	set, err := calib.Default(weights.Combs())
	if err != nil {
		return MadeWith{}, err
	}
	return MadeWith{Commit: state, Weights: weights.Combs(), Curves: set.Hash(), Seeds: seeds}, nil
}

// openBenchers prepares one bencher a core; close closes their readers.
func openBenchers(ctx context.Context, part hands.Part, n int, opt reading.Options) (all []*bencher, closeAll func() error, err error) {
	data := os.Getenv("GATEFOLD_DATA")
	if data == "" {
		return nil, nil, errors.New("GATEFOLD_DATA is not set: it names the folder with MNIST's writer ids")
	}
	mnist, err := hand.FindMNIST(ctx)
	if err != nil {
		return nil, nil, err
	}
	var layouts [2]*sheetmodel.Layout
	for i, second := range []bool{false, true} {
		if layouts[i], err = sheetmodel.GateCard().Bind(sheetmodel.BindOptions{SecondWriting: second}); err != nil {
			return nil, nil, err
		}
	}
	forms, err := reading.Prepare(layouts[:])
	if err != nil {
		return nil, nil, err
	}
	closeAll = func() error {
		var errs []error
		for _, b := range all {
			errs = append(errs, b.reader.Close())
		}
		return errors.Join(errs...)
	}
	for range n {
		r, err := reading.Open(forms, opt)
		if err != nil {
			return nil, nil, errors.Join(err, closeAll())
		}
		// Each bencher has its own hands: a hand remembers which glyphs it gave.
		writers, _, err := hands.Load(part, mnist, data)
		if err != nil {
			return nil, nil, errors.Join(err, r.Close(), closeAll())
		}
		all = append(all, &bencher{layouts: layouts, hands: writers, reader: r})
	}
	return all, closeAll, nil
}

// openReaderFor opens a reader for the cards of one race.
func openReaderFor(_ context.Context, dir string) (reading.Reader, func() error, error) {
	folder, err := racefolder.Open(dir)
	if err != nil {
		return nil, nil, err
	}
	layouts, err := folder.Layouts()
	if err != nil {
		return nil, nil, err
	}
	forms, err := reading.Prepare(layouts)
	if err != nil {
		return nil, nil, err
	}
	r, err := reading.Open(forms, reading.Options{})
	if err != nil {
		return nil, nil, err
	}
	return r, r.Close, nil
}

// drawShard measures one shard, unless its file is there for the same reader.
func drawShard(ctx context.Context, s settings, n sizes, subset bool) (err error) {
	benchers, closeAll, err := openBenchers(ctx, hands.Report, max(s.hands, 1), reading.Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, closeAll()) }()
	name := fmt.Sprintf("shard-%03d.json", s.shard)
	if subset {
		name = "subset.json"
	}
	path := filepath.Join(s.work, name)
	if old, err := readShard(path); err == nil && old.Reader == benchers[0].reader.Version() {
		fmt.Printf("%s is there, by the same reader\n", path)
		return nil
	}
	if err := os.MkdirAll(s.work, 0o755); err != nil {
		return err
	}
	if err := logLook(ctx, s, fmt.Sprintf("shard %d of %d", s.shard, s.of), benchers[0].reader.Version()); err != nil {
		return err
	}
	// Before, not after: the tree may move on while cards are drawn.
	made, err := madeNow(ctx, firstSeed(s.shard), firstSeed(s.shard)+99999)
	if err != nil {
		return err
	}
	part, err := openPart(strings.TrimSuffix(path, ".json")+".part.jsonl", benchers[0].reader.Version())
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, part.file.Close()) }()
	total, err := measure(ctx, name, benchers, unitsOf(s.shard, n), part)
	if err != nil {
		return err
	}
	out, err := json.Marshal(shardFile{
		Subset: subset, Made: made, Reader: benchers[0].reader.Version(), Layout: benchers[0].layouts[0].HashStart(),
		Date: time.Now().UTC().Truncate(time.Second), Tally: total,
	})
	if err != nil {
		return err
	}
	return os.WriteFile(path, out, 0o644)
}

// partLine is one card of a shard that isn't finished.
type partLine struct {
	Level  string `json:"level"`
	Seed   uint64 `json:"seed"`
	Reader string `json:"reader"`
	Tally  *tally `json:"tally"`
}

// partFile keeps card by card what a shard gave, so that a shard that was cut off goes on where it was.
type partFile struct {
	file   *os.File
	reader string
	there  map[unit]*tally
}

// openPart reads what an earlier run of the same reader kept; what another reader did counts for nothing.
func openPart(path, reader string) (*partFile, error) {
	p := &partFile{reader: reader, there: map[unit]*tally{}}
	data, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	whole := 0 // bytes of complete lines
	for line := range bytes.Lines(data) {
		var l partLine
		if line[len(line)-1] != '\n' || json.Unmarshal(line, &l) != nil {
			break // cut off while it was written
		}
		whole += len(line)
		if l.Reader == reader && l.Tally != nil {
			p.there[unit{l.Level, l.Seed}] = l.Tally
		}
	}
	if p.file, err = os.OpenFile(path, os.O_WRONLY|os.O_CREATE, 0o644); err != nil {
		return nil, err
	}
	err = p.file.Truncate(int64(whole))
	if err == nil {
		_, err = p.file.Seek(0, io.SeekEnd)
	}
	if err != nil {
		return nil, errors.Join(err, p.file.Close())
	}
	return p, nil
}

func (p *partFile) keep(u unit, t *tally) error {
	line, err := json.Marshal(partLine{u.level, u.seed, p.reader, t})
	if err != nil {
		return err
	}
	_, err = p.file.Write(append(line, '\n'))
	return err
}

// measure measures units, one after the other on each bencher, and says how far it is. What part has already
// isn't done again; nil keeps nothing.
func measure(ctx context.Context, name string, benchers []*bencher, units []unit, part *partFile) (*tally, error) {
	total := newTally()
	if part != nil {
		units = slices.DeleteFunc(units, func(u unit) bool {
			t, ok := part.there[u]
			if ok {
				total.merge(t)
			}
			return ok
		})
	}
	var mu sync.Mutex
	next, done := 0, 0
	errs := make([]error, len(benchers))
	var group sync.WaitGroup
	for i, b := range benchers {
		group.Go(func() {
			for {
				mu.Lock()
				k := next
				next++
				mu.Unlock()
				if k >= len(units) {
					return
				}
				t, err := b.card(ctx, units[k].level, units[k].seed)
				if err != nil {
					errs[i] = fmt.Errorf("%s %d: %w", units[k].level, units[k].seed, err)
					return
				}
				mu.Lock()
				if part != nil {
					errs[i] = part.keep(units[k], t)
				}
				total.merge(t)
				done++
				if done%10 == 0 || done == len(units) {
					fmt.Printf("%s: %d of %d cards\n", name, done, len(units))
				}
				mu.Unlock()
				if errs[i] != nil {
					return
				}
			}
		})
	}
	group.Wait()
	return total, errors.Join(errs...)
}

func readShard(path string) (*shardFile, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var f shardFile
	if err := json.Unmarshal(data, &f); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return &f, nil
}

// logLook writes down that report writers were looked at, before they are.
func logLook(ctx context.Context, s settings, what, reader string) error {
	made, err := madeNow(ctx)
	if err != nil {
		return err
	}
	note := s.note
	if note == "" {
		note = "no reason given"
	}
	if err := os.MkdirAll(s.out, 0o755); err != nil {
		return err
	}
	f, err := os.OpenFile(filepath.Join(s.out, "LOOKS.md"), os.O_APPEND|os.O_WRONLY|os.O_CREATE, 0o644)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(f, "| %s | %s | %s | %s | %s |\n", time.Now().UTC().Format("2006-01-02 15:04"), what, made.Commit, reader, note)
	return errors.Join(err, f.Close())
}
