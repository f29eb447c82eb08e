package review_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/jury"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// at14 is a form about bib 14's line, at a time.
func at14(p *person, do, clock string, more ...string) answer {
	form := juryForm(do, more...)
	form.Set("at", clock)
	return p.send("/packet", form)
}

// A second protest on a line leaves the first as it is: both are on packet and draft, each with what the jury decided on it, and a decision
// answers the one that is marked. Source: our own logic; nothing that people said is replaced without a trace.
func TestPacket_TwoProtestsOnOneLine_BothStay(t *testing.T) {
	b := afternoon(t)
	p := sit(t, open(t, b), "Cleo")
	require.Equal(t, http.StatusOK, at14(p, "posted", "12:04").status)
	require.Equal(t, http.StatusOK, at14(p, "protest", "12:10", "from", "team official of Ash").status)
	page := at14(p, "protest", "12:12", "from", "team official of Elm").body
	for _, words := range []string{"Protest at 12:10:00 by team official of Ash.", "Protest at 12:12:00 by team official of Elm.", "Which protest the jury decided on"} {
		assert.Contains(t, page, words)
	}
	back := at14(p, "upheld", "12:30", "present", "referee")
	assert.Equal(t, http.StatusUnprocessableEntity, back.status)
	assert.Contains(t, back.body, "ore than one protest is open")

	page = at14(p, "upheld", "12:30", "present", "referee", "answers", "1", "reason", "clear tracks").body
	assert.Contains(t, page, "Jury on the protest of 12:10:00: upheld at 12:30:00")
	assert.Contains(t, p.get("/posting").body, "May start under protest.", "the second is open")
	page = at14(p, "overruled", "12:40", "present", "referee", "reason", "a film").body // the one that is open
	for _, words := range []string{
		"Protest at 12:10:00 by team official of Ash.", "Protest at 12:12:00 by team official of Elm.",
		"Jury on the protest of 12:10:00: upheld at 12:30:00, present referee. Reason: clear tracks.",
		"Jury on the protest of 12:12:00: overruled at 12:40:00, present referee. Reason: a film.",
	} {
		assert.Contains(t, page, words)
		assert.Contains(t, p.get("/draft").body, words)
	}
	board := p.get("/posting").body
	assert.Contains(t, board, "Overruled by the jury")
	assert.Contains(t, board, "Back in.")

	// The second decision was entered at the wrong racer: what the jury had decided before holds again, and the second protest is open.
	page = at14(p, "no-decision", "", "reason", "it was bib 41's").body
	assert.Contains(t, page, "Jury on the protest of 12:10:00: upheld at 12:30:00")
	assert.NotContains(t, page, "overruled at 12:40")
	assert.Contains(t, p.get("/posting").body, "May start under protest.")
	form := juryForm("", "protest-off", "2", "reason", "taken back")
	require.Equal(t, http.StatusOK, p.send("/packet", form).status)
	board = p.get("/posting").body
	assert.Contains(t, board, "May not start.")
	assert.Contains(t, board, "12:04:00")
	assert.NotContains(t, p.get("/packet?bib=14").body, "12:12:00")
	assert.NotContains(t, p.get("/packet?bib=14").body, "Which protest")
}

// The jury overruled a line and came back to it: draft, packet and board have the clock of its first appearance. Source: our own logic, as
// for the board.
func TestPosting_OverruledThenUpheld_OneClock(t *testing.T) {
	b, p := overruledOneOfTwo(t)
	answerNot(t, p)
	// The other fault is made public as a line of its own, and overruled as well; then the first decision is entered otherwise.
	of25 := func(do, clock string) {
		t.Helper()
		form := juryForm(do, "present", "referee", "gate", "25", "code", "F")
		form.Set("at", clock)
		require.Equal(t, http.StatusOK, p.send("/packet", form).status)
	}
	of25("posted", "12:20")
	of25("overruled", "12:25")
	require.Equal(t, http.StatusOK, at14(p, "upheld", "12:30", "present", "referee", "gate", "6", "code", "F").status)
	_, result := b.Load()
	stands := 0
	for _, c := range result.Calls {
		if !c.Overruled {
			stands++
			assert.Equal(t, "6", c.Gate)
		}
	}
	require.Equal(t, 1, stands)
	board := p.get("/posting").body
	assert.Contains(t, board, "12:19:00", "until when it is protested")
	assert.Contains(t, board, "May not start.")
	for _, page := range []string{"/packet?bib=14", "/draft"} {
		assert.Contains(t, p.get(page).body, "Made public at 12:04:00; protests until 12:19:00.", page)
	}
}

// What the jury upheld was replaced on the board by another line of the racer, and that one is overruled: the racer is out for what was upheld,
// on every list, and it is to be made public anew. Source: our own logic.
func TestPosting_UpheldThenAnotherGateOverruled_ListsAgree(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 5, stacktest.Row{Bib: "14", Code: "F", Gate: "25", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 5, 1, sheetmodel.PartBib), "14")
	p := sit(t, open(t, b), "Cleo")
	require.Equal(t, http.StatusOK, at14(p, "posted", "12:04").status)
	require.Equal(t, http.StatusOK, at14(p, "upheld", "12:10", "present", "referee").status)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	_, result := b.Load()
	require.Equal(t, "6", result.Calls[0].Gate)
	assert.Contains(t, p.get("/draft").body, "Jury: gate 25, F upheld at 12:10:00", "nobody takes it for a word on gate 6")
	assert.Contains(t, p.get("/draft").body, "The jury upheld the proposal on girls 14 at 12:10 (gate 25, F).")
	require.Equal(t, http.StatusOK, at14(p, "posted", "12:20").status)
	require.Equal(t, http.StatusOK, at14(p, "overruled", "12:30", "present", "referee").status)

	_, result = b.Load()
	for _, c := range result.Calls {
		assert.Equal(t, c.Gate == "6", c.Overruled, c.Gate)
		assert.False(t, c.Waiting, c.Gate)
	}
	board := p.get("/posting").body
	assert.NotContains(t, board, "Back in.")
	assert.Contains(t, board, "May not start.")
	assert.Contains(t, board, "Upheld by the jury")
	assert.Contains(t, board, "struck 12:20:00: changed, posted anew", "it is to be made public anew, with what became of it")
	packet := p.get("/packet?bib=14").body
	assert.Contains(t, packet, "Jury: upheld at 12:10:00")
	assert.NotContains(t, packet, "nothing had been made public")
}

// Two copies of the race have a second protest each: nobody loses one. Source: our own logic.
func TestPacket_SecondProtestThatTwoCopiesHaveOtherwise_IsEnteredAgain(t *testing.T) {
	b := afternoon(t)
	at, keep := aboutBib14(t)
	keep(b.Store, jury.Posting{At: at, Gate: "6", Code: "F"})
	keep(b.Store, jury.Protest{At: at.Add(2 * time.Minute), No: 1})
	keep(b.Store, jury.Decision{Verdict: jury.Upheld, At: at.Add(4 * time.Minute), Present: []string{"referee"}, Gate: "6", Code: "F", Protest: 1})
	joinTwin(t, b, at, func(s *store.Store) { keep(s, jury.Protest{At: at.Add(5 * time.Minute), No: 2}) },
		func(s *store.Store) { keep(s, jury.Protest{At: at.Add(7 * time.Minute), No: 2}) })
	p := sit(t, open(t, b), "Cleo")
	assert.Contains(t, p.get("/posting").body, "May start under protest.")
	require.Equal(t, http.StatusOK, at14(p, "protest", "12:10").status)
	assert.NotContains(t, p.get("/draft").body, "Two copies of this race")
	page := p.get("/packet?bib=14").body
	assert.Contains(t, page, "Protest at 12:06:00")
	assert.Contains(t, page, "Protest at 12:10:00")
	assert.Contains(t, p.get("/posting").body, "May start under protest.")
}

// Why a line was withdrawn may name somebody: who only views isn't told it on run 2's list, as on the board. Source: our own logic.
func TestPosting_WhyWithdrawn_IsNotToldToViewers(t *testing.T) {
	h := openHut(t, afternoon(t))
	p, m := sit(t, h.here, "Cleo"), h.pair("Uma", "view")
	require.Equal(t, http.StatusOK, at14(p, "posted", "12:04").status)
	require.Equal(t, http.StatusOK, p.send("/posting", postingForm("withdrawn", "12:06", "group", "girls", "bib", "14", "why", "Olli erred")).status)
	page := m.get("/posting").body
	assert.Contains(t, page, "Back in.")
	assert.NotContains(t, page, "Olli erred")
}

// The jury upheld a line, and then the start list gives the group another name: what was decided neither vanishes nor stands for a racer of
// whom nobody said that they are the same; draft and board say what to do, and done, all lists agree. Source: our own logic.
func TestJury_UpheldThenTheGroupHasAnotherName_SaysWhatToDo(t *testing.T) {
	for _, verdict := range []string{"upheld", "protest"} {
		b := stacktest.New(t)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
		b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
		p := sit(t, open(t, b), "Cleo")
		require.Equal(t, http.StatusOK, at14(p, "posted", "12:04").status)
		require.Equal(t, http.StatusOK, at14(p, verdict, "12:10", "present", "referee").status)
		renamed := *b.Race
		renamed.Starters, renamed.Groups = slices.Clone(renamed.Starters), slices.Clone(renamed.Groups)
		for i := range renamed.Starters {
			if s := &renamed.Starters[i]; s.Group == "girls" {
				s.Group = "U12 girls"
			}
		}
		for i := range renamed.Groups {
			if g := &renamed.Groups[i]; g.Name == "girls" {
				g.Name = "U12 girls"
			}
		}
		b.Race = &renamed
		assert.Contains(t, p.get("/draft").body, "The start list has no girls 14 any more, and U12 girls 14 has a line")
		board := p.get("/posting").body
		assert.Contains(t, board, "The start list has nobody by this group and bib any more")
		if verdict == "upheld" {
			assert.Contains(t, board, "it may be the same number&#39;s in another group")
			assert.NotContains(t, board, "the draft has no line of the racer any more")
		}
		// As the page says.
		line := postedForm("14", "6", "F")
		require.Equal(t, http.StatusOK, p.send("/posting", postingForm("posted", "12:04", "line", strings.ReplaceAll(line, "girls", "U12+girls"))).status)
		form := juryForm(verdict, "present", "referee")
		form.Set("group", "U12 girls")
		require.Equal(t, http.StatusOK, p.send("/packet", form).status)
		require.Equal(t, http.StatusOK, p.send("/posting", postingForm("withdrawn", "12:20", "group", "girls", "bib", "14", "why", "the group has another name")).status)
		board = p.get("/posting").body
		assert.NotContains(t, board, "The start list has nobody")
		assert.NotContains(t, p.get("/draft").body, "The start list has no girls 14", "nor is it said once it is done")
		if verdict == "upheld" {
			assert.Contains(t, p.get("/packet?bib=14").body, "Jury: upheld")
			assert.Contains(t, board, "Upheld by the jury")
		}
		assert.NotContains(t, board, "Back in.", "nobody of that name is in the race")
	}
}
