package intake

import (
	"fmt"
	"os"
	"time"

	"golang.org/x/sys/unix"
)

// mostProcessorTime of a worker's whole life, in s. It stands behind the watchdog, should that fail.
const mostProcessorTime = 1200

// limitProcess limits this process for good, and with it what it starts.
func limitProcess(l Limits) error {
	var pages uint64
	statm, err := os.ReadFile("/proc/self/statm")
	if err != nil {
		return err
	}
	if _, err := fmt.Sscan(string(statm), &pages); err != nil {
		return err
	}
	// Address space, for only that is refused at once; what libraries and runtime hold at the start comes on top.
	space := pages*uint64(os.Getpagesize()) + uint64(l.Memory)
	for resource, most := range map[int]uint64{
		unix.RLIMIT_AS: space, unix.RLIMIT_CPU: mostProcessorTime, unix.RLIMIT_CORE: 0, unix.RLIMIT_FSIZE: MaxFile,
	} {
		if err := unix.Setrlimit(resource, &unix.Rlimit{Cur: most, Max: most}); err != nil {
			return err
		}
	}
	return nil
}

// limitTool limits a tool that was just started to so much of the processor's time, in whole seconds.
func limitTool(pid int, cpu time.Duration) error {
	s := uint64((cpu + time.Second - 1) / time.Second)
	return unix.Prlimit(pid, unix.RLIMIT_CPU, &unix.Rlimit{Cur: s, Max: s}, nil)
}

// widen makes room in a pipe for more than the usual 64 kB, so that a picture crosses in fewer steps.
func widen(f *os.File) {
	raw, err := f.SyscallConn() // Fd would take the pipe from the runtime's poller
	if err != nil {
		return
	}
	_ = raw.Control(func(fd uintptr) { _, _ = unix.FcntlInt(fd, unix.F_SETPIPE_SZ, 1<<20) })
}
