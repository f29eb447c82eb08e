package racefolder

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"gatefold/sheetmodel"
)

// Names of the files of a race folder.
const (
	RaceFile      = "race.yaml"
	StartListFile = "startlist.csv"
	CodesFile     = "codes.yaml"
	LayoutsFolder = "layouts"
)

// Bounds of what is read of one file: a race of a thousand starters has a tenth of it. YAML is kept in memory as a tree,
// some two hundred times as large as its text.
const (
	maxFile = 4 << 20
	maxYAML = 1 << 20
)

// Folder is a race on disk.
// It is safe for concurrent use.
type Folder struct {
	Dir string // as the caller named it

	fsys   fs.FS
	mu     sync.Mutex
	race   *sheetmodel.Race
	notes  []string
	cutOff *Forgetting // the removal that this folder's BeginForget found begun
	step   step        // fails the n-th disk operation in tests
}

// Open reads the race in dir: race.yaml, the start list and the code book it names.
//
// The error joins a *FileError for each mistake of all files, in the order of their lines, each with
// file, line, what is wrong and what to do. Open changes nothing.
func Open(dir string) (*Folder, error) {
	if st, err := os.Stat(dir); err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			if filepath.Ext(dir) != "" {
				return nil, fmt.Errorf("race folder %s: there is none; name the folder that holds %s", dir, RaceFile)
			}
			return nil, fmt.Errorf("race folder %s: there is none; make one with: gatefold start %s", dir, ShellWord(dir))
		}
		return nil, fmt.Errorf("race folder %s: %w", dir, err)
	} else if !st.IsDir() {
		return nil, fmt.Errorf("race folder %s: this is a file; name its folder instead: %s", dir, ShellWord(filepath.Dir(dir)))
	}
	fsys := os.DirFS(dir)
	race, notes, err := readRace(newFiles(dir, fsys))
	if err != nil {
		return nil, err
	}
	return &Folder{Dir: dir, fsys: fsys, race: race, notes: notes}, nil
}

// OpenFS reads a race as Open does, from fsys. name stands for the folder in messages.
func OpenFS(fsys fs.FS, name string) (*sheetmodel.Race, []string, error) {
	return readRace(newFiles(name, fsys))
}

// Race returns the race as it was last read or saved. The caller must not change it; a save puts a
// new one in its place, so a *Race that a caller holds stays as it was.
func (f *Folder) Race() *sheetmodel.Race {
	f.mu.Lock()
	defer f.mu.Unlock()
	return f.race
}

// Notes are things a person should know that are no mistakes, such as columns that are not used.
func (f *Folder) Notes() []string {
	f.mu.Lock()
	defer f.mu.Unlock()
	return slices.Clone(f.notes)
}

// readRace reads all files of a race. Mistakes of all files are joined.
func readRace(files *files) (*sheetmodel.Race, []string, error) {
	text, err := files.read(RaceFile)
	if err != nil {
		if errors.Is(err, fs.ErrNotExist) {
			return nil, nil, files.fail(RaceFile, "there is none; make a commented one with: gatefold start FOLDER")
		}
		return nil, nil, files.fail(RaceFile, "%s", err)
	}
	p := files.problems(RaceFile)
	f := readRaceFile(files, p, text)
	if f == nil {
		return nil, nil, p.err()
	}
	f.codeBook(files)
	name := orDefault(f.top.text("start_list"), StartListFile)
	if text, err = files.read(name); err != nil {
		f.top.fail("start_list", "start list %s; write it with a header line such as bib,name,club,group", err)
		f.partial = true
	} else {
		f.startList(files.problems(name), text)
		f.partial = len(files.problems(name).list)+files.problems(name).behind > 0
	}
	f.lists(files)
	if err := files.err(); err != nil {
		return nil, nil, err
	}
	f.race.Reused = reusedCodes(files, f.race.Codes)
	return f.race, files.notes(), nil
}

// codeBook takes the book from race.yaml, or from the file it names, or from codes.yaml if there is one.
func (f *raceFile) codeBook(files *files) {
	name := ""
	if n := f.top.vals["code_book"]; !isNull(n) {
		if scalarOf(f.top, "code_book") == "" {
			f.race.Codes = readCodes(f.p, n)
			return
		}
		name = f.top.text("code_book")
	}
	text, err := files.read(orDefault(name, CodesFile))
	if err != nil {
		f.top.fail("code_book", "code book %s; write code_book: and the name of a file beside race.yaml", err)
		return
	}
	p := files.problems(orDefault(name, CodesFile))
	if node := parseYAML(p, text); node != nil {
		f.race.Codes = readCodes(p, node)
	}
}

// files are the files of one race, read through fs.FS so that no name leads out of the folder.
type files struct {
	dir     string
	fsys    fs.FS
	instead map[string][]byte // texts that take the place of files, while a change is tried out
	noted   map[string]*problems
}

func newFiles(dir string, fsys fs.FS) *files {
	return &files{dir: dir, fsys: fsys, noted: map[string]*problems{}}
}

// read returns the content of a file. The error begins with the file's name.
func (f *files) read(name string) ([]byte, error) {
	name = strings.TrimPrefix(filepath.ToSlash(name), "./")
	if !fs.ValidPath(name) {
		return nil, fmt.Errorf("%s: not a name inside the race folder", name)
	}
	if text, ok := f.instead[name]; ok {
		return text, nil
	}
	text, err := readPlain(f.fsys, name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, noFileError(name)
	case err != nil:
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return text, nil
}

// readPlain reads a plain file of at most maxFile bytes, maxYAML if it is one. It looks before it opens: opening a pipe waits
// for a writer, and a device never ends. The error doesn't name the file.
func readPlain(fsys fs.FS, name string) ([]byte, error) {
	info, err := fs.Stat(fsys, name)
	switch {
	case err != nil:
		return nil, withoutPath(err)
	case info.IsDir():
		return nil, errors.New("is a folder; move it away and put the file in its place")
	case !info.Mode().IsRegular():
		return nil, errors.New("is no plain file but a pipe, a device or the like; put a plain file in its place")
	}
	h, err := fsys.Open(name)
	if err != nil {
		return nil, withoutPath(err)
	}
	defer func() { _ = h.Close() }() // only read
	most := int64(maxFile)
	if ext := strings.ToLower(path.Ext(name)); ext == ".yaml" || ext == ".yml" {
		most = maxYAML
	}
	text, err := io.ReadAll(io.LimitReader(h, most+1))
	if err != nil {
		return nil, withoutPath(err)
	}
	if int64(len(text)) > most {
		return nil, fmt.Errorf("larger than %d MB; is it the right file?", most>>20)
	}
	return text, nil
}

// withoutPath leaves the path away, which the sentence around it names already.
func withoutPath(err error) error {
	var at *fs.PathError
	if errors.As(err, &at) {
		return at.Err
	}
	return err
}

// noFileError is a file that isn't in the folder.
type noFileError string

func (e noFileError) Error() string { return string(e) + ": no such file in the race folder" }

// Is makes it an fs.ErrNotExist.
func (noFileError) Is(target error) bool { return target == fs.ErrNotExist }

// problems returns the list of one file's problems.
func (f *files) problems(name string) *problems {
	if f.noted[name] == nil {
		f.noted[name] = &problems{file: filepath.Join(f.dir, name)}
	}
	return f.noted[name]
}

func (f *files) fail(name, format string, args ...any) error {
	return &FileError{File: filepath.Join(f.dir, name), What: fmt.Sprintf(format, args...)}
}

// names are race.yaml first, then the rest by name: the order in which a person mends them.
func (f *files) names() []string {
	return slices.SortedFunc(maps.Keys(f.noted), func(a, b string) int {
		if (a == RaceFile) != (b == RaceFile) {
			if a == RaceFile {
				return -1
			}
			return 1
		}
		return strings.Compare(a, b)
	})
}

func (f *files) err() error {
	var all []error
	for _, name := range f.names() {
		all = append(all, f.noted[name].err())
	}
	return errors.Join(all...)
}

func (f *files) notes() []string {
	var all []string
	for _, name := range f.names() {
		for _, n := range f.noted[name].notes {
			all = append(all, fmt.Sprintf("%s: %s", f.noted[name].file, n))
		}
	}
	return all
}

func orDefault(text, fallback string) string {
	if text == "" {
		return fallback
	}
	return text
}
