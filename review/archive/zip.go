package archive

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
)

// IsZip reports whether an archive of that name is one zip.
func IsZip(name string) bool { return strings.EqualFold(filepath.Ext(name), ".zip") }

// zipFolder is the one folder in a zip: its own name. Source: RFC 8493, section 4 (a bag in one file).
func zipFolder(name string) string {
	base := filepath.Base(name)
	return plain(base[:len(base)-len(filepath.Ext(base))])
}

// zip packs the finished bag into one file, synced. Files are in the order of their names, all with the
// archive's time, and not compressed: pictures can't be made smaller, and the bytes then depend on no
// compressor's version.
func (b *bag) zip(to, folder string) error {
	if err := b.stepBefore("zip"); err != nil {
		return err
	}
	f, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	z := zip.NewWriter(f)
	var files []string
	for _, e := range slices.Concat(b.payload, b.tags) {
		files = append(files, e.file)
	}
	slices.Sort(files)
	for _, file := range files {
		if err = b.zipOne(z, folder, file); err != nil {
			break
		}
	}
	if err == nil {
		err = z.Close()
	}
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err == nil {
		err = os.Chtimes(to, b.at, b.at)
	}
	return err
}

func (b *bag) zipOne(z *zip.Writer, folder, file string) error {
	from, err := os.Open(filepath.Join(b.dir, filepath.FromSlash(file)))
	if err != nil {
		return err
	}
	head := &zip.FileHeader{Name: folder + "/" + file, Method: zip.Store, Modified: b.at.UTC()}
	head.SetMode(0o644)
	w, err := z.CreateHeader(head)
	if err == nil {
		_, err = io.Copy(w, from)
	}
	return errors.Join(err, from.Close())
}

// Limits of what is unpacked from a zip that somebody else may have made. Ours are not compressed, and photos and
// sheets, nearly all of an archive, hardly can be: a zip that grows a lot holds something else.
const (
	maxUnpacked  = 64 << 30  // bytes in all
	maxGrowth    = 20        // times the size of the zip
	roomAtLeast  = 256 << 20 // bytes, for archives of text alone
	maxEntries   = 200_000
	maxDirectory = 32 << 20 // bytes of a zip's list of its entries, which is read before they can be counted
)

// roomFor is how many bytes a zip of that size may unpack to.
func roomFor(size int64) int64 { return min(maxUnpacked, max(roomAtLeast, maxGrowth*size)) }

var errDirectory = fmt.Errorf("its list of entries has more than %d MB, longer", maxDirectory>>20)

// reader counts what is read of a zip until its list of entries is there. Each entry of that list is kept in memory.
type reader struct {
	io.ReaderAt
	left int64 // bytes; negative: any number
}

func (r *reader) ReadAt(p []byte, off int64) (int, error) {
	if r.left >= 0 {
		if r.left -= int64(len(p)); r.left < 0 {
			r.left = 0
			return 0, errDirectory
		}
	}
	return r.ReaderAt.ReadAt(p, off)
}

// VerifyZip checks an archive in one zip, as Verify does a folder. It unpacks it into a folder for
// temporary files that is gone afterwards. Names in the report are those inside the zip's one folder.
func VerifyZip(name string) (Report, error) {
	temp, err := os.MkdirTemp("", "gatefold-verify-*")
	if err != nil {
		return Report{}, err
	}
	report, err := verifyZip(name, temp)
	return report, errors.Join(err, os.RemoveAll(temp))
}

func verifyZip(name, temp string) (Report, error) {
	bad, err := Unzip(name, temp)
	if err != nil {
		return Report{Dir: name}, err
	}
	report, err := Verify(temp)
	report.Dir = name
	if err != nil && len(bad) > 0 {
		err = nil // what is wrong with the zip says more
	}
	if err != nil {
		return report, fmt.Errorf("archive %s: there is no bagit.txt in its one folder; name the zip that gatefold pack wrote", name)
	}
	known := map[string]bool{}
	for _, p := range bad {
		known[p.File] = true
	}
	report.Problems = slices.DeleteFunc(report.Problems, func(p Problem) bool { return known[p.File] })
	report.Problems = append(report.Problems, bad...)
	slices.SortStableFunc(report.Problems, func(a, b Problem) int { return strings.Compare(a.File, b.File) })
	return report, nil
}

// Unzip unpacks what lies in the one folder of a zip into the folder dir, which must be there and empty.
// Entries that can't be unpacked, or that must not be, are named and left out: damaged ones, links, names
// that lead out, names twice, and what lies beside that folder. The error says that the zip can't be read at
// all, or is larger than any archive.
func Unzip(name, dir string) (bad []Problem, err error) {
	f, err := os.Open(name)
	if err != nil {
		return nil, fmt.Errorf("archive %s: %s", name, reasonOf(err))
	}
	defer f.Close() //nolint:errcheck // only read
	info, err := f.Stat()
	if err != nil {
		return nil, fmt.Errorf("archive %s: %w", name, err)
	}
	r := &reader{f, maxDirectory}
	z, err := zip.NewReader(r, info.Size())
	switch {
	case errors.Is(err, errDirectory):
		return nil, fmt.Errorf("archive %s: %w than any archive's", name, err)
	case err != nil:
		return nil, fmt.Errorf("archive %s: %w; it is no whole zip: compare with another copy", name, err)
	}
	r.left = -1
	if len(z.File) > maxEntries {
		return nil, fmt.Errorf("archive %s: %d entries are more than any archive has", name, len(z.File))
	}
	folder := ""
	for _, e := range z.File {
		if rest, ok := strings.CutSuffix(e.Name, "/"+declarationFile); ok && !strings.Contains(rest, "/") {
			folder = rest
			break
		}
	}
	room, seen := roomFor(info.Size()), map[string]bool{}
	for _, e := range z.File {
		if strings.HasSuffix(e.Name, "/") && e.UncompressedSize64 == 0 {
			continue // a folder
		}
		file, inside := strings.CutPrefix(e.Name, folder+"/")
		switch {
		case !inside || folder == "":
			bad = append(bad, Problem{e.Name, FaultExtra, "beside the archive's folder"})
			continue
		case !fs.ValidPath(file) || path.Clean(file) != file || strings.Contains(file, `\`):
			bad = append(bad, Problem{file, FaultBroken, "its name leads out of the archive or is not in plain form"})
			continue
		case seen[strings.ToLower(file)]:
			bad = append(bad, Problem{file, FaultBroken, "it is in the zip twice"})
			continue
		case !e.Mode().IsRegular():
			bad = append(bad, Problem{file, FaultBroken, "not a plain file"})
			continue
		}
		seen[strings.ToLower(file)] = true
		n, err := unzipOne(e, filepath.Join(dir, filepath.FromSlash(file)), room)
		room -= n
		switch {
		case room < 0:
			return bad, fmt.Errorf("archive %s: unpacked it is larger than any archive: more than %d MB from a zip of %d", name, roomFor(info.Size())>>20, info.Size()>>20)
		case errors.Is(err, zip.ErrChecksum), errors.Is(err, zip.ErrFormat), errors.Is(err, zip.ErrAlgorithm), errors.Is(err, io.ErrUnexpectedEOF):
			bad = append(bad, Problem{file, FaultBroken, err.Error()})
		case err != nil:
			return bad, fmt.Errorf("archive %s: %s: %w", name, spell(file), err)
		}
	}
	return bad, nil
}

// unzipOne unpacks at most room and one bytes. A damaged file is gone again.
func unzipOne(e *zip.File, to string, room int64) (n int64, err error) {
	if err = os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
		return 0, err
	}
	from, err := e.Open()
	if err != nil {
		return 0, err
	}
	defer from.Close() //nolint:errcheck // only read
	f, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return 0, err
	}
	n, err = io.Copy(f, io.LimitReader(from, room+1))
	if err = errors.Join(err, f.Close()); err != nil {
		err = errors.Join(err, os.Remove(to))
	}
	return n, err
}
