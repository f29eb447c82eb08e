package archive

import (
	"bytes"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"time"

	"gatefold/review/crop"
	"gatefold/review/draft"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// Input is what an archive is made of. Store, Stack and Result belong together: the stack was loaded
// from the store, the result is that of its facts.
type Input struct {
	Store  *store.Store
	Stack  *stack.Stack
	Result rules.Result
	At     time.Time // of the laptop's clock
	// Folder is the race's, where its files lie; empty: the store's.
	Folder string
	// Names makes the full archive: originals, names of racers and judges, clubs and phones, notes, and the race
	// folder's own files. Without it the archive may be handed around: of originals only the SHA-256, judges by
	// their cards, people by numbers, on pages and their crops nothing but rows and panels, notes left out.
	Names bool
	// Layout finds a layout by its content hash; it makes the draft's crops exact. It may be nil.
	Layout func(hash string) *sheetmodel.Layout
	// WithoutDamaged leaves out originals and pages that are missing or no longer match their SHA-256,
	// and names them in README and Summary. Without it the first one is an error.
	WithoutDamaged bool
	// Step, where set, is called before each file is made and before the folder gets its name, and its
	// error stops the work. It is for fault tests.
	Step func(step string) error
}

// Summary says what was put away.
type Summary struct {
	Dir       string `json:"dir"`
	Files     int    `json:"files"` // of the payload
	Bytes     int64  `json:"bytes"` // of the payload
	Originals int    `json:"originals"`
	Sheets    int    `json:"sheets"`
	Names     bool   `json:"names_included"`
	Sum       string `json:"sum"` // the archive's own: SHA-256 of the list of its lists
	// LeftOut names what was damaged in the store and so isn't in the archive, by its name there.
	LeftOut []string `json:"left_out"`
}

// ErrExists is returned when the folder is there already. Archives are never overwritten.
var ErrExists = errors.New("is there already; name another folder")

// Write makes the archive as the folder dir, which must not exist; its parent must. A dir that ends in .zip
// becomes one zip with that folder in it instead. Either the whole archive is there at the end, synced to disk,
// or nothing of it. The same race and the same time give the same bytes. The store is only read. ErrMoved: somebody else
// wrote to it meanwhile, as a desk may.
//
// A kept original or page that no longer matches its SHA-256 is an error that names it, or is left out
// and named if in says so: what is broken is not put away as if it were whole. A dir inside the race
// folder is an error, too: the archive would hold itself next time, and be lost with the race.
func Write(ctx context.Context, dir string, in Input) (Summary, error) {
	dir = filepath.Clean(dir)
	in.Folder = cmp.Or(in.Folder, in.Store.Dir())
	if err := Free(dir, in.Folder); err != nil {
		return Summary{}, err
	}
	temp, err := os.MkdirTemp(filepath.Dir(dir), "."+filepath.Base(dir)+"-unfinished-*")
	if err != nil {
		return Summary{}, fmt.Errorf("archive %s: %w; check free space and that the folder may be written", dir, err)
	}
	b := &bag{dir: temp, at: in.At, step: in.Step, leaveOut: in.WithoutDamaged, leftOut: []string{}}
	summary, err := b.make(ctx, in)
	if err == nil {
		err = b.finish(in)
	}
	if err == nil {
		summary.Sum, err = b.sum()
	}
	if err == nil {
		err = still(ctx, in)
	}
	ready := temp
	if err == nil && IsZip(dir) {
		ready = temp + ".zip"
		err = b.zip(ready, zipFolder(dir))
	}
	if err == nil {
		err = b.stepBefore("name")
	}
	if err == nil {
		err = os.Rename(ready, dir)
	}
	if ready != temp {
		err = errors.Join(err, os.RemoveAll(temp))
		if err != nil {
			err = errors.Join(err, os.RemoveAll(ready))
		}
	}
	if err != nil {
		return Summary{}, errors.Join(fmt.Errorf("archive %s: %w", dir, err), os.RemoveAll(temp))
	}
	if err = syncFolder(filepath.Dir(dir)); err != nil {
		return Summary{}, fmt.Errorf("archive %s: %w", dir, err)
	}
	summary.Dir, summary.Files, summary.Bytes, summary.Names = dir, len(b.payload), b.bytes, in.Names
	summary.LeftOut = b.leftOut
	return summary, nil
}

// ErrMoved is returned where something was kept in the race while it was put away: a draft from before, with a log from after it and photos from
// between, would look like one race, and could not be restored as one.
var ErrMoved = errors.New("something was entered in the race while it was put away; do it again, or close the desk first")

// still reports, as an error, whether the race went on since it was looked at. What may be handed around is made from a copy of one moment.
func still(ctx context.Context, in Input) error {
	if !in.Names {
		return nil
	}
	head, err := in.Store.Head(ctx)
	if err == nil && head != in.Stack.Head {
		err = ErrMoved
	}
	return err
}

// make writes the payload: of the race, or of a copy that may be handed around.
func (b *bag) make(ctx context.Context, in Input) (Summary, error) {
	if in.Names {
		return fill(ctx, b, in)
	}
	share, done, err := b.shareable(ctx, in)
	if err != nil {
		return Summary{}, err
	}
	summary, err := fill(ctx, b, share)
	return summary, errors.Join(err, done())
}

// Free says why no archive of the race in folder race can be made as dir, or returns nil.
func Free(dir, race string) error {
	switch _, err := os.Lstat(dir); {
	case within(dir, race):
		return fmt.Errorf("archive %s: %w", dir, ErrInside)
	case err == nil:
		return fmt.Errorf("archive %s: %w", dir, ErrExists)
	}
	return nil
}

// within reports whether dir, which need not exist, would lie in folder, whatever links lead there.
func within(dir, folder string) bool {
	at, err := filepath.Abs(filepath.Dir(dir))
	if err != nil {
		return false // making it fails as well, and says why
	}
	race, err := os.Stat(folder)
	if err != nil {
		return false
	}
	if followed, err := filepath.EvalSymlinks(at); err == nil {
		at = followed
	}
	for {
		if info, err := os.Stat(at); err == nil && os.SameFile(info, race) {
			return true
		}
		up := filepath.Dir(at)
		if up == at {
			return false
		}
		at = up
	}
}

// ErrInside is returned for a folder inside the race folder.
var ErrInside = errors.New("lies inside the race folder; name a folder beside it")

// fill writes the payload.
func fill(ctx context.Context, b *bag, in Input) (Summary, error) {
	var sum Summary
	photos, err := in.Store.Photos(ctx)
	if err != nil {
		return sum, err
	}
	originals := photos
	if !in.Names {
		originals = nil
		if err = originalSums(b, photos); err != nil {
			return sum, err
		}
	}
	for _, p := range originals {
		if err = ctx.Err(); err != nil {
			return sum, err
		}
		copied, err := b.copyStored(in.Store, p.File, "data/"+p.File, p.ID)
		if err != nil {
			return sum, err
		}
		if copied {
			sum.Originals++
		}
	}
	sheets, err := in.Store.Sheets(ctx)
	if err != nil {
		return sum, err
	}
	for _, s := range sheets {
		if s.Page == "" {
			continue
		}
		if err = ctx.Err(); err != nil {
			return sum, err
		}
		copied, err := b.copyStored(in.Store, s.Page, "data/"+sheetFile(s), s.PageSHA256)
		if err != nil {
			return sum, err
		}
		if copied {
			sum.Sheets++
		}
	}
	steps := []func() error{
		func() error { return b.text("data/README.txt", readme(in, sheets, b.leftOut)) },
		func() error { return raceFiles(b, in) },
		func() error { return readings(b, photos, sheets) },
		func() error { return pages(b, sheets, in) },
		func() error { return decisions(ctx, b, in) },
		func() error { return tables(ctx, b, sheets, in) },
		func() error { return records(ctx, b, in) },
		func() error { return b.json("data/findings.json", findings(in.Result)) },
		func() error { return drafts(b, in) },
		func() error { return schemaFiles(b) },
	}
	if in.Names {
		steps = append(steps, func() error { return whole(ctx, b, in) })
	}
	for _, do := range steps {
		if err = do(); err != nil {
			return sum, err
		}
	}
	return sum, nil
}

func drafts(b *bag, in Input) error {
	d, err := draft.New(in.Stack, in.Result, draft.Options{At: in.At, Names: in.Names, Judges: in.Names, Phones: in.Names, Layout: in.Layout})
	if err != nil {
		return err
	}
	cutter := &crop.Cutter{Open: func(file string) (io.ReadCloser, error) {
		if slices.Contains(b.leftOut, file) {
			return nil, fmt.Errorf("%s: damaged: %w", file, store.ErrNotFound)
		}
		return in.Store.OpenFile(file)
	}}
	var paper bytes.Buffer
	// With pictures lost the paper is written whole all the same, and says at each row what is missing.
	if err = d.WritePDF(&paper, cutter); err != nil && (len(b.leftOut) == 0 || paper.Len() == 0) {
		return err
	}
	return errors.Join(
		b.write("data/draft.json", d.WriteJSON),
		b.write("data/draft.csv", d.WriteCSV),
		b.write("data/draft.pdf", func(w io.Writer) error { _, err := paper.WriteTo(w); return err }),
	)
}
