package intake_test

import (
	"fmt"
	"os"
	"testing"

	"gatefold/scan/intake"
	"gatefold/scan/scantest/mats"
)

// The test program is its own worker, as gatefold is.
func TestMain(m *testing.M) {
	if intake.Asked(os.Args) {
		if err := intake.ServeStdio(); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	if os.Args[len(os.Args)-1] == doorsArgument {
		if err := tryDoors(len(os.Args) == 3); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	if len(os.Args) == 3 && os.Args[1] == measureArgument {
		if err := measureOne(os.Args[2]); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(mats.Run(m))
}
