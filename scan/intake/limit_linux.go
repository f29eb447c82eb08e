package intake

import (
	"errors"
	"fmt"
	"os"
	"time"

	"golang.org/x/sys/unix"
)

// mostProcessorTime of a worker's whole life, in s. It stands behind the watchdog, should that fail.
const mostProcessorTime = 1200

// mostOpen is how many files a worker, or a tool that it starts, may have open. They need about a dozen.
const mostOpen = 64

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
		unix.RLIMIT_NOFILE: mostOpen,
	} {
		if err := unix.Setrlimit(resource, &unix.Rlimit{Cur: most, Max: most}); err != nil {
			return err
		}
	}
	return nil
}

// limitTool ends a tool that was just started when it has had so much of the processor's time, to some ms. The
// caller calls stop when it is done with the tool.
func limitTool(tool *os.Process, cpu time.Duration) (stop func()) {
	// In whole seconds, and behind what follows: it holds even if this process dies.
	s := uint64(cpu/time.Second) + 1
	_ = unix.Prlimit(tool.Pid, unix.RLIMIT_CPU, &unix.Rlimit{Cur: s, Max: s}, nil) // it may have ended already
	done := make(chan struct{})
	go func() {
		tick := time.NewTicker(10 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-done:
				return
			case <-tick.C:
			}
			// A process's clock of processor time: clock_getcpuclockid(3), as Linux encodes it.
			var used unix.Timespec
			if err := unix.ClockGettime(int32(^tool.Pid)<<3|2, &used); err == nil && time.Duration(used.Nano()) > cpu {
				_ = tool.Kill()
				return
			}
		}
	}()
	return func() { close(done) }
}

// hidden puts bytes into a file that is in no folder, and vanishes with its last user.
func hidden(b []byte) (*os.File, error) {
	fd, err := unix.MemfdCreate("pdf", unix.MFD_CLOEXEC)
	if err != nil {
		return nil, err
	}
	f := os.NewFile(uintptr(fd), "pdf")
	if _, err = f.Write(b); err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return f, nil
}

// widen makes room in a pipe for more than the usual 64 kB, so that a picture crosses in fewer steps.
func widen(f *os.File) {
	raw, err := f.SyscallConn() // Fd would take the pipe from the runtime's poller
	if err != nil {
		return
	}
	_ = raw.Control(func(fd uintptr) { _, _ = unix.FcntlInt(fd, unix.F_SETPIPE_SZ, 1<<20) })
}
