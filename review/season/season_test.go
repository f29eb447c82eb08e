package season_test

import (
	"bytes"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/calib"
	"gatefold/review/archive"
	"gatefold/review/season"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// race lays a race of its own day and packs it.
func race(t *testing.T, id string, full bool, lay func(*stacktest.Table)) *season.Race {
	t.Helper()
	b := stacktest.New(t)
	b.Race.ID = id
	lay(b)
	st, result := b.Load()
	return pack(t, b, archive.Input{Stack: st, Result: result}, full)
}

func pack(t *testing.T, b *stacktest.Table, in archive.Input, full bool) *season.Race {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "a")
	in.Store, in.Names, in.Layout, in.At = b.Store, full, b.LayoutByHash, time.Date(2027, 1, 23, 18, 0, 0, 0, time.UTC)
	_, err := archive.Write(t.Context(), dir, in)
	require.NoError(t, err)
	r, err := season.Read(os.DirFS(dir))
	require.NoError(t, err)
	return r
}

// three are three small races; what the tables must say of them is counted by hand (our own logic).
func three(t *testing.T) *season.Season {
	t.Helper()
	var s season.Season
	require.NoError(t, s.Add(race(t, "one", false, func(b *stacktest.Table) {
		// Gate 6 is the last of card 1 and the first of card 2: watched by two.
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"}, stacktest.Row{Bib: "46", Code: "F", Gate: "3", State: sheetmodel.Doubtful, Rivals: []string{"40"}})
		b.Ask("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	})))
	require.NoError(t, s.Add(race(t, "two", false, func(b *stacktest.Table) {
		b.Card("Blue", 1, stacktest.Row{Bib: "9", Code: "F", Gate: "1"})
		b.Card("Red", 12, stacktest.Row{Bib: "74", Code: "F", Gate: "31"})
		b.Ask("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "9")
		b.Ask("Ada", stacktest.Key("Red", 12, 1, sheetmodel.PartBib), "74")
		// The secretary called a place after the volunteer.
		p := &b.Race.Run(1).Courses[0].Places[0]
		p.Name = p.Judge
	})))
	require.NoError(t, s.Add(race(t, "three", true, func(b *stacktest.Table) {
		sheets := b.Sheets("Blue", 3, stacktest.Row{Bib: "14", Code: "F", Gate: "15"})
		p, _, err := b.Store.AddPhoto(t.Context(), "x.jpg", bytes.NewReader(photoOf(t, sheets[0].Page, "Snailphone 3")), -1, time.Time{})
		require.NoError(t, err)
		require.NoError(t, b.Store.AddSheets(t.Context(), p.ID, "test reader", sheets))
	})))
	return &s
}

// photoOf is a JPEG whose EXIF names a phone. Source: CIPA DC-008 (Exif 2.32), 4.6, tag 0x0110.
func photoOf(t *testing.T, page []byte, model string) []byte {
	t.Helper()
	img, err := png.Decode(bytes.NewReader(page))
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, jpeg.Encode(&out, img, nil))
	block := "Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08\x00\x01\x01\x10\x00\x02\x00\x00\x00" + string(rune(len(model)+1)) + "\x00\x00\x00\x1a\x00\x00\x00\x00" + model + "\x00"
	size := len(block) + 2
	return slices.Concat(out.Bytes()[:2], []byte{0xff, 0xe1, byte(size >> 8), byte(size)}, []byte(block), out.Bytes()[2:])
}

func upper(wrong, n int) float64 { return calib.Upper(wrong, n, 0.05) }

func table(t *testing.T, s *season.Season, file string) [][]string {
	t.Helper()
	for _, x := range s.Tables(upper) {
		if x.File == file {
			return x.Records
		}
	}
	t.Fatalf("no table %s", file)
	return nil
}

func withCalls(records [][]string, from int) [][]string {
	return slices.DeleteFunc(slices.Clone(records[1:]), func(r []string) bool {
		return !slices.ContainsFunc(r[from:from+3], func(c string) bool { return c != "0" })
	})
}

func TestSeason_ThreeRaces_PlacesAndGates(t *testing.T) {
	s := three(t)
	assert.Equal(t, [][]string{
		{"one", "2027-01-23", "1", "Blue", "B1", "1", "1 to 6", "1", "0", "0"}, // 46 or 40 is no call
		{"two", "2027-01-23", "1", "Blue", "", "1", "1 to 6", "1", "0", "0"},   // its name is a volunteer's
		{"two", "2027-01-23", "1", "Red", "R6", "12", "27 to 31", "1", "0", "0"},
		{"three", "2027-01-23", "1", "Blue", "B3", "3", "13 to 18", "0", "1", "0"},
	}, withCalls(table(t, s, "calls-by-place.csv"), 7))
	// Blue has gates 1 to 34, Red 1 to 31; gates 6 and 16 are on two cards. In three races: 6 first, 6 last, 6 watched by two.
	assert.Equal(t, [][]string{
		{"first", "6", "1", "0", "0", "16.7"},
		{"last", "6", "1", "0", "0", "16.7"},
		{"watched by two cards or more", "6", "1", "0", "0", "16.7"},
		{"watched by one card", "177", "0", "1", "0", "0.6"},
	}, withCalls(table(t, s, "calls-by-kind-of-gate.csv"), 2))
	assert.Equal(t, [][]string{{"F", "gate missed or straddled", "3", "3", "1", "0"}}, table(t, s, "faults.csv")[1:])
}

func TestSeason_ThreeRaces_DoubtfulByCardAndPhone(t *testing.T) {
	records := table(t, three(t), "doubtful.csv")
	var got []string
	for _, r := range records[1:] {
		assert.Len(t, r[0], 12)
		got = append(got, strings.Join(r[1:], " "))
	}
	assert.Equal(t, []string{
		"Snailphone 3 bib 1 0 0.0", "Snailphone 3 gate 1 0 0.0", "Snailphone 3 what happened 1 0 0.0",
		"not told bib 4 1 25.0", "not told gate 4 0 0.0", "not told what happened 4 0 0.0",
	}, got)
}

func TestSeason_NoTableNamesAPerson(t *testing.T) {
	b := stacktest.New(t)
	var people []string
	for _, c := range b.Race.Run(1).Courses {
		for _, p := range c.Places {
			people = append(people, p.Judge, p.Phone)
		}
	}
	people = append(people, "Ada", "person 1", "judge of")
	for _, x := range three(t).Tables(upper) {
		for _, r := range x.Records {
			for _, who := range people {
				assert.NotContains(t, strings.Join(r, ","), who, x.File)
			}
		}
	}
}

// 0 of 120 is at most 1 - 0.05^(1/120) = 2.4655 %, 1 of 240 at most 1.96126 % (Clopper-Pearson, one-sided: closed form, and
// by bisection of the binomial).
func TestSeason_SpotChecksAreAddedUp_ABoundFromAHundredOn(t *testing.T) {
	var s season.Season
	for _, x := range []struct{ id, typed string }{{"one", "500,30,60,0"}, {"two", "400,20,60,1"}, {"three", "900,150,120,0"}} {
		require.NoError(t, s.Add(spotted(t, x.id, x.typed)))
	}
	got := table(t, &s, "spot-check.csv")[1:]
	assert.Equal(t, []string{"one", "2027-01-23", "500", "30", "60", "0", ""}, got[0])
	assert.Equal(t, []string{"three", "2027-01-23", "900", "150", "120", "0", "2.466"}, got[2])
	assert.Equal(t, []string{"together", "", "1800", "200", "240", "1", "1.962"}, got[3])
}

// spotted is a race in whose archive another spot check stands.
func spotted(t *testing.T, id, numbers string) *season.Race {
	t.Helper()
	b := stacktest.New(t)
	b.Race.ID = id
	st, result := b.Load()
	dir := filepath.Join(t.TempDir(), "a")
	_, err := archive.Write(t.Context(), dir, archive.Input{Store: b.Store, Stack: st, Result: result, At: time.Date(2027, 1, 23, 18, 0, 0, 0, time.UTC)})
	require.NoError(t, err)
	file := filepath.Join(dir, "data", "spot-check.csv")
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	head, _, _ := strings.Cut(string(text), "\r\n")
	require.NoError(t, os.WriteFile(file, []byte(head+"\r\n"+numbers+",0.02\r\n"), 0o600))
	r, err := season.Read(os.DirFS(dir))
	require.NoError(t, err)
	return r
}

func TestSeason_SameRaceTwice_IsRefused(t *testing.T) {
	var s season.Season
	require.NoError(t, s.Add(spotted(t, "one", "1,0,0,0")))
	require.ErrorContains(t, s.Add(spotted(t, "one", "1,0,0,0")), "race one of 2027-01-23 was counted already")
}

func TestRead_NoArchive_NamesTheFileItLacks(t *testing.T) {
	_, err := season.Read(os.DirFS(t.TempDir()))
	require.ErrorContains(t, err, "data/race/race.json: not there; name an archive that gatefold pack wrote")
}

// What the archive of a stranger may hold: it is named, whatever it is, and nothing ends the program.
func TestRead_FilesThatGatefoldNeverPacks_AreNamed(t *testing.T) {
	for file, bad := range map[string]struct{ text, want string }{
		"data/spot-check.csv": {"a\r\n1\r\n", "data/spot-check.csv: 1 columns instead of 4"},
		"data/findings.json":  {strings.Repeat(" ", 17<<20), "data/findings.json: larger than 16 MB; gatefold packs none such"},
		"data/readings.json":  {strings.Repeat("[", 20_000), "data/readings.json: invalid character '[' exceeded max depth"},
		"data/race/race.json": {"[]", "data/race/race.json: json: cannot unmarshal array"},
	} {
		b := stacktest.New(t)
		st, result := b.Load()
		dir := filepath.Join(t.TempDir(), "a")
		_, err := archive.Write(t.Context(), dir, archive.Input{Store: b.Store, Stack: st, Result: result, At: time.Date(2027, 1, 23, 18, 0, 0, 0, time.UTC)})
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, filepath.FromSlash(file)), []byte(bad.text), 0o600))
		_, err = season.Read(os.DirFS(dir))
		require.ErrorContains(t, err, bad.want)
	}
}
