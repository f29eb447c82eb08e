package archive

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"

	"gatefold/review/store"
	"gatefold/sheetmodel/racefolder"
)

// RestoreOptions are the outside world of Restore.
type RestoreOptions struct {
	Now func() time.Time // must not be nil
	// Each, where set, is called before each file is brought, with its number, from 1, and the number of all.
	Each func(n, of int)
	// Step, where set, is called before each file and before the folder gets its name, and its error stops
	// the work. It is for fault tests.
	Step func(step string) error
}

// Restored says what a race was made from.
type Restored struct {
	Dir       string   `json:"dir"`
	Photos    int      `json:"photos"`
	Decisions int      `json:"decisions"`
	Missing   []string `json:"missing"` // photos and pages that the archive was made without
}

// ErrNotWhole is returned for an archive that holds too little for a race to be made from it.
var ErrNotWhole = errors.New("holds no logbook, so no race can be made from it; only a whole archive can be restored, one made with: gatefold pack --full")

// TamperedError names what doesn't verify in an archive. Nothing was made from it.
type TamperedError struct {
	Dir      string
	Problems []Problem
}

// Error names every file, one a line.
func (e *TamperedError) Error() string {
	var lines []string
	for _, p := range e.Problems {
		lines = append(lines, fmt.Sprintf("archive %s: %s", e.Dir, p))
	}
	return strings.Join(append(lines, fmt.Sprintf("archive %s: not as it was packed, nothing was restored; take another copy of it", e.Dir)), "\n")
}

// Restore makes a working race folder from the whole archive bag, a folder or one zip: every original bit for bit, every
// decision under its number, and the race's own files under their names. folder must not exist; its parent
// must. Either the whole race is there at the end, synced to disk, or nothing of it. The archive is only
// read; packed at the same time, the race gives the same archive, byte by byte.
//
// The error is a *TamperedError if anything in the archive doesn't verify. Sums find damage and careless
// changes; whoever changes a file and its sum as well is not found.
func Restore(ctx context.Context, bag, folder string, opt RestoreOptions) (Restored, error) {
	folder = filepath.Clean(folder)
	if err := racefolder.NotThere(folder); err != nil { // before a long verifying
		return Restored{}, err
	}
	if within(folder, bag) {
		return Restored{}, fmt.Errorf("race folder %s: lies inside the archive; name a folder beside it", folder)
	}
	if info, err := os.Stat(bag); err == nil && info.Mode().IsRegular() {
		return restoreZip(ctx, bag, folder, opt)
	}
	report, err := Verify(bag)
	if err != nil {
		return Restored{}, err
	}
	return restore(ctx, bag, folder, report, opt)
}

// restoreZip unpacks the archive beside the folder that is to be made, for that is where room is needed anyway, and
// takes what it unpacked away again.
func restoreZip(ctx context.Context, name, folder string, opt RestoreOptions) (done Restored, err error) {
	if !IsZip(name) {
		return done, fmt.Errorf("archive %s: this is a file, and its name doesn't end in .zip; name the folder or zip that gatefold pack wrote", name)
	}
	temp, err := os.MkdirTemp(filepath.Dir(folder), "."+filepath.Base(folder)+"-unpacked-*")
	if err != nil {
		return done, fmt.Errorf("race folder %s: %w; check free space and that the folder may be written", folder, err)
	}
	defer func() { err = errors.Join(err, os.RemoveAll(temp)) }()
	report, err := verifyZip(name, temp)
	if err != nil {
		return done, err
	}
	return restore(ctx, temp, folder, report, opt)
}

// restore makes the race of the archive in the folder bag, which was verified as report says. The report's name of it
// is the one that errors use.
func restore(ctx context.Context, bag, folder string, report Report, opt RestoreOptions) (Restored, error) {
	if !report.OK() {
		return Restored{}, &TamperedError{Dir: report.Dir, Problems: report.Problems}
	}
	r := &restorer{bag: bag, name: report.Dir, opt: opt}
	var err error
	if r.sums, err = r.manifest(); err != nil {
		return Restored{}, err
	}
	var done Restored
	err = racefolder.MakeNew(folder, func(unfinished string) error {
		r.dir = unfinished
		if done, err = r.make(ctx); err == nil {
			err = r.step("name")
		}
		if err != nil {
			return fmt.Errorf("race folder %s: nothing was restored: %w", folder, err)
		}
		return nil
	})
	if err != nil {
		return Restored{}, err
	}
	done.Dir = folder
	return done, nil
}

type restorer struct {
	bag, dir string
	name     string // of the archive, as its user knows it
	opt      RestoreOptions
	sums     map[string]string // name in the archive by sum
}

func (r *restorer) step(what string) error {
	if r.opt.Step == nil {
		return nil
	}
	return r.opt.Step(what)
}

// manifest reads which files the archive holds, by their sums. It was verified before.
func (r *restorer) manifest() (map[string]string, error) {
	text, err := os.ReadFile(filepath.Join(r.bag, manifestFile))
	if err != nil {
		return nil, fmt.Errorf("archive %s: %w", r.name, err)
	}
	sums := map[string]string{}
	for line := range strings.Lines(string(text)) {
		if sum, file, ok := cutLine(strings.TrimRight(line, "\r\n")); ok {
			sums[sum] = file
		}
	}
	return sums, nil
}

func (r *restorer) make(ctx context.Context) (done Restored, err error) {
	logbook, err := openPlain(filepath.Join(r.bag, filepath.FromSlash(logbookFile)))
	if errors.Is(err, fs.ErrNotExist) {
		return done, fmt.Errorf("archive %s: %w", r.name, ErrNotWhole)
	}
	if err != nil {
		return done, fmt.Errorf("%s: %w", logbookFile, err)
	}
	s, err := store.FromLogbook(ctx, r.dir, store.Options{Now: r.opt.Now}, logbook)
	err = errors.Join(err, logbook.Close())
	if err != nil {
		return done, fmt.Errorf("%s: %w", logbookFile, err)
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if err = r.raceFiles(); err != nil {
		return done, err
	}
	if _, err = racefolder.Open(r.dir); err != nil {
		return done, err
	}
	files, err := s.Files(ctx)
	if err != nil {
		return done, err
	}
	done.Missing = []string{}
	for i, f := range files {
		if err = ctx.Err(); err != nil {
			return done, err
		}
		if r.opt.Each != nil {
			r.opt.Each(i+1, len(files))
		}
		if _, there := r.sums[f.SHA256]; !there {
			done.Missing = append(done.Missing, f.Name)
			continue
		}
		if err = r.bring(f.Name, f.SHA256); err != nil {
			return done, err
		}
	}
	photos, err1 := s.Photos(ctx)
	decisions, err2 := s.Decisions(ctx)
	done.Photos, done.Decisions = len(photos), len(decisions)
	return done, errors.Join(err1, err2, syncFolder(filepath.Join(r.dir, store.OriginalsName)), syncFolder(filepath.Join(r.dir, store.PagesName)), syncFolder(r.dir))
}

// raceName is what a file that a race is read from may be called: no name leads out of the folder, and
// none takes the place of what the store keeps.
var raceName = regexp.MustCompile(`\.(?:yaml|yml|csv|txt|tsv|po)$|^layouts/[0-9a-f]{12}-(?:front|back)\.png$|^removal\.json$`)

// maxFolder bounds the list of a race folder's own files: tens of files, a line each.
const maxFolder = 1 << 20

// readAtMost reads a plain file, or says that it is larger. The error doesn't name it.
func readAtMost(full string, most int64) ([]byte, error) {
	f, err := openPlain(full)
	if err != nil {
		return nil, errors.New(reasonOf(err))
	}
	text, err := io.ReadAll(io.LimitReader(f, most+1))
	if err = errors.Join(err, f.Close()); err == nil && int64(len(text)) > most {
		err = fmt.Errorf("larger than %d MB; gatefold packs none such", most>>20)
	}
	return text, err
}

// raceFiles brings the race folder's own files.
func (r *restorer) raceFiles() error {
	text, err := readAtMost(filepath.Join(r.bag, filepath.FromSlash(folderFile)), maxFolder)
	if err != nil {
		return fmt.Errorf("%s: %w", folderFile, err)
	}
	var folder raceFolder
	if err = json.Unmarshal(text, &folder); err != nil {
		return fmt.Errorf("%s: %w", folderFile, err)
	}
	if folder.Format > Format {
		return fmt.Errorf("%s: format %d is newer than this program reads (%d); use a newer gatefold", folderFile, folder.Format, Format)
	}
	for _, e := range folder.Files {
		first, _, _ := strings.Cut(e.Name, "/")
		if !fs.ValidPath(e.Name) || strings.ContainsAny(e.Name, `\:`) || !raceName.MatchString(strings.ToLower(e.Name)) ||
			slices.Contains([]string{store.OriginalsName, store.PagesName}, first) {
			return fmt.Errorf("%s: %s is no name for a file of a race", folderFile, spell(e.Name))
		}
		if _, there := r.sums[e.SHA256]; !there {
			return fmt.Errorf("%s: %s is not in the archive", folderFile, spell(e.Name))
		}
		if err = r.bring(e.Name, e.SHA256); err != nil {
			return err
		}
	}
	return nil
}

// bring copies a file of the archive to a name in the race folder, synced, and demands that it still has
// the sum by which it was chosen.
func (r *restorer) bring(name, sha string) error {
	if err := r.step(name); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	from, err := openPlain(filepath.Join(r.bag, filepath.FromSlash(r.sums[sha])))
	if err != nil {
		return fmt.Errorf("%s: %w", r.sums[sha], err)
	}
	defer from.Close() //nolint:errcheck // only read
	to := filepath.Join(r.dir, filepath.FromSlash(name))
	if err = os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
		return err
	}
	f, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return fmt.Errorf("%s: %w", path.Base(name), err)
	}
	sum := sha256.New()
	_, err = io.Copy(io.MultiWriter(f, sum), from)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if hex.EncodeToString(sum.Sum(nil)) != sha {
		return fmt.Errorf("%s: changed while it was read", r.sums[sha])
	}
	return nil
}

func sumOfBytes(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}
