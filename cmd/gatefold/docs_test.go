package main

import (
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// tree is the root of the project, seen from this package.
const tree = "../.."

// built holds what is made by make and ignored by git, and so is no part of the tree.
var built = []string{"bin", "demo", "out"}

// filesOfTree returns the files that a clone has or may get, with slashes and without the root.
func filesOfTree(t *testing.T) []string {
	t.Helper()
	var files []string
	require.NoError(t, filepath.WalkDir(tree, func(name string, entry fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(tree, name)
		if err != nil {
			return err
		}
		switch hidden := strings.HasPrefix(entry.Name(), ".") && rel != "."; {
		case entry.IsDir() && (hidden || slices.Contains(built, rel)):
			return fs.SkipDir
		case !entry.IsDir():
			files = append(files, filepath.ToSlash(rel))
		}
		return nil
	}))
	require.NotEmpty(t, files)
	return files
}

func readDoc(t *testing.T, name string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(tree, name))
	require.NoError(t, err)
	return string(data)
}

// section returns a document's part from a heading to the next one of the same level or above.
func section(t *testing.T, doc, heading string) string {
	t.Helper()
	_, rest, found := strings.Cut(doc, "\n"+heading+"\n")
	require.True(t, found, "no heading %q", heading)
	level := len(heading) - len(strings.TrimLeft(heading, "#"))
	if end := regexp.MustCompile(`(?m)^#{1,` + strconv.Itoa(level) + `} `).FindStringIndex(rest); end != nil {
		rest = rest[:end[0]]
	}
	return rest
}

// firstCells returns what stands in code type in the first column of a section's tables.
func firstCells(text string) []string {
	var cells []string
	for _, m := range regexp.MustCompile("(?m)^\\| *`([^`]+)` *\\|").FindAllStringSubmatch(text, -1) {
		cells = append(cells, m[1])
	}
	return cells
}

func TestDevelopersGuide_NamesEveryPackageFolder(t *testing.T) {
	want := map[string]bool{}
	for _, file := range filesOfTree(t) {
		if strings.HasSuffix(file, ".go") {
			want[path.Dir(file)] = true
		}
	}
	named := map[string]bool{}
	for _, folder := range firstCells(section(t, readDoc(t, "DEVELOPERS.md"), "## Every package")) {
		assert.True(t, want[folder], "DEVELOPERS.md names %s, which holds no Go file", folder)
		assert.False(t, named[folder], "DEVELOPERS.md names %s twice", folder)
		named[folder] = true
	}
	for folder := range want {
		assert.True(t, named[folder], "DEVELOPERS.md has no line for %s under \"Every package\"", folder)
	}
}

func TestReadme_TableOfCommandsIsTheProgram(t *testing.T) {
	var want []string
	for _, c := range rootCommand(&app{out: io.Discard, errs: io.Discard}).Commands() {
		want = append(want, "gatefold "+c.Name())
	}
	assert.ElementsMatch(t, want, firstCells(section(t, readDoc(t, "README.md"), "## Commands")))
}

// TestDocs_CommandLinesWork looks at every command line of the guides: the command is there and has those
// flags; a line of its own, to be typed as it stands, also has the right number of arguments.
func TestDocs_CommandLinesWork(t *testing.T) {
	lines := regexp.MustCompile("(?m)(^ {4}|`)(?:bin/)?gatefold ([a-z][^`#\n]*)")
	for _, name := range []string{"README.md", "DEVELOPERS.md"} {
		found := lines.FindAllStringSubmatch(readDoc(t, name), -1)
		assert.NotEmpty(t, found, "%s shows no command line", name)
		for _, m := range found {
			words := regexp.MustCompile(`'[^']*'|\S+`).FindAllString(m[2], -1)
			assert.NoError(t, worksAs(words, m[1] != "`"), "%s: gatefold %s", name, m[2])
		}
	}
}

// worksAs says what is wrong with a command line; whole: it must have its arguments too.
func worksAs(words []string, whole bool) error {
	c, rest, err := rootCommand(&app{out: io.Discard, errs: io.Discard}).Find(words)
	if err != nil {
		return err
	}
	if !c.HasParent() {
		return fmt.Errorf("no command %q", words[0])
	}
	if err := c.ParseFlags(rest); err != nil {
		return err
	}
	if !whole {
		return nil
	}
	return c.ValidateArgs(c.Flags().Args())
}

func TestDocs_MakeTargetsExist(t *testing.T) {
	targets := map[string]bool{}
	var shown []string
	for _, m := range regexp.MustCompile(`(?m)^([a-z-]+):(.*)$`).FindAllStringSubmatch(readDoc(t, "Makefile"), -1) {
		targets[m[1]] = true
		if strings.Contains(m[2], "## ") {
			shown = append(shown, "make "+m[1])
		}
	}
	require.NotEmpty(t, shown)
	for _, name := range []string{"README.md", "DEVELOPERS.md", "CHANGELOG.md"} {
		for _, m := range regexp.MustCompile("(?m)(?:^ {4}|`|^)make ([a-z-]+)").FindAllStringSubmatch(readDoc(t, name), -1) {
			assert.True(t, targets[m[1]], "%s: the Makefile has no target %s", name, m[1])
		}
	}
	assert.ElementsMatch(t, shown, firstCells(section(t, readDoc(t, "DEVELOPERS.md"), "## What make makes")))
}

func TestDevelopersGuide_ExitCodesAreTheProgram(t *testing.T) {
	var want []string
	for _, e := range exitTable {
		want = append(want, fmt.Sprintf("| %d | %s |", e.Code, e.Meaning))
	}
	got := regexp.MustCompile(`(?m)^\| \d+ \| .* \|$`).FindAllString(section(t, readDoc(t, "DEVELOPERS.md"), "## Exit codes"), -1)
	assert.Equal(t, want, got)
}

// TestDocs_LinksLeadSomewhere follows every link and picture of every page that stays inside the tree.
func TestDocs_LinksLeadSomewhere(t *testing.T) {
	files := filesOfTree(t)
	links := regexp.MustCompile(`\]\(([^)\s]+)\)`)
	pages := 0
	for _, file := range files {
		if !strings.HasSuffix(file, ".md") {
			continue
		}
		pages++
		for _, m := range links.FindAllStringSubmatch(readDoc(t, file), -1) {
			if strings.Contains(m[1], "://") || strings.HasPrefix(m[1], "mailto:") {
				continue
			}
			target, anchor, _ := strings.Cut(m[1], "#")
			if target = path.Join(path.Dir(file), target); strings.HasPrefix(m[1], "#") {
				target = file
			}
			inside := slices.ContainsFunc(files, func(f string) bool { return f == target || strings.HasPrefix(f, target+"/") })
			if assert.True(t, inside, "%s links to %s, which is not there", file, m[1]) && anchor != "" {
				assert.Contains(t, anchorsOf(readDoc(t, target)), anchor, "%s links to %s", file, m[1])
			}
		}
	}
	assert.GreaterOrEqual(t, pages, 3, "README, DEVELOPERS and CHANGELOG at least")
}

// anchorsOf returns what a page's headings are linked by: small letters, dashes for blanks.
func anchorsOf(doc string) []string {
	var anchors []string
	for _, m := range regexp.MustCompile(`(?m)^#+ (.+)$`).FindAllStringSubmatch(doc, -1) {
		kept := regexp.MustCompile(`[^\p{L}\p{N} _-]`).ReplaceAllString(strings.ToLower(m[1]), "")
		anchors = append(anchors, strings.ReplaceAll(kept, " ", "-"))
	}
	return anchors
}
