//go:build !linux

package intake

import (
	"errors"
	"os"
	"time"
)

// limitProcess does nothing here: only the watchdog and the program's patience limit a worker.
func limitProcess(Limits) error { return nil }

func limitTool(*os.Process, time.Duration) (stop func()) { return func() {} }

// hidden puts bytes into a file without a name, which vanishes with its last user.
func hidden(b []byte) (*os.File, error) {
	f, err := os.CreateTemp("", "gatefold-*.pdf")
	if err != nil {
		return nil, err
	}
	_, err = f.Write(b)
	if err = errors.Join(err, os.Remove(f.Name())); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

func widen(*os.File) {}
