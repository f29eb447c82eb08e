//go:build cgo

package main

import (
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The bundled photos show judges' names in handwriting, and Tesseract reads them there. In an archive that may be handed
// around it finds none on any picture or page, and no file holds one.
func TestBundledStack_HandedAround_NoPictureAndNoTextNamesAnybody(t *testing.T) {
	t.Setenv("OMP_THREAD_LIMIT", "1")
	s := collectDemo(t)
	var words, spelled []string
	add := func(name string) {
		if name != "" {
			spelled = append(spelled, strings.ToLower(name))
		}
		for _, w := range strings.Fields(name) {
			if w = squeezed(w); len(w) >= 5 {
				words = append(words, w)
			}
		}
	}
	race := s.folder.Race()
	for _, x := range race.Starters {
		add(x.Name)
	}
	for _, c := range race.Run(1).Courses {
		for _, p := range c.Places {
			add(p.Judge)
			add(p.Phone)
		}
	}
	require.Greater(t, len(words), 40)
	temp := t.TempDir()
	share, full := filepath.Join(temp, "share"), filepath.Join(temp, "full")
	code, _, errs := runApp(t, "pack", s.folder.Dir, share)
	require.Zero(t, code, errs)
	code, _, errs = runApp(t, "pack", s.folder.Dir, full, "--full")
	require.Zero(t, code, errs)

	found := func(text string) []string {
		text = squeezed(text)
		return slices.DeleteFunc(slices.Clone(words), func(w string) bool { return !strings.Contains(text, w) })
	}
	outside := func(name string, args ...string) string {
		out, err := exec.CommandContext(t.Context(), name, args...).Output()
		require.NoError(t, err, name)
		return string(out)
	}
	// One start for all pictures: Tesseract takes a list of them, and tells of each that it looks at it.
	seen := func(pictures ...string) []string {
		list := filepath.Join(temp, "pictures.txt")
		require.NoError(t, os.WriteFile(list, []byte(strings.Join(pictures, "\n")+"\n"), 0o600))
		looks := exec.CommandContext(t.Context(), "tesseract", list, "-", "--psm", "11", "--dpi", "150")
		var read, told strings.Builder
		looks.Stdout, looks.Stderr = &read, &told
		require.NoError(t, looks.Run(), told.String())
		for _, p := range pictures {
			require.Contains(t, told.String(), p, "a picture was not looked at")
		}
		var names []string
		for page := range strings.SplitSeq(read.String(), "\f") {
			names = append(names, found(page)...)
		}
		return names
	}

	var pictures []string
	require.NoError(t, filepath.WalkDir(share, func(file string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		small := strings.ToLower(string(text))
		for _, name := range spelled {
			if strings.Contains(small, name) {
				assert.Fail(t, "a name", "%s in %s", name, file)
			}
		}
		switch filepath.Ext(file) {
		case ".json", ".csv", ".txt", ".xml", ".yaml":
			assert.Empty(t, found(string(text)), file) // packed pictures hold five letters in a row by chance
		case ".png":
			pictures = append(pictures, file)
		case ".pdf":
			assert.Empty(t, found(outside("pdftotext", file, "-")), file)
			start := filepath.Join(temp, e.Name())
			outside("pdfimages", "-png", file, start) // the pictures as they lie in it, not as a page shows them
			inside, err := filepath.Glob(start + "-*.png")
			if err != nil {
				return err
			}
			require.NotEmpty(t, inside)
			if e.Name() == "cards.pdf" {
				require.Len(t, inside, 24) // those of sheets/, see cards_test.go of review/archive
				break
			}
			pictures = append(pictures, inside...)
		}
		return nil
	}))
	require.Greater(t, len(pictures), 24)
	assert.Empty(t, seen(pictures...))

	// The same looks find them where they are.
	fronts, err := filepath.Glob(filepath.Join(full, "data", "sheets", "run1-Blue-card-[1-5]-front-*.png"))
	require.NoError(t, err)
	named := seen(fronts...)
	assert.GreaterOrEqual(t, len(named), 3, "%v", named)
	list, err := os.ReadFile(filepath.Join(full, "data", "race", "race.json"))
	require.NoError(t, err)
	assert.Len(t, found(string(list)), len(words))
}

// squeezed is a text without spaces and signs, in small letters: a name with a line break in it is still found.
func squeezed(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, s)
}
