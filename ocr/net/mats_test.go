//go:build matprofile

package net_test

import (
	"fmt"
	"os"
	"testing"

	"gocv.io/x/gocv"
)

// TestMain fails the package when a test leaves a Mat open.
func TestMain(m *testing.M) {
	before := gocv.MatProfile.Count()
	code := m.Run()
	if left := gocv.MatProfile.Count() - before; left > 0 {
		fmt.Fprintf(os.Stderr, "%d Mats were left open\n", left)
		code = 1
	}
	os.Exit(code)
}
