package archive_test

import (
	"crypto/sha256"
	"errors"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/archive"
	"gatefold/review/look"
	"gatefold/review/schemas"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

var at = time.Date(2027, 1, 23, 18, 0, 0, 0, time.FixedZone("", 3600))

// day is a small race day with every kind of record in its store.
func day(t *testing.T) *stacktest.Table {
	t.Helper()
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "9", Code: "F", Gate: "3", Panel: "C"})
	b.Card("Blue", 3, stacktest.Row{Bib: "46", Code: "F", Gate: "15", Panel: "B", State: sheetmodel.Doubtful, Rivals: []string{"40"}})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	b.SetAside("Bo", stacktest.Key("Blue", 3, 1, sheetmodel.PartBib), "judge has left")
	ctx := t.Context()
	d, err := b.Store.Decisions(ctx)
	require.NoError(t, err)
	st, _ := b.Load()
	card := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 5}
	p, _, err := b.Store.AddPhoto(ctx, "blur.jpg", strings.NewReader("\xff\xd8\xff blur"), -1, time.Time{})
	require.NoError(t, errors.Join(err,
		b.Store.Undo(ctx, d[1].ID, "Bo", "Bo"),
		b.Store.Refuse(ctx, p.ID, "test reader", store.Refusal{Fault: "blur", Detail: "0.7 mm", Remedy: "retake"}),
		b.Store.AddTies(ctx, store.CardTies{Front: st.Cards[0].Front.ID, Back: st.Cards[0].Back.ID, Reader: "r", Ties: []look.Tied{{Row: 1, Panel: "B"}}}),
		b.Store.Bind(ctx, store.Binding{Card: card, Run: 1, Course: "Blue", Gates: []string{"24"}, Judge: "Sepp Otterhammer", Source: "header", By: "Ada"}),
		b.Store.Answer(ctx, store.Answer{Question: "q", Value: "v", By: "Ada"}),
		b.Store.CloseGap(ctx, store.GapReason{Card: card, Reason: "wet through", By: "Ada"}),
		b.Store.TypeFromPaper(ctx, store.PaperCard{Card: card, Rows: 1, By: "Ada"}),
	))
	return b
}

func input(b *stacktest.Table) archive.Input {
	s, result := b.Load()
	return archive.Input{Store: b.Store, Stack: s, Result: result, At: at, Layout: b.LayoutByHash, Names: true}
}

func write(t *testing.T, in archive.Input) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "race-archive")
	sum, err := archive.Write(t.Context(), dir, in)
	require.NoError(t, err)
	originals := 0
	if in.Names {
		originals = 3
	}
	assert.Equal(t, originals, sum.Originals)
	assert.Equal(t, 4, sum.Sheets)
	return dir
}

func filesOf(t *testing.T, dir string) map[string]string {
	t.Helper()
	all := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		text, err := os.ReadFile(path)
		rel, err2 := filepath.Rel(dir, path)
		all[filepath.ToSlash(rel)] = string(text)
		return errors.Join(err, err2)
	}))
	return all
}

func TestWrite_VerifiesWithOursAndWithSha256sum(t *testing.T) {
	dir := write(t, input(day(t)))
	report, err := archive.Verify(dir)
	require.NoError(t, err)
	assert.Empty(t, report.Problems)
	assert.Greater(t, report.Checked, 20)
	for _, m := range []string{"manifest-sha256.txt", "tagmanifest-sha256.txt"} {
		c := exec.CommandContext(t.Context(), "sha256sum", "--strict", "-c", m)
		c.Dir = dir
		out, err := c.CombinedOutput()
		require.NoError(t, err, "%s", out)
		assert.NotContains(t, string(out), "FAILED")
	}
}

// Source: RFC 8493, sections 2.1.1 (declaration), 2.1.2 (payload), 2.2.2 (Payload-Oxum: octets, dot, files).
func TestWrite_IsABag(t *testing.T) {
	files := filesOf(t, write(t, input(day(t))))
	assert.Equal(t, "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n", files["bagit.txt"])
	octets, payload := 0, 0
	for name, text := range files {
		if strings.HasPrefix(name, "data/") {
			payload++
			octets += len(text)
			assert.Contains(t, files["manifest-sha256.txt"], "  "+name+"\n")
			assert.Regexp(t, `^[A-Za-z0-9./_-]+$`, name)
		}
	}
	assert.Contains(t, files["bag-info.txt"], "\nPayload-Oxum: "+itoa(octets)+"."+itoa(payload)+"\n")
	for _, want := range []string{"data/README.txt", "data/race/race.json", "data/draft.pdf", "data/draft.csv", "data/decisions.csv"} {
		assert.Contains(t, files, want)
	}
}

func itoa(n int) string {
	if n < 10 {
		return string(rune('0' + n))
	}
	return itoa(n/10) + string(rune('0'+n%10))
}

func TestWrite_JSONFitsItsSchemas(t *testing.T) {
	for _, names := range []bool{false, true} {
		in := input(day(t))
		in.Names = names
		files := filesOf(t, write(t, in))
		for _, name := range []string{"draft", "findings", "readings", "decisions", "records"} {
			require.NoError(t, schemas.Validate(name+".schema.json", strings.NewReader(files["data/"+name+".json"])), name)
		}
	}
}

func TestWrite_SameRaceSameTime_SameBytes(t *testing.T) {
	b := day(t)
	first, second := filesOf(t, write(t, input(b))), filesOf(t, write(t, input(b)))
	assert.Len(t, second, len(first))
	for name := range first {
		assert.Equal(t, sha256.Sum256([]byte(first[name])), sha256.Sum256([]byte(second[name])), name)
	}
}

func TestWrite_NamesAndPhones_OnlyIfAskedFor(t *testing.T) {
	b := day(t)
	var personal []string
	for _, s := range b.Race.Starters {
		personal = append(personal, s.Name, s.Club)
	}
	for _, c := range b.Race.Run(1).Courses {
		for _, p := range c.Places {
			personal = append(personal, p.Judge, p.Phone)
		}
	}
	personal = slices.DeleteFunc(personal, func(s string) bool { return s == "" })
	require.NotEmpty(t, personal)
	found := func(names bool) (where []string) {
		in := input(b)
		in.Names = names
		for name, text := range filesOf(t, write(t, in)) {
			if strings.HasPrefix(name, "data/originals/") || strings.HasPrefix(name, "data/sheets/") {
				continue
			}
			for _, p := range personal {
				if strings.Contains(text, p) {
					where = append(where, name+": "+p)
				}
			}
		}
		return where
	}
	assert.Empty(t, found(false))
	assert.NotEmpty(t, found(true))
}

func TestWrite_FolderIsThere_IsLeftAlone(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, "mine.txt"), []byte("x"), 0o600))
	_, err := archive.Write(t.Context(), dir, input(day(t)))
	require.ErrorIs(t, err, archive.ErrExists)
	assert.Equal(t, map[string]string{"mine.txt": "x"}, filesOf(t, dir))
}

func TestWrite_OriginalAltered_IsNotPutAway(t *testing.T) {
	b := day(t)
	photos, err := b.Store.Photos(t.Context())
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(b.Store.Dir(), photos[0].File), []byte("other"), 0o600))
	parent := t.TempDir()
	_, err = archive.Write(t.Context(), filepath.Join(parent, "a"), input(b))
	require.ErrorContains(t, err, photos[0].File+": altered since it was sent")
	assert.Empty(t, filesOf(t, parent))
}

// Step n = 1, 2, 3 ... fails until none does: no half archive is ever left.
func TestWrite_AnyStepFails_NothingIsLeft(t *testing.T) {
	b := day(t)
	failure := errors.New("injected")
	for n := 1; ; n++ {
		parent := t.TempDir()
		left := n
		in := input(b)
		in.Step = func(string) error {
			left--
			if left == 0 {
				return failure
			}
			return nil
		}
		_, err := archive.Write(t.Context(), filepath.Join(parent, "a"), in)
		if err == nil {
			require.Greater(t, n, 20, "faults were not injected")
			return
		}
		require.ErrorIs(t, err, failure)
		entries, err := os.ReadDir(parent)
		require.NoError(t, err)
		require.Empty(t, entries, "step %d", n)
	}
}

func TestVerify_NamesEveryBadFile(t *testing.T) {
	dir := write(t, input(day(t)))
	at := func(name string) string { return filepath.Join(dir, filepath.FromSlash(name)) }
	require.NoError(t, os.WriteFile(at("data/draft.csv"), []byte("x"), 0o600))
	require.NoError(t, os.Remove(at("data/findings.json")))
	require.NoError(t, os.WriteFile(at("data/new.txt"), []byte("x"), 0o600))
	require.NoError(t, os.WriteFile(at("notes.txt"), []byte("x"), 0o600))
	require.NoError(t, os.Remove(at("data/draft.json")))
	require.NoError(t, os.Symlink("/etc/hostname", at("data/draft.json")))
	report, err := archive.Verify(dir)
	require.NoError(t, err)
	var got []string
	for _, p := range report.Problems {
		got = append(got, p.String())
	}
	assert.Equal(t, []string{
		"data/draft.csv: altered", "data/draft.json: broken: not a plain file", "data/findings.json: missing",
		"data/new.txt: extra", "notes.txt: extra",
	}, got)
	assert.False(t, report.OK())
}

func TestVerify_ChangedManifest_IsFoundByTheTagManifest(t *testing.T) {
	dir := write(t, input(day(t)))
	name := filepath.Join(dir, "manifest-sha256.txt")
	text, err := os.ReadFile(name)
	require.NoError(t, err)
	lines := strings.SplitAfter(string(text), "\n")
	require.NoError(t, os.WriteFile(name, []byte(strings.Join(lines[1:], "")), 0o600))
	report, err := archive.Verify(dir)
	require.NoError(t, err)
	require.Len(t, report.Problems, 2) // the manifest, and the file it forgot
	assert.Equal(t, archive.FaultExtra, report.Problems[0].Fault)
	assert.Equal(t, archive.Problem{File: "manifest-sha256.txt", Fault: archive.FaultAltered}, report.Problems[1])
}

func TestVerify_NamesThatLeadOut_AreNeverOpened(t *testing.T) {
	dir := t.TempDir()
	sum := strings.Repeat("0", 64)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "bagit.txt"), []byte("BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "manifest-sha256.txt"),
		[]byte(sum+"  ../outside\n"+sum+"  /etc/hostname\n"+sum+" *data/a\nnonsense\n"), 0o600))
	report, err := archive.Verify(dir)
	require.NoError(t, err)
	var got []string
	for _, p := range report.Problems {
		got = append(got, p.String())
	}
	assert.Equal(t, []string{
		"../outside: broken: its name leads out of the archive or is not in plain form",
		"/etc/hostname: broken: its name leads out of the archive or is not in plain form",
		"bagit.txt: extra", "data/a: missing", "manifest-sha256.txt: broken: line 4 is no sum and name", "manifest-sha256.txt: extra",
		"tagmanifest-sha256.txt: missing",
	}, got)
}

func TestVerify_NoArchive_SaysSo(t *testing.T) {
	_, err := archive.Verify(t.TempDir())
	require.ErrorContains(t, err, "no bagit.txt in it")
}

// A list without end is not followed to its end.
func TestVerify_FarTooManyLines_StopsThere(t *testing.T) {
	report, err := archive.Verify(bag(t, strings.Repeat("x\n", 300_000)))
	require.NoError(t, err)
	assert.Contains(t, report.Problems, archive.Problem{
		File: "manifest-sha256.txt", Fault: archive.FaultBroken, Detail: "more than 200000 lines; what stands below was not checked",
	})
	assert.Less(t, len(report.Problems), 200_010)
}

// FuzzVerify feeds manifests to Verify: whatever they say, it returns.
func FuzzVerify(f *testing.F) {
	f.Add("0000000000000000000000000000000000000000000000000000000000000000  data/a\n")
	f.Add("zz  data/a\n\r\n")
	f.Add("0000000000000000000000000000000000000000000000000000000000000000 *../../x%0A%25\n")
	f.Fuzz(func(t *testing.T, manifest string) {
		dir := t.TempDir()
		require.NoError(t, os.WriteFile(filepath.Join(dir, "bagit.txt"), []byte("BagIt-Version: 1.0\n"), 0o600))
		require.NoError(t, os.WriteFile(filepath.Join(dir, "manifest-sha256.txt"), []byte(manifest), 0o600))
		_, err := archive.Verify(dir)
		require.NoError(t, err)
	})
}
