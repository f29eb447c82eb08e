//go:build !cgo || !linux

package cmem

// Tame does nothing here.
func Tame() {}

// AfterPhoto does nothing here.
func AfterPhoto() {}
