package archive_test

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"errors"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"

	"gatefold/review/archive"
	"gatefold/review/jury"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// Words that the table below holds where people write: none may be in an archive that is handed around.
var whispered = []string{"Thistlewick", "Marmaduke", "Wobblethorpe", "Gladiola", "Pumpernell", "Buttercrumb", "5559988", "Snailphone"}

// named is a race day on which names and numbers stand wherever anybody can put one: on the paper in its head, remarks
// and margins, in what was read, in a photo's name and EXIF, at the desk, in notes, in the jury's reasons.
func named(t *testing.T) *stacktest.Table {
	t.Helper()
	b := stacktest.New(t)
	b.Header = map[string]string{"header.judge": "Marmaduke", "header.phone": "5559988"}
	sheets := b.Sheets("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "46", Code: "F", Gate: "3", State: sheetmodel.Doubtful, Rivals: []string{"40"}})
	front := b.Layout.Side(sheetmodel.Front)
	sheets[0].Page = scribble(t, sheets[0].Page, map[string]sheetmodel.SheetPoint{
		"Wobblethorpe": {X: 30, Y: front.Field("remark-1.text").Rect.Y + 5}, "Gladiola": {X: 60, Y: 208}, "Thistlewick": {X: 40, Y: 8},
	})
	sheets[1].Page = scribble(t, sheets[1].Page, map[string]sheetmodel.SheetPoint{"Gladiola": {X: 20, Y: 10}, "Pumpernell": {X: 40, Y: 144}})
	ctx := t.Context()
	p, _, err := b.Store.AddPhoto(ctx, "Gladiola.jpg", bytes.NewReader(withExif(t, sheets[0].Page)), -1, time.Date(2027, 1, 23, 10, 0, 0, 0, time.UTC))
	require.NoError(t, err)
	require.NoError(t, b.Store.AddSheets(ctx, p.ID, "test reader", sheets))
	b.Header = nil
	b.Card("Blue", 3, stacktest.Row{Bib: "9", Code: "F", Gate: "15", Panel: "C"})
	key := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
	b.Type("Buttercrumb", stacktest.Key("Blue", 1, 2, sheetmodel.PartBib), "46")
	b.SetAside("Thistlewick", stacktest.Key("Blue", 3, 1, sheetmodel.PartBib), "Wobblethorpe has left, call 5559988")
	line := jury.Line{Run: 1, Course: "Blue", Group: "girls", Bib: "14"}
	for _, e := range []error{
		b.Store.Bind(ctx, store.Binding{Card: key, Run: 1, Course: "Blue", Gates: []string{"1", "2", "3", "4", "5", "6"}, Judge: "Marmaduke", Source: "header", By: "Buttercrumb"}),
		b.Store.CloseGap(ctx, store.GapReason{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 5}, Reason: "Pumpernell lost it", By: "Thistlewick"}),
		b.Store.Answer(ctx, store.Answer{Question: "q", Value: "v", By: "Buttercrumb", Note: "asked Gladiola"}),
		b.Store.Answer(ctx, store.Answer{Question: jury.Key(line, jury.Posting{}), Value: jury.Value(jury.Posting{At: at, Gate: "6", Code: "F"}), By: "Thistlewick"}),
		b.Store.Answer(ctx, store.Answer{Question: jury.Key(line, jury.Protest{}), Value: jury.Value(jury.Protest{At: at, From: "Gladiola"}), By: "Thistlewick"}),
		b.Store.Answer(ctx, store.Answer{Question: jury.Key(line, jury.Decision{}), Value: jury.Value(jury.Decision{Verdict: jury.Upheld, At: at, Present: []string{"referee Pumpernell"}, Reason: "Wobblethorpe saw it"}), By: "Thistlewick"}),
	} {
		require.NoError(t, e)
	}
	_, err = b.Store.Settle(ctx, store.Entry{Reading: store.Key(key, sheetmodel.Front, "header.judge"), Text: "Marmaduke", Basis: sheetmodel.BasisOnPaper, By: "Buttercrumb", Session: "s"},
		store.Entry{Reading: store.Key(key, sheetmodel.Front, "header.phone"), Text: "5559988", Basis: sheetmodel.BasisOnPaper, By: "Buttercrumb", Session: "s"})
	require.NoError(t, err)
	b.Race.Run(1).Courses[0].Places[4].Name = "where " + b.Race.Run(1).Courses[0].Places[4].Judge + " stands"
	place := &b.Race.Run(1).Courses[0].Places[3]
	place.Relief = []sheetmodel.Relief{{At: "10:30", Judge: "Gladiola Pumpernell", Phone: "5559988"}}
	return b
}

// scribble writes words onto a page where nothing should be.
func scribble(t *testing.T, page []byte, words map[string]sheetmodel.SheetPoint) []byte {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(page))
	require.NoError(t, err)
	dst := image.NewGray(img.Bounds())
	draw.Draw(dst, dst.Rect, img, image.Point{}, draw.Src)
	parsed, err := opentype.Parse(sheetmodel.Regular.TTF())
	require.NoError(t, err)
	face, err := opentype.NewFace(parsed, &opentype.FaceOptions{Size: 5 * stacktest.PxPerMM, DPI: 72})
	require.NoError(t, err)
	for text, at := range words {
		p := sheetmodel.PageFromSheet(at, stacktest.PxPerMM)
		d := font.Drawer{Dst: dst, Src: image.NewUniform(color.Gray{Y: 30}), Face: face, Dot: fixed.P(int(p.X), int(p.Y))}
		room := image.Rect(int(p.X)-6, int(p.Y)-30, int(p.X)+d.MeasureString(text).Round()+6, int(p.Y)+12)
		draw.Draw(dst, room, image.NewUniform(color.Gray{Y: 250}), image.Point{}, draw.Src) // so that it can be read at all
		d.DrawString(text)
	}
	var out bytes.Buffer
	require.NoError(t, png.Encode(&out, dst))
	return out.Bytes()
}

// withExif is a JPEG of the page that says which phone took it.
func withExif(t *testing.T, page []byte) []byte {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(page))
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, jpeg.Encode(&out, img, &jpeg.Options{Quality: 90}))
	// A TIFF block with one entry, the model (tag 0x0110). Source: CIPA DC-008 (Exif 2.32), 4.6.
	model := "Snailphone\x00"
	block := "Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08\x00\x01\x01\x10\x00\x02\x00\x00\x00" + string(rune(len(model))) + "\x00\x00\x00\x1a\x00\x00\x00\x00" + model
	size := len(block) + 2
	return slices.Concat(out.Bytes()[:2], []byte{0xff, 0xe1, byte(size >> 8), byte(size)}, []byte(block), out.Bytes()[2:])
}

// said looks for the words in everything that an archive tells: all bytes of all files, also of compressed parts of
// PDF files, and what Tesseract reads on every picture and on every page of a PDF, of the files that are to be seen.
func said(t *testing.T, dir string, words []string, seen func(name string) bool) map[string][]string {
	t.Helper()
	found := map[string][]string{}
	look := func(where, text string) {
		text = strings.Map(func(r rune) rune {
			if unicode.IsLetter(r) || unicode.IsDigit(r) {
				return unicode.ToLower(r)
			}
			return -1
		}, text)
		for _, w := range words {
			if strings.Contains(text, strings.ToLower(w)) && !slices.Contains(found[w], where) {
				found[w] = append(found[w], where)
			}
		}
	}
	temp := t.TempDir()
	pictures := 0
	read := func(where, file string) {
		if !seen(where) {
			return
		}
		pictures++
		look(where+" (seen)", tool(t, "tesseract", file, "-", "--psm", "11", "--dpi", "150"))
	}
	for name, text := range filesOf(t, dir) {
		look(name, text)
		file := filepath.Join(dir, filepath.FromSlash(name))
		switch filepath.Ext(name) {
		case ".png", ".jpg":
			read(name, file)
		case ".pdf":
			plain := filepath.Join(temp, "plain.pdf")
			tool(t, "qpdf", "--stream-data=uncompress", file, plain)
			inside, err := os.ReadFile(plain)
			require.NoError(t, err)
			look(name+" (unpacked)", string(inside))
			look(name+" (text)", tool(t, "pdftotext", file, "-")+tool(t, "pdfinfo", file))
			start := filepath.Join(temp, filepath.Base(name))
			tool(t, "pdftoppm", "-gray", "-r", "150", "-png", file, start)
			pages, err := filepath.Glob(start + "-*.png")
			require.NoError(t, err)
			require.NotEmpty(t, pages)
			for _, p := range pages {
				read(name, p)
			}
		}
	}
	require.Greater(t, pictures, 3)
	return found
}

func TestWrite_HandedAround_TellsNoNameNumberOrNote(t *testing.T) {
	t.Setenv("OMP_THREAD_LIMIT", "1")
	b := named(t)
	words := slices.Clone(whispered)
	for _, s := range b.Race.Starters {
		words = append(words, letters(s.Name), letters(s.Club))
	}
	for _, c := range b.Race.Run(1).Courses {
		for _, p := range c.Places {
			words = append(words, letters(p.Judge), letters(p.Phone))
		}
	}
	words = slices.DeleteFunc(words, func(w string) bool { return w == "" })
	in := input(b)
	full := filepath.Join(t.TempDir(), "full")
	_, err := archive.Write(t.Context(), full, in)
	require.NoError(t, err)
	in.Names = false
	share := filepath.Join(t.TempDir(), "share")
	sum, err := archive.Write(t.Context(), share, in)
	require.NoError(t, err)
	assert.Zero(t, sum.Originals)
	assert.Equal(t, 4, sum.Sheets)
	assert.NoDirExists(t, filepath.Join(share, "data", "originals"))

	everywhere := said(t, full, words, func(name string) bool { return name == "data/cards.pdf" })
	for _, w := range words {
		assert.NotEmpty(t, everywhere[w], "%s isn't found where it is", w)
	}
	for _, w := range []string{"Wobblethorpe", "Gladiola", "Thistlewick", "Pumpernell", "Marmaduke"} {
		assert.Contains(t, everywhere[w], "data/cards.pdf (seen)", "a look at pictures doesn't find %s", w)
	}
	assert.Empty(t, said(t, share, words, func(string) bool { return true }))
	for name, text := range filesOf(t, share) {
		assert.NotContains(t, text, "Exif", name)
	}
}

func letters(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return -1
	}, s)
}

// Nothing but rows and panels is left on a page, and those are as they were.
func TestWrite_HandedAround_PagesAreBlackButForRowsAndPanels(t *testing.T) {
	b := named(t)
	in := input(b)
	in.Names = false
	share := filepath.Join(t.TempDir(), "share")
	_, err := archive.Write(t.Context(), share, in)
	require.NoError(t, err)
	sheets, err := b.Store.Sheets(t.Context())
	require.NoError(t, err)
	pages, err := filepath.Glob(filepath.Join(share, "data", "sheets", "*Blue-card-1-*.png"))
	require.NoError(t, err)
	require.Len(t, pages, 2)
	for _, s := range sheets[:2] {
		i := slices.IndexFunc(pages, func(p string) bool { return strings.Contains(p, string(s.Side)) })
		before, after := decode(t, filepath.Join(b.Store.Dir(), filepath.FromSlash(s.Page))), decode(t, pages[i])
		require.Equal(t, before.Bounds(), after.Bounds())
		kept, black := 0, 0
		for y := range before.Bounds().Dy() {
			for x := range before.Bounds().Dx() {
				mm := sheetmodel.SheetFromPage(sheetmodel.PagePoint{X: float64(x), Y: float64(y)}, stacktest.PxPerMM)
				inside, near := false, false
				for _, f := range b.Layout.Side(s.Side).Fields {
					if f.Row > 0 || f.Panel != "" {
						inside = inside || holds(f.Rect, mm)
						near = near || holds(f.Rect.Grow(1.2), mm)
					}
				}
				switch {
				case inside:
					kept++
					require.Equal(t, grey(before.At(x, y)), grey(after.At(x, y)), "%s %v", s.Side, mm)
				case !near:
					black++
					require.Zero(t, grey(after.At(x, y)), "%s %v", s.Side, mm)
				}
			}
		}
		assert.Greater(t, kept, 10_000)
		assert.Greater(t, black, 10_000)
	}
}

// A column for remarks in the rows, as some leagues' cards have it, is black like the lines for remarks below them.
func TestWrite_HandedAround_RemarksInRowsAreBlack(t *testing.T) {
	b := named(t)
	in := input(b)
	in.Names = false
	l := *b.Layout
	l.Sides = slices.Clone(l.Sides)
	var remark sheetmodel.Rect
	for i := range l.Sides {
		l.Sides[i].Fields = slices.Clone(l.Sides[i].Fields)
		for k := range l.Sides[i].Fields {
			if f := &l.Sides[i].Fields[k]; f.Name == "row-02.rerun" {
				f.Part, remark = sheetmodel.PartRemark, f.Rect
			}
		}
	}
	require.Positive(t, remark.W)
	in.Layout = func(string) *sheetmodel.Layout { return &l }
	share := filepath.Join(t.TempDir(), "share")
	_, err := archive.Write(t.Context(), share, in)
	require.NoError(t, err)
	pages, err := filepath.Glob(filepath.Join(share, "data", "sheets", "*Blue-card-1-*front*.png"))
	require.NoError(t, err)
	require.Len(t, pages, 1)
	after, looked := decode(t, pages[0]), 0
	for y := range after.Bounds().Dy() {
		for x := range after.Bounds().Dx() {
			if mm := sheetmodel.SheetFromPage(sheetmodel.PagePoint{X: float64(x), Y: float64(y)}, stacktest.PxPerMM); holds(remark.Grow(-0.2), mm) {
				looked++
				require.Zero(t, grey(after.At(x, y)), "%v", mm)
			}
		}
	}
	assert.Positive(t, looked)
}

func holds(r sheetmodel.Rect, p sheetmodel.SheetPoint) bool {
	return p.X >= r.X && p.X <= r.X+r.W && p.Y >= r.Y && p.Y <= r.Y+r.H
}

// What the rules say doesn't change with the names: the same calls, waiting for as much, and the same findings.
func TestWrite_HandedAround_SaysTheSameOfEveryRow(t *testing.T) {
	b := named(t)
	in := input(b)
	of := func(names bool) (f struct {
		rules.Result
	}) {
		in.Names = names
		dir := filepath.Join(t.TempDir(), "a")
		_, err := archive.Write(t.Context(), dir, in)
		require.NoError(t, err)
		require.NoError(t, json.Unmarshal([]byte(filesOf(t, dir)["data/findings.json"]), &f))
		return f
	}
	full, share := of(true), of(false)
	require.NotEmpty(t, full.Calls)
	assert.Equal(t, full.Calls, share.Calls)
	require.Len(t, share.Findings, len(full.Findings))
	for i, f := range full.Findings {
		assert.Equal(t, f.Rule, share.Findings[i].Rule)
		assert.Equal(t, f.Rows, share.Findings[i].Rows)
	}
	for i, s := range full.Standings {
		assert.Equal(t, s.Standing, share.Standings[i].Standing)
	}
}

// A call that was heard and is on no card keeps the list open at the desk. What is handed around tells nothing of the call, and says
// that the list is open all the same. Source: our own logic.
func TestWrite_HandedAround_HeardAndNotAnswered_StaysOpen(t *testing.T) {
	for _, answered := range []bool{false, true} {
		b := stacktest.New(t)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
		b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
		require.NoError(t, b.Store.Hear(t.Context(), store.HeardEntry{Run: 1, Course: "Blue", Clock: "11:01", Bib: sheetmodel.Bib{Group: "girls", Number: "9"}, Gate: "3", Words: "nine missed it", By: "Ada"}))
		_, result := b.Load()
		i := slices.IndexFunc(result.Findings, func(f sheetmodel.Finding) bool { return f.Rule == "heard" })
		require.GreaterOrEqual(t, i, 0)
		require.NotNil(t, result.Findings[i].Question)
		if answered {
			require.NoError(t, b.Store.Answer(t.Context(), store.Answer{Question: result.Findings[i].Question.Key, Value: "nothing", By: "Ada"}))
		}
		dir := filepath.Join(t.TempDir(), "a")
		in := input(b)
		in.Names = false
		_, err := archive.Write(t.Context(), dir, in)
		require.NoError(t, err)
		told := 0
		for name, content := range filesOf(t, dir) {
			assert.NotContains(t, string(content), "nine missed it", name)
			assert.NotContains(t, string(content), "The log of what was heard names", name)
			if strings.HasSuffix(name, "draft.json") && strings.Contains(string(content), "A call that was heard is on no card that is settled") {
				told++
			}
		}
		assert.Equal(t, !answered, told == 1)
	}
}

// A zip is the folder, file by file; the same race in it twice is the same bytes, and other programs read it.
func TestWrite_Zip_IsTheFolderAndTheSameEachTime(t *testing.T) {
	in := input(day(t))
	in.Names = false
	one, two := filepath.Join(t.TempDir(), "race.zip"), filepath.Join(t.TempDir(), "race.zip")
	folder := filepath.Join(t.TempDir(), "race")
	for _, to := range []string{one, two, folder} {
		_, err := archive.Write(t.Context(), to, in)
		require.NoError(t, err)
	}
	a, err := os.ReadFile(one)
	require.NoError(t, err)
	c, err := os.ReadFile(two)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(a, c))
	left, err := os.ReadDir(filepath.Dir(one))
	require.NoError(t, err)
	assert.Len(t, left, 1)

	z, err := zip.NewReader(bytes.NewReader(a), int64(len(a)))
	require.NoError(t, err)
	for _, e := range z.File {
		assert.True(t, e.Modified.Equal(at), "%s: %v", e.Name, e.Modified)
	}
	unpacked := t.TempDir()
	bad, err := archive.Unzip(one, unpacked)
	require.NoError(t, err)
	assert.Empty(t, bad)
	assert.Equal(t, filesOf(t, folder), filesOf(t, unpacked))
	outside := t.TempDir()
	tool(t, "unzip", "-q", one, "-d", outside)
	assert.Equal(t, filesOf(t, folder), filesOf(t, filepath.Join(outside, "race")))

	report, err := archive.VerifyZip(one)
	require.NoError(t, err)
	assert.True(t, report.OK(), "%v", report.Problems)
	assert.Greater(t, report.Checked, 20)
}

// What a stranger's zip may hold: each bad entry is named, none is unpacked outside, nothing stops the rest.
func TestVerifyZip_HostileEntries_AreNamedAndLeftOut(t *testing.T) {
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	put := func(name, text string, mode os.FileMode) {
		h := &zip.FileHeader{Name: name, Method: zip.Store}
		h.SetMode(mode)
		w, err := z.CreateHeader(h)
		require.NoError(t, err)
		_, err = w.Write([]byte(text))
		require.NoError(t, err)
	}
	put("a/bagit.txt", "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n", 0o644)
	put("a/../../outside", "x", 0o644)
	put("/etc/outside", "x", 0o644)
	put("a/data/link", "/etc/hostname", os.ModeSymlink|0o777)
	put("a/data/twice", "x", 0o644)
	put("a/data/Twice", "y", 0o644)
	put("a/data/damaged", "zzzzzzzz", 0o644)
	put("beside/a", "x", 0o644)
	put("a/manifest-sha256.txt", strings.Repeat("0", 64)+"  data/twice\n", 0o644)
	require.NoError(t, z.Close())
	file := filepath.Join(t.TempDir(), "a.zip")
	require.NoError(t, os.WriteFile(file, bytes.Replace(out.Bytes(), []byte("zzzzzzzz"), []byte("zzzzzzzy"), 1), 0o600))
	report, err := archive.VerifyZip(file)
	require.NoError(t, err)
	var got []string
	for _, p := range report.Problems {
		got = append(got, p.String())
	}
	assert.Equal(t, []string{
		"../../outside: broken: its name leads out of the archive or is not in plain form",
		"/etc/outside: extra: beside the archive's folder", "bagit.txt: extra", "beside/a: extra: beside the archive's folder",
		"data/Twice: broken: it is in the zip twice", "data/damaged: broken: zip: checksum error", "data/link: broken: not a plain file",
		"data/twice: altered", "manifest-sha256.txt: extra", "tagmanifest-sha256.txt: missing",
	}, got)

	require.NoError(t, os.WriteFile(file, out.Bytes()[:out.Len()/2], 0o600))
	_, err = archive.VerifyZip(file)
	require.ErrorContains(t, err, "it is no whole zip: compare with another copy")
}

// A small zip that unpacks to very much, and one whose list of entries alone would fill the memory.
func TestVerifyZip_Bombs_AreRefused(t *testing.T) {
	if testing.Short() {
		t.Skip("unpacks 256 MB")
	}
	file := filepath.Join(t.TempDir(), "a.zip")
	write := func(fill func(z *zip.Writer)) {
		f, err := os.Create(file)
		require.NoError(t, err)
		z := zip.NewWriter(f)
		fill(z)
		require.NoError(t, errors.Join(z.Close(), f.Close()))
	}
	write(func(z *zip.Writer) {
		w, err := z.Create("a/bagit.txt")
		require.NoError(t, err)
		for range 300 {
			_, err = w.Write(make([]byte, 1<<20))
			require.NoError(t, err)
		}
	})
	temp := t.TempDir()
	_, err := archive.Unzip(file, temp)
	require.ErrorContains(t, err, "unpacked it is larger than any archive: more than 256 MB from a zip of 0")

	write(func(z *zip.Writer) {
		for i := range 600 {
			_, err := z.CreateHeader(&zip.FileHeader{Name: "a/" + strings.Repeat("x", 60_000) + itoa(i), Method: zip.Store})
			require.NoError(t, err)
		}
	})
	_, err = archive.Unzip(file, temp)
	require.ErrorContains(t, err, "its list of entries has more than 32 MB, longer than any archive's")
}
