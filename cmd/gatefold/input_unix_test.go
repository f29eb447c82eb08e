//go:build unix

package main

import (
	"bytes"
	"errors"
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
	require.NoError(t, os.Symlink("loop.jpg", "loop.jpg"))
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
		"loop.jpg":   "too many levels of symbolic links; check that it may be read",
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

// In a watched folder a pipe under a photo's name is said once, a link to itself is passed over, and a photo
// that may not be read is taken once it may.
func TestCollectWatching_WhatIsNoPhoto_HindersNothing(t *testing.T) {
	var batches [][]string
	complaints, _ := watching(t, func(t *testing.T, dir string) {
		require.NoError(t, syscall.Mkfifo(filepath.Join(dir, "pipe.jpg"), 0o600))
		require.NoError(t, os.Symlink("loop.jpg", filepath.Join(dir, "loop.jpg")))
		require.NoError(t, os.Symlink(".", filepath.Join(dir, "ring")))
		require.NoError(t, os.MkdirAll(filepath.Join(dir, "folder.jpg"), 0o700))
		put(t, headOfJPEG+endOfJPEG, dir, "folder.jpg", "a.jpg")
		put(t, headOfJPEG+endOfJPEG, dir, "b.jpg")
		require.NoError(t, os.Chmod(filepath.Join(dir, "b.jpg"), 0))
		time.Sleep(time.Minute)
		require.NoError(t, os.Chmod(filepath.Join(dir, "b.jpg"), 0o600))
		time.Sleep(time.Minute)
	}, func(files []string) error {
		batches = append(batches, files)
		return nil
	})
	want := "gatefold: photo pipe.jpg: is a pipe, a socket or a device; name a file\n"
	var got []string
	for _, files := range batches {
		for _, f := range files {
			got = append(got, filepath.Base(f))
		}
	}
	assert.ElementsMatch(t, []string{"a.jpg", "b.jpg"}, got)
	if os.Geteuid() != 0 { // who may read everything sees no difference
		want = "gatefold: photo b.jpg: permission denied; check that it may be read\n" + want
		assert.Len(t, batches, 2)
	}
	assert.Equal(t, want, complaints)
}

// A file that grows while it is read, as a cable or a sync writes it, gives what was there at some moment.
func TestReadInput_FileThatGrows_GivesItsBeginning(t *testing.T) {
	file := filepath.Join(t.TempDir(), "a.jpg")
	whole := make([]byte, 1<<20)
	for i := range whole {
		whole[i] = byte(i * i >> 7)
	}
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	done := make(chan error, 1)
	go func() {
		f, err := os.OpenFile(file, os.O_WRONLY|os.O_APPEND, 0)
		for at := 0; at < len(whole) && err == nil; at += 512 {
			_, err = f.Write(whole[at : at+512])
		}
		done <- errors.Join(err, f.Close())
	}()
	for grown := false; !grown; {
		select {
		case err := <-done:
			require.NoError(t, err)
			grown = true
		default:
		}
		data, err := readInput("photo", file)
		require.NoError(t, err)
		require.True(t, bytes.HasPrefix(whole, data))
		if grown {
			assert.Len(t, data, len(whole))
		}
	}
}
