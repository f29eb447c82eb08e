package racefolder

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// step is called before each disk operation with its name; an error from it stops the write there.
// It exists so that a test can fail the n-th operation. Nil does nothing.
type step func(operation string) error

func (s step) before(operation string) error {
	if s == nil {
		return nil
	}
	return s(operation)
}

// writeAtomic replaces the file at path by data. When it returns nil, data survives a power cut; when
// it returns an error or the power goes, the old file or the new one is there, whole.
//
// A symbolic link is followed, so that the file it names is replaced and the link stays.
func writeAtomic(path string, data []byte, mode fs.FileMode, s step) error {
	if target, err := filepath.EvalSymlinks(path); err == nil {
		path = target
	}
	dir := filepath.Dir(path)
	if err := s.before("create"); err != nil {
		return err
	}
	tmp, err := os.CreateTemp(dir, "."+filepath.Base(path)+".*.tmp")
	if err != nil {
		return fmt.Errorf("%s: not saved: %w", path, err)
	}
	done := false
	defer func() {
		if !done {
			_ = tmp.Close()
			_ = os.Remove(tmp.Name())
		}
	}()
	for _, op := range []struct {
		name string
		run  func() error
	}{
		{"mode", func() error { return tmp.Chmod(mode) }},
		{"write", func() error { _, err := tmp.Write(data); return err }},
		{"sync", tmp.Sync},
		{"close", tmp.Close},
		{"rename", func() error { return os.Rename(tmp.Name(), path) }},
	} {
		err := s.before(op.name)
		if err == nil {
			err = op.run()
		}
		if err != nil {
			return fmt.Errorf("%s: not saved, the old file is unchanged: %w", path, err)
		}
	}
	done = true
	if err := s.before("sync folder"); err != nil {
		return err
	}
	return syncDir(dir)
}

// syncDir makes a rename in dir survive a power cut. Systems that can't sync folders say so with
// ErrInvalid or ErrPermission and order renames themselves.
func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return fmt.Errorf("%s: can't be synced to disk: %w", dir, err)
	}
	err = d.Sync()
	if errClose := d.Close(); err == nil {
		err = errClose
	}
	if err != nil && !errors.Is(err, fs.ErrInvalid) && !errors.Is(err, fs.ErrPermission) {
		return fmt.Errorf("%s: can't be synced to disk: %w", dir, err)
	}
	return nil
}
