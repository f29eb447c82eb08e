package rules_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

func noon(minute int) rules.Moment { return rules.Moment(60 * minute) }

func say(bib string, what rules.NoticeKind, minute int, gate string) rules.Notice {
	return rules.Notice{Run: 1, Course: "Blue", Bib: bib, What: what, At: noon(minute), Gate: gate, Code: "F"}
}

// Expected values: our own logic, after the rule that each line has its own clock.
func TestBoard_EachLineHasItsOwnClock(t *testing.T) {
	board := rules.Board([]rules.Notice{
		say("14", rules.NoticePosted, 0, "6"), say("9", rules.NoticePosted, 0, "3"), say("22", rules.NoticePosted, 0, "8"),
		say("14", rules.NoticePosted, 10, "6"), // the list went up again with it
		say("9", rules.NoticePosted, 10, "4"),  // changed
		say("22", rules.NoticeWithdrawn, 11, ""),
		say("22", rules.NoticePosted, 20, "8"), // restored
		say("30", rules.NoticePosted, 21, "9"), say("30", rules.NoticeCorrected, 22, ""),
		say("30", rules.NoticeOverruled, 30, ""),
		say("77", rules.NoticeWithdrawn, 31, ""), // never posted: nothing
	}, 15)
	type line struct {
		bib, gate     string
		posted, until rules.Moment
		struck        int // minute, -1: stands
		why           string
	}
	var got []line
	for _, l := range board {
		g := line{l.Bib, l.Gate, l.Posted, l.Until, -1, l.Why}
		if l.Struck != nil {
			g.struck = int(*l.Struck) / 60
		}
		got = append(got, g)
	}
	assert.Equal(t, []line{
		{"14", "6", noon(0), noon(15), -1, ""},
		{"9", "3", noon(0), noon(15), 10, rules.WhyChanged},
		{"22", "8", noon(0), noon(15), 11, "withdrawn"},
		{"9", "4", noon(10), noon(25), -1, ""},
		{"22", "8", noon(20), noon(35), -1, ""},
		{"30", "9", noon(22), noon(37), 30, "overruled by the jury"},
	}, got)
}

// What the jury is said to have overruled by mistake stands as it did; another line that hangs there by now, or one that was taken back otherwise, is
// not touched. Expected values: our own logic.
func TestBoard_OverruledByMistake_StandsAsItDid(t *testing.T) {
	for _, c := range []struct {
		meanwhile []rules.Notice
		gate      string   // of the decision
		standing  []string // gates of the lines that stand
	}{
		{nil, "6", []string{"6"}},
		{nil, "", []string{"6"}}, // kept before the gate was asked
		{nil, "3", nil},          // of another fault of the racer
		{[]rules.Notice{say("14", rules.NoticePosted, 21, "3")}, "6", []string{"3"}},
		{[]rules.Notice{say("14", rules.NoticePosted, 21, "3"), say("14", rules.NoticeOverruled, 22, "3")}, "6", []string{"6"}},
	} {
		log := append([]rules.Notice{say("14", rules.NoticePosted, 0, "6"), say("14", rules.NoticeOverruled, 20, "6")}, c.meanwhile...)
		stands := say("14", rules.NoticeStands, 0, c.gate)
		if c.gate == "" {
			stands.Code = ""
		}
		var standing []string
		for _, l := range rules.Board(append(log, stands), 15) {
			if l.Struck == nil {
				standing = append(standing, l.Gate)
				assert.Empty(t, l.Why)
			}
		}
		assert.Equal(t, c.standing, standing, c.gate)
	}
	back := say("14", rules.NoticeWithdrawn, 20, "")
	back.Why = "overruled by the jury" // in the referee's words
	// Once it stands again, the referee may take it back: what the jury says once more doesn't bring it back.
	again := rules.Board([]rules.Notice{
		say("14", rules.NoticePosted, 0, "6"), say("14", rules.NoticeOverruled, 20, "6"), say("14", rules.NoticeStands, 0, "6"),
		say("14", rules.NoticeWithdrawn, 25, ""), say("14", rules.NoticeStands, 0, "6"),
	}, 15)
	assert.NotNil(t, again[0].Struck)
	withdrawn := rules.Board([]rules.Notice{say("14", rules.NoticePosted, 0, "6"), back, say("14", rules.NoticeStands, 0, "6")}, 15)
	assert.NotNil(t, withdrawn[0].Struck)
}

// Expected values: our own logic; what the jury decides about a start under protest is the jury's.
func TestRun2Needs(t *testing.T) {
	race := &sheetmodel.Race{Rules: sheetmodel.RuleSettings{Run2AfterDSQ: sheetmodel.Run2No}}
	second := say("50", rules.NoticePosted, 3, "6")
	second.Run = 2
	twice := say("30", rules.NoticePosted, 4, "20")
	twice.Course = "Red"
	board := rules.Board([]rules.Notice{
		say("14", rules.NoticePosted, 0, "6"), say("9", rules.NoticePosted, 0, "3"), say("22", rules.NoticePosted, 0, "8"), say("30", rules.NoticePosted, 0, "8"),
		say("22", rules.NoticeOverruled, 1, ""), say("30", rules.NoticeWithdrawn, 2, ""), second, twice,
	}, 15)
	var upheld []sheetmodel.Bib
	starts := func() map[string]rules.Run2Start {
		got := map[string]rules.Run2Start{}
		for _, l := range rules.Run2Needs(race, board, []sheetmodel.Bib{{Number: "9"}}, upheld) {
			got[l.Bib] = l.Start
		}
		return got
	}
	assert.Equal(t, map[string]rules.Run2Start{"14": rules.Run2MayNot, "9": rules.Run2Protest, "22": rules.Run2BackIn, "30": rules.Run2MayNot}, starts())
	upheld = []sheetmodel.Bib{{Number: "22"}} // the jury came back to it
	assert.Equal(t, rules.Run2MayNot, starts()["22"])

	// What run 2's own lists say otherwise is said beside it; a start on condition is the jury's (ES Cup notes for
	// referees, Finland: while a protest is open), but not once the jury has spoken.
	of := func(numbers ...string) sheetmodel.BibList {
		l := sheetmodel.BibList{Given: sheetmodel.ListGiven}
		for _, n := range numbers {
			l.Bibs = append(l.Bibs, sheetmodel.Bib{Number: n})
		}
		return l
	}
	race.Runs = []sheetmodel.Run{{Number: 1}, {Number: 2, MayStart: of("30"), Conditional: of("14", "22")}}
	why := map[string]string{}
	for _, l := range rules.Run2Needs(race, board, []sheetmodel.Bib{{Number: "9"}}, upheld) {
		why[l.Bib] = string(l.Start) + ": " + l.Why
	}
	assert.Equal(t, map[string]string{
		"14": "may start under protest: listed to start on condition; the jury decides whether the start stands",
		"22": "may not start: upheld by the jury; yet the list of starts on condition has the racer: take it out",
		"30": "may not start: a line of run 1 stands; yet run 2's list has the racer: take it out",
		"9":  "may start under protest: a protest is open; the jury decides whether the racer starts; run 2's list lacks the racer",
	}, why)
	upheld, race.Runs = nil, []sheetmodel.Run{{Number: 1}, {Number: 2, MayStart: of("14")}}
	for _, l := range rules.Run2Needs(race, board, nil, nil) {
		if l.Bib == "22" {
			assert.Equal(t, "overruled by the jury; run 2's list lacks the racer: put it in", l.Why)
		}
	}
	race.Runs = nil
	race.Rules.Run2AfterDSQ = sheetmodel.Run2Practice
	assert.Equal(t, rules.Run2Training, starts()["14"])
	assert.Equal(t, rules.Run2BackIn, starts()["22"])
	upheld = []sheetmodel.Bib{{Number: "22"}}
	assert.Equal(t, rules.Run2Training, starts()["22"], "struck on the board, and upheld since")
	race.Rules.Run2AfterDSQ = sheetmodel.Run2Yes
	assert.Empty(t, starts())
}

// Who wrote a fault and whose card is missing stay (ICR 666); nobody is named twice.
func TestJudgeNeeds(t *testing.T) {
	race := &sheetmodel.Race{Runs: []sheetmodel.Run{{Number: 1, Courses: []sheetmodel.CourseRun{{
		Course: "Blue", Gates: []string{"1", "2", "3"},
		Places: []sheetmodel.Place{{Card: 1, Gates: []string{"1"}}, {Card: 2, Gates: []string{"2"}}},
	}}}}}
	result := rules.Check(rules.Facts{Race: race, Cards: []rules.Card{{Key: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}, In: true}}})
	needs := rules.JudgeNeeds(race, result)
	require.Len(t, needs, 2)
	assert.Equal(t, 2, needs[0].Card.Card)
	assert.True(t, needs[0].Stay)
	assert.Equal(t, rules.JudgeNeed{Card: sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}}, needs[1])
}

// A racer is out while one line stands, whichever was made public first, and the list goes by group and number
// as numbers. Expected values: our own logic.
func TestRun2Needs_OneLineThatStandsIsEnough(t *testing.T) {
	race := &sheetmodel.Race{Rules: sheetmodel.RuleSettings{Run2AfterDSQ: sheetmodel.Run2No}}
	red := say("9", rules.NoticePosted, 1, "20")
	red.Course = "Red"
	withdrawn := say("9", rules.NoticeWithdrawn, 2, "")
	withdrawn.Course = "Red"
	of := func(group string, n rules.Notice) rules.Notice { n.Group = group; return n }
	board := rules.Board([]rules.Notice{
		say("9", rules.NoticePosted, 0, "3"), red, withdrawn, say("10", rules.NoticePosted, 0, "3"), say("101", rules.NoticePosted, 0, "3"),
		of("girls", say("8", rules.NoticePosted, 0, "3")), of("boys", say("11", rules.NoticePosted, 0, "3")),
	}, 15)
	for range 20 { // the order must not be that of a map
		var got []string
		for _, l := range rules.Run2Needs(race, board, nil, nil) {
			got = append(got, l.Group+" "+l.Bib+" "+string(l.Start))
		}
		assert.Equal(t, []string{" 9 may not start", " 10 may not start", " 101 may not start", "boys 11 may not start", "girls 8 may not start"}, got)
	}
}

// A card that two lines of the placing list name, as one judge's at two stretches, is listed once.
func TestJudgeNeeds_ACardPlacedTwice_IsListedOnce(t *testing.T) {
	key := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
	race := &sheetmodel.Race{Runs: []sheetmodel.Run{{Number: 1, Courses: []sheetmodel.CourseRun{{
		Course: "Blue", Gates: []string{"1", "2"},
		Places: []sheetmodel.Place{{Card: 1, Name: "A", Gates: []string{"1"}}, {Card: 1, Name: "B", Gates: []string{"2"}}},
	}}}}}
	assert.Equal(t, []rules.JudgeNeed{{Card: key}}, rules.JudgeNeeds(race, rules.Check(rules.Facts{Race: race, Cards: []rules.Card{{Key: key, In: true}}})))
}

// Lists of run 2 that agree with what a line means are not spoken of. Expected values: our own logic.
func TestRun2Needs_ListsThatAgree_AddNothing(t *testing.T) {
	board := rules.Board([]rules.Notice{
		say("9", rules.NoticePosted, 0, "3"), say("22", rules.NoticePosted, 0, "8"), say("22", rules.NoticeOverruled, 1, ""), say("30", rules.NoticePosted, 0, "8"),
	}, 15)
	whys := func(may, condition string) map[string]string {
		race := &sheetmodel.Race{Rules: sheetmodel.RuleSettings{Run2AfterDSQ: sheetmodel.Run2No}, Runs: []sheetmodel.Run{
			{Number: 1}, {Number: 2, MayStart: listOf(may), Conditional: listOf(condition)},
		}}
		got := map[string]string{}
		for _, l := range rules.Run2Needs(race, board, []sheetmodel.Bib{{Number: "9"}}, nil) {
			got[l.Bib] = l.Why
		}
		return got
	}
	agree := map[string]string{"9": "a protest is open; the jury decides whether the racer starts", "22": "overruled by the jury", "30": "a line of run 1 stands"}
	assert.Equal(t, agree, whys("unknown", "unknown"), "no list to hold it against")
	assert.Equal(t, agree, whys("22,9", "none"))
	assert.Equal(t, agree, whys("22", "9"))
	lacks := whys("1", "none")
	assert.Equal(t, "a protest is open; the jury decides whether the racer starts; run 2's list lacks the racer", lacks["9"])
	assert.Equal(t, "overruled by the jury; run 2's list lacks the racer: put it in", lacks["22"])
	assert.Equal(t, agree["30"], lacks["30"])
}

// A line that is struck puts nobody back in who did not start or finish run 1, and who starts under protest has finished it; run 2's own
// list goes before that. Source: ICR 627, as far as who may start; the words are our own logic.
func TestRun2Needs_WhoDidNotFinishRun1_IsNotBackIn(t *testing.T) {
	board := rules.Board([]rules.Notice{
		say("9", rules.NoticePosted, 0, "3"), say("22", rules.NoticePosted, 0, "8"), say("30", rules.NoticePosted, 0, "8"), say("41", rules.NoticePosted, 0, "8"),
		say("22", rules.NoticeWithdrawn, 1, ""), say("30", rules.NoticeOverruled, 1, ""), say("41", rules.NoticeWithdrawn, 1, ""),
	}, 15)
	race := &sheetmodel.Race{Rules: sheetmodel.RuleSettings{Run2AfterDSQ: sheetmodel.Run2No}, Runs: []sheetmodel.Run{
		{Number: 1, DidNotEnd: listOf("22,9"), DidNotStart: listOf("30,41"), LateStarts: listOf("41")}, {Number: 2, MayStart: listOf("unknown"), Conditional: listOf("unknown")},
	}}
	starts := func() map[string]string {
		got := map[string]string{}
		for _, l := range rules.Run2Needs(race, board, []sheetmodel.Bib{{Number: "9"}}, nil) {
			got[l.Bib] = string(l.Start) + ": " + l.Why
		}
		return got
	}
	assert.Equal(t, map[string]string{
		"9":  "out by run 1's own lists: did not finish in run 1; of its line: a protest is open; the jury decides whether the racer starts",
		"22": "out by run 1's own lists: did not finish in run 1; of its line: withdrawn",
		"30": "out by run 1's own lists: did not start in run 1; of its line: overruled by the jury",
		"41": "back in: withdrawn",
	}, starts())
	race.Runs[0].Reruns = listOf("22")
	assert.Equal(t, "back in: withdrawn; yet the racer had a re-run, and did not finish one of the two attempts: ask which", starts()["22"])
	race.Runs[1].MayStart = listOf("9,22")
	assert.Equal(t, "back in: withdrawn", starts()["22"])
	assert.Equal(t, "may start under protest: a protest is open; the jury decides whether the racer starts", starts()["9"])
	assert.Equal(t, "out by run 1's own lists: did not start in run 1; of its line: overruled by the jury", starts()["30"], "nobody is told to put it in")
	race.Rules.Run2AfterDSQ = sheetmodel.Run2Practice
	race.Runs[0].Reruns, race.Runs[1].MayStart = listOf("none"), listOf("unknown")
	assert.Contains(t, starts()["22"], "out by run 1's own lists")
}

// Where a fault is proposed though its racer did not finish, the jury's overruling it sends nobody to the start of run 2.
// Source: ICR 627, as far as who may start; the words are our own logic.
func TestJury_OverrulesAFaultOfWhoDidNotFinish_TellsTheStartNothing(t *testing.T) {
	race := inventedRace()
	race.Rules.FaultThenDNF = "propose"
	key := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1}
	for bib, told := range map[string]bool{"30": true, "31": false} {
		result := rules.Check(rules.Facts{
			Race: &race, Cards: []rules.Card{{Key: key, In: true, Gates: []string{"3"}}},
			Rows: []rules.Row{{Ref: sheetmodel.RowRef{CardKey: key, Row: 1}, Bib: bib, BibState: sheetmodel.BibTwoLooks, Code: "F", CodeSure: true, Gate: "3", GateSure: true, Panel: "B", PanelSure: true}},
			Jury: []rules.JuryLine{{Run: 1, Course: "Blue", Bib: bib, Decided: true, Overruled: true, DecidedGate: "3", DecidedCode: "F"}},
		})
		said := ""
		for _, f := range result.Findings {
			if f.Rule == "jury" {
				said += f.Sentence
			}
		}
		require.Contains(t, said, "The jury overruled the proposal on "+bib)
		assert.Equal(t, told, strings.Contains(said, "tell the start"), said)
	}
}
