package review_test

import (
	"net/http"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/jury"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// A line hangs on the board and its row is set aside: the draft has it no more. A protest that is handed in on it then was refused, and what the
// jury decided could not be kept either. Both are, under the line as it hangs there. Source: our own logic: nothing that people said is lost.
func TestPacket_LineThatOnlyHangsOnTheBoard_TakesProtestAndDecision(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	p := sit(t, open(t, b), "Cleo")
	require.Equal(t, http.StatusOK, p.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "6", "F"))).status)
	b.SetAside("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "its judge takes it back")

	// What is taken along says how many such lines there are, as the page does.
	assert.Contains(t, p.get("/draft/draft.json").body, `"public_not_in_draft": 1`)
	const words = "1 line that is public is not in the draft as it stands"
	assert.Contains(t, p.get("/draft/draft.csv").body, words)
	assert.Contains(t, p.get("/draft").body, words)

	page := p.get("/packet?bib=14&group=girls").body
	assert.Contains(t, page, "not in the draft any more</span>")
	assert.Contains(t, page, "Gate 6 · F · gate missed or straddled.")
	assert.NotContains(t, page, `value="posted"`)
	assert.NotContains(t, page, `value="coach"`)
	assert.Equal(t, http.StatusConflict, at14(p, "coach", "12:05").status)
	assert.Equal(t, http.StatusConflict, at14(p, "protest", "12:06", "gate", "7", "code", "F").status, "no such line hangs there")
	page = at14(p, "protest", "12:10", "gate", "6", "code", "F", "from", "team official of Ash").body
	assert.Contains(t, page, "Protest at 12:10:00 by team official of Ash.")
	board := p.get("/posting").body
	assert.Contains(t, board, "A protest on it is open, handed in at 12:10:00.")
	assert.Contains(t, board, "May start under protest.")
	assert.Contains(t, p.get("/packet/pdf?bib=14&group=girls").header.Get("Content-Type"), "pdf")
	assert.Equal(t, http.StatusUnprocessableEntity, at14(p, "overruled", "12:30").status, "nobody was present")
	page = at14(p, "overruled", "12:30", "present", "referee", "reason", "a film").body
	assert.NotContains(t, page, "not in the draft any more</span>")
	board = p.get("/posting").body
	assert.Contains(t, board, "Overruled by the jury")
	assert.Contains(t, board, "Back in.")
}

// While rows are still to be typed unseen a line that the draft has no more is not told: its number may be that of one of them. That a protest
// against it was handed in is kept all the same, by whoever reads the number off the board, and nothing else. Source: our own logic.
func TestPosting_LineThatIsNotTold_TakesAProtest(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "9", Code: "F", Gate: "3", Panel: "C"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	p := sit(t, open(t, b), "Cleo")
	require.Equal(t, http.StatusOK, p.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "6", "F"))).status)
	b.SetAside("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "its judge takes it back")
	page := p.get("/posting").body
	require.Contains(t, page, "1 line that was made public is not in the draft as it stands, and not shown here")
	assert.Contains(t, page, "A protest was handed in on one of them")
	assert.NotContains(t, p.get("/packet?bib=14&group=girls").body, "not in the draft any more</span>")
	assert.Equal(t, http.StatusConflict, at14(p, "overruled", "12:30", "present", "referee").status, "the rest waits")
	form := url.Values{"run": {"1"}, "course": {"Blue"}, "group": {"girls"}, "bib": {"14"}, "at": {"12:10"}, "from": {"Ash"}, "do": {"protest"}}
	a := p.send("/packet", form)
	assert.Equal(t, http.StatusOK, a.status)
	assert.Equal(t, "/posting", a.path)
	assert.Contains(t, a.body, "Protest kept, handed in at 12:10:00.")
	form.Set("bib", "15")
	assert.Equal(t, http.StatusConflict, p.send("/packet", form).status)
	// Typed, the other row lets the board be told.
	b.Type("Ada", stacktest.Key("Blue", 1, 2, sheetmodel.PartBib), "9")
	assert.Contains(t, p.get("/posting").body, "A protest on it is open, handed in at 12:10:00.")
	assert.Contains(t, p.get("/packet?bib=14&group=girls").body, "Protest at 12:10:00 by Ash.")
}

// Two copies of the race decided one protest differently, or have it otherwise, the line was withdrawn and its row set aside: the list said to enter it again, and
// nobody could. Source: our own logic.
func TestPacket_DisputeOnALineThatIsGone_IsEnteredAgain(t *testing.T) {
	upheld := jury.Decision{Verdict: jury.Upheld, Present: []string{"referee"}, Gate: "6", Code: "F", Protest: 1}
	for name, c := range map[string]struct {
		ours, theirs []any
		do           string
	}{
		"verdict":          {[]any{jury.Protest{No: 1}, upheld}, []any{jury.Protest{No: 1}, jury.Decision{Verdict: jury.Overruled, Present: []string{"referee"}, Gate: "6", Code: "F", Protest: 1}}, "upheld"},
		"protest":          {[]any{jury.Protest{No: 1, From: "Ash"}}, []any{jury.Protest{No: 1, From: "Elm"}}, "protest"},
		"and two protests": {[]any{jury.Protest{No: 1, From: "Ash"}}, []any{jury.Protest{No: 1, From: "Elm"}}, "two-protests"},
	} {
		for _, withdrawn := range []bool{false, true} {
			b := stacktest.New(t)
			b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
			b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
			at, keep := aboutBib14(t)
			keep(b.Store, jury.Posting{At: at, Gate: "6", Code: "F"})
			say := func(all []any) func(*store.Store) {
				return func(s *store.Store) {
					for _, what := range all {
						switch v := what.(type) {
						case jury.Protest:
							v.At = at.Add(5 * time.Minute)
							what = v
						case jury.Decision:
							v.At = at.Add(10 * time.Minute)
							what = v
						}
						keep(s, what)
					}
				}
			}
			joinTwin(t, b, at, say(c.ours), say(c.theirs))
			b.SetAside("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "its judge takes it back")
			if withdrawn {
				keep(b.Store, jury.Posting{At: at.Add(20 * time.Minute), Gate: "6", Code: "F", Withdrawn: true, Why: "its judge takes it back"})
			}
			p := sit(t, open(t, b), "Cleo")
			require.Contains(t, p.get("/draft").body, "enter it again", name)
			assert.Contains(t, p.get("/packet?bib=14&group=girls").body, "not in the draft any more</span>", name)
			require.Equal(t, http.StatusOK, at14(p, c.do, "12:40", "gate", "6", "code", "F", "present", "referee", "from", "Ash").status, "%s %v", name, withdrawn)
			assert.NotContains(t, p.get("/draft").body, "enter it again", "%s %v", name, withdrawn)
		}
	}
}

// Two copies decided differently on a line that was never public, or a protest is open on one that was withdrawn; its row is set aside, and another row is still to be typed
// unseen. No packet tells of it until that is typed. Source: our own logic, as for what hangs on the board.
func TestPacket_LineThatIsGone_IsNotToldWhileRowsAreTypedUnseen(t *testing.T) {
	for _, disputed := range []bool{true, false} {
		b := stacktest.New(t)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "9", Code: "F", Gate: "3", Panel: "C"})
		b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
		at, keep := aboutBib14(t)
		if disputed {
			decide := func(v jury.Verdict) func(*store.Store) {
				return func(s *store.Store) {
					keep(s, jury.Decision{Verdict: v, At: at, Present: []string{"referee"}, Gate: "6", Code: "F"})
				}
			}
			joinTwin(t, b, at, decide(jury.Upheld), decide(jury.Overruled))
		} else {
			keep(b.Store, jury.Posting{At: at, Gate: "6", Code: "F"})
			keep(b.Store, jury.Protest{At: at.Add(time.Minute), No: 1})
			keep(b.Store, jury.Posting{At: at.Add(2 * time.Minute), Gate: "6", Code: "F", Withdrawn: true, Why: "for this test"})
		}
		b.SetAside("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "its judge takes it back")
		p := sit(t, open(t, b), "Cleo")
		const told = "not in the draft any more</span>"
		assert.NotContains(t, p.get("/packet?bib=14&group=girls").body, told, disputed)
		assert.Equal(t, http.StatusConflict, at14(p, "upheld", "12:40", "present", "referee").status, disputed)
		b.Type("Ada", stacktest.Key("Blue", 1, 2, sheetmodel.PartBib), "9")
		assert.Contains(t, p.get("/packet?bib=14&group=girls").body, told, disputed)
		assert.Equal(t, http.StatusOK, at14(p, "upheld", "12:40", "present", "referee").status, disputed)
	}
}
