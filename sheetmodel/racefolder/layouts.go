package racefolder

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"gatefold/sheetmodel"
)

// Layouts returns every layout that cards of this race were printed with, by file name. A card is
// always read with its own layout, however old.
//
// A layout that can't be trusted is left out and named in the error, which joins one for each; the
// layouts that can be are returned beside it. A race that printed nothing has none.
func (f *Folder) Layouts() ([]*sheetmodel.Layout, error) {
	dir := filepath.Join(f.Dir, LayoutsFolder)
	entries, err := os.ReadDir(dir)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", dir, err)
	}
	var all []*sheetmodel.Layout
	var bad []error
	for _, e := range entries {
		if e.IsDir() || strings.HasPrefix(e.Name(), ".") || filepath.Ext(e.Name()) != ".yaml" ||
			LayoutsFolder+"/"+e.Name() == PrintedFile {
			continue
		}
		path := filepath.Join(dir, e.Name())
		data, err := readPlain(f.fsys, LayoutsFolder+"/"+e.Name())
		if err != nil {
			bad = append(bad, fmt.Errorf("%s: %w", path, err))
			continue
		}
		l, err := sheetmodel.ParseLayout(path, data)
		if err != nil {
			bad = append(bad, err)
			continue
		}
		all = append(all, l)
	}
	return all, errors.Join(bad...)
}

// SaveLayout keeps a layout under its content hash, layouts/<12 hex digits>.yaml, and returns the path.
// Saving the same layout again changes nothing; a file of that name with another content is never
// overwritten. When it returns nil, the layout survives a power cut.
func (f *Folder) SaveLayout(l *sheetmodel.Layout) (string, error) {
	data, err := sheetmodel.EncodeLayout(l)
	if err != nil {
		return "", err
	}
	dir := filepath.Join(f.Dir, LayoutsFolder)
	path := filepath.Join(dir, l.FileName())
	if _, err := sheetmodel.ParseLayout(path, data); err != nil {
		return "", fmt.Errorf("%w; not saved", err)
	}
	old, err := readPlain(f.fsys, LayoutsFolder+"/"+l.FileName())
	switch {
	case err == nil && bytes.Equal(old, data):
		return path, nil
	case err == nil:
		kept, errParse := sheetmodel.ParseLayout(path, old)
		if errParse == nil && kept.Hash() == l.Hash() {
			return path, nil // the same layout, written by another version
		}
		return "", fmt.Errorf("%s: another content stands under this hash; move the file away and print again", path)
	case !errors.Is(err, fs.ErrNotExist):
		return "", fmt.Errorf("%s: %w", path, err)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return "", fmt.Errorf("%s: %w", dir, err)
	}
	if err := syncDir(f.Dir); err != nil {
		return "", err
	}
	return path, writeAtomic(path, data, 0o644, f.step)
}
