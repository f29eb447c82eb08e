//go:build matprofile

package intake_test

import (
	"fmt"
	"os"
	"testing"

	"gocv.io/x/gocv"
)

// Every Mat that a test leaves open fails the package, on error paths too.
func init() {
	matsLeft = func(m *testing.M) int {
		before := gocv.MatProfile.Count()
		code := m.Run()
		if after := gocv.MatProfile.Count(); after > before && code == 0 {
			fmt.Fprintf(os.Stderr, "%d Mats were left open\n", after-before)
			_ = gocv.MatProfile.WriteTo(os.Stderr, 1)
			code = 1
		}
		return code
	}
}
