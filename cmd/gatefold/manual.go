package main

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

func manualCommand(*app) *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:   "manual [COMMAND]",
		Short: "Write the manual page of a command, or of all",
		Long: `Writes the manual page of COMMAND, or of the program, in the form that man reads. It says what
--help says, so there is no need of it where that is enough.

With --out, the pages of all commands go into that folder. Pages of the same name are written anew;
nothing else in the folder is touched.`,
		Example: "  gatefold manual collect | man -l -\n  gatefold manual --out ~/.local/share/man/man1",
		Args:    cobra.MaximumNArgs(1),
		ValidArgsFunction: func(c *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			var names []string
			for _, sub := range documented(c.Root()) {
				names = append(names, sub.Name()+"\t"+sub.Short)
			}
			if len(args) > 0 {
				names = nil
			}
			return names, cobra.ShellCompDirectiveNoFileComp
		},
	}
	c.RunE = func(c *cobra.Command, args []string) error {
		name, day := builtFrom()
		switch {
		case out != "" && len(args) > 0:
			return errors.New("--out writes the pages of all commands; leave COMMAND out")
		case out != "":
			return writeManual(out, c.Root(), name, day)
		}
		page := c.Root()
		if len(args) == 1 {
			found, rest, err := c.Root().Find(args)
			if err != nil || len(rest) > 0 || !found.HasParent() {
				return fmt.Errorf("no command %q; gatefold --help lists them", args[0])
			}
			page = found
		}
		_, err := c.OutOrStdout().Write(manualPage(page, name, day))
		return err
	}
	c.Flags().StringVar(&out, "out", "", "folder to write the pages of all commands into, made if it isn't there")
	return c
}

// writeManual writes a page for the program and one for each command.
func writeManual(folder string, root *cobra.Command, name string, day time.Time) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return fmt.Errorf("manual pages: %w", reasonOf(err))
	}
	for _, c := range append([]*cobra.Command{root}, documented(root)...) {
		file := filepath.Join(folder, manualName(c)+".1")
		if info, err := os.Lstat(file); err == nil && !info.Mode().IsRegular() {
			return fmt.Errorf("%s: is no file; name another folder", file)
		} else if err != nil && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s: %w", file, reasonOf(err))
		}
		if err := os.WriteFile(file, manualPage(c, name, day), 0o644); err != nil {
			return fmt.Errorf("%s: %w", file, reasonOf(err))
		}
	}
	return nil
}

// documented are the commands that have a page: all that the help shows.
func documented(root *cobra.Command) []*cobra.Command {
	var shown []*cobra.Command
	for _, c := range root.Commands() {
		if c.IsAvailableCommand() {
			shown = append(shown, c)
		}
	}
	return shown
}

// manualName is what man is asked for, as in `man gatefold-pack`.
func manualName(c *cobra.Command) string { return strings.ReplaceAll(c.CommandPath(), " ", "-") }

// manualPage returns a command's page in the macros that man(7) describes. It is made from the same texts as the
// help, so the two can't differ.
func manualPage(c *cobra.Command, name string, day time.Time) []byte {
	var b bytes.Buffer
	dated := ""
	if !day.IsZero() {
		dated = day.Format(time.DateOnly)
	}
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	line(`.TH "%s" 1 "%s" "gatefold %s" "gatefold manual"`, strings.ToUpper(roff(manualName(c))), dated, roff(name))
	line(`.SH NAME`)
	line(`%s \- %s`, roff(manualName(c)), roff(firstSmall(c.Short)))
	line(`.SH SYNOPSIS`)
	line(`.B %s`, roff(c.CommandPath()))
	if c.HasParent() {
		_, rest, _ := strings.Cut(c.UseLine(), c.CommandPath())
		line("%s", roff(strings.TrimSpace(rest)))
	} else {
		line("%s", "COMMAND [ARGUMENT...] [FLAG...]")
	}
	line(`.SH DESCRIPTION`)
	long, codes, _ := strings.Cut(cmp.Or(c.Long, c.Short), "Exit codes:\n")
	manualText(&b, long)
	if !c.HasParent() {
		line(`.SH COMMANDS`)
		for _, sub := range documented(c) {
			line(".TP\n.BR %s (1)\n%s", roff(manualName(sub)), roff(sub.Short))
		}
	}
	c.InitDefaultHelpFlag()
	c.InitDefaultVersionFlag()
	line(`.SH OPTIONS`)
	c.NonInheritedFlags().VisitAll(func(f *pflag.Flag) { manualFlag(&b, f) })
	if c.Example != "" {
		line(`.SH EXAMPLES`)
		manualText(&b, c.Example)
	}
	line(`.SH EXIT STATUS`)
	if codes == "" {
		line("See\n.BR gatefold (1).")
	}
	for code := range strings.Lines(codes) {
		number, meaning, _ := strings.Cut(strings.TrimSpace(code), " ")
		if number != "" {
			line(".TP\n.B %s\n%s", number, roff(strings.TrimSpace(meaning)))
		}
	}
	line(`.SH SEE ALSO`)
	if c.HasParent() {
		line(`.BR gatefold (1)`)
	} else {
		line("Each command's own page, as in\n.BR \"man gatefold\\-collect\" .\nShell completion is printed by\n.BR \"gatefold completion\" .")
	}
	return b.Bytes()
}

// manualFlag writes one flag with what it takes, what it does and what it is unless given.
func manualFlag(b *bytes.Buffer, f *pflag.Flag) {
	if f.Hidden {
		return
	}
	takes, does := pflag.UnquoteUsage(f)
	short := ""
	if f.Shorthand != "" {
		short = `\fB\-` + roff(f.Shorthand) + `\fR, `
	}
	head := short + `\fB\-\-` + roff(f.Name) + `\fR`
	if takes != "" {
		head += ` \fI` + roff(takes) + `\fR`
	}
	if unset := f.DefValue; unset != "" && unset != "false" && unset != "0" && unset != "[]" && unset != "0s" {
		does += " (unless given: " + unset + ")"
	}
	fmt.Fprintf(b, ".TP\n%s\n%s\n", head, roff(does))
}

// manualText writes paragraphs. Lines that begin with a blank, such as command lines and tables, stay as they are.
func manualText(b io.StringWriter, text string) {
	put := func(s string) { _, _ = b.WriteString(s) } // into memory
	const prose, apart, asIs = 0, 1, 2
	state := prose
	begun := false // right below a heading or a request that ends a line, no line need be ended
	for line := range strings.Lines(strings.TrimRight(text, "\n") + "\n") {
		line = strings.TrimRight(line, "\n")
		kept := strings.HasPrefix(line, " ")
		if state == asIs && !kept {
			put(".fi\n.RE\n")
			state = apart
		}
		switch {
		case line == "":
			state = apart
			continue
		case kept && state != asIs:
			if begun {
				put(".PP\n")
			}
			put(".RS 4\n.nf\n")
			state = asIs
		case !kept && state == apart:
			put(".PP\n")
			state, begun = prose, false
		}
		// Words set apart by blanks, such as a command to type, stay on a line of their own.
		alone := !kept && strings.Contains(line, "  ")
		if alone && begun {
			put(".br\n")
		}
		put(roff(strings.TrimPrefix(strings.TrimPrefix(line, " "), " ")) + "\n")
		if begun = !alone; alone {
			put(".br\n")
		}
	}
	if state == asIs {
		put(".fi\n.RE\n")
	}
}

// roff keeps a line of text from being taken for a request: backslashes, quotes and dots that begin a line. Dashes are
// typed as dashes, so that a flag can be copied out of the page.
func roff(s string) string {
	s = strings.NewReplacer(`\`, `\e`, `-`, `\-`, `"`, `\(dq`, `'`, `\(aq`).Replace(s)
	if strings.HasPrefix(s, ".") {
		s = `\&` + s
	}
	return s
}

// firstSmall is a summary as man's NAME line has it: `apropos` lists them so.
func firstSmall(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}
