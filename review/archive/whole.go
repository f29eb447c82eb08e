package archive

import (
	"context"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"gatefold/sheetmodel/racefolder"
)

// What only a whole archive holds, from which a race can be made again.
const (
	logbookFile = "data/logbook.jsonl"
	folderFile  = "data/race/folder.json"
)

// folderEntry says under which name a file of the race folder lay there. It is found by its sum.
type folderEntry struct {
	Name   string `json:"name"` // relative to the race folder, with slashes
	SHA256 string `json:"sha256"`
}

// raceFolder is folder.json.
type raceFolder struct {
	Format int           `json:"format"`
	Files  []folderEntry `json:"files"`
}

// whole writes what the other files of an archive leave out and a working race needs: every row of the
// store, the pages that a later reader replaced, and the race folder's own files under their own names.
func whole(ctx context.Context, b *bag, in Input) error {
	files, err := in.Store.Files(ctx)
	if err != nil {
		return err
	}
	for _, f := range files {
		if b.holds(f.SHA256) || slices.Contains(b.leftOut, f.Name) {
			continue
		}
		if _, err = b.copyStored(in.Store, f.Name, "data/replaced/"+path.Base(f.Name), f.SHA256); err != nil {
			return err
		}
	}
	names, err := folderFiles(in.Folder)
	if err != nil {
		return err
	}
	folder := raceFolder{Format: Format, Files: []folderEntry{}}
	for i, name := range names {
		text, err := os.ReadFile(filepath.Join(in.Folder, filepath.FromSlash(name)))
		if err != nil {
			return err
		}
		e := folderEntry{Name: name, SHA256: sumOfBytes(text)}
		if !b.holds(e.SHA256) {
			if err = b.text(fmt.Sprintf("data/race/more/%d-%s", i+1, plain(path.Base(name))), string(text)); err != nil {
				return err
			}
		}
		folder.Files = append(folder.Files, e)
	}
	if err = b.json(folderFile, folder); err != nil {
		return err
	}
	return b.write(logbookFile, func(w io.Writer) error { return in.Store.WriteLogbook(ctx, w) })
}

// holds reports whether a file of the payload has that sum.
func (b *bag) holds(sha string) bool {
	return slices.ContainsFunc(b.payload, func(e entry) bool { return e.sha == sha })
}

// folderFiles lists the files that a race is read from, in the order of names: tables and settings beside
// race.yaml, the layouts, and whatever else race.yaml names; also the word that a removal was cut off, for whom it was to remove is in what
// is packed.
func folderFiles(dir string) ([]string, error) {
	seen := &seenFS{FS: os.DirFS(dir), names: map[string]bool{}}
	for _, pattern := range []string{"*.yaml", "*.csv", racefolder.ForgettingFile, racefolder.LayoutsFolder + "/*.yaml", racefolder.LayoutsFolder + "/*.png"} {
		found, err := fs.Glob(seen.FS, pattern)
		if err != nil {
			return nil, err
		}
		for _, name := range found {
			seen.names[name] = true
		}
	}
	race, _, _ := racefolder.OpenFS(seen, dir) // a mistake in the files is not ours to find: what was opened counts
	if race != nil && raceName.MatchString(strings.ToLower(race.Language)) {
		seen.names[race.Language] = true // only a desk opens it, and none opens without it
	}
	var names []string
	for name := range seen.names {
		if info, err := fs.Stat(seen.FS, name); err == nil && info.Mode().IsRegular() {
			names = append(names, name)
		}
	}
	slices.Sort(names)
	return names, nil
}

// seenFS remembers which files were opened.
type seenFS struct {
	fs.FS
	mu    sync.Mutex
	names map[string]bool
}

// Open notes the name and opens the file.
func (s *seenFS) Open(name string) (fs.File, error) {
	s.mu.Lock()
	s.names[name] = true
	s.mu.Unlock()
	return s.FS.Open(name)
}
