//go:build matprofile

package ocr_test

import (
	"fmt"
	"os"
	"testing"

	"gocv.io/x/gocv"
)

// Nothing of OpenCV's is garbage-collected: whatever the tests opened must be closed again.
func TestMain(m *testing.M) {
	before := gocv.MatProfile.Count()
	code := m.Run()
	if n := gocv.MatProfile.Count(); n > before {
		fmt.Fprintf(os.Stderr, "%d Mats were never closed\n", n-before)
		code = 1
	}
	os.Exit(code)
}
