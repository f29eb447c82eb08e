//go:build !linux

package intake

import (
	"os"
	"time"
)

// limitProcess does nothing here: only the watchdog and the program's patience limit a worker.
func limitProcess(Limits) error { return nil }

func limitTool(int, time.Duration) error { return nil }

func widen(*os.File) {}
