package archive_test

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/archive"
)

// forge changes files of an archive and makes both lists anew, as somebody would who knows how.
func forge(t *testing.T, dir string, change func(at func(string) string)) {
	t.Helper()
	at := func(name string) string { return filepath.Join(dir, filepath.FromSlash(name)) }
	change(at)
	for _, list := range []string{"manifest-sha256.txt", "tagmanifest-sha256.txt"} {
		text, err := os.ReadFile(at(list))
		require.NoError(t, err)
		var out strings.Builder
		for line := range strings.Lines(string(text)) {
			name := strings.TrimSpace(line[64:])
			file, err := os.ReadFile(at(name))
			require.NoError(t, err)
			sum := sha256.Sum256(file)
			fmt.Fprintf(&out, "%s  %s\n", hex.EncodeToString(sum[:]), name)
		}
		require.NoError(t, os.WriteFile(at(list), []byte(out.String()), 0o600))
	}
}

func verified(t *testing.T, dir string) archive.Report {
	t.Helper()
	report, err := archive.Verify(dir)
	require.NoError(t, err)
	return report
}

// The sum of the last list stands for every byte. Source: RFC 8493, section 2.2.1 (a tag manifest lists the payload manifest).
func TestVerify_ListsMadeAnew_OnlyTheNotedSumTells(t *testing.T) {
	in := input(day(t))
	dir := filepath.Join(t.TempDir(), "a")
	summary, err := archive.Write(t.Context(), dir, in)
	require.NoError(t, err)
	report := verified(t, dir)
	assert.Equal(t, summary.Sum, report.Sum)
	text, err := os.ReadFile(filepath.Join(dir, "tagmanifest-sha256.txt"))
	require.NoError(t, err)
	sum := sha256.Sum256(text)
	assert.Equal(t, hex.EncodeToString(sum[:]), report.Sum)
	report.Compare(summary.Sum[:16])
	assert.True(t, report.OK(), "%v", report.Problems)

	forge(t, dir, func(at func(string) string) {
		name := at("data/decisions.json")
		text, err := os.ReadFile(name)
		require.NoError(t, err)
		changed := strings.Replace(string(text), `"Ada"`, `"Eve"`, 1)
		require.NotEqual(t, string(text), changed)
		require.NoError(t, os.WriteFile(name, []byte(changed), 0o600))
	})
	report = verified(t, dir)
	assert.True(t, report.OK(), "nothing inside it can tell: %v", report.Problems)
	report.Compare(summary.Sum[:16])
	require.Len(t, report.Problems, 1)
	assert.Regexp(t, `^tagmanifest-sha256\.txt: altered: the archive's sum is [0-9a-f]{64}, noted was [0-9a-f]{16}: this is another archive, or one that was made anew$`, report.Problems[0].String())
}

func TestWrite_ZipAndFolder_HaveTheSameSum(t *testing.T) {
	b := day(t)
	zip, err := archive.Write(t.Context(), filepath.Join(t.TempDir(), "a.zip"), input(b))
	require.NoError(t, err)
	folder, err := archive.Write(t.Context(), filepath.Join(t.TempDir(), "b"), input(b))
	require.NoError(t, err)
	assert.Equal(t, folder.Sum, zip.Sum)
	report, err := archive.VerifyZip(zip.Dir)
	require.NoError(t, err)
	assert.Equal(t, zip.Sum, report.Sum)
}

// An original is named by its own sum, so it can't pass for another one with lists alone.
func TestVerify_OriginalsSwapped_ListsMadeAnew_AreNamed(t *testing.T) {
	dir := write(t, input(day(t)))
	entries, err := os.ReadDir(filepath.Join(dir, "data", "originals"))
	require.NoError(t, err)
	a, b := "data/originals/"+entries[0].Name(), "data/originals/"+entries[1].Name()
	forge(t, dir, func(at func(string) string) {
		require.NoError(t, os.Rename(at(a), at("c")))
		require.NoError(t, os.Rename(at(b), at(a)))
		require.NoError(t, os.Rename(at("c"), at(b)))
	})
	report := verified(t, dir)
	require.Len(t, report.Problems, 2)
	for i, name := range slices.Sorted(slices.Values([]string{a, b})) {
		assert.Equal(t, name, report.Problems[i].File)
		assert.Contains(t, report.Problems[i].String(), "the photo is not the one that was sent")
	}
}

// A folder that is a link may lead to anything, also to files of the system that never end: nothing behind it is read.
func TestVerify_FolderIsALink_NothingBehindItIsRead(t *testing.T) {
	dir := write(t, input(day(t)))
	outside := filepath.Join(t.TempDir(), "sheets")
	require.NoError(t, os.Rename(filepath.Join(dir, "data", "sheets"), outside))
	require.NoError(t, os.Symlink(outside, filepath.Join(dir, "data", "sheets")))
	report := verified(t, dir)
	behind := 0
	for _, p := range report.Problems {
		if strings.HasPrefix(p.File, "data/sheets/") {
			assert.Equal(t, "it lies behind a link", p.Detail)
			behind++
		}
	}
	assert.Equal(t, 4, behind)
}

func TestParseSum(t *testing.T) {
	got, err := archive.ParseSum(" 3F7A 09c1\n55d2 e8b4 ")
	require.NoError(t, err)
	assert.Equal(t, "3f7a09c155d2e8b4", got)
	for _, bad := range []string{"", "3f7a09c155d2e8b", strings.Repeat("0", 65), "3f7a09c155d2e8bg", "3f7a-09c1-55d2-e8b4"} {
		_, err = archive.ParseSum(bad)
		require.ErrorContains(t, err, "give its 64 digits (0-9, a-f), or the first 16 at least", bad)
	}
}
