package main

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"syscall"
)

// mostInput is the largest file that is read, in bytes. It is what a photo may have; phones make 2 to 25 million.
const mostInput = 128 << 20

// readInput reads a file that a person named on the command line. noun says what it was meant to be,
// as in: photo card-07.jpg. Only a regular file is read, and nothing is waited for: a pipe, a socket or a
// device has no end, or blocks before its first byte.
func readInput(noun, file string) ([]byte, error) {
	info, err := os.Stat(file)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s %s: there is no such file; check its name and folder", noun, file)
	}
	if err == nil {
		err = plainFile(noun, file, info) // before it is opened: to some devices that alone does something
	}
	if err != nil {
		return nil, unreadable(noun, file, err)
	}
	f, err := os.OpenFile(file, os.O_RDONLY|syscall.O_NONBLOCK, 0)
	if err != nil {
		return nil, unreadable(noun, file, err)
	}
	defer f.Close() //nolint:errcheck // it was only read
	// Once more, for what is open now: the name may have got another file in between.
	if info, err = f.Stat(); err == nil {
		err = plainFile(noun, file, info)
	}
	if err != nil {
		return nil, unreadable(noun, file, err)
	}
	data := make([]byte, info.Size())
	n, err := io.ReadFull(f, data)
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return nil, fmt.Errorf("%s %s: it became shorter while it was read; try again when it is copied", noun, file)
	}
	if err != nil {
		return nil, unreadable(noun, file, err)
	}
	return data[:n], nil
}

// mostYAML is the largest YAML file that is read, as in a race folder: its tree takes two hundred times its size.
const mostYAML = 1 << 20

// readYAML is readInput for a file that is to be read as YAML.
func readYAML(noun, file string) ([]byte, error) {
	data, err := readInput(noun, file)
	if err == nil && len(data) > mostYAML {
		return nil, fmt.Errorf("%s %s: larger than %d MB; is it the right file?", noun, file, mostYAML>>20)
	}
	return data, err
}

// inputError is an error that says all there is to say.
type inputError struct{ text string }

func (e inputError) Error() string { return e.text }

// plainFile returns an inputError for what is no regular file, or too large.
func plainFile(noun, file string, info fs.FileInfo) error {
	switch {
	case info.IsDir():
		return inputError{fmt.Sprintf("%s %s: is a folder; name the files in it", noun, file)}
	case !info.Mode().IsRegular():
		return inputError{fmt.Sprintf("%s %s: is a pipe, a socket or a device; name a file", noun, file)}
	case info.Size() > mostInput:
		return inputError{fmt.Sprintf("%s %s: has %.1f MB, more than %d; send it smaller", noun, file, float64(info.Size())/(1<<20), mostInput>>20)}
	}
	return nil
}

func unreadable(noun, file string, err error) error {
	var whole inputError
	if errors.As(err, &whole) {
		return whole
	}
	return fmt.Errorf("%s %s: %w; check that it may be read", noun, file, reasonOf(err))
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
