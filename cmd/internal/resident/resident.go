// Package resident counts the memory of a running process and of all that it started, from /proc.
package resident

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"
)

// Peak watches a process and those that it starts until stop is closed, and sends the most memory, in MB, that all
// of them held at once. Pages of files, which are the program and its libraries, are in memory once for all of them and are
// counted once. What wait4 tells of a process is no use here: it begins with the peak of whoever started it.
func Peak(pid int, stop <-chan struct{}) <-chan float64 {
	out := make(chan float64, 1)
	go func() {
		peak := 0.0
		tick := time.NewTicker(10 * time.Millisecond)
		defer tick.Stop()
		for {
			select {
			case <-stop:
				out <- peak
				return
			case <-tick.C:
				own, files := of(pid)
				peak = max(peak, own+files)
			}
		}
	}()
	return out
}

// of returns the MB that a process and its children have in memory of their own, and the most that one of them
// has of files; 0 where the system doesn't say.
func of(pid int) (own, files float64) {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0, 0
	}
	for line := range strings.Lines(string(status)) {
		f := strings.Fields(line)
		if len(f) < 2 {
			continue
		}
		kb, _ := strconv.ParseFloat(f[1], 64) // 0 of lines that tell no number
		switch f[0] {
		case "RssAnon:", "RssShmem:":
			own += kb / 1024
		case "RssFile:":
			files = kb / 1024
		}
	}
	tasks, _ := os.ReadDir(fmt.Sprintf("/proc/%d/task", pid)) // gone already: it has no children either
	for _, t := range tasks {
		children, err := os.ReadFile(fmt.Sprintf("/proc/%d/task/%s/children", pid, t.Name()))
		if err != nil {
			continue
		}
		for _, c := range strings.Fields(string(children)) {
			if n, err := strconv.Atoi(c); err == nil {
				more, theirs := of(n)
				own, files = own+more, max(files, theirs)
			}
		}
	}
	return own, files
}
