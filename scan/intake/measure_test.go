package intake_test

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"gatefold/scan"
	"gatefold/scan/intake"
)

var measure = flag.Bool("measure", false, "let TestEveryKind print a table of time and memory, each file in processes of its own")

// TestEveryKind hands every file of the table to a Decoder, as collecting and watching do: the right pictures
// come, or one refusal that names the file, what is wrong and what helps.
func TestEveryKind(t *testing.T) {
	d := open(t, intake.Options{})
	var rows []string
	var start float64 // what a worker takes of the processor before any file, in ms
	for _, f := range oddFiles(t) {
		name := "folder/" + f.name
		file := f.file(t)
		began := time.Now()
		n, errs := all(t, d, name, file, func(p intake.Picture) {
			if f.w > 0 {
				assert.Equal(t, []int{f.w, f.h}, []int{p.Meta.Width, p.Meta.Height}, f.name)
			}
			if f.see != nil {
				assert.Less(t, difference(t, p.Grey, f.see), max(f.off, 2.6), f.name)
			}
		})
		took := time.Since(began)
		t.Logf("%-28s %9d bytes %6.0f ms %d pictures %v", f.name, len(file), float64(took.Microseconds())/1000, n, errs)
		assert.Less(t, took, patient, f.name)
		switch {
		case f.n < 0: // whichever: it ends, in time
			assert.True(t, n > 0 || len(errs) > 0, f.name)
		case f.want == "":
			assert.Empty(t, errs, f.name)
			assert.Equal(t, max(1, f.n), n, f.name)
		default:
			assert.Zero(t, n, f.name)
			if assert.Len(t, errs, 1, f.name) {
				assert.Contains(t, errs[0].Error(), f.want, f.name)
			}
		}
		for _, err := range errs {
			var fault *scan.FileError
			require.ErrorAs(t, err, &fault, f.name)
			assert.Contains(t, err.Error(), "photo "+f.name+": ")
			assert.NotEmpty(t, fault.Remedy, f.name)
		}
		if *measure {
			if start == 0 {
				start = costOf(t, f.name, []byte("no picture")).CPUMS
			}
			rows = append(rows, measured(t, f, file, start))
		}
	}
	if *measure {
		fmt.Println("| file | what comes of it | MB | ms | ms of processor | worker MB | program MB |\n|---|---|---|---|---|---|---|")
		fmt.Println(strings.Join(rows, "\n"))
	}
}

// cost is what one file took in a process that did nothing else.
type cost struct {
	WallMS, CPUMS   float64 // until the last answer; of the worker and its tools, from their start
	Pictures        int
	Says            string
	WorkerMB, OwnMB float64 // most memory that was resident
}

// measured returns the table's row for a file.
func measured(t *testing.T, f oddFile, file []byte, start float64) string {
	t.Helper()
	c := costOf(t, f.name, file)
	came := strings.ReplaceAll(strings.ReplaceAll(c.Says, "photo file: ", ""), "\n", "; ")
	if came == "" {
		came = fmt.Sprintf("read, pages: %d", c.Pictures)
		if f.w*f.h > 1_000_000 {
			came = fmt.Sprintf("%s, %d × %d", came, f.w, f.h)
		}
	}
	return fmt.Sprintf("| %s | %s | %.3f | %.0f | %.0f | %.0f | %.0f |", f.name, came, float64(len(file))/1e6,
		c.WallMS, max(0, c.CPUMS-start), c.WorkerMB, c.OwnMB)
}

// mostResident is the most memory of this process that was resident, in MB. Unlike getrusage's it leaves its
// parent's out.
func mostResident() float64 {
	status, _ := os.ReadFile("/proc/self/status")
	_, after, _ := strings.Cut(string(status), "VmHWM:")
	var kB float64
	_, _ = fmt.Sscan(after, &kB)
	return kB / 1024
}

// costOf lets a process of its own unpack a file, some times.
func costOf(t *testing.T, name string, file []byte) cost {
	t.Helper()
	path := filepath.Join(t.TempDir(), "file")
	require.NoError(t, os.WriteFile(path, file, 0o600))
	var costs []cost
	for range 3 {
		out, err := exec.CommandContext(t.Context(), os.Args[0], measureArgument, path).Output()
		require.NoError(t, err, name)
		var c cost
		require.NoError(t, json.Unmarshal(out, &c))
		costs = append(costs, c)
	}
	c := costs[0] // the least: other work on the machine only adds
	for _, other := range costs[1:] {
		c.WallMS, c.CPUMS = min(c.WallMS, other.WallMS), min(c.CPUMS, other.CPUMS)
		c.WorkerMB, c.OwnMB = max(c.WorkerMB, other.WorkerMB), max(c.OwnMB, other.OwnMB)
	}
	return c
}

// measureArgument makes this test program unpack the file whose name follows, and print its cost.
const measureArgument = "measure-one-file"

// measureOne is what the process of measured does. The worker is started before anything else is in memory:
// Linux counts what its parent held at the fork as its own.
func measureOne(path string) error {
	d, err := intake.Open(intake.Options{})
	if err != nil {
		return err
	}
	time.Sleep(300 * time.Millisecond) // it gets ready, as it does while nets are loaded
	file, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	var c cost
	var errs []error
	began := time.Now()
	for p, err := range d.Pictures(context.Background(), path, file) {
		if err != nil {
			errs = append(errs, err)
			continue
		}
		c.Pictures++
		if err := p.Grey.Close(); err != nil {
			return err
		}
	}
	c.WallMS = float64(time.Since(began).Microseconds()) / 1000
	if err := errors.Join(errs...); err != nil {
		c.Says = err.Error()
	}
	if err := d.Close(); err != nil {
		return err
	}
	var worker unix.Rusage
	err = unix.Getrusage(unix.RUSAGE_CHILDREN, &worker)
	c.CPUMS = float64(worker.Utime.Nano()+worker.Stime.Nano()) / 1e6
	c.WorkerMB, c.OwnMB = float64(worker.Maxrss)/1024, mostResident()
	return errors.Join(err, json.NewEncoder(os.Stdout).Encode(c))
}
