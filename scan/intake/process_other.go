//go:build !unix

package intake

import (
	"os/exec"
	"time"
)

func apart(*exec.Cmd) {}

func kill(c *exec.Cmd) { _ = c.Process.Kill() }

// processorTime isn't known here; the program's patience alone limits a worker.
func processorTime() time.Duration { return 0 }
