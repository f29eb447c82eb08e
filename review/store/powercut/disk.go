package powercut

import (
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// sector is what a disk writes whole or not at all. Source: SQLite, "Atomic Commit In SQLite", section 3.1.
const sector = 512

// Sync is a kind of call that makes something safe.
type Sync string

// The kinds of Sync, by what they are asked for.
const (
	SyncDatabase Sync = "database" // SQLite's file
	SyncLog      Sync = "log"      // its write-ahead log or its journal
	SyncFile     Sync = "file"     // any other file
	SyncFolder   Sync = "folder"
)

// edit is a change of a file's content that is not yet safe.
type edit struct {
	at       int
	offset   int64
	data     []byte
	truncate bool // to offset
}

func (e edit) size() int64 { return e.offset + int64(len(e.data)) }

type inode struct {
	folder  bool
	safe    []byte
	pending []edit
}

// renaming is a change of names that is not yet safe: from is empty for a new file, to for a removed one.
type renaming struct {
	at       int
	from, to string
	file     *inode
}

func (r renaming) in(folder string) bool {
	return r.from != "" && filepath.Dir(r.from) == folder || r.to != "" && filepath.Dir(r.to) == folder
}

type opened struct {
	file   *inode
	path   string
	offset int64
	append bool
}

// Disk is a folder on a disk that keeps for certain only what was synced.
type Disk struct {
	// Deaf are syncs that the disk answers without doing them: with one of them something must be lost, or
	// the harness sees nothing.
	Deaf map[Sync]bool
	// Syncs counts those that were done.
	Syncs map[Sync]int

	root    string
	seen    map[string]*inode // names as the program sees them
	safe    map[string]*inode
	pending []renaming
	open    map[int64]*opened
	heard   func(string)
}

// NewDisk has an empty folder root, which is safe itself. heard is given what the program writes to its
// standard output, one call at a time.
func NewDisk(root string, heard func(string)) *Disk {
	top := &inode{folder: true}
	return &Disk{
		root: root, seen: map[string]*inode{root: top}, safe: map[string]*inode{root: top},
		open: map[int64]*opened{}, heard: heard, Syncs: map[Sync]int{},
	}
}

// Event is one effect of a Call at its moment.
type Event struct {
	At   int
	Call Call
}

// Events puts the effects in their order: what is written counts from a call's beginning, what a call
// promises, or the number of the file it opens, from its end.
func Events(calls []Call) []Event {
	events := make([]Event, 0, len(calls))
	for _, c := range calls {
		e := Event{At: c.Start, Call: c}
		switch c.Name {
		case "open", "openat", "creat", "fsync", "fdatasync", "lseek", "dup", "dup2", "dup3":
			e.At = c.End
		}
		events = append(events, e)
	}
	slices.SortStableFunc(events, func(a, b Event) int { return a.At - b.At })
	return events
}

// Play lets one event happen. It is an error if it is of a kind that the disk doesn't know.
func (d *Disk) Play(e Event) error {
	c := e.Call
	fd := c.number(0)
	f := d.open[fd]
	switch c.Name {
	case "open", "openat":
		d.opens(e)
	case "close":
		delete(d.open, fd)
	case "write", "pwrite64":
		if fd == 1 && len(c.Texts) == 1 {
			d.heard(c.Texts[0])
		}
		if f != nil {
			d.write(e, f)
		}
	case "lseek":
		if f != nil {
			f.offset = c.Result
		}
	case "ftruncate":
		if f != nil {
			f.file.pending = append(f.file.pending, edit{at: e.At, offset: c.number(1), truncate: true})
		}
	case "fsync", "fdatasync":
		if f != nil {
			d.sync(f, c.Start)
		}
	case "mkdir", "mkdirat":
		if d.inside(c.Texts[0]) {
			d.rename(renaming{at: e.At, to: c.Texts[0], file: &inode{folder: true}})
		}
	case "rename", "renameat", "renameat2":
		if d.inside(c.Texts[0]) || d.inside(c.Texts[1]) {
			d.rename(renaming{at: e.At, from: c.Texts[0], to: c.Texts[1], file: d.seen[c.Texts[0]]})
		}
	case "unlink", "unlinkat", "rmdir":
		if d.inside(c.Texts[0]) {
			d.rename(renaming{at: e.At, from: c.Texts[0]})
		}
	default:
		return d.unknown(c, f)
	}
	return nil
}

// Touches reports whether an event that comes next may change what a power cut leaves, so that it is a moment worth a cut.
func (d *Disk) Touches(e Event) bool {
	switch e.Call.Name {
	case "open", "openat", "close", "lseek":
		return len(e.Call.Texts) > 0 && d.inside(e.Call.Texts[0])
	}
	return d.open[e.Call.number(0)] != nil || slices.ContainsFunc(e.Call.Texts, d.inside)
}

// unknown complains about a call that may change the folder in a way that isn't played.
func (d *Disk) unknown(c Call, f *opened) error {
	touches := f != nil || slices.ContainsFunc(c.Texts, d.inside)
	for i := range c.Args {
		touches = touches || (c.Name == "copy_file_range" || c.Name == "sendfile" || c.Name == "splice") && d.open[c.number(i)] != nil
	}
	if touches {
		return fmt.Errorf("recording, line %d: %s in the folder is not known here; teach it to Disk.Play", c.Start, c.Name)
	}
	return nil
}

func (d *Disk) inside(path string) bool {
	// -shm is memory that SQLite's processes share; it is made anew after a power cut.
	return strings.HasPrefix(path, d.root+"/") && !strings.HasSuffix(path, "-shm")
}

func (d *Disk) opens(e Event) {
	c := e.Call
	path, flags := c.Texts[0], strings.Join(c.Args, ",")
	delete(d.open, c.Result)
	if path != d.root && !d.inside(path) {
		return
	}
	file := d.seen[path]
	if file == nil {
		file = &inode{}
		d.rename(renaming{at: e.At, to: path, file: file})
	}
	if strings.Contains(flags, "O_TRUNC") {
		file.pending = append(file.pending, edit{at: e.At, truncate: true})
	}
	d.open[c.Result] = &opened{file: file, path: path, append: strings.Contains(flags, "O_APPEND")}
}

func (d *Disk) write(e Event, f *opened) {
	data, at := []byte(e.Call.Texts[0])[:e.Call.Result], f.offset
	switch {
	case e.Call.Name == "pwrite64":
		at = e.Call.number(3)
	case f.append:
		at = int64(len(f.file.content()))
		fallthrough
	default:
		f.offset = at + int64(len(data))
	}
	f.file.pending = append(f.file.pending, edit{at: e.At, offset: at, data: data})
}

func (d *Disk) rename(r renaming) {
	apply(d.seen, r)
	d.pending = append(d.pending, r)
}

// apply moves a folder's content with it.
func apply(names map[string]*inode, r renaming) {
	delete(names, r.from)
	if r.to != "" && r.file != nil {
		names[r.to] = r.file
	}
}

// sync makes safe what was done before line.
func (d *Disk) sync(f *opened, line int) {
	kind := SyncFile
	switch {
	case f.file.folder:
		kind = SyncFolder
	case strings.HasSuffix(f.path, ".db"):
		kind = SyncDatabase
	case strings.HasSuffix(f.path, "-wal"), strings.HasSuffix(f.path, "-journal"):
		kind = SyncLog
	}
	if d.Deaf[kind] {
		return
	}
	d.Syncs[kind]++
	if !f.file.folder {
		f.file.pending = slices.DeleteFunc(f.file.pending, func(e edit) bool {
			if e.at >= line {
				return false
			}
			f.file.safe = e.apply(f.file.safe)
			return true
		})
		return
	}
	d.pending = slices.DeleteFunc(d.pending, func(r renaming) bool {
		if r.at >= line || !r.in(f.path) {
			return false
		}
		apply(d.safe, r)
		return true
	})
}

func (e edit) apply(to []byte) []byte {
	if e.truncate && int64(len(to)) > e.offset {
		return to[:e.offset:e.offset]
	}
	if grow := e.size() - int64(len(to)); grow > 0 {
		to = append(to, make([]byte, grow)...)
	}
	copy(to[e.offset:], e.data)
	return to
}

// content is what the program sees.
func (f *inode) content() []byte {
	data := slices.Clone(f.safe)
	for _, e := range f.pending {
		data = e.apply(data)
	}
	return data
}

// Files returns every file as the program sees it, by its path below the root.
func (d *Disk) Files() map[string][]byte {
	files := map[string][]byte{}
	for path, f := range d.seen {
		if !f.folder {
			files[strings.TrimPrefix(path, d.root+"/")] = f.content()
		}
	}
	return files
}

// kept is what becomes of things that are not safe.
type kept int

const (
	keepNothing kept = iota
	keepAll
	keepFirst // up to a moment
	keepAny   // this and that
	keepKinds
)

// Cut writes to the folder to, which must exist, what the disk holds when the power goes now. The Disk itself
// goes on.
func (d *Disk) Cut(to string, chance *rand.Rand) error {
	names := maps.Clone(d.safe)
	how, first := kept(chance.IntN(int(keepKinds))), chance.IntN(len(d.pending)+1)
	for i, r := range d.pending {
		if survives(how, i, first, chance) {
			apply(names, r)
		}
	}
	paths := slices.Sorted(maps.Keys(names)) // folders come before what is in them
	for _, path := range paths {
		target := filepath.Join(to, strings.TrimPrefix(path, d.root))
		var err error
		switch f, parent := names[path], names[filepath.Dir(path)]; {
		case path == d.root:
		case parent == nil: // its folder's name was lost, and it with it
		case f.folder:
			err = os.Mkdir(target, 0o755)
		default:
			err = os.WriteFile(target, f.cut(chance), 0o644) //nolint:gosec // as the store's own files are
		}
		if err != nil {
			return errors.Join(errors.New("power cut"), err)
		}
	}
	return nil
}

func survives(how kept, i, first int, chance *rand.Rand) bool {
	return how == keepAll || how == keepFirst && i < first || how == keepAny && chance.IntN(2) == 0
}

// cut is the file's content after a power cut.
func (f *inode) cut(chance *rand.Rand) []byte {
	if len(f.pending) == 0 {
		return f.safe
	}
	data := slices.Clone(f.safe)
	how, first := kept(chance.IntN(int(keepKinds))), chance.IntN(len(f.pending)+1)
	for i, e := range f.pending {
		if how != keepAny || e.truncate {
			if survives(how, i, first, chance) {
				data = e.apply(data)
			}
			continue
		}
		for from := int64(0); from < int64(len(e.data)); {
			end := min((e.offset+from)/sector*sector+sector-e.offset, int64(len(e.data)))
			if chance.IntN(2) == 0 {
				data = edit{offset: e.offset + from, data: e.data[from:end]}.apply(data)
			}
			from = end
		}
	}
	return data
}
