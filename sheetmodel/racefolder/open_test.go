package racefolder

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// goodRace is a small race that opens; the tables below break one line of it at a time.
const goodRace = `format: 1
id: muffle-1
name: Muffle Slalom
date: 2027-01-23
time_zone: Europe/Vienna
discipline: GS
courses: [Blue, Red]
groups:
  - name: girls
    course: Blue
  - name: boys
    course: Red
runs:
  - run: 1
    courses:
      - course: Blue
        gates: 1-12, 12a, 13-20
        places:
          - {card: 1, name: A, gates: 1-13}
          - card: 2
            gates: 13-20
    did_not_start: [1, boys 07]
    did_not_finish: none
  - run: 2
    courses:
      - course: Red
        gates: not known
`

const goodList = "bib,name,club,group\n1,Ada Fernbutton,Muffle,girls\n2,Bea Mosstwig,Muffle,girls\n07,Carlo Snowdrift,Muffle,boys\n8,Dario Hazelpuddle,Muffle,boys\n2,Emil Larchkettle,Muffle,boys\n"

func fsWith(race, list string) fstest.MapFS {
	codes, err := starterFiles.ReadFile("starter/" + CodesFile)
	if err != nil {
		panic(err)
	}
	return fstest.MapFS{
		RaceFile: {Data: []byte(race)}, StartListFile: {Data: []byte(list)}, CodesFile: {Data: codes},
	}
}

func TestOpen_AGoodRace_IsReadWhole(t *testing.T) {
	r, notes, err := OpenFS(fsWith(goodRace, goodList), "demo")
	require.NoError(t, err)
	assert.Empty(t, notes)
	assert.Equal(t, []string{"Blue", "Red"}, r.Courses)
	require.Len(t, r.Runs, 2)
	blue := r.Runs[0].Course("Blue")
	assert.Len(t, blue.Gates, 21)
	assert.Equal(t, "12a", blue.Gates[12])
	require.Len(t, blue.Places, 2)
	assert.Contains(t, blue.Places[0].Gates, "12a", "a range holds the extra gate that stands inside it")
	assert.Len(t, blue.Places[0].Gates, 14)
	assert.Empty(t, r.Runs[0].Course("Red").Gates)
	assert.Equal(t, sheetmodel.BibList{Given: sheetmodel.ListGiven, Bibs: []sheetmodel.Bib{{Group: "girls", Number: "1"}, {Group: "boys", Number: "07"}}}, r.Runs[0].DidNotStart)
	assert.Equal(t, sheetmodel.ListNone, r.Runs[0].DidNotEnd.Given)
	assert.Equal(t, sheetmodel.ListUnknown, r.Runs[0].Reruns.Given)
	assert.Equal(t, sheetmodel.ListUnknown, r.Runs[1].DidNotStart.Given)
	assert.Equal(t, sheetmodel.ListUnknown, r.Forerunners.Given)
	require.Len(t, r.Starters, 5)
	assert.Equal(t, sheetmodel.Starter{Bib: sheetmodel.Bib{Group: "boys", Number: "07"}, Name: "Carlo Snowdrift", Club: "Muffle", Course: "Red", Line: 4}, r.Starters[2])
	assert.Len(t, r.StartersWith("2"), 2, "the same number in two groups is two racers")
	assert.Equal(t, DefaultRules(), r.Rules)
}

// A race starts with none of gates, places and lists.
func TestOpen_NothingKnownYet_IsARace(t *testing.T) {
	text, _, _ := strings.Cut(goodRace, "runs:")
	r, _, err := OpenFS(fsWith(text, "bib,group\n"), "demo")
	require.NoError(t, err)
	require.Len(t, r.Runs, 2)
	for _, run := range r.Runs {
		require.Len(t, run.Courses, 2)
		for _, c := range run.Courses {
			assert.Empty(t, c.Gates)
			assert.Empty(t, c.Places)
		}
		assert.Equal(t, sheetmodel.ListUnknown, run.DidNotStart.Given)
	}
}

// Each case replaces one text of the good race and wants exactly the sentences beside it.
func TestOpen_BadRaceFile_SaysWhereWhatAndWhatToDo(t *testing.T) {
	cases := []struct {
		name, old, with string
		want            []string
	}{
		{"newer format", "format: 1", "format: 2", []string{"demo/race.yaml:1: format 2 is newer than this program, which reads up to 1 and could misread it; use a newer gatefold"}},
		{"newer format hides the rest", "format: 1\nid:", "format: 9\nidd:", []string{"demo/race.yaml:1: format 9 is newer than this program, which reads up to 1 and could misread it; use a newer gatefold"}},
		{"no format", "format: 1\n", "", []string{"demo/race.yaml:1: format is missing; write format: 1 in the first line"}},
		{"format is a word", "format: 1", "format: one", []string{`demo/race.yaml:1: format "one" is no format number; write format: 1`}},
		{"unknown key", "name: Muffle", "nqme: Muffle", []string{
			"demo/race.yaml:1: name is missing; write name: the name of the race",
			`demo/race.yaml:3: "nqme" is not a key here; did you mean name?`,
		}},
		{"key twice", "discipline: GS", "discipline: GS\nname: Again", []string{"demo/race.yaml:7: name is written twice, first on line 3; keep one"}},
		{"date", "2027-01-23", "23.1.2027", []string{`demo/race.yaml:4: date "23.1.2027" is not a day of the calendar; write it as year-month-day, 2027-01-23`}},
		{"no such day", "2027-01-23", "2027-02-29", []string{`demo/race.yaml:4: date "2027-02-29" is not a day of the calendar; write it as year-month-day, 2027-01-23`}},
		{"zone", "Europe/Vienna", "CEST", []string{`demo/race.yaml:5: time_zone "CEST" is not in the IANA list; write continent and city, such as Europe/Vienna or America/Denver`}},
		{"local zone", "Europe/Vienna", "Local", []string{`demo/race.yaml:5: time_zone "Local" is not in the IANA list; write continent and city, such as Europe/Vienna or America/Denver`}},
		{"clock without sign", "discipline:", "clock_offset: 63s\ndiscipline:", []string{"demo/race.yaml:6: clock_offset 63s has no sign; write +63s when the official clock is ahead of the laptop, -63s when it is behind"}},
		{"clock of days", "discipline:", "clock_offset: +49h\ndiscipline:", []string{"demo/race.yaml:6: clock_offset +49h is more than a day; set the laptop's date and write what is left"}},
		{"discipline", "discipline: GS", "discipline: jumping", []string{`demo/race.yaml:6: discipline "jumping" is not known; write one of: AC, DH, GS, KO, PGS, PSL, SG, SL`}},
		{"course of a group", "course: Red\nruns", "course: Rde\nruns", []string{
			`demo/race.yaml:12: group 2: course "Rde" is not under courses; did you mean Red?`,
			"demo/startlist.csv:4: bib boys 07 has no course; add a column course, or write in race.yaml which course group boys skis",
		}},
		{"group twice", "- name: boys", "- name: Girls", []string{
			"demo/race.yaml:11: group 2: Girls is written twice; give each group its own name",
			`demo/race.yaml:22: run 1: did_not_start: "boys 07" is not a bib; write it as 22, or with its group as girls 22`,
			`demo/startlist.csv:4: group "boys" is not in race.yaml; add it there under groups, or correct it here`,
		}},
		{"gates backwards", "gates: 1-12, 12a, 13-20", "gates: 20-1", []string{"demo/race.yaml:17: run 1, Blue: gates 20-1 run backwards; write the smaller gate first"}},
		{"place backwards", "gates: 13-20", "gates: 20-13", []string{"demo/race.yaml:21: run 1, Blue, place 2: gates 20-13 run backwards; write the smaller gate first"}},
		{"place off the course", "gates: 13-20", "gates: 13-21", []string{"demo/race.yaml:21: run 1, Blue, place 2: gate 21 is not on this course (1-12, 12a, 13-20); correct it, or add it to the course's gates"}},
		{"gate twice", "12a, 13-20", "12a, 12-20", []string{"demo/race.yaml:17: run 1, Blue: gate 12 is written twice; write each gate once, from the start down"}},
		{"no gate", "gates: 13-20", "gates: all", []string{`demo/race.yaml:21: run 1, Blue, place 2: "all" is not a gate; write numbers and ranges, as in 1-12, 12a, 13-34`}},
		{"gate nought", "gates: 1-12, 12a, 13-20", "gates: 0-20", []string{"demo/race.yaml:17: run 1, Blue: gates 0-20: gates are counted from 1; correct it"}},
		{"card twice", "- card: 2", "- card: 1", []string{"demo/race.yaml:20: run 1, Blue, place 2: card 1 already belongs to the place on line 19; each card has one place, and numbers run on over the courses of a run"}},
		{"no card", "- card: 2\n            gates", "- gates", []string{"demo/race.yaml:20: run 1, Blue, place 2: card is missing; write the number printed on the judge's card, card: 4"}},
		{"card is a word", "- card: 2", "- card: B", []string{`demo/race.yaml:20: run 1, Blue, place 2: card "B" is not a card number; write the number printed on the card, as in 4 or 4, 5`}},
		{"key of a place", "{card: 1, name: A, gates", "{card: 1, nam: A, gates", []string{`demo/race.yaml:19: run 1, Blue, place 1: "nam" is not a key here; did you mean name?`}},
		{"run 3", "- run: 2", "- run: 3", []string{`demo/race.yaml:24: runs, entry 2: run "3" is neither 1 nor 2; correct it`}},
		{"run twice", "- run: 2", "- run: 1", []string{"demo/race.yaml:24: runs, entry 2: run 1 is written twice, first on line 14; keep one"}},
		{"course of a run", "- course: Blue\n        gates", "- course: Bleu\n        gates", []string{`demo/race.yaml:16: run 1, courses, entry 1: course "Bleu" is not under courses; did you mean Blue?`}},
		{"list with a stranger", "[1, boys 07]", "[1, 99]", []string{"demo/race.yaml:22: run 1: did_not_start: bib 99 is not in the start list; correct it, or add the racer there"}},
		{"list with two meanings", "[1, boys 07]", "[2]", []string{"demo/race.yaml:22: run 1: did_not_start: bib 2 is worn by 2 racers; write girls 2 or boys 2"}},
		{"list with a bib twice", "[1, boys 07]", "[1, girls 1]", []string{"demo/race.yaml:22: run 1: did_not_start: bib girls 1 is written twice; keep one"}},
		{"empty list", "[1, boys 07]", "[]", []string{"demo/race.yaml:22: run 1: did_not_start is an empty list, which could mean two things; write none if there were none, or not known"}},
		{"list file missing", "[1, boys 07]", "dns.csv", []string{"demo/race.yaml:22: run 1: did_not_start: dns.csv: no such file in the race folder"}},
		{"list file outside", "[1, boys 07]", "../dns.csv", []string{"demo/race.yaml:22: run 1: did_not_start: ../dns.csv: not a name inside the race folder"}},
		{"forerunner with a racer's bib", "groups:", "forerunners: [7]\ngroups:", []string{"demo/race.yaml:8: forerunners: bib 7 is also a racer's, on line 4 of the start list; give forerunners bibs of their own, such as V1"}},
		{"start list missing", "groups:", "start_list: starters.csv\ngroups:", []string{
			"demo/race.yaml:8: start list starters.csv: no such file in the race folder; write it with a header line such as bib,name,club,group",
		}},
		{"code book missing", "groups:", "code_book: book.yaml\ngroups:", []string{"demo/race.yaml:8: code book book.yaml: no such file in the race folder; write code_book: and the name of a file beside race.yaml"}},
		{"tab", "    course: Red\nruns", "\tcourse: Red\nruns", []string{"demo/race.yaml:12: the line is indented with a tab; use spaces"}},
		{"alias", "name: Muffle Slalom", "name: &n Muffle\nid2: *n", []string{`demo/race.yaml:4: "id2" is not a key here; did you mean id?`}},
		{"alias as a value", "id: muffle-1\nname: Muffle Slalom", "id: &n muffle-1\nname: *n", []string{
			"demo/race.yaml:3: name uses a YAML alias (*n); write the value out",
			"demo/race.yaml:3: name is missing; write name: the name of the race",
		}},
		{"a list where a word belongs", "name: Muffle Slalom", "name: [Muffle]", []string{"demo/race.yaml:3: name must be one value, found a list; write it on one line"}},
		{"second document", "runs:\n", "---\nruns:\n", []string{"demo/race.yaml:13: a second document begins here; keep everything above the line ---"}},
		{"rule without basis", "groups:", "rules:\n  lost_ski: out-from 2\ngroups:", []string{"demo/race.yaml:9: rules: lost_ski is set without its basis; add lost_ski_basis: with the article or local rule it rests on"}},
		{"lost ski from where", "groups:", "rules: {lost_ski: out-from, lost_ski_basis: x}\ngroups:", []string{"demo/race.yaml:8: rules: out-from needs the number of the lost ski, 2 to 9; write lost_ski: out-from 2"}},
		{"lost ski word", "groups:", "rules: {lost_ski: sometimes, lost_ski_basis: x}\ngroups:", []string{`demo/race.yaml:8: rules: lost_ski "sometimes" is not known; write never-counts, out-at-once, or out-from 2 (out from the second)`}},
		{"neither yes nor no", "groups:", "rules: {drawing_demanded: perhaps, drawing_basis: x}\ngroups:", []string{`demo/race.yaml:8: rules: drawing_demanded "perhaps" is neither yes nor no; write yes or no`}},
		{"minutes", "groups:", "rules: {protest_minutes: 0:15, protest_basis: x}\ngroups:", []string{`demo/race.yaml:8: rules: protest_minutes "0:15" is not a number of minutes; write 15`}},
		{"not a mapping", goodRace, "just a sentence\n", []string{`demo/race.yaml:1: expected lines of the form key: value, found "just a sentence"; begin with format: 1`}},
		{"empty", goodRace, "# nothing\n", []string{"demo/race.yaml: the file is empty; make a commented one with: gatefold start FOLDER"}},
		{"not UTF-8", "Muffle Slalom", "M\xfcffle", []string{"demo/race.yaml:3: this line is not UTF-8 text; save the file as UTF-8"}},
		{"several at once", "discipline: GS\ncourses: [Blue, Red]", "discipline: XX\ncourses: [Blue, blue, Red]", []string{
			`demo/race.yaml:6: discipline "XX" is not known; write one of: AC, DH, GS, KO, PGS, PSL, SG, SL`,
			"demo/race.yaml:7: course blue is written twice; give each course its own name",
		}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			require.Contains(t, goodRace, c.old)
			_, _, err := OpenFS(fsWith(strings.Replace(goodRace, c.old, c.with, 1), goodList), "demo")
			require.Error(t, err)
			assert.Equal(t, strings.Join(c.want, "\n"), err.Error())
		})
	}
}

func TestOpen_BrokenYAML_NamesALineAndNoInternals(t *testing.T) {
	_, _, err := OpenFS(fsWith(strings.Replace(goodRace, "[Blue, Red]", "[Blue, Red", 1), goodList), "demo")
	require.Error(t, err)
	assert.Regexp(t, `^demo/race\.yaml:\d+: can't be read as YAML near this line \(.*\); check indentation, colons, brackets and quotes$`, err.Error())
}

// What YAML would turn into something else stays as written.
func TestOpen_YAMLQuirks_StayText(t *testing.T) {
	text := strings.NewReplacer(
		"Muffle Slalom", "no", "[Blue, Red]", "[on, 07]", "course: Blue", "course: on", "course: Red", "course: 07",
		"name: A,", "name: 12:30,",
	).Replace(goodRace)
	r, _, err := OpenFS(fsWith(text, goodList), "demo")
	require.NoError(t, err)
	assert.Equal(t, "no", r.Name)
	assert.Equal(t, []string{"on", "07"}, r.Courses)
	assert.Equal(t, "12:30", r.Runs[0].Courses[0].Places[0].Name)
}

func TestOpen_ListsFromFiles(t *testing.T) {
	files := fsWith(strings.Replace(goodRace, "[1, boys 07]", "dns.csv", 1), goodList)
	files["dns.csv"] = &fstest.MapFile{Data: []byte("Nr;Klasse\r\n7;boys\r\n1;\r\n")}
	r, _, err := OpenFS(files, "demo")
	require.NoError(t, err)
	assert.Equal(t, []sheetmodel.Bib{{Group: "boys", Number: "07"}, {Group: "girls", Number: "1"}}, r.Runs[0].DidNotStart.Bibs)

	files["dns.csv"] = &fstest.MapFile{Data: []byte("bib\n")}
	r, _, err = OpenFS(files, "demo")
	require.NoError(t, err)
	assert.Equal(t, sheetmodel.ListNone, r.Runs[0].DidNotStart.Given, "a header with nothing below it was looked at, and is empty")

	files["dns.csv"] = &fstest.MapFile{Data: []byte("bib\n1\n99\n1\n")}
	_, _, err = OpenFS(files, "demo")
	require.Error(t, err)
	assert.Equal(t, "demo/dns.csv:3: bib 99 is not in the start list; correct it, or add the racer there\ndemo/dns.csv:4: bib girls 1 is also on line 2; keep one", err.Error())
}

func TestOpen_CodeBook_InlineAndItsMistakes(t *testing.T) {
	inline := "code_book:\n  name: Ours\n  codes:\n    - {code: F, word: fault, meaning: missed, effect: propose, gate: yes, tick: on, basis: x}\ngroups:"
	r, _, err := OpenFS(fsWith(strings.Replace(goodRace, "groups:", inline, 1), goodList), "demo")
	require.NoError(t, err)
	assert.Equal(t, []sheetmodel.Code{{Code: "F", Word: "fault", Meaning: "missed", Effect: sheetmodel.EffectPropose, Gate: true, Tick: true, Basis: "x"}}, r.Codes.Codes)

	files := fsWith(goodRace, goodList)
	files[CodesFile] = &fstest.MapFile{Data: []byte("name: Ours\ncodes:\n  - {code: F, meaning: a, effect: proposes}\n  - {code: F, meaning: b, effect: inform}\n  - {code: LONG, meaning: c, effect: inform, colour: red}\n")}
	_, _, err = OpenFS(files, "demo")
	require.Error(t, err)
	assert.Equal(t, strings.Join([]string{
		`demo/codes.yaml:3: code 1: effect "proposes" is not known; did you mean propose?`,
		"demo/codes.yaml:4: code 2: code F is written twice, first on line 3; keep one",
		`demo/codes.yaml:5: code 3: "colour" is not a key here; write one of: code, word, meaning, effect, gate, drawing, tick, basis`,
		`demo/codes.yaml:5: code 3: code "LONG" must be 1 to 3 characters without spaces; shorten it, gloves write slowly`,
	}, "\n"), err.Error())
}

func TestOpen_RuleSettings_AreTaken(t *testing.T) {
	rules := `rules:
  name: League
  lost_ski: out-from
  lost_ski_from: 3
  lost_ski_basis: local rule no. 1
  run2_after_dsq: yes
  run2_basis: local rule no. 2
  fault_then_dnf: propose
  fault_then_dnf_basis: local rule no. 3
  protest_minutes: 30
  protest_basis: local rule no. 4
  drawing_demanded: on
  drawing_basis: local rule no. 5
  second_writing: true
  notes: ["one, two", three]
groups:`
	r, _, err := OpenFS(fsWith(strings.Replace(goodRace, "groups:", rules, 1), goodList), "demo")
	require.NoError(t, err)
	d := DefaultRules()
	assert.Equal(t, sheetmodel.RuleSettings{
		Set: DefaultRuleSet, ClimbBack: d.ClimbBack, ClimbBackBasis: d.ClimbBackBasis, OvertakenBasis: d.OvertakenBasis, ProtestFrom: d.ProtestFrom, Jury: d.Jury,
		JuryBasis: d.JuryBasis, ReleasedBy: d.ReleasedBy, ReleaseBasis: d.ReleaseBasis, SmallCardsBasis: d.SmallCardsBasis,
		Name: "League", LostSki: sheetmodel.LostSkiFrom, LostSkiFrom: 3, LostSkiBasis: "local rule no. 1",
		Run2AfterDSQ: sheetmodel.Run2Yes, Run2Basis: "local rule no. 2", FaultThenDNF: "propose", FaultDNFBasis: "local rule no. 3",
		ProtestMinutes: 30, ProtestBasis: "local rule no. 4", DrawingDemanded: true, DrawingBasis: "local rule no. 5",
		SecondWriting: true, Notes: []string{"one, two", "three"},
	}, r.Rules)
}

func TestOpen_ClockOffset(t *testing.T) {
	for text, want := range map[string]time.Duration{"+0s": 0, "0": 0, "-1m3s": -63 * time.Second, "+1m 3s": 63 * time.Second, "-0.4s": -400 * time.Millisecond} {
		r, _, err := OpenFS(fsWith(strings.Replace(goodRace, "discipline:", "clock_offset: "+text+"\ndiscipline:", 1), goodList), "demo")
		require.NoError(t, err, text)
		assert.Equal(t, want, r.ClockOffset, text)
	}
}

func TestOpen_NoFolderNoFile(t *testing.T) {
	dir := t.TempDir()
	_, err := Open(filepath.Join(dir, "none"))
	require.ErrorContains(t, err, "there is none; make one with: gatefold start")
	_, err = Open(dir)
	require.ErrorContains(t, err, "race.yaml: there is none; make a commented one with: gatefold start FOLDER")
	file := filepath.Join(dir, "file")
	require.NoError(t, os.WriteFile(file, nil, 0o600))
	_, err = Open(file)
	require.ErrorContains(t, err, "this is a file")
}

func TestOpen_TheDemoRace(t *testing.T) {
	f, err := Open("../../testdata/demo-race")
	require.NoError(t, err)
	r := f.Race()
	assert.Empty(t, f.Notes())
	assert.Len(t, r.Starters, 119)
	assert.Equal(t, sheetmodel.BuiltinCodeBook(), r.Codes)
	assert.Equal(t, sheetmodel.LostSkiFrom, r.Rules.LostSki)
	cards := map[int]bool{}
	for _, c := range r.Runs[0].Courses {
		watched := map[string]bool{}
		for _, p := range c.Places {
			cards[p.Card] = true
			for _, g := range p.Gates {
				watched[g] = true
			}
		}
		assert.Len(t, watched, len(c.Gates), "every gate of %s is watched", c.Course)
	}
	assert.Len(t, cards, 12)
}
