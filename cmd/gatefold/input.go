package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
)

// readInput reads a file that a person named on the command line. noun says what it was meant to be,
// as in: photo card-07.jpg.
func readInput(noun, file string) ([]byte, error) {
	info, err := os.Stat(file)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return nil, fmt.Errorf("%s %s: there is no such file; check its name and folder", noun, file)
	case err == nil && info.IsDir():
		return nil, fmt.Errorf("%s %s: is a folder; name the files in it", noun, file)
	}
	data, err := os.ReadFile(file)
	if err != nil {
		return nil, fmt.Errorf("%s %s: %w; check that it may be read", noun, file, reasonOf(err))
	}
	return data, nil
}

// makeFolder makes the folder that --out names, unless it is there.
func makeFolder(dir string) error {
	if info, err := os.Stat(dir); err == nil && !info.IsDir() {
		return fmt.Errorf("folder %s: is a file; name a folder with --out", dir)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("folder %s: %w; name another with --out", dir, reasonOf(err))
	}
	return nil
}

// reasonOf leaves the path away, which the sentence around it names already.
func reasonOf(err error) error {
	var path *fs.PathError
	var link *os.LinkError
	switch {
	case errors.As(err, &path):
		return path.Err
	case errors.As(err, &link):
		return link.Err
	}
	return err
}
