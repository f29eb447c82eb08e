//go:build !linux || !cgo

package mats

// Native returns false: nothing counts what libraries hold here.
func Native() (bytes int64, ok bool) { return 0, false }
