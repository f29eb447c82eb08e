package main

import (
	"context"
	"errors"
	"fmt"
	"strings"
)

// exitCode is what the process tells its caller.
type exitCode int

// The exit codes, in the order of the table in the help.
const (
	exitDone        exitCode = 0
	exitFailed      exitCode = 1
	exitUsage       exitCode = 2
	exitRefused     exitCode = 3
	exitInterrupted exitCode = 130
)

// exitTable is the one home of what the codes mean; the help prints it.
var exitTable = []struct {
	Code    exitCode
	Meaning string
}{
	{exitDone, "done"},
	{exitFailed, "failed: nothing was done, or not all of it; the message says what to do"},
	{exitUsage, "wrong usage: the command, its flags or its arguments"},
	{exitRefused, "finished, but something was refused or does not verify"},
	{exitInterrupted, "interrupted; finished work is kept"},
}

// exitHelp is the table as the help shows it.
func exitHelp() string {
	var b strings.Builder
	b.WriteString("Exit codes:\n")
	for _, e := range exitTable {
		fmt.Fprintf(&b, "  %-4d %s\n", e.Code, e.Meaning)
	}
	return b.String()
}

// codedError is an error that knows its exit code.
type codedError struct {
	code exitCode
	err  error
}

func (e *codedError) Error() string { return e.err.Error() }

func (e *codedError) Unwrap() error { return e.err }

// usageErrorf makes an error that ends the program as wrong usage.
func usageErrorf(format string, args ...any) error {
	return &codedError{code: exitUsage, err: fmt.Errorf(format, args...)}
}

// refused marks err as: finished, but something was refused or does not verify. A nil err stays nil.
func refused(err error) error {
	if err == nil {
		return nil
	}
	return &codedError{code: exitRefused, err: err}
}

// together joins what failed with what was only refused: a failure decides the exit code.
func together(failed, refusals error) error {
	if failed == nil {
		return refusals
	}
	if refusals == nil {
		return failed
	}
	return &codedError{code: exitFailed, err: errors.Join(failed, refusals)}
}

// codeOf returns the exit code of an error. An interrupt wins over all that it broke on its way.
func codeOf(ctx context.Context, err error) exitCode {
	var coded *codedError
	switch {
	case err == nil:
		return exitDone
	case ctx.Err() != nil && errors.Is(err, context.Canceled):
		return exitInterrupted
	case errors.As(err, &coded):
		return coded.code
	case ctx.Err() != nil: // what broke didn't say why, as SQLite doesn't
		return exitInterrupted
	default:
		return exitFailed
	}
}
