package racefolder_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

func demoCopy(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "race")
	require.NoError(t, os.CopyFS(dir, os.DirFS("../../testdata/demo-race")))
	return dir
}

func textOf(t *testing.T, dir, name string) string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, name))
	require.NoError(t, err)
	return string(text)
}

func is(name string) func(string) bool { return func(other string) bool { return other == name } }

func TestForget_Judge_LeavesPlaceGatesAndComments(t *testing.T) {
	dir := demoCopy(t)
	before := textOf(t, dir, "race.yaml")
	f, err := racefolder.Open(dir)
	require.NoError(t, err)
	place := f.Race().Runs[0].Courses[0].Places[0]
	require.NotEmpty(t, place.Judge)
	require.NotEmpty(t, place.Phone)

	tried, err := f.Forget(is(place.Judge), true)
	require.NoError(t, err)
	assert.Equal(t, before, textOf(t, dir, "race.yaml"), "trying changes nothing")
	done, err := f.Forget(is(place.Judge), false)
	require.NoError(t, err)
	assert.Equal(t, tried, done)
	assert.Positive(t, done.Judges)
	assert.Zero(t, done.Racers)
	assert.Contains(t, done.Words, place.Judge)
	assert.Contains(t, done.Words, place.Phone)
	after := textOf(t, dir, "race.yaml")
	assert.NotContains(t, after, place.Judge)
	assert.NotContains(t, after, place.Phone)
	f, err = racefolder.Open(dir)
	require.NoError(t, err)
	got := f.Race().Runs[0].Courses[0].Places[0]
	place.Judge, place.Phone = "", ""
	assert.Equal(t, place, got)
	for line := range strings.Lines(before) {
		if strings.HasPrefix(line, "#") {
			assert.Contains(t, after, line)
		}
	}
}

// A start list as spreadsheets write it: the one line changes, all others stay.
func TestForget_Racer(t *testing.T) {
	for _, c := range []struct{ name, list, who, want string }{
		{"commas", "bib,name,club,group\n1,Wren Otterbrook,Tarn,girls\n2,\"Moss, Ida\",Tarn,girls\n", "Moss, Ida", "bib,name,club,group\n1,Wren Otterbrook,Tarn,girls\n2,,Tarn,girls\n"},
		{"semicolons, CRLF, no last line end", "bib;name;club;group\r\n1;Wren Otterbrook;Tarn;girls\r\n\r\n2;Ida Moss;Tarn;girls", "Ida Moss", "bib;name;club;group\r\n1;Wren Otterbrook;Tarn;girls\r\n\r\n2;;Tarn;girls\r\n"},
		{"two columns", "bib\tfirst name\tlast name\tgroup\n1\tWren\tOtterbrook\tgirls\n2\tIda\tMoss\tgirls\n", "Wren Otterbrook", "bib\tfirst name\tlast name\tgroup\n1\t\t\tgirls\n2\tIda\tMoss\tgirls\n"},
		{"Windows-1252", "bib,name,group\n1,J\xf6rg M\xf6ss,girls\n2,\xc4da Moss,girls\n", "Äda Moss", "bib,name,group\n1,Jörg Möss,girls\n2,,girls\n"},
		{"separator line", "sep=;\nbib;name;group\n1;Wren;girls\n2;Ida;girls\n", "Wren", "sep=;\nbib;name;group\n1;;girls\n2;Ida;girls\n"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "race")
			_, err := racefolder.WriteStarter(dir, racefolder.StarterOptions{Date: "2027-01-23"})
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(dir, "startlist.csv"), []byte(c.list), 0o600))
			f, err := racefolder.Open(dir)
			require.NoError(t, err)
			done, err := f.Forget(is(c.who), false)
			require.NoError(t, err)
			assert.Equal(t, 1, done.Racers)
			assert.Equal(t, c.want, textOf(t, dir, "startlist.csv"))
			for _, s := range f.Race().Starters {
				assert.NotEqual(t, c.who, s.Name)
			}
			assert.Len(t, f.Race().Starters, 2, "the bib stays")
		})
	}
}

func TestForget_Nobody_ChangesNothing(t *testing.T) {
	dir := demoCopy(t)
	before := textOf(t, dir, "race.yaml") + textOf(t, dir, "startlist.csv")
	f, err := racefolder.Open(dir)
	require.NoError(t, err)
	done, err := f.Forget(is("Nobody At All"), false)
	require.NoError(t, err)
	assert.Equal(t, racefolder.Forgotten{}, done)
	assert.Equal(t, before, textOf(t, dir, "race.yaml")+textOf(t, dir, "startlist.csv"))
}

func TestKeepUntil(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "race")
	_, err := racefolder.WriteStarter(dir, racefolder.StarterOptions{Date: "2027-01-23", Zone: "Europe/Vienna"})
	require.NoError(t, err)
	f, err := racefolder.Open(dir)
	require.NoError(t, err)
	race := f.Race()
	assert.Equal(t, "2028-01-23", race.KeepUntil, "a year, for a start")
	vienna, err := sheetmodel.LoadZone("Europe/Vienna")
	require.NoError(t, err)
	last := time.Date(2028, 1, 23, 23, 59, 0, 0, vienna)
	assert.Empty(t, racefolder.Overdue(race, last.UTC()))
	assert.Contains(t, racefolder.Overdue(race, last.Add(time.Minute).UTC()), "keep_until in race.yaml was 2028-01-23")
	assert.Empty(t, racefolder.Overdue(&sheetmodel.Race{}, last.AddDate(9, 0, 0)), "nobody has said a day")

	text := textOf(t, dir, "race.yaml")
	for value, want := range map[string]string{
		"2028-02-30": "not a day of the calendar", "soon": "not a day of the calendar", "2027-01-22": "is before the race; write a day after 2027-01-23",
	} {
		require.NoError(t, os.WriteFile(filepath.Join(dir, "race.yaml"), []byte(strings.Replace(text, "keep_until: 2028-01-23", "keep_until: "+value, 1)), 0o600))
		_, err = racefolder.Open(dir)
		require.ErrorContains(t, err, want)
		require.ErrorContains(t, err, "race.yaml:")
	}
	require.NoError(t, os.WriteFile(filepath.Join(dir, "race.yaml"), []byte(strings.Replace(text, "keep_until: 2028-01-23", "", 1)), 0o600))
	_, err = racefolder.Open(dir)
	require.NoError(t, err, "older race files have none")
}

// Whoever took over from a judge during the run is a judge too: name and number go, and who took over when stays.
func TestForget_JudgeWhoTookOver(t *testing.T) {
	const name, phone = "Ida Moss", "0555 019 019"
	for how, relief := range map[string]string{
		"on one line": "relief: [{at: \"10:42\", judge: " + name + ", phone: \"" + phone + "\"}, {at: \"11:02\", judge: Bo Larch, phone: \"0555 2\"}], ",
		"both":        "relief: [{at: \"10:42\", judge: " + name + ", phone: \"" + phone + "\"}, {at: \"11:02\", judge: " + name + "}], ",
	} {
		dir := demoCopy(t)
		text := textOf(t, dir, "race.yaml")
		at := strings.Index(text, "places:")
		at += strings.Index(text[at:], "gates: ")
		require.Positive(t, at)
		require.NoError(t, os.WriteFile(filepath.Join(dir, "race.yaml"), []byte(text[:at]+relief+text[at:]), 0o600))
		f, err := racefolder.Open(dir)
		require.NoError(t, err)
		place := f.Race().Runs[0].Courses[0].Places[0]
		require.Len(t, place.Relief, 2)
		tried, err := f.Forget(is(name), true)
		require.NoError(t, err)
		done, err := f.Forget(is(name), false)
		require.NoError(t, err, how)
		assert.Equal(t, tried, done)
		assert.Positive(t, done.Judges)
		assert.Contains(t, done.Words, phone)
		assert.Equal(t, []sheetmodel.CardKey{{Run: 1, Course: "Blue", Card: place.Card}}, done.Cards)
		after := textOf(t, dir, "race.yaml")
		assert.NotContains(t, after, name)
		assert.NotContains(t, after, phone)
		f, err = racefolder.Open(dir)
		require.NoError(t, err)
		got := f.Race().Runs[0].Courses[0].Places[0]
		for i := range place.Relief {
			if place.Relief[i].Judge == name {
				place.Relief[i].Judge, place.Relief[i].Phone = "", ""
			}
		}
		assert.Equal(t, place, got, how)
	}
}
