package store_test

import (
	"bytes"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

// The disk is full: the reason is said, nothing acknowledged is lost, and with room again work goes on.
// The full disk is a small file system in memory that only a child of this test sees.
func TestStore_DiskFull_LosesNothingAcknowledged(t *testing.T) {
	const env = "GATEFOLD_STORE_SMALL_DISK"
	if dir := os.Getenv(env); dir != "" {
		if err := syscall.Mount("none", dir, "tmpfs", 0, "size=2m"); err != nil {
			t.Skip("no file system may be mounted: ", err)
		}
		diskFull(t, dir)
		return
	}
	c := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^TestStore_DiskFull_LosesNothingAcknowledged$", "-test.v")
	c.Env = append(os.Environ(), env+"="+t.TempDir())
	c.SysProcAttr = &syscall.SysProcAttr{
		Cloneflags:  syscall.CLONE_NEWUSER | syscall.CLONE_NEWNS,
		UidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getuid(), Size: 1}},
		GidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getgid(), Size: 1}},
	}
	out, err := c.CombinedOutput()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Skip("this system gives no name space of one's own: ", err)
	}
	require.NoError(t, err, string(out))
	if bytes.Contains(out, []byte("--- SKIP")) {
		t.Skip(string(out))
	}
	require.Contains(t, string(out), "acknowledged on a disk that is full now")
}

func diskFull(t *testing.T, dir string) {
	s := openStore(t, dir, storetest.Clock())
	var kept []string
	full := false
	// First by large photos, then by ever smaller ones, until not even a row has room.
	for n, size := 0, 300_000; size > 0 && n < 5000; n++ {
		id, err := keepsOne(t.Context(), s, n, size)
		switch {
		case err == nil:
			kept = append(kept, id)
		case errors.Is(err, syscall.ENOSPC), bytes.Contains([]byte(err.Error()), []byte("full")):
			full = true
			size /= 2
		default:
			require.NoError(t, err, "another reason than the full disk was given")
		}
	}
	require.True(t, full)
	t.Logf("%d acknowledged on a disk that is full now", len(kept))
	require.Greater(t, len(kept), 3)
	left, err := filepath.Glob(filepath.Join(dir, store.OriginalsName, ".upload-*"))
	require.NoError(t, err)
	require.Empty(t, left, "what did not fit was put away")
	allThere(t, s, kept)

	// A second program opens the race on the full disk, or says why it can't; either way nothing changes.
	if again, err := store.Open(t.Context(), dir, store.Options{Now: storetest.Clock()}); err == nil {
		allThere(t, again, kept)
		require.NoError(t, again.Close())
	}
	require.NoError(t, syscall.Mount("none", dir, "tmpfs", syscall.MS_REMOUNT, "size=8m"))
	id, err := keepsOne(t.Context(), s, 9999, 300_000)
	require.NoError(t, err)
	_, err = s.Settle(t.Context(), store.Entry{
		Reading: "run1/Blue/card-1/front/row-04.bib", Text: "7", Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "s",
	})
	require.NoError(t, err)
	allThere(t, s, append(kept, id))
	require.NoError(t, s.Close())
	allThere(t, openStore(t, dir, storetest.Clock()), append(kept, id))
}
