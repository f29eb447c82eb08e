package intake_test

import (
	"context"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan"
	"gatefold/scan/intake"
)

// workers lists the processes that this one has started and not yet buried.
func workers(t testing.TB) []int {
	t.Helper()
	lists, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/children", os.Getpid()))
	require.NoError(t, err)
	if len(lists) == 0 {
		t.Skip("this system doesn't list a process's children")
	}
	var pids []int
	for _, list := range lists {
		text, err := os.ReadFile(list)
		if errors.Is(err, os.ErrNotExist) || errors.Is(err, syscall.ESRCH) {
			continue // a thread that has ended since
		}
		require.NoError(t, err)
		for _, word := range strings.Fields(string(text)) {
			pid, err := strconv.Atoi(word)
			require.NoError(t, err)
			pids = append(pids, pid)
		}
	}
	return pids
}

// The worker is killed in the middle of one file, as the system does when memory runs out: that file is
// refused from there on, the next is read.
func TestPictures_WorkerKilledMidFile_CostsThatFile(t *testing.T) {
	d := open(t, intake.Options{})
	var pages []*image.Gray
	for range 40 { // more than the pipe holds
		pages = append(pages, gradient(400, 300))
	}
	good, killed := 0, false
	var errs []error
	for p, err := range d.Pictures(t.Context(), "folder/scan.tif", tiffOf(binary.LittleEndian, 1, pages...)) {
		if err != nil {
			errs = append(errs, err)
			continue
		}
		require.NoError(t, p.Grey.Close())
		good++
		if !killed {
			pids := workers(t)
			require.Len(t, pids, 1)
			require.NoError(t, syscall.Kill(pids[0], syscall.SIGKILL))
			killed = true
		}
	}
	require.Len(t, errs, 1)
	require.EqualError(t, errs[0], "photo scan.tif: unpacking it broke off (signal: killed): it is damaged, or needs more than 512 MB; "+
		"send the photo as the phone took it, as JPEG")
	assert.Less(t, good, len(pages))

	n, errs := all(t, d, "next.jpg", jpegOf(t, gradient(64, 64)), nil)
	assert.Empty(t, errs)
	assert.Equal(t, 1, n)
}

// One that dies between two files costs none.
func TestPictures_WorkerKilledBetweenFiles_CostsNothing(t *testing.T) {
	d := open(t, intake.Options{})
	file := jpegOf(t, gradient(64, 64))
	for range 3 {
		n, errs := all(t, d, "card.jpg", file, nil)
		assert.Empty(t, errs)
		assert.Equal(t, 1, n)
		pids := workers(t)
		require.Len(t, pids, 1)
		require.NoError(t, syscall.Kill(pids[0], syscall.SIGKILL))
		require.Eventually(t, func() bool { // dead, though not buried
			stat, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pids[0]))
			return err != nil || strings.Contains(string(stat), ") Z ")
		}, 10*time.Second, time.Millisecond)
	}
}

func TestPictures_Stopped_LeavesNothingBehind(t *testing.T) {
	d := open(t, intake.Options{})
	file := tiffOf(binary.LittleEndian, 1, gradient(400, 300), gradient(400, 300), gradient(30, 40))
	for p, err := range d.Pictures(t.Context(), "scan.tif", file) {
		require.NoError(t, err)
		require.NoError(t, p.Grey.Close())
		break // the rest isn't wanted
	}
	n, errs := all(t, d, "small.jpg", jpegOf(t, gradient(40, 40)), func(p intake.Picture) {
		assert.Equal(t, 40, p.Meta.Width, "no page of the file before")
	})
	assert.Empty(t, errs)
	assert.Equal(t, 1, n)

	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	for _, err := range d.Pictures(ctx, "card.jpg", file) {
		require.ErrorIs(t, err, context.Canceled)
	}
	require.NoError(t, d.Close())
	assert.Empty(t, workers(t), "a worker outlived its Decoder")
}

func TestPictures_WorkerIsReplacedInTime(t *testing.T) {
	d := open(t, intake.Options{Limits: intake.Limits{Renew: 2}})
	file := jpegOf(t, gradient(64, 64))
	seen := map[int]bool{}
	for range 6 {
		n, errs := all(t, d, "card.jpg", file, nil)
		assert.Empty(t, errs)
		assert.Equal(t, 1, n)
		for _, pid := range workers(t) {
			seen[pid] = true
		}
	}
	assert.Len(t, seen, 3)
}

// A program that can't be its own worker says so instead of starting itself without end.
func TestOpen_NoWorker_FailsClearly(t *testing.T) {
	_, err := intake.Open(intake.Options{Command: []string{"/nowhere/gatefold"}})
	require.ErrorContains(t, err, "photo decoder: ")
	d := open(t, intake.Options{Command: []string{"/bin/true"}})
	_, errs := all(t, d, "card.jpg", jpegOf(t, gradient(64, 64)), nil)
	require.Len(t, errs, 1)
	require.ErrorContains(t, errs[0], "photo decoder: its process does not start")
	var fault *scan.FileError
	assert.NotErrorAs(t, errs[0], &fault, "no fault of the photo")
}
