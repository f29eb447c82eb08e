package main

import (
	"fmt"
	"io"
	"strings"
	"unicode"
)

// output is standard output that remembers its first failure: a result cut short by a full disk must
// not end as done, whichever line was lost.
type output struct {
	w   io.Writer
	err error
}

func (o *output) Write(p []byte) (int, error) {
	if o.err != nil {
		return 0, o.err
	}
	n, err := o.w.Write(p)
	if err != nil {
		o.err = fmt.Errorf("standard output: the result is cut short: %w", err)
	}
	return n, o.err
}

// complain writes one line to standard error. If that fails there is nobody left to tell.
func (a *app) complain(line string) {
	_, _ = fmt.Fprintf(a.errs, "gatefold: %s\n", printable(line))
}

// printable keeps the name of a file from moving the cursor or clearing the screen.
func printable(line string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return unicode.ReplacementChar
		}
		return r
	}, line)
}
