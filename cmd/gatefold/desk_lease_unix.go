//go:build unix

package main

import (
	"errors"
	"os"

	"golang.org/x/sys/unix"
)

// lockFile locks f until it is closed or the process ends; taken: somebody else has it.
func lockFile(f *os.File) (taken bool, err error) {
	err = unix.Flock(int(f.Fd()), unix.LOCK_EX|unix.LOCK_NB)
	if errors.Is(err, unix.EWOULDBLOCK) {
		return true, nil
	}
	return false, err
}
