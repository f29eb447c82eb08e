package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// app is the outside world as commands see it: no command reaches for os.Stdout or the clock itself.
type app struct {
	in   io.Reader
	out  io.Writer
	errs io.Writer
	now  func() time.Time

	inProgress bool // a progress line is on the terminal
	started    bool // a command's own code ran; errors before that are wrong usage
}

// commands are all doors of the program, in the order in which a race day meets them.
var commands = []func(*app) *cobra.Command{
	startCommand, raceCommand, rulesCommand, cardsCommand, layoutCommand, describeCommand, tryCommand, admitCommand, readCommand, collectCommand, workCommand, deskCommand, statusCommand, draftCommand, explainCommand, packetCommand,
	spotCommand, packCommand, verifyCommand, seasonCommand,
	restoreCommand, rescueCommand, rereadCommand, joinCommand, forgetCommand,
	doctorCommand, manualCommand,
}

// run runs one command line and returns the exit code. Errors go to a.errs, one sentence a line.
func (a *app) run(ctx context.Context, args []string) int {
	a.started = false
	out := &output{w: a.out}
	a.out = out
	root := rootCommand(a)
	root.SetArgs(args)
	root.SetIn(a.in)
	root.SetOut(a.out)
	root.SetErr(a.errs)
	err := root.ExecuteContext(ctx)
	if err == nil {
		err = out.err
	}
	code := codeOf(ctx, err)
	if err != nil {
		if !a.started && code == exitFailed && out.err == nil {
			code = exitUsage
			err = fmt.Errorf("%w; see gatefold --help", err)
		}
		for line := range strings.Lines(err.Error()) {
			line = strings.TrimRight(line, "\n")
			if line == "" || code == exitInterrupted && strings.Contains(line, context.Canceled.Error()) {
				continue // the person pressed the key; the sentence below says what that means
			}
			a.complain(line)
		}
		if code == exitInterrupted {
			a.complain("interrupted; finished work is kept")
		}
	}
	return int(code)
}

// rootCommand builds the whole tree anew, so that no flag value outlives a run.
func rootCommand(a *app) *cobra.Command {
	name, _ := builtFrom()
	root := &cobra.Command{
		Use:     "gatefold",
		Version: name,
		Short:   "From a stack of photographed gate-judge cards to the referee's draft",
		Long: `gatefold helps the people who run a youth ski race: it prints the gate judges' cards,
reads photos of the filled cards, asks a person about every entry that isn't certain,
checks the cards against each other, and drafts the list of proposed disqualifications
for the referee. It never guesses a bib. What it writes is a draft: the referee decides.

` + exitHelp(),
		SilenceErrors: true,
		SilenceUsage:  true,
		Args: func(c *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			if near := c.SuggestionsFor(args[0]); len(near) > 0 {
				return fmt.Errorf("no command %q; did you mean %s?", args[0], strings.Join(near, " or "))
			}
			return fmt.Errorf("no command %q", args[0])
		},
		RunE: func(c *cobra.Command, _ []string) error { return c.Help() },
	}
	root.CompletionOptions.HiddenDefaultCmd = true
	for _, build := range commands {
		root.AddCommand(build(a))
	}
	a.watch(root)
	return root
}

// watch notes for every command that its own code was reached, and shows how to call one that was
// given too few arguments or too many.
func (a *app) watch(c *cobra.Command) {
	if count := c.Args; count != nil && c.HasParent() {
		c.Args = func(c *cobra.Command, args []string) error {
			if count(c, args) != nil {
				hint := ""
				c.Flags().Visit(func(f *pflag.Flag) {
					if f.Value.Type() == "string" && f.NoOptDefVal != "" { // a word behind a blank counts as an argument
						hint = fmt.Sprintf("; what belongs to --%s goes behind an equals sign: --%s=%s", f.Name, f.Name, f.NoOptDefVal)
					}
				})
				return fmt.Errorf("%s: wrong number of arguments; write: %s%s", c.Name(), c.UseLine(), hint)
			}
			return nil
		}
	}
	if own := c.RunE; own != nil {
		c.RunE = func(c *cobra.Command, args []string) error {
			a.started = true
			return own(c, args)
		}
	}
	for _, sub := range c.Commands() {
		a.watch(sub)
	}
}

// printf writes to standard output; run looks at what failed.
func (a *app) printf(format string, args ...any) {
	_, _ = fmt.Fprintf(a.out, format, args...)
}

// printJSON writes v as indented JSON and a line end.
func (a *app) printJSON(v any) error {
	e := json.NewEncoder(a.out)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}
