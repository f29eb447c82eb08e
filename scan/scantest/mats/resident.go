package mats

import (
	"bufio"
	"fmt"
	"os"
	"strings"
)

// Resident returns the bytes of physical memory that the C library's heaps take in this process: what it lends out, see
// Native, and what it keeps for later. Large blocks, which come from the system one by one, are left out.
// ok is false where the system doesn't tell.
func Resident() (bytes int64, ok bool) {
	f, err := os.Open("/proc/self/smaps")
	if err != nil {
		return 0, false
	}
	defer f.Close()       //nolint:errcheck // only read
	const heap = 64 << 20 // glibc on 64 bit: a further heap has so much room, and begins at a multiple of it
	inHeap := false
	for s := bufio.NewScanner(f); s.Scan(); {
		var from, to uint64
		var rights, offset, device, file, name string
		if n, _ := fmt.Sscanf(s.Text(), "%x-%x %s %s %s %s %s", &from, &to, &rights, &offset, &device, &file, &name); n >= 6 {
			further := name == "" && from%heap == 0 && to-from <= heap && from>>32 != 0xc0 // there Go has its own
			inHeap = name == "[heap]" || further
			ok = ok || name == "[heap]"
			continue
		}
		if rest, found := strings.CutPrefix(s.Text(), "Rss:"); found && inHeap {
			var kB int64
			_, _ = fmt.Sscan(rest, &kB)
			bytes += kB << 10
		}
	}
	return bytes, ok
}
