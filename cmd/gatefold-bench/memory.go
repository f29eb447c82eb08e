package main

import (
	"fmt"
	"os"
	"strconv"
	"strings"
	"time"
)

// peakOf watches a process and those that it starts until stop is closed, and sends the most memory, in MB, that all
// of them held at once. What wait4 tells of a process is no use here: it begins with the peak of whoever started it.
func peakOf(pid int, stop <-chan struct{}) <-chan float64 {
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
				peak = max(peak, residentOf(pid))
			}
		}
	}()
	return out
}

// residentOf returns the MB that a process and its children have in memory; 0 where the system doesn't say.
func residentOf(pid int) float64 {
	status, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		return 0
	}
	mb := 0.0
	for line := range strings.Lines(string(status)) {
		if f := strings.Fields(line); len(f) > 1 && f[0] == "VmRSS:" {
			if kb, err := strconv.ParseFloat(f[1], 64); err == nil {
				mb = kb / 1024
			}
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
				mb += residentOf(n)
			}
		}
	}
	return mb
}
