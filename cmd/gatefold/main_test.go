package main

import (
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "rewrite the expected files inside the scripts")

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"gatefold": main})
}

// TestScripts runs the command line as a person would, one folder a script.
// Every command has a script that succeeds and one that hunts for harm.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		RequireExplicitExec: true,
		UpdateScripts:       *update,
		Cmds:                scriptCommands,
		Condition:           scriptCondition,
		Setup: func(e *testscript.Env) error {
			wd, err := os.Getwd()
			if err != nil {
				return err
			}
			e.Vars = append(e.Vars, "TREE="+wd+"/../..", "TZ=UTC")
			return nil
		},
	})
}

// exits runs a program and demands one exit code: testscript itself knows only pass and fail.
//
//	exits 3 gatefold read photos
func exits(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: exits CODE PROGRAM [ARGUMENT...]")
	}
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	err = ts.Exec(args[1], args[2:]...)
	got := 0
	var failed *exec.ExitError
	switch {
	case errors.As(err, &failed):
		got = failed.ExitCode()
	case err != nil:
		ts.Fatalf("%v", err)
	}
	if got != want {
		ts.Fatalf("exit code %d, want %d", got, want)
	}
}

// matches demands that the last standard output is valid for a JSON Schema, of the schema folder or of
// those that go into every archive.
//
//	matches race.schema.json
func matches(ts *testscript.TestScript, neg bool, args []string) {
	if len(args) != 1 {
		ts.Fatalf("usage: matches SCHEMA")
	}
	err := validateJSON(args[0], ts.ReadFile("stdout"))
	if neg {
		if err == nil {
			ts.Fatalf("standard output fits %s, but must not", args[0])
		}
		return
	}
	ts.Check(err)
}

func runApp(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, errs bytes.Buffer
	a := &app{in: strings.NewReader(""), out: &out, errs: &errs, now: clockOfTests}
	code = a.run(t.Context(), args)
	return code, out.String(), errs.String()
}

func TestExitCodes_HelpAndTableAgree(t *testing.T) {
	code, help, _ := runApp(t, "--help")
	require.Equal(t, 0, code)
	_, table, found := strings.Cut(help, "Exit codes:\n")
	require.True(t, found, "the help has no table of exit codes")
	printed := map[string]string{}
	for _, m := range regexp.MustCompile(`(?m)^  (\d+) +(\S.*)$`).FindAllStringSubmatch(table, -1) {
		printed[m[1]] = m[2]
	}
	want := map[string]string{}
	for _, e := range exitTable {
		want[strconv.Itoa(int(e.Code))] = e.Meaning
	}
	assert.Equal(t, want, printed)
}

func TestExitCodes_EveryCodeIsInTheTable(t *testing.T) {
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	cases := []struct {
		ctx  context.Context
		err  error
		want exitCode
	}{
		{t.Context(), nil, exitDone},
		{t.Context(), errors.New("disk full"), exitFailed},
		{t.Context(), usageErrorf("no folder given"), exitUsage},
		{t.Context(), fmt.Errorf("stack: %w", refused(errors.New("photo refused"))), exitRefused},
		{cancelled, fmt.Errorf("stack: %w", context.Canceled), exitInterrupted},
		{t.Context(), context.Canceled, exitFailed}, // nobody pressed a key: something gave up by itself
	}
	inTable := map[exitCode]bool{}
	for _, e := range exitTable {
		inTable[e.Code] = true
	}
	for _, c := range cases {
		got := codeOf(c.ctx, c.err)
		assert.Equal(t, c.want, got, "%v", c.err)
		assert.True(t, inTable[got], "code %d is not in the help", got)
	}
	assert.NoError(t, refused(nil))
}

func TestUsage_IsTwoAndPointsAtTheHelp(t *testing.T) {
	for _, args := range [][]string{{"no-such-command"}, {"--no-such-flag"}} {
		code, out, errs := runApp(t, args...)
		assert.Equal(t, int(exitUsage), code, "%v", args)
		assert.Empty(t, out)
		assert.Regexp(t, `^gatefold: .*see gatefold --help\n$`, errs)
	}
}

// fullDisk takes n bytes, then no more.
type fullDisk struct{ left int }

func (d *fullDisk) Write(p []byte) (int, error) {
	n := min(d.left, len(p))
	d.left -= n
	if n < len(p) {
		return n, errors.New("no space left on device")
	}
	return n, nil
}

func TestOutput_ResultCutShort_IsFailed(t *testing.T) {
	for _, args := range [][]string{{"race", "../../testdata/demo-race"}, {"race", "../../testdata/demo-race", "--json"}, {"--help"}} {
		var errs bytes.Buffer
		a := &app{in: strings.NewReader(""), out: &fullDisk{left: 40}, errs: &errs, now: time.Now}
		assert.Equal(t, int(exitFailed), a.run(t.Context(), args), "%v", args)
		assert.Equal(t, "gatefold: standard output: the result is cut short: no space left on device\n", errs.String())
	}
}

// clockOfTests stands still: files made in tests carry one time.
func clockOfTests() time.Time { return time.Date(2027, 1, 23, 9, 0, 0, 0, time.UTC) }
