package racefolder

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// NotThere returns an error if a race folder that is to be made is there already, as whatever it may be.
func NotThere(folder string) error {
	if _, err := os.Lstat(folder); err == nil {
		return fmt.Errorf("race folder %s: is there already; name a new one", folder)
	}
	return nil
}

// MakeNew makes a race folder that is whole or not there: fill is given an empty folder beside it, which takes its name
// when fill has returned without error, and is removed otherwise. It never replaces anything.
func MakeNew(folder string, fill func(unfinished string) error) error {
	folder = filepath.Clean(folder)
	if err := NotThere(folder); err != nil {
		return err
	}
	temp, err := os.MkdirTemp(filepath.Dir(folder), "."+filepath.Base(folder)+"-unfinished-*")
	if err != nil {
		var path *fs.PathError
		if errors.As(err, &path) {
			err = path.Err // the name of the unfinished folder says nothing to anybody
		}
		return fmt.Errorf("race folder %s: %w; check free space and that the folder may be written", folder, err)
	}
	if err = fill(temp); err == nil {
		err = NotThere(folder) // filling takes a while
	}
	if err == nil {
		err = errors.Join(os.Chmod(temp, 0o755), os.Rename(temp, folder))
	}
	if err != nil {
		return errors.Join(err, os.RemoveAll(temp))
	}
	return syncDir(filepath.Dir(folder))
}
