package main

import (
	"fmt"
	"os"
	"strings"
)

// progress shows one line that overwrites itself, on a terminal only: logs and pipes stay clean.
func (a *app) progress(format string, args ...any) {
	if f, ok := a.errs.(*os.File); ok {
		if info, err := f.Stat(); err == nil && info.Mode()&os.ModeCharDevice != 0 {
			line := printable(fmt.Sprintf(format, args...))
			_, _ = fmt.Fprintf(a.errs, "\r%s%s", line, strings.Repeat(" ", max(0, 60-len(line))))
			a.inProgress = true
		}
	}
}

// progressDone ends the line, if there was one.
func (a *app) progressDone() {
	if a.inProgress {
		_, _ = fmt.Fprintln(a.errs)
		a.inProgress = false
	}
}
