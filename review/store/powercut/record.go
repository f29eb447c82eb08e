package powercut

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
)

// ErrUnwatched is returned by Record where system calls can't be watched: strace is missing, or not allowed to.
var ErrUnwatched = errors.New("system calls can't be watched here: apt-get install strace, and allow it to trace")

// Recording is a run that was really made.
type Recording struct {
	Dir    string // the folder it worked in
	Events []Event

	before map[string]*inode // what lay in the folder before the run
}

// Record runs a program, its name and arguments in words, under strace. It works in top/race, which is here already;
// env is added to its environment. What it printed is part of the error, if there is one.
func Record(ctx context.Context, top string, env []string, words ...string) (*Recording, error) {
	strace, err := exec.LookPath("strace")
	if err != nil {
		return nil, ErrUnwatched
	}
	r := &Recording{Dir: filepath.Join(top, "race")}
	if r.before, err = filesIn(r.Dir); err != nil {
		return nil, err
	}
	log := filepath.Join(top, "log")
	c := exec.CommandContext(ctx, strace, append(TraceArguments(log), words...)...)
	// Go's own signals between its threads would stop the program at each.
	c.Env = append(append(os.Environ(), "GODEBUG=asyncpreemptoff=1"), env...)
	out, err := c.CombinedOutput()
	if err != nil && strings.Contains(string(out), "Operation not permitted") {
		return nil, fmt.Errorf("%w: %s", ErrUnwatched, out[:min(len(out), 200)])
	}
	if err != nil {
		return nil, fmt.Errorf("recorded run: %w: %s", err, out[max(0, len(out)-2000):])
	}
	f, err := os.Open(log)
	if err != nil {
		return nil, err
	}
	calls, err := ParseTrace(f)
	r.Events = Events(calls)
	return r, errors.Join(err, f.Close(), os.Remove(log))
}

// Disk is a disk that holds what lay in the folder before the run. heard is as for NewDisk; the disk is deaf to
// the syncs named.
func (r *Recording) Disk(heard func(string), deaf ...Sync) *Disk {
	d := NewDisk(r.Dir, heard)
	d.Deaf = map[Sync]bool{}
	for _, k := range deaf {
		d.Deaf[k] = true
	}
	for name, f := range r.before {
		f := &inode{folder: f.folder, safe: slices.Clone(f.safe)}
		d.seen[name], d.safe[name] = f, f
	}
	return d
}

// filesIn reads what lies in a folder.
func filesIn(folder string) (map[string]*inode, error) {
	files := map[string]*inode{}
	return files, filepath.WalkDir(folder, func(path string, e fs.DirEntry, err error) error {
		if err != nil || path == folder {
			return err
		}
		f := &inode{folder: e.IsDir()}
		if !f.folder {
			f.safe, err = os.ReadFile(path)
		}
		files[path] = f
		return err
	})
}

// Scratch makes an empty folder in memory where the system has one, else where temporary files are: what is tried
// there never needs a disk. The caller removes it.
func Scratch() (string, error) {
	dir, err := os.MkdirTemp("/dev/shm", "gatefold-powercut-")
	if errors.Is(err, fs.ErrNotExist) || errors.Is(err, fs.ErrPermission) {
		return os.MkdirTemp("", "gatefold-powercut-")
	}
	return dir, err
}
