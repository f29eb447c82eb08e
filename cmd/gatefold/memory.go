package main

import (
	"bufio"
	"os"
	"strconv"
	"strings"
)

// tightMB is how much free memory two readers want: some 400 MB were measured for both with their unpackers, and a photo
// of the largest kind that is read whole takes 300 more. With less, one reads alone, slower, and nothing is swapped.
const tightMB = 700

// readers is how many photos are read side by side on this computer as it is now.
func readers() int { return readersFor(availableMB()) }

// readersFor is readers for so much free memory; 0: not known.
func readersFor(freeMB int) int {
	if freeMB > 0 && freeMB < tightMB {
		return 1
	}
	return workers
}

// availableMB is what Linux can hand out without swapping; 0 where the system doesn't say.
// Source: proc_meminfo(5), MemAvailable.
func availableMB() int {
	f, err := os.Open("/proc/meminfo")
	if err != nil {
		return 0
	}
	defer f.Close() //nolint:errcheck // only read
	for lines := bufio.NewScanner(f); lines.Scan(); {
		if rest, ok := strings.CutPrefix(lines.Text(), "MemAvailable:"); ok {
			kb, _ := strconv.Atoi(strings.TrimSuffix(strings.TrimSpace(rest), " kB")) // 0: not known
			return kb / 1024
		}
	}
	return 0
}
