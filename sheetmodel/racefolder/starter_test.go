package racefolder

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

func TestWriteStarter_OpensAsItIs(t *testing.T) {
	for _, opts := range []StarterOptions{
		{Date: "2027-01-23"},
		{Date: "2027-01-23", Name: "no", ID: "007", Zone: "America/Denver"},
		{Date: "2027-01-23", Name: "Spring: \"Cup\" # 3 {{.ID}} 'x'\n\ttwo"},
		{Date: "2027-01-23", Name: "- [a]"},
	} {
		dir := filepath.Join(t.TempDir(), "Spring Race 2027!")
		wrote, err := WriteStarter(dir, opts)
		require.NoError(t, err)
		assert.Len(t, wrote, 3)
		f, err := Open(dir)
		require.NoError(t, err)
		assert.Empty(t, f.Notes())
		r := f.Race()
		assert.Equal(t, oneLine(orDefault(opts.Name, "New race")), r.Name)
		assert.Equal(t, orDefault(opts.ID, "spring-race-2027"), r.ID)
		assert.Equal(t, orDefault(opts.Zone, "UTC"), r.Zone)
		assert.NotEmpty(t, r.Starters)
		assert.Equal(t, sheetmodel.BuiltinCodeBook(), r.Codes, "the starter's codes are those of cards printed without a race")
		assert.Equal(t, sheetmodel.ListUnknown, r.Runs[0].DidNotStart.Given)
		assert.Empty(t, r.Runs[0].Courses[0].Places)
	}
}

// The defaults in brackets, in the comments of the starter, are the ones that hold.
func TestWriteStarter_ItsCommentsNameTheTrueDefaults(t *testing.T) {
	text, err := starterFiles.ReadFile("starter/" + RaceFile)
	require.NoError(t, err)
	d := DefaultRules()
	for key, want := range map[string]string{
		"lost_ski": string(d.LostSki), "run2_after_dsq": "no", "fault_then_dnf": d.FaultThenDNF,
		"protest_minutes": "15", "second_writing": "no",
	} {
		assert.Regexp(t, `(?m)^  `+key+`: .*#.*\[`+want+`\]$`, string(text))
	}
	assert.Equal(t, sheetmodel.Run2No, d.Run2AfterDSQ)
	assert.False(t, d.SecondWriting)
	assert.False(t, d.DrawingDemanded)
	assert.Equal(t, 15, d.ProtestMinutes)
}

func TestWriteStarter_NeverOverwrites(t *testing.T) {
	for _, name := range []string{RaceFile, StartListFile, CodesFile} {
		dir := t.TempDir()
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte("mine"), 0o600))
		_, err := WriteStarter(dir, StarterOptions{Date: "2027-01-23"})
		require.ErrorContains(t, err, name+" is already there; nothing was written")
		entries, err := os.ReadDir(dir)
		require.NoError(t, err)
		assert.Len(t, entries, 1)
		kept, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, "mine", string(kept))
	}
	// A link to nowhere is somebody's too.
	dir := t.TempDir()
	require.NoError(t, os.Symlink("nowhere", filepath.Join(dir, CodesFile)))
	_, err := WriteStarter(dir, StarterOptions{Date: "2027-01-23"})
	require.ErrorContains(t, err, "codes.yaml is already there")
}

func TestWriteStarter_WrongOptions_WriteNothing(t *testing.T) {
	for _, opts := range []StarterOptions{{}, {Date: "tomorrow"}, {Date: "2027-01-23", Zone: "Local"}, {Date: "2027-01-23", ID: "x y"}} {
		dir := filepath.Join(t.TempDir(), "race")
		_, err := WriteStarter(dir, opts)
		var wrong OptionError
		require.ErrorAs(t, err, &wrong)
		assert.NoDirExists(t, dir)
	}
}

func TestSlug(t *testing.T) {
	for in, want := range map[string]string{"Spring Race": "spring-race", "..": "", "Äöü": "", "a--b": "a-b", "X": "", "2027": "2027"} {
		assert.Equal(t, want, slug(in), in)
	}
}

// Cards carry the id only: two races with one id would take each other's cards.
func TestWriteStarter_NameThatGivesNoID_TakesTheDate(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "Ä")
	_, err := WriteStarter(dir, StarterOptions{Date: "2027-03-13"})
	require.NoError(t, err)
	f, err := Open(dir)
	require.NoError(t, err)
	assert.Equal(t, "race-2027-03-13", f.Race().ID)
}
