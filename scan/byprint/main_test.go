//go:build matprofile

package byprint_test

import (
	"fmt"
	"os"
	"testing"

	"gocv.io/x/gocv"
)

// Every Mat that a test leaves open fails the package, on error paths too.
func TestMain(m *testing.M) {
	before := gocv.MatProfile.Count()
	code := m.Run()
	if after := gocv.MatProfile.Count(); after > before && code == 0 {
		fmt.Fprintf(os.Stderr, "%d Mats were left open\n", after-before)
		_ = gocv.MatProfile.WriteTo(os.Stderr, 1)
		code = 1
	}
	os.Exit(code)
}
