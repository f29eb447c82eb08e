package main

import (
	"bytes"
	"context"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"
)

// lookEvery is the time between two looks into a watched folder. Looking is cheap and works on every file
// system, also on phones and cards, which tell nobody of new files.
const lookEvery = 2 * time.Second

// A file is taken once it was the same in so many looks; one that has no proper end yet, in more of them: a
// copy over a bad radio link may pause.
const (
	looksWhole      = 2
	looksUnfinished = 15
)

// watcher finds the photos that have arrived in folders, and waits for those that are still being written.
type watcher struct {
	folders []string
	own     []string // folders that are passed over: gatefold itself writes pictures there
	files   map[string]*arrival
	missing map[string]bool // folders that were gone at the last look
}

// arrival is a file as it was at the last look.
type arrival struct {
	size    int64
	changed time.Time
	looks   int  // in how many looks it was the same
	taken   bool // handed out as it is
}

// newWatcher passes own over, wherever they lie: a race folder may lie in a watched one.
func newWatcher(folders []string, own ...string) *watcher {
	return &watcher{folders: folders, own: own, files: map[string]*arrival{}, missing: map[string]bool{}}
}

// look returns the files that have arrived since the last look, in the order of their names, and what a
// person should know about the folders themselves, each once.
func (w *watcher) look() (arrived, notes []string) {
	for _, folder := range w.folders {
		// The folder itself may be a link, as one to a phone often is; links to folders in it are not followed.
		err := fs.WalkDir(os.DirFS(folder), ".", func(inside string, entry fs.DirEntry, err error) error {
			if err != nil {
				if inside == "." {
					return err
				}
				return nil // it went away in between, or may not be read: others go on
			}
			name := filepath.Join(folder, filepath.FromSlash(inside))
			switch hidden := strings.HasPrefix(entry.Name(), ".") && inside != "."; {
			case entry.IsDir() && (hidden || slices.ContainsFunc(w.own, func(own string) bool { return isFolder(own, name) })): // tools that sync keep what is half done in hidden folders
				return fs.SkipDir
			case entry.IsDir() || hidden || !slices.Contains(pictures, strings.ToLower(filepath.Ext(name))):
				return nil
			}
			// What a link leads to counts: the link stays the same while its file is still being written.
			if info, err := os.Stat(name); err == nil && !info.IsDir() && w.note(name, info) {
				arrived = append(arrived, name)
			}
			return nil
		})
		switch gone := err != nil; {
		case gone && !w.missing[folder]:
			notes = append(notes, fmt.Sprintf("folder %s: %v; waiting until it is back", folder, reasonOf(err)))
			w.missing[folder] = true
		case !gone && w.missing[folder]:
			notes = append(notes, fmt.Sprintf("folder %s: is back", folder))
			w.missing[folder] = false
		}
	}
	return arrived, notes
}

// note takes in how a file is now, and reports whether it has arrived.
func (w *watcher) note(name string, info fs.FileInfo) bool {
	f := w.files[name]
	if f == nil || f.size != info.Size() || !f.changed.Equal(info.ModTime()) {
		w.files[name] = &arrival{size: info.Size(), changed: info.ModTime(), looks: 1}
		return false
	}
	f.looks++
	switch {
	case f.taken || f.looks < looksWhole:
		return false
	case f.looks < looksUnfinished && info.Mode().IsRegular():
		data, err := readInput("photo", name)
		if err == nil && unfinished(data) {
			return false
		}
	}
	f.taken = true
	return true
}

// again makes files arrive once more, but not at once: what hindered them may take a person to put right.
func (w *watcher) again(names []string) {
	for _, name := range names {
		if f := w.files[name]; f != nil {
			f.taken, f.looks = false, looksWhole-looksUnfinished
		}
	}
}

// unfinished reports whether a file has none of the ends that its kind must have, so that more is likely to
// come. It is about waiting, not about trust: whether a photo is whole, only unpacking it tells.
func unfinished(data []byte) bool {
	tail := data[max(0, len(data)-4096):]
	switch {
	case len(bytes.Trim(tail, "\x00")) == 0: // empty, or room that was made in advance
		return true
	case bytes.HasPrefix(data, []byte("\xFF\xD8\xFF")): // its end mark, not that of a thumbnail near its start
		return bytes.LastIndex(data, []byte("\xFF\xD9")) < len(data)/2
	case bytes.HasPrefix(data, []byte("\x89PNG")):
		return !bytes.Contains(tail, []byte("IEND"))
	case bytes.HasPrefix(data, []byte("%PDF-")):
		return !bytes.Contains(tail, []byte("%%EOF"))
	}
	return false
}

// checkFolders returns an error unless all names are folders: nothing else can be watched.
func checkFolders(names []string) error {
	for _, name := range names {
		if info, err := os.Stat(name); err != nil || !info.IsDir() {
			return usageErrorf("%s is no folder; --watch wants the folder into which photos are put", name)
		}
	}
	return nil
}

// collectWatching collects what arrives in folders for the race in a folder, until ctx ends. collect is called with each batch and
// says for itself what it found; its errors are said here and end nothing. Files whose batch failed arrive
// again; refused ones don't, unless they change.
func (a *app) collectWatching(ctx context.Context, race string, folders []string, every time.Duration, collect func(files []string) error) error {
	w := newWatcher(folders, ownFolders(race)...)
	tick := time.NewTicker(every)
	defer tick.Stop()
	a.printf("watching %s; the interrupt key (Ctrl-C) ends it\n", strings.Join(folders, ", "))
	failed := 0
	for {
		arrived, notes := w.look()
		for _, note := range notes {
			a.complain(note)
		}
		if len(arrived) > 0 {
			err := collect(arrived)
			if ctx.Err() != nil {
				return err
			}
			if err != nil {
				failed++
				if codeOf(ctx, err) != exitRefused {
					w.again(arrived)
				}
				for line := range strings.Lines(err.Error()) {
					a.complain(strings.TrimRight(line, "\n"))
				}
			}
		}
		select {
		case <-ctx.Done():
			// The end that was meant all along: no error, unless something asks for a person.
			if failed > 0 {
				return refused(fmt.Errorf("watching has ended; what was refused or failed is said above"))
			}
			return nil
		case <-tick.C:
		}
	}
}
