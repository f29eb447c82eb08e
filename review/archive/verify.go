package archive

import (
	"bufio"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"gatefold/review/store"
)

// Fault says what is wrong with a file of an archive.
type Fault string

// The faults.
const (
	FaultMissing Fault = "missing" // a manifest names it, it isn't there
	FaultExtra   Fault = "extra"   // it is in data/, no manifest names it
	FaultAltered Fault = "altered" // its sum is another
	FaultBroken  Fault = "broken"  // it can't be read, or isn't what its name says
)

// Problem is one file that doesn't verify.
type Problem struct {
	File   string `json:"file"` // relative to the archive, with slashes
	Fault  Fault  `json:"fault"`
	Detail string `json:"detail,omitempty"`
}

// String names the file first. A name that a terminal might take for a command, or that is very long,
// is quoted and shortened.
func (p Problem) String() string {
	if p.Detail == "" {
		return spell(p.File) + ": " + string(p.Fault)
	}
	return spell(p.File) + ": " + string(p.Fault) + ": " + p.Detail
}

// longName is as much of a name as a message shows.
const longName = 120

// spell writes the name of a file that somebody else chose.
func spell(file string) string {
	short := file
	if r := []rune(file); len(r) > longName {
		short = string(r[:longName/2]) + "..." + string(r[len(r)-longName/2:])
	}
	if q := strconv.Quote(short); q != `"`+short+`"` {
		return q
	}
	return short
}

// Report is what Verify found.
type Report struct {
	Dir      string    `json:"dir"`
	Checked  int       `json:"checked"` // files whose sum was compared
	Sum      string    `json:"sum"`     // the archive's own, SHA-256 of the list of its lists; empty: there is none
	Problems []Problem `json:"problems"`
}

// OK reports whether everything verifies.
func (r Report) OK() bool { return len(r.Problems) == 0 }

// Verify checks an archive against its manifests and its Payload-Oxum, and names every file that is missing,
// extra, altered or broken, in the order of names. It also checks any BagIt 1.0 folder with SHA-256 manifests.
//
// The error says that dir is no such folder or can't be read; it is nil when files don't verify.
// Nothing is changed, no link is followed, and no name in a manifest leads out of dir.
//
// It finds damage and careless changes. Whoever makes the lists anew as well is found by the archive's own sum
// alone, if that was noted elsewhere: Report.Compare.
func Verify(dir string) (Report, error) {
	v := &verifier{root: dir, report: Report{Dir: dir, Problems: []Problem{}}, named: map[string]bool{}, dirs: map[string]bool{".": true}}
	f, err := openPlain(filepath.Join(dir, declarationFile))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return v.report, fmt.Errorf("archive %s: no %s in it; name the folder that holds it", dir, declarationFile)
	case err != nil:
		return v.report, fmt.Errorf("archive %s: %s: %w", dir, declarationFile, err)
	}
	text, err := io.ReadAll(io.LimitReader(f, maxLine))
	if err = errors.Join(err, f.Close()); err != nil {
		return v.report, fmt.Errorf("archive %s: %s: %w", dir, declarationFile, err)
	}
	if !strings.HasPrefix(string(text), "BagIt-Version: 1.0\n") && !strings.HasPrefix(string(text), "BagIt-Version: 1.0\r\n") {
		v.add(declarationFile, FaultBroken, "not BagIt-Version: 1.0")
	}
	for _, m := range []string{manifestFile, tagManifestFile} {
		if err = v.manifest(m); err != nil {
			return v.report, fmt.Errorf("archive %s: %w", dir, err)
		}
	}
	if err = errors.Join(v.extras(), v.oxum()); err != nil {
		return v.report, fmt.Errorf("archive %s: %w", dir, err)
	}
	v.report.Sum = v.sum()
	slices.SortStableFunc(v.report.Problems, func(a, b Problem) int { return strings.Compare(a.File, b.File) })
	return v.report, nil
}

type verifier struct {
	root   string
	report Report
	named  map[string]bool
	dirs   map[string]bool // folders of the archive: whether they, and those they lie in, are no links
}

func (v *verifier) add(file string, fault Fault, detail string) {
	v.report.Problems = append(v.report.Problems, Problem{file, fault, detail})
}

// manifest checks every file that a manifest names.
func (v *verifier) manifest(name string) error {
	f, err := openPlain(filepath.Join(v.root, name))
	if errors.Is(err, fs.ErrNotExist) {
		v.add(name, FaultMissing, "")
		return nil
	}
	if err != nil {
		v.add(name, FaultBroken, reasonOf(err))
		return nil
	}
	defer f.Close() //nolint:errcheck // only read
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, maxLine)
	n := 0
	for lines.Scan() {
		if n++; n > maxEntries {
			v.add(name, FaultBroken, fmt.Sprintf("more than %d lines; what stands below was not checked", maxEntries))
			break
		}
		line := strings.TrimSuffix(lines.Text(), "\r")
		if line == "" {
			continue
		}
		sum, file, ok := cutLine(line)
		if !ok {
			v.add(name, FaultBroken, fmt.Sprintf("line %d is no sum and name", n))
			continue
		}
		if v.named[file] && name == manifestFile {
			v.add(name, FaultBroken, fmt.Sprintf("line %d names %s again", n, spell(file)))
			continue
		}
		v.named[file] = true
		v.check(file, sum)
	}
	switch err = lines.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		v.add(name, FaultBroken, fmt.Sprintf("line %d is longer than %d kB; what stands below was not checked", n+1, maxLine>>10))
	case err != nil:
		v.add(name, FaultBroken, err.Error())
	}
	if n == 0 && err == nil {
		v.add(name, FaultBroken, "empty")
	}
	return nil
}

// maxLine is the longest line of a manifest that is read: a sum and the longest name that systems allow.
const maxLine = 64 << 10

// openPlain opens a plain file. It looks first: opening a pipe waits for a writer, and a link may lead
// to one. The error doesn't name the file.
func openPlain(full string) (*os.File, error) {
	info, err := os.Lstat(full)
	if err != nil {
		return nil, err
	}
	if !info.Mode().IsRegular() {
		return nil, errors.New("not a plain file")
	}
	return os.Open(full)
}

// reasonOf leaves the path away, which the message names already.
func reasonOf(err error) string {
	var at *fs.PathError
	if errors.As(err, &at) {
		return at.Err.Error()
	}
	return err.Error()
}

// cutLine takes a manifest line apart. Source: RFC 8493, section 2.1.3: a sum, white space, a path
// with slashes in which CR, LF and % are percent-encoded; sha256sum puts an asterisk before binary files.
func cutLine(line string) (sum, file string, ok bool) {
	i := strings.IndexAny(line, " \t")
	if i != sha256.Size*2 {
		return "", "", false
	}
	sum, file = strings.ToLower(line[:i]), strings.TrimPrefix(strings.TrimLeft(line[i:], " \t"), "*")
	if _, err := hex.DecodeString(sum); err != nil || file == "" {
		return "", "", false
	}
	return sum, strings.NewReplacer("%0D", "\r", "%0d", "\r", "%0A", "\n", "%0a", "\n", "%25", "%").Replace(file), true
}

func (v *verifier) check(file, sum string) {
	if !fs.ValidPath(file) || path.Clean(file) != file || strings.Contains(file, `\`) {
		v.add(file, FaultBroken, "its name leads out of the archive or is not in plain form")
		return
	}
	full := filepath.Join(v.root, filepath.FromSlash(file))
	at, err := os.Lstat(full)
	switch {
	case err == nil && !v.inside(path.Dir(file)):
		// Behind a link may lie anything, also a file of the system that never ends.
		v.add(file, FaultBroken, "it lies behind a link")
		return
	case errors.Is(err, fs.ErrNotExist):
		v.add(file, FaultMissing, "")
		return
	case err != nil:
		v.add(file, FaultBroken, reasonOf(err))
		return
	case !at.Mode().IsRegular():
		v.add(file, FaultBroken, "not a plain file")
		return
	}
	v.report.Checked++
	got, err := sumOf(full)
	switch said := saidByName(file); {
	case err != nil:
		v.add(file, FaultBroken, reasonOf(err))
	case got != sum:
		v.add(file, FaultAltered, "")
	case said != "" && got != said:
		v.add(file, FaultBroken, "an original is named by its SHA-256, and this one's is another: the photo is not the one that was sent")
	}
}

// inside reports whether a folder of the archive can be reached from its root without following a link.
func (v *verifier) inside(dir string) bool {
	if known, ok := v.dirs[dir]; ok {
		return known
	}
	at, err := os.Lstat(filepath.Join(v.root, filepath.FromSlash(dir)))
	v.dirs[dir] = err == nil && at.IsDir() && v.inside(path.Dir(dir))
	return v.dirs[dir]
}

// saidByName returns the sum that an original's name is, and nothing for other files.
func saidByName(file string) string {
	name, ok := strings.CutPrefix(file, "data/"+store.OriginalsName+"/")
	if !ok {
		return ""
	}
	name, _, _ = strings.Cut(name, ".")
	if raw, err := hex.DecodeString(name); err != nil || len(raw) != sha256.Size {
		return ""
	}
	return strings.ToLower(name)
}

func sumOf(full string) (string, error) {
	f, err := os.Open(full)
	if err != nil {
		return "", err
	}
	sum := sha256.New()
	_, err = io.Copy(sum, f)
	return hex.EncodeToString(sum.Sum(nil)), errors.Join(err, f.Close())
}

// extras finds what no manifest names. Beside data/ only the manifests themselves are unnamed.
func (v *verifier) extras() error {
	return filepath.WalkDir(v.root, func(full string, e fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if e.IsDir() {
			return nil
		}
		rel, err := filepath.Rel(v.root, full)
		if err != nil {
			return err
		}
		file := filepath.ToSlash(rel)
		if !v.named[file] && file != tagManifestFile {
			v.add(file, FaultExtra, "")
		}
		return nil
	})
}
