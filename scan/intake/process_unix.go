//go:build unix

package intake

import (
	"os/exec"
	"syscall"
	"time"

	"golang.org/x/sys/unix"
)

// apart gives a worker a process group of its own: the interrupt key at the terminal is the program's to
// answer, and what the worker started ends with it.
func apart(c *exec.Cmd) { c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true} }

// kill ends a worker and what it started.
func kill(c *exec.Cmd) {
	_ = syscall.Kill(-c.Process.Pid, syscall.SIGKILL)
	_ = c.Process.Kill()
}

// processorTime is what this process has used so far.
func processorTime() time.Duration {
	var u unix.Rusage
	if err := unix.Getrusage(unix.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}
