//go:build !matprofile

package mats

import "testing"

// Run runs the tests and returns their exit code.
func Run(m *testing.M) int { return m.Run() }

// Open returns how many Mats are open; ok is false where nothing counts them.
func Open() (n int, ok bool) { return 0, false }
