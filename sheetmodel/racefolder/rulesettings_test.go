package racefolder

import (
	"maps"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// Every shipped set says all settings, each with a basis that a referee can look up.
func TestShippedRules_AreWhole(t *testing.T) {
	assert.Equal(t, DefaultRuleSet, RuleSets()[0])
	assert.GreaterOrEqual(t, len(RuleSets()), 3)
	for _, name := range RuleSets() {
		r, err := ShippedRules(name)
		require.NoError(t, err)
		assert.Empty(t, LintRules(r), name)
		for _, discipline := range []string{"SL", "GS"} {
			for _, s := range r.Settings(discipline) {
				assert.NotEmpty(t, s.Words, "%s: %s", name, s.Key)
				assert.NotEmpty(t, s.Basis, "%s: %s", name, s.Key)
				assert.NotContains(t, s.Words, "not set", "%s: %s", name, s.Key)
			}
		}
	}
	_, err := ShippedRules("club")
	assert.EqualError(t, err, `rule set "club" is not shipped; name one of international, school, youth, or a YAML file`)
}

// Full stops end a run but in SL. Source: ICR 614.2.3, as changed for 2014-15 (officials' notes, Quebec).
func TestSettings_ClimbingBack_IsAsTheDiscipline(t *testing.T) {
	r := DefaultRules()
	assert.Equal(t, sheetmodel.ClimbAlways, r.EffectiveClimbBack("SL"))
	for _, d := range []string{"DH", "SG", "GS"} {
		assert.Equal(t, sheetmodel.ClimbNoStop, r.EffectiveClimbBack(d), d)
	}
	r.ClimbBack = sheetmodel.ClimbNever
	assert.Equal(t, sheetmodel.ClimbNever, r.EffectiveClimbBack("SL"))
}

const leagueRules = `format: 1
name: Three Valleys Youth League (invented)
lost_ski: out-from 3
lost_ski_basis: local rule no. 7
climb_back: never
climb_back_basis: local rule no. 8
fault_then_dnf: propose
fault_then_dnf_basis: local rule no. 9
run2_after_dsq: practice
run2_basis: local rule no. 10
overtaken_penalised: yes
overtaken_basis: local rule no. 11
drawing_demanded: no
drawing_basis: ICR 661.2
protest_minutes: 20
protest_from: announcement
protest_basis: local rule no. 12
jury: [referee, chief of race, start referee]
jury_basis: local rule no. 13
judges_released_by: referee
release_basis: local rule no. 14
small_cards: yes
small_cards_basis: local rule no. 15
`

// A race stands on its league's file, and what it writes itself lies on top.
func TestOpen_RuleSetOfALeague_IsReadAndOverridden(t *testing.T) {
	files := fsWith(strings.Replace(goodRace, "groups:", "rule_set: rules.yaml\nrules:\n  protest_minutes: 5\n  protest_basis: local rule no. 16\ngroups:", 1), goodList)
	files["rules.yaml"] = &fstest.MapFile{Data: []byte(leagueRules)}
	race, notes, err := OpenFS(files, "demo")
	require.NoError(t, err)
	assert.Empty(t, notes)
	assert.Equal(t, "rules.yaml", race.Rules.Set)
	assert.Equal(t, 3, race.Rules.LostSkiFrom)
	assert.Equal(t, sheetmodel.Run2Practice, race.Rules.Run2AfterDSQ)
	assert.Equal(t, []string{"referee", "chief of race", "start referee"}, race.Rules.Jury)
	assert.True(t, race.Rules.SmallCards)
	assert.Equal(t, 5, race.Rules.ProtestMinutes)
	assert.Equal(t, sheetmodel.ProtestFromAnnouncement, race.Rules.ProtestFrom)
	assert.Equal(t, "local rule no. 16", race.Rules.ProtestBasis)
}

func TestOpen_ShippedRuleSet_ByName(t *testing.T) {
	race, _, err := OpenFS(fsWith(strings.Replace(goodRace, "groups:", "rule_set: youth\ngroups:", 1), goodList), "demo")
	require.NoError(t, err)
	want, err := ShippedRules("youth")
	require.NoError(t, err)
	assert.Equal(t, want, race.Rules)
}

func TestOpen_BadRuleSets_AreNamed(t *testing.T) {
	league := func(change ...string) string { return strings.NewReplacer(change...).Replace(leagueRules) }
	for name, one := range map[string]struct{ race, rules, want string }{
		"no such set":     {"rule_set: club", "", `demo/race.yaml:8: rule set "club" is not shipped; name one of international, school, youth, or a YAML file`},
		"no such file":    {"rule_set: league.yaml", "", "demo/race.yaml:8: rule set league.yaml"},
		"missing setting": {"rule_set: rules.yaml", league("climb_back: never\n", "", "climb_back_basis: local rule no. 8\n", ""), "demo/rules.yaml:1: climb_back is missing; a rule set says all of it, each with its basis"},
		"missing basis":   {"rule_set: rules.yaml", league("run2_basis: local rule no. 10\n", ""), "demo/rules.yaml:9: run2_after_dsq is set without its basis; add run2_basis: with the article or local rule it rests on"},
		"unknown word":    {"rule_set: rules.yaml", league("climb_back: never", "climb_back: sometimes"), `demo/rules.yaml:5: climb_back "sometimes" is not known; write one of by-discipline, always, without-a-stop, never`},
		"empty jury":      {"rule_set: rules.yaml", league("[referee, chief of race, start referee]", "[]"), "jury names nobody, so nobody could decide a protest"},
		"jury twice":      {"rule_set: rules.yaml", league("[referee, chief of race, start referee]", "[referee, chief of race, referee]"), "jury: referee is written twice; name each member once, by function"},
		"unknown key":     {"rule_set: rules.yaml", leagueRules + "full_stop: yes\n", "demo/rules.yaml:24: "},
	} {
		files := fsWith(strings.Replace(goodRace, "groups:", one.race+"\ngroups:", 1), goodList)
		if one.rules != "" {
			files["rules.yaml"] = &fstest.MapFile{Data: []byte(one.rules)}
		}
		_, _, err := OpenFS(files, "demo")
		require.Error(t, err, name)
		assert.Contains(t, err.Error(), one.want, name)
	}
}

// What can't be looked up is no mistake, but is pointed out.
func TestParseRuleSet_Hints(t *testing.T) {
	text := strings.NewReplacer("lost_ski_basis: local rule no. 7", "lost_ski_basis: ICR 661.4.1", "run2_basis: local rule no. 10", "run2_basis: as always",
		"[referee, chief of race, start referee]", "[referee, chief of race]").Replace(leagueRules)
	_, hints, err := ParseRuleSet("rules.yaml", []byte(text))
	require.NoError(t, err)
	assert.Equal(t, []string{
		`run2_after_dsq rests on "as always": write an article, local rule no. N, or common practice`,
		`lost_ski counts lost skis on "ICR 661.4.1": no published article that does is known; name the local rule with its number`,
		"the jury has 2 members: say in a local rule who breaks a tie",
	}, hints)
}

// A race's own setting is held against the same, and articles that nobody had before them are named. What was
// read is our own logic: the list beside the checks.
func TestOpen_WhatNobodyCanLookUp_IsNoted(t *testing.T) {
	own := strings.Replace(goodRace, "groups:", "rules:\n  lost_ski: out-from 2\n  lost_ski_basis: ICR 999.9\ngroups:", 1)
	race, notes, err := OpenFS(fsWith(own, goodList), "demo")
	require.NoError(t, err)
	assert.Contains(t, strings.Join(notes, "\n"), `lost_ski counts lost skis on "ICR 999.9"`)
	said := Unread(race)
	require.Len(t, said, 1)
	assert.Contains(t, said[0], "999.9 (lost_ski)")
	assert.NotContains(t, said[0], "661.4")
	race.Codes.Codes = []sheetmodel.Code{{Code: "F", Basis: "ICR 661.4.1"}, {Code: "X", Basis: "ICR 66.1 or ICR 6610"}}
	race.Rules = sheetmodel.RuleSettings{}
	assert.Empty(t, Unread(race))
}

// The happenings of a run: gates changed, judges relieved, late starts, exchanged bibs, messages heard.
func TestOpen_TheDay_IsRead(t *testing.T) {
	race, _, err := OpenFS(fsWith(dayRace, "bib,group\n7,girls\n22,girls\n7,boys\n"), "demo")
	require.NoError(t, err)
	run := race.Run(1)
	blue := run.Course("Blue")
	assert.Equal(t, []sheetmodel.GateChange{
		{At: "10:42", Gate: "12a", What: sheetmodel.GateAdded},
		{At: "11:05", Gate: "14", What: sheetmodel.GateRenumbered, Was: "13"},
		{At: "09:30", Gate: "3", What: sheetmodel.GateRemoved},
	}, blue.Changes)
	assert.Equal(t, []sheetmodel.Relief{{At: "11:20", Judge: "Second Person", Phone: "0555 011"}}, blue.Places[0].Relief)
	assert.Equal(t, sheetmodel.BibList{Given: sheetmodel.ListGiven, Bibs: []sheetmodel.Bib{{Group: "girls", Number: "22"}}}, run.LateStarts)
	assert.Equal(t, [][2]sheetmodel.Bib{{{Group: "girls", Number: "22"}, {Group: "girls", Number: "7"}}}, run.Exchanged)
	assert.Equal(t, []sheetmodel.Heard{{Bib: sheetmodel.Bib{Group: "boys", Number: "7"}, Course: "Blue", Gate: "13", At: "11:06"}}, run.Heard)
	assert.Equal(t, sheetmodel.ListGiven, race.Run(2).MayStart.Given)
	assert.Equal(t, sheetmodel.ListUnknown, race.Run(1).MayStart.Given)
	assert.Equal(t, sheetmodel.ListGiven, race.Run(2).Conditional.Given)
}

func TestOpen_TheDay_MistakesAreNamed(t *testing.T) {
	wants := map[string]string{
		`at: "10:42", gate: 12a`:              `at: "25:00", gate: 12a| at "25:00" is not a time of day`,
		`gate: 14, what: renumbered, was: 13`: `gate: 14, what: renumbered| was: and what: renumbered belong together`,
		`what: removed`:                       `what: stolen| what "stolen" is not known; write one of added, removed, renumbered`,
		`gate: 3, what: removed`:              `gate: 99, what: removed| gate 99 is not on this course`,
		`[girls 22, girls 7]`:                 `[girls 22]| each entry names the two bibs, as in [22, 31]`,
		`{bib: boys 7, gate: 13`:              `{bib: boys 9, gate: 13| bib boys 9 is not in the start list`,
		`late_starts: [girls 22]`:             `late_starts: [7]| bib 7 is worn by 2 racers`,
	}
	for _, from := range slices.Sorted(maps.Keys(wants)) {
		require.Contains(t, dayRace, from)
		to, want, _ := strings.Cut(wants[from], "|")
		_, _, err := OpenFS(fsWith(strings.Replace(dayRace, from, to, 1), "bib,group\n7,girls\n22,girls\n7,boys\n"), "demo")
		require.Error(t, err, from)
		assert.Contains(t, err.Error(), strings.TrimSpace(want), from)
	}
}

const dayRace = `format: 1
id: day
name: Day
date: 2027-01-23
time_zone: Europe/Vienna
discipline: GS
courses: [Blue]
groups: [girls, boys]
runs:
  - run: 1
    courses:
      - course: Blue
        gates: 1-12, 12a, 13-20
        places:
          - {card: 1, name: A, gates: 1-20, relief: [{at: "11:20", judge: Second Person, phone: "0555 011"}]}
        gate_changes:
          - {at: "10:42", gate: 12a, what: added}
          - {at: "11:05", gate: 14, what: renumbered, was: 13}
          - {at: "9:30", gate: 3, what: removed}
    late_starts: [girls 22]
    exchanged_bibs: [[girls 22, girls 7]]
    heard:
      - {bib: boys 7, gate: 13, at: "11:06"}
  - run: 2
    may_start: [girls 7, boys 7]
    conditional_starts: [boys 7]
`
