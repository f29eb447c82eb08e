package racefolder

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// onDisk writes a race folder and opens it.
func onDisk(t *testing.T, race string) *Folder {
	t.Helper()
	dir := t.TempDir()
	for name, f := range fsWith(race, goodList) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), f.Data, 0o600))
	}
	f, err := Open(dir)
	require.NoError(t, err)
	return f
}

func raceText(t *testing.T, f *Folder) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(f.Dir, RaceFile))
	require.NoError(t, err)
	return string(b)
}

// wantPlaces demands that the folder holds places, in memory and when opened anew.
func wantPlaces(t *testing.T, f *Folder, run int, course string, want []sheetmodel.Place) {
	t.Helper()
	again, err := Open(f.Dir)
	require.NoError(t, err)
	assert.Equal(t, want, again.Race().Run(run).Course(course).Places)
	assert.Equal(t, again.Race(), f.Race())
}

func TestSavePlaces_OtherLinesStayByteByByte(t *testing.T) {
	text := strings.Replace(goodRace, "        places:\n", "        # the judges, top down\n        places:   # set at 8:15\n\n          # start\n", 1)
	text = strings.Replace(text, "gates: 1-13}", "gates: 1-13}  # old fence", 1)
	text = strings.Replace(text, "gates: 13-20\n", "gates: 13-20   # to the finish\n\n    # lists\n", 1)
	for _, eol := range []string{"\n", "\r\n"} {
		f := onDisk(t, strings.ReplaceAll(text, "\n", eol))
		places := []sheetmodel.Place{
			{Card: 1, Name: "A", Gates: []string{"1", "2", "3"}, Judge: "Olli: Fernbucket", Phone: "0555 010"},
			{Card: 2, Gates: []string{"13", "14", "15", "16", "17", "18", "19", "20"}},
			{Card: 9, Name: "no", Gates: []string{"12", "12a", "13"}, Phone: "07"},
		}
		require.NoError(t, f.SavePlaces(1, "Blue", places))
		wantPlaces(t, f, 1, "Blue", places)
		got := raceText(t, f)
		assert.NotContains(t, strings.ReplaceAll(got, "\r\n", ""), "\r")
		assert.Equal(t, eol == "\r\n", strings.Contains(got, "\r\n"))
		plain := strings.ReplaceAll(got, "\r\n", "\n")
		before, rest, ok := strings.Cut(plain, "        # the judges, top down\n")
		require.True(t, ok)
		wantBefore, _, _ := strings.Cut(text, "        # the judges, top down\n")
		assert.Equal(t, wantBefore, before)
		_, after, ok := strings.Cut(rest, "\n\n    # lists\n")
		require.True(t, ok, rest)
		_, wantAfter, _ := strings.Cut(text, "\n\n    # lists\n")
		assert.Equal(t, wantAfter, after)
		for _, comment := range []string{"# set at 8:15", "# start", "# old fence", "# to the finish"} {
			assert.Equal(t, 1, strings.Count(plain, comment), "%s in\n%s", comment, plain)
		}
	}
}

func TestSavePlaces_IntoTheStarter_KeepsEveryComment(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "race")
	_, err := WriteStarter(dir, StarterOptions{Date: "2027-01-23"})
	require.NoError(t, err)
	f, err := Open(dir)
	require.NoError(t, err)
	before := raceText(t, f)
	places := []sheetmodel.Place{{Card: 3, Gates: []string{"1", "2", "3"}, Judge: "Petra Mossladle"}, {Card: 4, Gates: []string{"4"}}}
	require.NoError(t, f.SaveGates(1, "Blue", []string{"1", "2", "3", "3a", "4"}))
	require.NoError(t, f.SavePlaces(1, "Blue", places))
	require.NoError(t, f.SaveList(1, DidNotStart, sheetmodel.BibList{Given: sheetmodel.ListGiven, Bibs: []sheetmodel.Bib{{Group: "girls", Number: "2"}}}))
	require.NoError(t, f.SaveList(0, Forerunners, sheetmodel.BibList{Given: sheetmodel.ListGiven, Bibs: []sheetmodel.Bib{{Number: "V1"}}}))
	wantPlaces(t, f, 1, "Blue", places)
	after := raceText(t, f)
	assert.Equal(t, comments(before), comments(after))
	assert.Equal(t, strings.Count(before, "\n\n"), strings.Count(after, "\n\n"), "blank lines")
	assert.Contains(t, after, "gates: 1-3, 3a, 4")

	// And away again: what is left differs in nothing but the gates.
	require.NoError(t, f.SavePlaces(1, "Blue", nil))
	require.NoError(t, f.SaveList(1, DidNotStart, sheetmodel.BibList{Given: sheetmodel.ListUnknown}))
	require.NoError(t, f.SaveList(0, Forerunners, sheetmodel.BibList{Given: sheetmodel.ListUnknown}))
	require.NoError(t, f.SaveGates(1, "Blue", nil))
	assert.Equal(t, squeeze(before), squeeze(raceText(t, f)))
}

// comments are the texts behind the signs # of a file, in order.
func comments(text string) []string {
	var all []string
	for line := range strings.Lines(text) {
		if _, c, ok := strings.Cut(line, "#"); ok {
			all = append(all, strings.TrimSpace(c))
		}
	}
	return all
}

// squeeze makes runs of spaces one: the encoder sets one space before a comment.
func squeeze(text string) string {
	var b strings.Builder
	for line := range strings.Lines(text) {
		b.WriteString(strings.Join(strings.Fields(line), " ") + "\n")
	}
	return b.String()
}

// Wherever the file has its places, or hasn't yet, saving them reads back the same.
func TestSavePlaces_AnyShapeOfFile_ReadsBack(t *testing.T) {
	head, _, _ := strings.Cut(goodRace, "runs:")
	shapes := map[string]string{
		"no runs":            head,
		"runs empty":         head + "runs:\n",
		"other run only":     head + "runs:\n  - run: 2\n    re_runs: none\n",
		"no courses":         head + "runs:\n  - run: 1\n    re_runs: none\n",
		"courses not known":  head + "runs:\n  - run: 1\n    courses: not known\n",
		"no gates":           head + "runs:\n  - run: 1\n    courses:\n      - course: Blue\n",
		"dashes not indent":  head + "runs:\n- run: 1\n  courses:\n  - course: Blue\n    places:\n    - card: 1\n      gates: 1\n    - card: 2\n  re_runs: none\n",
		"places first":       head + "runs:\n  - courses:\n      - places:\n          - card: 1\n        course: Blue\n    run: 1\n",
		"braces":             head + "runs:\n  - {run: 1, courses: [{course: Blue, gates: 1-9, places: [{card: 1}]}]}\n",
		"flow list of lines": head + "runs:\n  - run: 1\n    courses:\n      - course: Blue\n        places: [\n          {card: 1},  # one\n          {card: 2}\n        ]\n    re_runs: none\n",
		"cards together":     head + "runs:\n  - run: 1\n    courses:\n      - course: Blue\n        places:\n          - {cards: [1, 2], judge: Runa, gates: 1-3}  # two cards\n",
		"no last line end":   head + "runs:\n  - run: 1\n    courses:\n      - course: Blue\n        gates: 1-9",
		"comments at the end": head + "runs:\n  - run: 1\n    courses:\n      - course: Blue\n        gates: 1-9\n        places: not known # yet\n" +
			"        # - {card: 1}\n    # the end\n",
	}
	places := []sheetmodel.Place{
		{Card: 1, Judge: "Runa", Gates: []string{"1", "2", "3"}},
		{Card: 2, Judge: "Runa", Gates: []string{"1", "2", "3"}},
		{Card: 70, Name: "C", Phone: "+43 555 \"x\" #1"},
	}
	for name, text := range shapes {
		t.Run(name, func(t *testing.T) {
			f := onDisk(t, text)
			was := comments(text)
			require.NoError(t, f.SavePlaces(1, "Blue", places))
			wantPlaces(t, f, 1, "Blue", places)
			after := strings.ReplaceAll(raceText(t, f), "\"x\" #1", "")
			if name != "flow list of lines" { // the encoder joins such a list to one line
				assert.Equal(t, was, comments(after), after)
			}
			require.NoError(t, f.SavePlaces(1, "Blue", places[2:]))
			wantPlaces(t, f, 1, "Blue", places[2:])
			require.NoError(t, f.SaveGates(1, "Blue", []string{"1", "2", "2a", "3"}))
			require.NoError(t, f.SavePlaces(1, "Blue", nil))
			wantPlaces(t, f, 1, "Blue", nil)
		})
	}
}

func TestSaveGates_AnExtraGate_GrowsTheRangesAroundIt(t *testing.T) {
	f := onDisk(t, strings.Replace(goodRace, "gates: 1-12, 12a, 13-20", "gates: 1-20", 1))
	assert.Len(t, f.Race().Runs[0].Courses[0].Places[0].Gates, 13)
	require.NoError(t, f.SaveGates(1, "Blue", strings.Split("1-12,12a,13-20", ",")))
	assert.Len(t, f.Race().Runs[0].Courses[0].Places[0].Gates, 14)

	// Gates that places stand on can't vanish under them.
	before := raceText(t, f)
	err := f.SaveGates(1, "Blue", []string{"1-10"})
	require.ErrorContains(t, err, "run 1, Blue, place 1: gate 13 is not on this course (1-10); correct it, or add it to the course's gates")
	assert.Equal(t, before, raceText(t, f))
}

func TestSaveList_BibsGetTheirGroup_AndKeepTheirComments(t *testing.T) {
	text := strings.Replace(goodRace, "did_not_start: [1, boys 07]", "did_not_start:\n      - 1   # fell ill\n      - boys 07   # no skis", 1)
	f := onDisk(t, text)
	require.NoError(t, f.SaveList(1, DidNotStart, sheetmodel.BibList{Given: sheetmodel.ListGiven, Bibs: []sheetmodel.Bib{{Group: "boys", Number: "07"}, {Number: "8"}}}))
	assert.Equal(t, []sheetmodel.Bib{{Group: "boys", Number: "07"}, {Group: "boys", Number: "8"}}, f.Race().Runs[0].DidNotStart.Bibs)
	after := raceText(t, f)
	assert.Contains(t, after, "- boys 07 # no skis\n      - 8\n")

	require.NoError(t, f.SaveList(2, Reruns, sheetmodel.BibList{Given: sheetmodel.ListGiven}))
	assert.Equal(t, sheetmodel.ListNone, f.Race().Runs[1].Reruns.Given, "a given list of nobody is none")
	err := f.SaveList(1, Reruns, sheetmodel.BibList{Given: sheetmodel.ListGiven, Bibs: []sheetmodel.Bib{{Number: "2"}}})
	require.ErrorContains(t, err, "bib 2 is worn by 2 racers; write girls 2 or boys 2")
}

func TestSave_WhatIsNotThere_IsRefused(t *testing.T) {
	f := onDisk(t, goodRace)
	require.ErrorIs(t, f.SavePlaces(3, "Blue", nil), ErrNoSuchPart)
	require.ErrorIs(t, f.SaveGates(1, "Green", nil), ErrNoSuchPart)
	require.ErrorIs(t, f.SaveList(1, Forerunners, sheetmodel.BibList{}), ErrNoSuchPart)
	require.ErrorContains(t, f.SavePlaces(1, "Blue", []sheetmodel.Place{{Card: 1, Gates: []string{"99"}}}), "place 1: gate 99 is not on this course")
	require.ErrorContains(t, f.SavePlaces(1, "Blue", []sheetmodel.Place{{Card: 1}, {Card: 1}}), "card 1 already belongs to the place on line")
	require.ErrorContains(t, f.SavePlaces(1, "Blue", []sheetmodel.Place{{Card: 0}}), `card "0" is not a card number`)
	assert.Equal(t, goodRace, raceText(t, f))
}

// What a person changed in an editor meanwhile is kept; mistakes made there stop the save.
func TestSave_TheFileChangedMeanwhile(t *testing.T) {
	f := onDisk(t, goodRace)
	path := filepath.Join(f.Dir, RaceFile)
	require.NoError(t, os.WriteFile(path, []byte(strings.Replace(goodRace, "Muffle Slalom", "Renamed", 1)), 0o600))
	require.NoError(t, f.SaveList(1, Reruns, sheetmodel.BibList{Given: sheetmodel.ListNone}))
	assert.Equal(t, "Renamed", f.Race().Name)

	broken := strings.Replace(goodRace, "format: 1", "format: 7", 1)
	require.NoError(t, os.WriteFile(path, []byte(broken), 0o600))
	require.ErrorContains(t, f.SaveList(1, Reruns, sheetmodel.BibList{Given: sheetmodel.ListNone}), "format 7 is newer")
	assert.Equal(t, broken, raceText(t, f))
	assert.Equal(t, "Renamed", f.Race().Name)
}

// Fail disk operation 1, 2, 3 ... until none fails: before each, the file is the old one, whole, or
// the new one, whole; nothing else is left lying about; after success the new one is there.
func TestSave_DiskFailsAtAnyOperation_OldOrNewIsThere(t *testing.T) {
	broken := errors.New("disk gone")
	for n := 1; ; n++ {
		require.Less(t, n, 20, "the failures never end")
		f := onDisk(t, goodRace)
		count, fired := 0, ""
		f.step = func(op string) error {
			if count++; count == n {
				fired = op
				return fmt.Errorf("%s: %w", op, broken)
			}
			return nil
		}
		err := f.SaveList(1, Reruns, sheetmodel.BibList{Given: sheetmodel.ListNone})
		after := raceText(t, f)
		entries, errDir := os.ReadDir(f.Dir)
		require.NoError(t, errDir)
		assert.Len(t, entries, 3, "after a failed %s", fired)
		again, errOpen := Open(f.Dir)
		require.NoError(t, errOpen)
		if fired == "" {
			require.NoError(t, err)
			assert.Equal(t, sheetmodel.ListNone, again.Race().Runs[0].Reruns.Given)
			assert.Equal(t, 8, n, "seven operations, each failed once")
			return
		}
		require.ErrorIs(t, err, broken)
		if fired != "sync folder" {
			assert.Equal(t, goodRace, after, "after a failed %s", fired)
		}
	}
}

func TestSave_ReadOnlyFolder_IsRefusedAndWhole(t *testing.T) {
	if os.Getuid() == 0 {
		t.Skip("root writes anywhere")
	}
	f := onDisk(t, goodRace)
	require.NoError(t, os.Chmod(f.Dir, 0o500))
	t.Cleanup(func() { _ = os.Chmod(f.Dir, 0o700) })
	require.Error(t, f.SaveList(1, Reruns, sheetmodel.BibList{Given: sheetmodel.ListNone}))
	assert.Equal(t, goodRace, raceText(t, f))
}

func TestSave_FollowsALinkAndKeepsTheMode(t *testing.T) {
	f := onDisk(t, goodRace)
	path := filepath.Join(f.Dir, RaceFile)
	target := filepath.Join(t.TempDir(), "kept.yaml")
	require.NoError(t, os.Rename(path, target))
	require.NoError(t, os.Chmod(target, 0o640))
	require.NoError(t, os.Symlink(target, path))
	require.NoError(t, f.SaveList(1, Reruns, sheetmodel.BibList{Given: sheetmodel.ListNone}))
	st, err := os.Lstat(path)
	require.NoError(t, err)
	assert.NotZero(t, st.Mode()&os.ModeSymlink)
	st, err = os.Stat(target)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o640), st.Mode().Perm())
}
