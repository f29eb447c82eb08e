package main

import (
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// macros are the requests that a page may hold, of man(7) and groff(7).
var macros = regexp.MustCompile(`^\.(TH|SH|TP|B|BR|PP|RS|RE|nf|fi|br)( .*)?$`)

func TestManual_EveryCommandHasAPageThatNamesItsFlags(t *testing.T) {
	root := rootCommand(&app{out: io.Discard, errs: io.Discard})
	folder := t.TempDir()
	require.NoError(t, writeManual(folder, root, "1.2", time.Date(2027, 3, 13, 0, 0, 0, 0, time.UTC)))
	pages := append([]*cobra.Command{root}, root.Commands()...)
	for _, c := range pages {
		name := strings.ReplaceAll(c.CommandPath(), " ", "-")
		text, err := os.ReadFile(filepath.Join(folder, name+".1"))
		require.NoError(t, err)
		page := string(text)
		assert.Contains(t, page, `" 1 "2027-03-13" "gatefold 1.2" `, name)
		assert.Contains(t, page, "\n.SH NAME\n"+strings.ReplaceAll(name, "-", `\-`)+` \- `)
		c.Flags().VisitAll(func(f *pflag.Flag) {
			shown := strings.Contains(page, `\fB\-\-`+strings.ReplaceAll(f.Name, "-", `\-`)+`\fR`)
			assert.Equal(t, !f.Hidden, shown, "%s --%s", name, f.Name)
		})
		for line := range strings.Lines(page) {
			if strings.HasPrefix(line, ".") {
				assert.Regexp(t, macros, strings.TrimSpace(line), name)
			}
			assert.False(t, strings.HasPrefix(line, "'"), "%s: %s", name, line)
		}
	}
	files, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Len(t, files, len(pages))
}

// Source of the escapes: groff_char(7) and man(7).
func TestManual_TextIsNeverTakenForARequest(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{".gatefold holds it", "\\&.gatefold holds it\n"},
		{"'tis C:\\race", "\\(aqtis C:\\erace\n"},
		{"one\ntwo\n\nthree", "one\ntwo\n.PP\nthree\n"},
		{"one\ntype  this\nand  that", "one\n.br\ntype  this\n.br\nand  that\n.br\n"},
		{"do\n  gatefold x --y\ndone", "do\n.PP\n.RS 4\n.nf\ngatefold x \\-\\-y\n.fi\n.RE\n.PP\ndone\n"},
	} {
		var b strings.Builder
		manualText(&b, c.text)
		assert.Equal(t, c.want, b.String())
	}
}
