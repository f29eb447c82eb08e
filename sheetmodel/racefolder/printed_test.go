package racefolder_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// starterRace is a new race folder.
func starterRace(t *testing.T) string {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "race")
	_, err := racefolder.WriteStarter(dir, racefolder.StarterOptions{ID: "spring", Date: "2027-03-13"})
	require.NoError(t, err)
	return dir
}

// printedRace is a starter race whose cards are printed.
func printedRace(t *testing.T) string {
	t.Helper()
	dir := starterRace(t)
	f, err := racefolder.Open(dir)
	require.NoError(t, err)
	require.NoError(t, f.SavePrinted())
	return dir
}

// change replaces every old by new in the race's file.
func change(t *testing.T, dir, file string, oldNew ...string) {
	t.Helper()
	path := filepath.Join(dir, file)
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, []byte(strings.NewReplacer(oldNew...).Replace(string(text))), 0o644))
}

func TestOpen_CoursesNoLongerAsPrinted_IsRefusedWithTheOrder(t *testing.T) {
	for name, oldNew := range map[string][]string{
		"swapped":         {"[Blue, Red]", "[Red, Blue]"},
		"renamed":         {"Blue", "Azure"},
		"other case":      {"Blue", "blue"},
		"removed":         {"[Blue, Red]", "[Blue]", "course: Red", "course: Blue"},
		"inserted before": {"[Blue, Red]", "[Green, Blue, Red]"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := printedRace(t)
			change(t, dir, racefolder.RaceFile, oldNew...)
			_, err := racefolder.Open(dir)
			require.Error(t, err)
			assert.Regexp(t, `race\.yaml:\d+: courses are \[.*\], but cards were printed for \[Blue, Red\]`, err.Error())
			assert.Contains(t, err.Error(), "begin with [Blue, Red] again, new courses go behind them")
		})
	}
}

func TestOpen_NewCourseBehindThePrinted_IsReadAndRemembered(t *testing.T) {
	dir := printedRace(t)
	change(t, dir, racefolder.RaceFile, "[Blue, Red]", "[Blue, Red, Green]")
	f, err := racefolder.Open(dir)
	require.NoError(t, err)
	require.NoError(t, f.SavePrinted())
	change(t, dir, racefolder.RaceFile, "[Blue, Red, Green]", "[Blue, Red]")
	_, err = racefolder.Open(dir)
	assert.ErrorContains(t, err, "cards were printed for [Blue, Red, Green]")
}

func TestOpen_PrintedGroupGone_IsRefused_NewOnesAreNot(t *testing.T) {
	dir := printedRace(t)
	change(t, dir, racefolder.RaceFile, "\ngroups:\n", "\ngroups:\n  - {name: guests, course: Red}\n")
	_, err := racefolder.Open(dir)
	require.NoError(t, err)
	change(t, dir, racefolder.RaceFile, "name: girls", "name: U12 girls")
	_, err = racefolder.Open(dir)
	require.Error(t, err)
	said := strings.Split(err.Error(), "\n")
	assert.Regexp(t, `race\.yaml:\d+: groups lack girls, which cards were printed with, to be ringed; write it back as it was`, said[0])
	require.Len(t, said, 2, "the start list's girls are no mistake of their own")
	assert.Contains(t, said[1], "may come from the same mistake")
}

func TestOpen_OtherIDThanPrinted_IsRefused(t *testing.T) {
	dir := printedRace(t)
	change(t, dir, racefolder.RaceFile, "id: spring", "id: autumn")
	_, err := racefolder.Open(dir)
	assert.ErrorContains(t, err, "id is autumn, but cards were printed with id spring")
}

func TestOpen_RecordOfPrintedCardsSpoilt_IsRefusedNotPassedOver(t *testing.T) {
	for name, text := range map[string]string{
		"empty": "", "cut short": "format: 1\nid: spring\n", "other": "courses: {a: b}\n", "newer": "format: 9\nid: spring\ncourses: [Blue]\n",
	} {
		t.Run(name, func(t *testing.T) {
			dir := printedRace(t)
			require.NoError(t, os.WriteFile(filepath.Join(dir, racefolder.PrintedFile), []byte(text), 0o644))
			_, err := racefolder.Open(dir)
			assert.ErrorContains(t, err, "printed.yaml: ")
		})
	}
}

func TestSavePrinted_Again_ChangesNothing(t *testing.T) {
	dir := printedRace(t)
	before, err := os.Stat(filepath.Join(dir, racefolder.PrintedFile))
	require.NoError(t, err)
	f, err := racefolder.Open(dir)
	require.NoError(t, err)
	require.NoError(t, f.SavePrinted())
	after, err := os.Stat(filepath.Join(dir, racefolder.PrintedFile))
	require.NoError(t, err)
	assert.True(t, os.SameFile(before, after))
	layouts, err := f.Layouts()
	require.NoError(t, err)
	assert.Empty(t, layouts, "the record is no layout")
}

func TestDrifted_SaysWhenPaperAndFilesDiffer(t *testing.T) {
	dir := printedRace(t)
	f, err := racefolder.Open(dir)
	require.NoError(t, err)
	assert.Empty(t, racefolder.Drifted(f.Race(), nil), "nothing printed yet")
	l, err := sheetmodel.GateCard().BindRace(f.Race(), "half-letter", false)
	require.NoError(t, err)
	assert.Empty(t, racefolder.Drifted(f.Race(), []*sheetmodel.Layout{l}))
	change(t, dir, racefolder.CodesFile, "word: fault,", "word: missed,")
	f, err = racefolder.Open(dir)
	require.NoError(t, err)
	assert.Contains(t, racefolder.Drifted(f.Race(), []*sheetmodel.Layout{l}), "print again")
	foreign := &sheetmodel.Layout{Format: 1, Name: "slip", Version: 1, Style: sheetmodel.FaultOnly, Sides: []sheetmodel.Side{{Name: sheetmodel.Front, W: 148, H: 210}}}
	assert.Contains(t, racefolder.Drifted(f.Race(), []*sheetmodel.Layout{foreign, l}), "print again")
	assert.Empty(t, racefolder.Drifted(f.Race(), []*sheetmodel.Layout{foreign}), "a card of another make was not printed here")
}

// Cards of the second course are printed with the numbers behind those of the first.
func TestOpen_SameCardNumberInTwoCoursesOfARun_IsRefused(t *testing.T) {
	dir := starterRace(t)
	change(t, dir, racefolder.RaceFile, "places: not known", "places: [{card: 1}]")
	_, err := racefolder.Open(dir)
	require.Error(t, err)
	said := strings.Split(err.Error(), "\n")
	require.Len(t, said, 2, "once for each run")
	for i, s := range said {
		assert.Regexp(t, `run `+string(rune('1'+i))+`, Red, place 1: card 1 already belongs to the place on line \d+; each card has one place, and numbers run on`, s)
	}
}

func TestOpen_SpareInThePlacingList_IsRefused(t *testing.T) {
	for text, want := range map[string]string{"201": "card 201 is a spare", "[3, 250]": "card 250 is a spare", "199-201": "card 199-201 is a spare"} {
		dir := printedRace(t)
		key := "card"
		if strings.ContainsAny(text, "[-") {
			key = "cards"
		}
		change(t, dir, racefolder.RaceFile, "places: not known\n        # Once", "places: [{"+key+": "+text+"}]\n        # Once")
		_, err := racefolder.Open(dir)
		require.ErrorContains(t, err, want)
		assert.Regexp(t, `race\.yaml:\d+: run 1, Blue, place 1: `, err.Error())
	}
}

// printedBlueAndRed is a race with cards 1 to 8 printed for Blue and 9 to 16 for Red, for run 1 only.
func printedBlueAndRed(t *testing.T) string {
	t.Helper()
	dir := starterRace(t)
	f, err := racefolder.Open(dir)
	require.NoError(t, err)
	require.NoError(t, f.SavePrinted(
		racefolder.PrintedCards{Run: 1, Course: "Blue", Cards: []int{1, 2, 3, 4, 5, 6, 7, 8}},
		racefolder.PrintedCards{Run: 1, Course: "Red", Cards: []int{9, 10, 11, 12, 13, 14, 15, 16}},
	))
	return dir
}

func misprinted(t *testing.T, dir string) []string {
	t.Helper()
	f, err := racefolder.Open(dir)
	require.NoError(t, err)
	return f.Misprinted()
}

// place writes the first places of run 1 that are not known yet, those of Blue.
func place(t *testing.T, dir, places string) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, racefolder.RaceFile))
	require.NoError(t, err)
	require.Contains(t, string(text), "places: not known")
	require.NoError(t, os.WriteFile(filepath.Join(dir, racefolder.RaceFile), []byte(strings.Replace(string(text), "places: not known", "places: "+places, 1)), 0o644))
}

func TestMisprinted_PlaceOfACardThatWasNeverPrinted_IsSaid(t *testing.T) {
	dir := printedBlueAndRed(t)
	assert.Empty(t, misprinted(t, dir))
	place(t, dir, "[{card: 1}, {card: 9}, {card: 99}]")
	assert.Equal(t, []string{
		"run 1, Blue: its places name card 9, which was printed for Red and is read as Red's; correct the number",
		"run 1, Blue: its places name card 99, which was not printed for this run; correct the number, or print it with gatefold cards",
	}, misprinted(t, dir))
}

func TestMisprinted_PrintedAgainForAnotherCourse_BothAreNamed(t *testing.T) {
	dir := printedBlueAndRed(t)
	f, err := racefolder.Open(dir)
	require.NoError(t, err)
	require.NoError(t, f.SavePrinted(racefolder.PrintedCards{Run: 1, Course: "Red", Cards: []int{7, 8, 9}}))
	assert.Equal(t, []string{"run 1: cards 7, 8 were printed for Blue and for Red; throw away those that are not used"}, misprinted(t, dir))
	place(t, dir, "[{card: 7}]")
	assert.Len(t, misprinted(t, dir), 1, "both are out, and Blue's may be the one that is used")
}

// A record that was begun without numbers says nothing of them, also after more cards are printed: what
// went out before is not known.
func TestMisprinted_RecordWithoutNumbers_SaysNothing(t *testing.T) {
	dir := printedRace(t)
	place(t, dir, "[{card: 99}]")
	assert.Empty(t, misprinted(t, dir))
	f, err := racefolder.Open(dir)
	require.NoError(t, err)
	require.NoError(t, f.SavePrinted(racefolder.PrintedCards{Run: 1, Course: "Blue", Cards: []int{1}}))
	assert.Empty(t, misprinted(t, dir))
	assert.Empty(t, misprinted(t, starterRace(t)), "nothing printed yet")
}
