package resident_test

import (
	"os/exec"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/cmd/internal/resident"
)

// A shell's child counts with the shell: dd holds the 64 MB that it is asked to copy at once (from memory).
func TestPeak_CountsChildren(t *testing.T) {
	c := exec.CommandContext(t.Context(), "sh", "-c", "dd if=/dev/zero of=/dev/null bs=64M count=40; true")
	require.NoError(t, c.Start())
	stop := make(chan struct{})
	peak := resident.Peak(c.Process.Pid, stop)
	require.NoError(t, c.Wait())
	close(stop)
	assert.Greater(t, <-peak, 60.0)
}
