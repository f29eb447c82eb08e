package main

import (
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
)

// Our own logic.
func TestReaders_LittleFreeMemory_OneReadsAlone(t *testing.T) {
	for free, want := range map[int]int{0: workers, 1: 1, tightMB - 1: 1, tightMB: workers, 16000: workers} {
		assert.Equal(t, want, readersFor(free), "%d MB", free)
	}
	if runtime.GOOS == "linux" {
		assert.Positive(t, availableMB())
	}
}
