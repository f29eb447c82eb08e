//go:build !matprofile

package mats

import "testing"

// Run runs the tests and returns their exit code.
func Run(m *testing.M) int { return m.Run() }
