package main

import (
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel/racefolder"
)

// The language that was named for a desk comes before the race's. Source: our own logic.
func TestReadLanguage_OfTheDeskElseOfTheRace(t *testing.T) {
	po := func(dir, code string) string {
		file := filepath.Join(dir, code+".po")
		text := fmt.Sprintf("msgid \"\"\nmsgstr \"\"\n\"Language: %s\\n\"\n\"Plural-Forms: nplurals=2; plural=(n != 1);\\n\"\n\nmsgid \"Who sits here?\"\nmsgstr \"(translated)\"\n", code)
		require.NoError(t, os.WriteFile(file, []byte(text), 0o600))
		return file
	}
	for _, c := range []struct{ line, flag, want, fault string }{
		{"", "", "", ""},
		{"language: de.po", "", "de", ""},
		{"language: de.po", "fr", "fr", ""},
		{"", "fr", "fr", ""},
		{"language: it.po", "", "", "it.po: there is no such file"},
		{"language: ../it.po", "", "", "is no file in the race folder"},
	} {
		dir := t.TempDir()
		require.NoError(t, os.CopyFS(dir, os.DirFS("../../testdata/demo-race")))
		po(dir, "de")
		flag := ""
		if c.flag != "" {
			flag = po(t.TempDir(), c.flag)
		}
		file := filepath.Join(dir, racefolder.RaceFile)
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(file, append(text, "\n"+c.line+"\n"...), 0o600))
		folder, err := racefolder.Open(dir)
		if err == nil {
			var got interface{ Lang() string }
			got, err = readLanguage(flag, dir, folder.Race())
			if c.fault == "" {
				require.NoError(t, err, c)
				assert.Equal(t, c.want != "", fmt.Sprint(got) != "<nil>", c)
				if c.want != "" {
					assert.Equal(t, c.want, got.Lang(), c)
				}
				continue
			}
		}
		require.ErrorContains(t, err, c.fault, c)
	}
}
