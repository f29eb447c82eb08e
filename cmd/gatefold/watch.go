package main

import (
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
	unread  int             // files of which was said that they can't be read
}

// arrival is a file as it was at the last look.
type arrival struct {
	size    int64
	changed time.Time
	looks   int             // in how many looks it was the same
	locked  int             // in how many of them it could not be read
	taken   bool            // handed out as it is
	said    map[string]bool // complaints that came when it was collected
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
			info, err := os.Stat(name)
			if err != nil || info.IsDir() {
				return nil //nolint:nilerr // it went away, or its link leads nowhere yet
			}
			switch here, why := w.note(name, info); {
			case here:
				arrived = append(arrived, name)
			case why != nil:
				notes = append(notes, why.Error())
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

// note takes in how a file is now, and reports whether it has arrived. The error, once for each file as it
// is, says why it can't be taken at all; it is tried on, for somebody may let it be read.
func (w *watcher) note(name string, info fs.FileInfo) (arrived bool, err error) {
	f := w.files[name]
	if f == nil || f.size != info.Size() || !f.changed.Equal(info.ModTime()) {
		w.files[name] = &arrival{size: info.Size(), changed: info.ModTime(), looks: 1}
		return false, nil
	}
	f.looks++
	if f.taken || f.looks < looksWhole {
		return false, nil
	}
	data, err := readInput("photo", name)
	if err != nil {
		f.locked++
		if f.locked != looksWhole { // the first time it may be about to change, or to vanish
			return false, nil
		}
		w.unread++
		return false, err
	}
	if f.looks < looksUnfinished && unfinished(data) {
		return false, nil
	}
	f.taken = true
	return true, nil
}

// again makes files arrive once more, but not at once: what hindered them may take a person to put right.
func (w *watcher) again(names []string) {
	for _, name := range names {
		if f := w.files[name]; f != nil {
			f.taken, f.looks = false, looksWhole-looksUnfinished
		}
	}
}

// news returns those complaints about a batch that were not said before about all of its files, as they are:
// one who can't mend it at once need not hear it every half minute.
func (w *watcher) news(names, complaints []string) []string {
	var fresh []string
	for _, c := range complaints {
		old := true
		for _, name := range names {
			if f := w.files[name]; f != nil {
				old = old && f.said[c]
				if f.said == nil {
					f.said = map[string]bool{}
				}
				f.said[c] = true
			}
		}
		if !old {
			fresh = append(fresh, c)
		}
	}
	return fresh
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
				for _, line := range w.news(arrived, strings.Split(strings.TrimRight(err.Error(), "\n"), "\n")) {
					a.complain(line)
				}
			}
		}
		select {
		case <-ctx.Done():
			// The end that was meant all along: no error, unless something asks for a person.
			if failed+w.unread > 0 {
				return refused(fmt.Errorf("watching has ended; what was refused or failed is said above"))
			}
			return nil
		case <-tick.C:
		}
	}
}
