//go:build matprofile

package mats

import (
	"fmt"
	"os"
	"testing"

	"gocv.io/x/gocv"
)

// Run runs the tests and returns their exit code: 1 also where they passed and left a Mat open, on error paths too.
func Run(m *testing.M) int {
	before := gocv.MatProfile.Count()
	code := m.Run()
	if after := gocv.MatProfile.Count(); after > before && code == 0 {
		fmt.Fprintf(os.Stderr, "%d Mats were left open\n", after-before)
		_ = gocv.MatProfile.WriteTo(os.Stderr, 1)
		code = 1
	}
	return code
}

// Open returns how many Mats are open; ok is false where nothing counts them.
func Open() (n int, ok bool) { return gocv.MatProfile.Count(), true }
