//go:build unix

package main

import (
	"net"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestReadInput_WhatIsNoFile_IsNamedAtOnce: each of these would block, or never end.
func TestReadInput_WhatIsNoFile_IsNamedAtOnce(t *testing.T) {
	dir := t.TempDir()
	t.Chdir(dir) // a socket's path must be short
	require.NoError(t, syscall.Mkfifo("pipe.jpg", 0o600))
	listener, err := (&net.ListenConfig{}).Listen(t.Context(), "unix", "socket.jpg")
	require.NoError(t, err)
	defer listener.Close() //nolint:errcheck // ends with the test
	require.NoError(t, os.Mkdir("folder.jpg", 0o700))
	require.NoError(t, os.Symlink("/dev/zero", "zero.jpg"))
	require.NoError(t, os.Symlink("nowhere", "lost.jpg"))
	huge, err := os.Create("huge.jpg")
	require.NoError(t, err)
	require.NoError(t, huge.Truncate(mostInput+1))
	require.NoError(t, huge.Close())
	require.NoError(t, os.WriteFile("empty.jpg", nil, 0o600))
	require.NoError(t, os.WriteFile("good.jpg", []byte("abc"), 0o600))

	for name, want := range map[string]string{
		"pipe.jpg":   "is a pipe, a socket or a device; name a file",
		"socket.jpg": "is a pipe, a socket or a device; name a file",
		"zero.jpg":   "is a pipe, a socket or a device; name a file",
		"folder.jpg": "is a folder; name the files in it",
		"lost.jpg":   "there is no such file; check its name and folder",
		"huge.jpg":   "has 128.0 MB, more than 128; send it smaller",
		"empty.jpg":  "",
		"good.jpg":   "",
	} {
		type answer struct {
			data []byte
			err  error
		}
		got := make(chan answer, 1)
		go func() {
			data, err := readInput("photo", name)
			got <- answer{data, err}
		}()
		select {
		case a := <-got:
			if want == "" {
				require.NoError(t, a.err)
				whole, err := os.ReadFile(filepath.Join(dir, name))
				require.NoError(t, err)
				assert.Equal(t, whole, a.data)
			} else {
				require.EqualError(t, a.err, "photo "+name+": "+want)
			}
		case <-time.After(10 * time.Second):
			t.Fatalf("%s is waited for", name)
		}
	}
}
