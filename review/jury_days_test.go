package review_test

import (
	"flag"
	"fmt"
	"html"
	"math/rand/v2"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/draft"
	"gatefold/review/jury"
	"gatefold/review/stack/stacktest"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

var (
	juryDays = flag.Int("jury-days", 12, "afternoons of a jury that chance makes")
	juryDay  = flag.Uint64("jury-day", 1, "the first of them")
)

// A racer has two faults in one run; lines are made public, withdrawn, protested and decided in any order, and one of the rows is looked at
// anew meanwhile. Whatever was done, draft, board and run 2's list agree: what the draft calls public hangs there with its clock, what was
// overruled doesn't, nobody is back in whom the jury keeps out or of whom a line hangs, and nobody is kept out without a line or a decision.
// No protest that was handed in is missing. Expected values: our own logic.
func TestJury_AfternoonsThatChanceMakes_ListsAgree(t *testing.T) {
	done := map[string]int{}
	for n := range *juryDays {
		r := rand.New(rand.NewPCG(*juryDay+uint64(n), 77))
		b := stacktest.New(t)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
		b.Card("Blue", 5, stacktest.Row{Bib: "14", Code: "F", Gate: "25", Panel: "B"})
		keys := []string{stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), stacktest.Key("Blue", 5, 1, sheetmodel.PartBib)}
		for _, key := range keys {
			b.Type("Ada", key, "14")
		}
		p := sit(t, open(t, b), "Cleo")
		clock, log := time.Date(2027, 1, 23, 12, 0, 0, 0, time.UTC), ""
		for range 16 {
			clock = clock.Add(time.Duration(1+r.IntN(5)) * time.Minute)
			step, status := juryStep(t, r, b, p, keys, clock.Format("15:04:05"))
			log += fmt.Sprintf("%s %s: %d\n", clock.Format("15:04"), step, status)
			if status == http.StatusOK {
				done[strings.Fields(step)[0]]++
			}
			if juryFaults(t, b, p, log); t.Failed() {
				t.Fatalf("day %d:\n%s", *juryDay+uint64(n), log)
			}
		}
	}
	t.Log(done)
	for _, step := range []string{"posted", "withdrawn", "protest", "upheld", "overruled"} {
		assert.Positive(t, done[step], step)
	}
}

// juryStep does one thing, if the page lets it.
func juryStep(t *testing.T, r *rand.Rand, b *stacktest.Table, p *person, keys []string, clock string) (step string, status int) {
	t.Helper()
	gate := []string{"6", "25"}[r.IntN(2)]
	if _, result := b.Load(); len(result.Calls) > 0 {
		gate = result.Calls[r.IntN(len(result.Calls))].Gate
	}
	do := []string{"posted", "posted", "protest", "protest", "upheld", "overruled", "upheld", "overruled", "no-decision", "no-protest", "withdrawn", "answer", "answer", "look"}[r.IntN(14)]
	switch do {
	case "withdrawn":
		return "withdrawn", p.send("/posting", postingForm("withdrawn", clock, "group", "girls", "bib", "14", "why", "for this test")).status
	case "answer":
		ask := regexp.MustCompile(`name="question" value="(jury/[^"]+)"><input type="hidden" name="view" value="([^"]+)"`).FindStringSubmatch(p.get("/questions").body)
		if ask == nil {
			return "answer (none)", 0
		}
		value := []string{"too", "not"}[r.IntN(2)]
		return "answer " + value, p.send("/questions", url.Values{"question": {html.UnescapeString(ask[1])}, "view": {ask[2]}, "answer": {value}, "note": {"the referee"}}).status
	case "look":
		key := keys[r.IntN(2)]
		st, _ := b.Load()
		for _, d := range st.Decisions {
			if d.Reading == key && d.Undone == nil {
				require.NoError(t, b.Store.Undo(t.Context(), d.ID, "Ada", "Ada"))
				return "look taken back at " + key, http.StatusOK
			}
		}
		b.Type(fmt.Sprintf("Eve %d", len(st.Decisions)), key, "14")
		return "look at " + key, http.StatusOK
	}
	form := juryForm(do, "gate", gate, "code", "F", "present", "referee", "reason", "for this test", "from", "team official")
	form.Set("at", clock)
	if r.IntN(2) == 0 {
		form.Set("answers", fmt.Sprint(1+r.IntN(3)))
	}
	if r.IntN(2) == 0 {
		form.Set("protest-off", fmt.Sprint(1+r.IntN(3)))
	}
	if do != "no-protest" {
		form.Del("protest-off")
	}
	return do + " gate " + gate + " " + form.Get("answers") + form.Get("protest-off"), p.send("/packet", form).status
}

func juryFaults(t *testing.T, b *stacktest.Table, p *person, log string) {
	t.Helper()
	st, result := b.Load()
	line := jury.Line{Run: 1, Course: "Blue", Group: "girls", Bib: "14"}
	record := st.Records()[line]
	stands := map[string]rules.BoardLine{}
	for _, l := range st.Board {
		if l.Struck == nil {
			stands[l.Gate] = l
		}
	}
	assert.LessOrEqual(t, len(stands), 1, "one line of a racer hangs there")
	upheld, overruled := map[string]bool{}, map[string]bool{}
	for _, d := range record.Decisions {
		if d.Verdict == jury.Upheld {
			upheld[d.Gate] = true
		} else {
			overruled[d.Gate] = true
		}
	}
	d, err := draft.New(st, result, draft.Options{At: at, Layout: b.LayoutByHash})
	require.NoError(t, err)
	for _, s := range d.Sections {
		for _, l := range s.Proposed {
			assert.False(t, overruled[l.Gate], "gate %s is proposed, and overruled", l.Gate)
			if l.Jury == nil {
				continue
			}
			if l.Jury.PostedAt != nil {
				on, ok := stands[l.Gate]
				if !ok && len(stands) == 1 { // another one of theirs, which is said
					assert.Contains(t, strings.Join(l.Jury.Words(), " "), "is not public", "gate %s", l.Gate)
				} else if ok {
					assert.Equal(t, int64(on.Posted), l.Jury.PostedAt.Unix())
					assert.Equal(t, int64(on.Until), l.Jury.ProtestTo.Unix())
				}
			} else {
				assert.NotContains(t, stands, l.Gate, "it hangs there, and the draft has no clock")
			}
			if l.Jury.Verdict != "" && l.Jury.DecidedOn == "" {
				assert.Equal(t, "upheld", l.Jury.Verdict)
				assert.True(t, upheld[l.Gate], "gate %s", l.Gate)
			}
		}
		for _, l := range s.Overruled {
			assert.NotContains(t, stands, l.Gate, "overruled, and it hangs there")
		}
	}
	page := p.get("/posting").body
	kept := false // by a line that hangs there, or by the jury
	for _, d := range record.Decisions {
		kept = kept || d.Verdict == jury.Upheld && !backSince(st.Board, d)
	}
	if strings.Contains(page, "Back in.") {
		assert.Empty(t, stands, "back in, and a line hangs there")
		assert.False(t, kept, "back in, and the jury has upheld a line")
	}
	if strings.Contains(page, "May not start.") {
		assert.True(t, len(stands) > 0 || kept, "out, and neither a line nor the jury says so")
	}
	if strings.Contains(page, "May start under protest.") {
		assert.True(t, record.ProtestOpen(), "under protest, and none is open")
	}
	packet := p.get("/packet?bib=14").body
	for _, protest := range record.OpenProtests() {
		if strings.Contains(packet, "A protest was handed in") && !strings.Contains(page, "not shown") && len(stands) == 1 {
			told := strings.Contains(packet, "Protest at "+protest.At.Format("15:04:05")) || strings.Contains(packet, "Protest at "+protest.At.Add(time.Hour).Format("15:04:05"))
			_, leads := stands[leading(result)]
			assert.True(t, told || !leads, "protest of %v\n%s", protest.At, log)
		}
	}
}

// leading is the gate of the line that stands.
func leading(result rules.Result) string {
	for _, c := range result.Calls {
		if !c.Waiting && !c.Overruled {
			return c.Gate
		}
	}
	return ""
}

// backSince reports whether what was decided on was withdrawn on the board since.
func backSince(board []rules.BoardLine, d jury.Decision) bool {
	back := false
	for _, l := range board {
		if l.Gate == d.Gate && l.Code == d.Code {
			back = l.Struck != nil && !l.Overruled && l.Why != rules.WhyChanged && *l.Struck >= rules.Moment(d.At.Unix())
		}
	}
	return back
}
