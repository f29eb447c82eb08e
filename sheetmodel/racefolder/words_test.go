package racefolder_test

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel/racefolder"
)

func TestOpen_OneMistakeAtTheTop_IsNotBuriedUnderWhatFollows(t *testing.T) {
	for name, c := range map[string]struct {
		oldNew []string
		want   []string
	}{
		"misspelt courses": {[]string{"courses: [Blue", "coarses: [Blue"}, []string{
			`race.yaml:4: courses is missing; `,
			`race.yaml:22: "coarses" is not a key here; did you mean courses?`,
			`race.yaml: and 6 more that may come from the same mistake; mend the others first, then look again`,
			`startlist.csv: and 2 more that may come from the same mistake; mend the others first, then look again`,
		}},
		"misspelt groups": {[]string{"\ngroups:", "\ngrups:"}, []string{
			`race.yaml:26: "grups" is not a key here; did you mean groups?`,
			`startlist.csv: and 2 more that may come from the same mistake; mend the others first, then look again`,
		}},
	} {
		t.Run(name, func(t *testing.T) {
			dir := starterRace(t)
			change(t, dir, racefolder.RaceFile, c.oldNew...)
			_, err := racefolder.Open(dir)
			require.Error(t, err)
			got := strings.Split(err.Error(), "\n")
			require.Len(t, got, len(c.want), err.Error())
			for i, want := range c.want {
				assert.Contains(t, got[i], want)
			}
		})
	}
}

func TestOpen_SlipOfIndentation_IsNamedWhereItStands(t *testing.T) {
	for name, oldNew := range map[string][]string{
		"one blank less": {"  - name: boys", " - name: boys"},
		"two blanks":     {"\ndiscipline:", "\n  discipline:"},
		"open bracket":   {"[Blue, Red]", "[Blue, Red"},
		"open quote":     {"name: girls", `name: "girls`},
		"no colon":       {"start_list: startlist.csv", "start_list startlist.csv"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := starterRace(t)
			text, err := os.ReadFile(filepath.Join(dir, racefolder.RaceFile))
			require.NoError(t, err)
			before, _, found := strings.Cut(string(text), oldNew[0])
			require.True(t, found)
			line := 1 + strings.Count(before+oldNew[0][:strings.LastIndex(oldNew[0], "\n")+1], "\n")
			change(t, dir, racefolder.RaceFile, oldNew...)
			_, err = racefolder.Open(dir)
			require.Error(t, err)
			assert.Regexp(t, `race\.yaml:`+strconv.Itoa(line)+`: can't be read as YAML near this line`, err.Error())
		})
	}
}

func TestOpen_FileInsteadOfItsFolder_SaysTheFolder(t *testing.T) {
	dir := starterRace(t)
	_, err := racefolder.Open(filepath.Join(dir, racefolder.RaceFile))
	require.ErrorContains(t, err, "this is a file; name its folder instead: "+dir)
	_, err = racefolder.Open(filepath.Join(dir, "no", racefolder.RaceFile))
	require.ErrorContains(t, err, "there is none; name the folder that holds race.yaml")
}

func TestShellWord(t *testing.T) {
	for path, want := range map[string]string{
		"spring-race": "spring-race", "/tmp/a_b.c": "/tmp/a_b.c", "R 2/race": "'R 2/race'", "": "''",
		"it's": `'it'\''s'`, "a$b": "'a$b'", "Gämse": "'Gämse'", "a\nb": "'a\nb'", "~x": "'~x'",
	} {
		assert.Equal(t, want, racefolder.ShellWord(path), "%q", path)
	}
}
