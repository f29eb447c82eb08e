package archive_test

import (
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/archive"
	"gatefold/review/schemas"
)

func TestWrite_WithoutDamaged_LeavesThemOutAndNamesThem(t *testing.T) {
	b := day(t)
	photos, err := b.Store.Photos(t.Context())
	require.NoError(t, err)
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(b.Store.Dir(), photos[0].File), []byte("other"), 0o600))
	require.NoError(t, os.Remove(filepath.Join(b.Store.Dir(), photos[1].File)))
	require.NoError(t, os.WriteFile(filepath.Join(b.Store.Dir(), sheets[0].Page), []byte("other"), 0o600))
	in := input(b)
	in.WithoutDamaged = true
	dir := filepath.Join(t.TempDir(), "a")
	sum, err := archive.Write(t.Context(), dir, in)
	require.NoError(t, err)
	assert.Equal(t, []string{photos[0].File, photos[1].File, sheets[0].Page}, sum.LeftOut)
	assert.Equal(t, 1, sum.Originals)
	assert.Equal(t, 3, sum.Sheets)
	files := filesOf(t, dir)
	_, said, found := strings.Cut(files["data/README.txt"], "\nLEFT OUT\n")
	require.True(t, found)
	for _, name := range sum.LeftOut {
		assert.Contains(t, said, "    "+name+"\n")
	}
	assert.NotContains(t, files, "data/"+photos[0].File)
	require.NoError(t, schemas.Validate("readings.schema.json", strings.NewReader(files["data/readings.json"])))
	assert.True(t, strings.HasPrefix(files["data/draft.pdf"], "%PDF-"))
	report, err := archive.Verify(dir)
	require.NoError(t, err)
	assert.Empty(t, report.Problems)
}

func TestWrite_NothingDamaged_WithoutDamagedChangesNothing(t *testing.T) {
	b := day(t)
	in := input(b)
	in.WithoutDamaged = true
	assert.Equal(t, filesOf(t, write(t, input(b))), filesOf(t, write(t, in)))
}

func TestWrite_InsideTheRaceFolder_IsRefused(t *testing.T) {
	b := day(t)
	names := func() []string { return slices.Sorted(maps.Keys(filesOf(t, b.Store.Dir()))) }
	before := names()
	link := filepath.Join(t.TempDir(), "link")
	require.NoError(t, os.Symlink(filepath.Join(b.Store.Dir(), "originals"), link))
	for _, dir := range []string{
		filepath.Join(b.Store.Dir(), "archive"), filepath.Join(b.Store.Dir(), "originals", "archive"), filepath.Join(link, "archive"),
		filepath.Join(b.Store.Dir(), "no", "such", "archive"),
	} {
		_, err := archive.Write(t.Context(), dir, input(b))
		require.ErrorIs(t, err, archive.ErrInside, dir)
	}
	_, err := archive.Write(t.Context(), b.Store.Dir(), input(b))
	require.ErrorIs(t, err, archive.ErrExists)
	assert.Equal(t, before, names())
}

// bag makes a folder that is a bag of no file, with further lines in its manifest.
func bag(t *testing.T, manifest string) string {
	t.Helper()
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "bagit.txt"), []byte("BagIt-Version: 1.0\n"), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "manifest-sha256.txt"), []byte(manifest), 0o600))
	return dir
}

func TestVerify_NamesThatCanHarmATerminal_AreQuotedAndShortened(t *testing.T) {
	sum := strings.Repeat("0", 64)
	long := "data/" + strings.Repeat("x", 30000)
	dir := bag(t, sum+"  data/\x1b[2J.txt\n"+sum+"  data/a%0Ab\n"+sum+"  "+long+"\n"+sum+"  data/a%0Ab\n")
	report, err := archive.Verify(dir)
	require.NoError(t, err)
	said := ""
	for _, p := range report.Problems {
		assert.Less(t, len(p.String()), 300)
		said += p.String() + "\n"
	}
	assert.Contains(t, said, `"data/\x1b[2J.txt": missing`)
	assert.Contains(t, said, `"data/a\nb": missing`)
	assert.Contains(t, said, `line 4 names "data/a\nb" again`)
	assert.Contains(t, said, "data/xxx")
	assert.NotContains(t, said, "\x1b")
}

func TestVerify_LineWithoutEnd_IsSaidInWords(t *testing.T) {
	report, err := archive.Verify(bag(t, strings.Repeat("0", 64)+"  data/a\n"+strings.Repeat("x", 1<<20)))
	require.NoError(t, err)
	var said []string
	for _, p := range report.Problems {
		said = append(said, p.String())
	}
	assert.Contains(t, said, "manifest-sha256.txt: broken: line 2 is longer than 64 kB; what stands below was not checked")
}
