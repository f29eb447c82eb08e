package intake_test

import (
	"fmt"
	"os"
	"testing"

	"gatefold/scan/intake"
)

// matsLeft runs the tests and returns their exit code; with -tags matprofile it looks at what they left open.
var matsLeft = func(m *testing.M) int { return m.Run() }

// The test program is its own worker, as gatefold is.
func TestMain(m *testing.M) {
	if intake.Asked(os.Args) {
		if err := intake.ServeStdio(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(matsLeft(m))
}
