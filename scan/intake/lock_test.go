package intake_test

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"gatefold/scan/intake"
)

// doorsArgument, last on the command line, makes this test program try what a worker can't do.
const doorsArgument = "try-doors"

// folderVariable tells it the folder that it goes for.
const folderVariable = "GATEFOLD_TEST_FOLDER"

// door is something that a taken-over worker would try.
type door struct {
	name string
	try  func(folder string) error
	shut string // what it must say for a worker: "permission" is Landlock's word, "operation" seccomp's
	free bool   // any other process gets through
}

func opening(name string, how int) func(string) error {
	return func(folder string) error {
		f, err := os.OpenFile(filepath.Join(folder, name), how, 0o600)
		if err == nil {
			err = f.Close()
		}
		return err
	}
}

// doors are in the order in which they are tried.
var doors = []door{
	{"use what was left open", func(string) error { _, err := unix.FcntlInt(9, unix.F_GETFD, 0); return err }, "bad file descriptor", true},
	{"list a folder", func(folder string) error { _, err := os.ReadDir(folder); return err }, "permission denied", true},
	{"read a file", opening("secret", os.O_RDONLY), "permission denied", true},
	{"write to it", opening("secret", os.O_WRONLY|os.O_APPEND), "permission denied", true},
	{"cut it", func(folder string) error { return os.Truncate(filepath.Join(folder, "secret"), 1) }, "operation not permitted", true},
	{"change its rights", func(folder string) error { return os.Chmod(filepath.Join(folder, "secret"), 0o644) }, "operation not permitted", true},
	{"make a file", opening("new", os.O_WRONLY|os.O_CREATE), "permission denied", true},
	{"make a folder", func(folder string) error { return os.Mkdir(filepath.Join(folder, "sub"), 0o700) }, "permission denied", true},
	{"remove a file", func(folder string) error { return os.Remove(filepath.Join(folder, "secret")) }, "permission denied", true},
	{"let a tool read", func(folder string) error {
		out, err := exec.CommandContext(context.Background(), "cat", filepath.Join(folder, "note")).CombinedOutput()
		if err != nil {
			return errors.New(string(out))
		}
		return nil
	}, "Permission denied", true},
	{"open a connection", func(string) error {
		_, err := (&net.Dialer{}).DialContext(context.Background(), "tcp", "127.0.0.1:9")
		return err
	}, "operation not permitted", false}, // nobody answers there
	{"send a packet", func(string) error {
		_, err := (&net.Dialer{}).DialContext(context.Background(), "udp", "127.0.0.1:9")
		return err
	}, "operation not permitted", true},
	{"peek into the parent", func(string) error {
		memory := [1]byte{}
		one := []unix.Iovec{{Base: &memory[0], Len: 1}}
		_, err := unix.ProcessVMReadv(os.Getppid(), one, []unix.RemoteIovec{{Base: 4096, Len: 1}}, 0)
		return err
	}, "operation not permitted", false}, // nothing lies there
	{"read the parent's variables", func(string) error { return opening("environ", os.O_RDONLY)(fmt.Sprintf("/proc/%d", os.Getppid())) }, "permission denied", false}, // the system may say no to anyone
}

// tryDoors is what the process of the test below does: it says how each door was shut.
func tryDoors(worker bool) error {
	says := map[string]string{}
	for _, d := range doors {
		if err := d.try(os.Getenv(folderVariable)); err != nil {
			says[d.name] = err.Error()
		}
	}
	tasks, err := filepath.Glob("/proc/self/task/*/status")
	for _, task := range tasks {
		status, err := os.ReadFile(task)
		if errors.Is(err, syscall.ESRCH) || errors.Is(err, os.ErrNotExist) {
			continue // it has ended since
		}
		if err != nil {
			return err
		}
		if worker && (!strings.Contains(string(status), "\nSeccomp:\t2\n") || !strings.Contains(string(status), "\nNoNewPrivs:\t1\n")) {
			return fmt.Errorf("%s: this thread is free", task)
		}
	}
	return errors.Join(err, json.NewEncoder(os.Stdout).Encode(says))
}

// Whatever a file makes of a worker, it gets at no other file, no network and no other process. Another process
// of the same program gets through these doors, so that one that is no door fails.
func TestWorker_IsLockedIn(t *testing.T) {
	try := func(args ...string) (says map[string]string) {
		folder := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(folder, "secret"), []byte("bib 34"), 0o600))
		require.NoError(t, os.WriteFile(filepath.Join(folder, "note"), []byte("bib 35"), 0o600))
		c := exec.CommandContext(t.Context(), os.Args[0], args...)
		c.Env = []string{"PATH=/usr/bin:/bin", folderVariable + "=" + folder}
		var errs strings.Builder
		c.Stderr = &errs
		left, err := os.Open(filepath.Join(folder, "secret"))
		require.NoError(t, err)
		defer left.Close()                                //nolint:errcheck // only read
		c.ExtraFiles = slices.Repeat([]*os.File{left}, 7) // 3 to 9
		out, err := c.Output()
		require.NoError(t, err, errs.String())
		require.NoError(t, json.Unmarshal(out, &says))
		return says
	}
	worker, other := try(intake.WorkerArgument, doorsArgument), try(doorsArgument)
	// Kernels before 5.13, and some containers, have no Landlock: report.md says what is left then.
	version, _, no := unix.Syscall(unix.SYS_LANDLOCK_CREATE_RULESET, 0, 0, unix.LANDLOCK_CREATE_RULESET_VERSION)
	for _, d := range doors {
		if (no != 0 || version < 1) && strings.HasPrefix(strings.ToLower(d.shut), "permission") {
			t.Logf("%s: no Landlock here", d.name)
			continue
		}
		assert.Contains(t, worker[d.name], d.shut, d.name)
		if d.free {
			assert.Empty(t, other[d.name], d.name)
		}
	}
}

// What a worker was started with: nothing of this process but what it needs, and limits that hold for good.
func TestWorker_LimitsAndVariables(t *testing.T) {
	t.Setenv("GATEFOLD_TEST_WORD", "a password")
	d := open(t, intake.Options{})
	_, errs := all(t, d, "card.jpg", jpegOf(t, gradient(64, 64)), nil)
	require.Empty(t, errs)
	pids := workers(t)
	require.Len(t, pids, 1)
	of := func(what string) string {
		text, err := os.ReadFile(fmt.Sprintf("/proc/%d/%s", pids[0], what))
		require.NoError(t, err)
		return string(text)
	}
	assert.NotContains(t, of("environ"), "a password")
	assert.NotContains(t, of("environ"), "HOME=")
	limits := of("limits")
	for what, most := range map[string]string{
		"Max cpu time": "1200", "Max file size": "134217728", "Max core file size": "0", "Max open files": "64",
	} {
		assert.Regexp(t, `(?m)^`+what+` +`+most+` +`+most+` `, limits)
	}
	// Address space: what it started with, and half a GB.
	assert.NotRegexp(t, `(?m)^Max address space +unlimited`, limits)
	open, err := os.ReadDir(fmt.Sprintf("/proc/%d/fd", pids[0]))
	require.NoError(t, err)
	for _, f := range open {
		to, err := os.Readlink(fmt.Sprintf("/proc/%d/fd/%s", pids[0], f.Name()))
		require.NoError(t, err)
		assert.Regexp(t, `^(pipe:|/dev/null$|anon_inode:)`, to, "the worker has it open")
	}
}
