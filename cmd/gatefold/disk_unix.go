//go:build unix

package main

import "golang.org/x/sys/unix"

// freeBytes returns the disk space that an ordinary user may still fill at folder.
func freeBytes(folder string) (uint64, error) {
	var s unix.Statfs_t
	if err := unix.Statfs(folder, &s); err != nil {
		return 0, err
	}
	return s.Bavail * uint64(s.Bsize), nil
}
