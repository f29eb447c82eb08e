//go:build cgo

package reading

import (
	"fmt"
	"os"

	"gatefold/scan/cmem"
	"gatefold/scan/intake"
)

// Photos are unpacked by the program itself, started anew as a worker. That is decided here, before main and
// before any flag is looked at, so that every program that reads photos is its own worker, tests included:
// one that didn't know would start itself again and again.
func init() {
	cmem.Tame() // in the worker as well as in the program
	if !intake.Asked(os.Args) {
		return
	}
	if err := intake.ServeStdio(); err != nil {
		fmt.Fprintln(os.Stderr, "gatefold "+intake.WorkerArgument+":", err)
		os.Exit(1)
	}
	os.Exit(0)
}
