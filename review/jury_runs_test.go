package review_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/draft"
	"gatefold/review/jury"
	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

var (
	runsDays  = flag.Int("runs-days", 6, "afternoons at two laptops on which a spare is moved between the runs")
	runsDay   = flag.Uint64("runs-day", 1, "the first of them")
	runsSteps = flag.Int("runs-steps", 24, "how much happens on each")
)

// twoRuns is a race of two runs at up to two laptops. A spare carries a fault of bib 14, and nobody knows for certain in which run it was used:
// it is bound to one and to the other while lines are made public, protested and decided.
type twoRuns struct {
	t        *testing.T
	r        *rand.Rand
	at       []*stacktest.Table
	desk     []*person
	clock    time.Time
	log      string
	done     map[string]int
	protests []protestIn // that were handed in
	spoken   bool        // somebody has taken a protest off, or has entered again one of two
}

type protestIn struct {
	run  int
	from string
}

const spareOf14 = 203

func newTwoRuns(t *testing.T, n uint64, done map[string]int) *twoRuns {
	t.Helper()
	b := stacktest.New(t)
	later := b.Race.Run(2)
	none := sheetmodel.BibList{Given: sheetmodel.ListNone}
	for i := range b.Race.Runs {
		b.Race.Runs[i].DidNotStart, b.Race.Runs[i].DidNotEnd, b.Race.Runs[i].Reruns = none, none, none
	}
	course := later.Course("Blue")
	course.Gates = slices.Clone(b.Race.Run(1).Course("Blue").Gates)
	course.Places = []sheetmodel.Place{{Card: 1, Name: "B1", Gates: course.Gates[:7], Judge: "Olli Fernbucket"}}
	d := &twoRuns{t: t, r: rand.New(rand.NewPCG(n, 79)), at: []*stacktest.Table{b}, done: done, clock: time.Date(2027, 1, 23, 12, 0, 0, 0, time.UTC)}
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "9", Code: "F", Gate: "3", Panel: "C"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	b.Type("Ada", stacktest.Key("Blue", 1, 2, sheetmodel.PartBib), "9")
	spare := sheetmodel.CardKey{Card: spareOf14}
	require.NoError(t, b.Store.TypeFromPaper(t.Context(), store.PaperCard{Card: spare, Rows: 1, By: "Ada"}))
	for _, name := range []string{"Ada", "Bo"} {
		for part, text := range map[string]string{"bib": "14", "code": "F", "gate": "25"} {
			b.Type(name, store.Key(spare, sheetmodel.Front, "row-01."+part), text)
		}
	}
	d.desk = []*person{sit(t, open(t, b), "Cleo")}
	return d
}

// part copies the race to a second laptop, at which others sit.
func (d *twoRuns) part() {
	dir := filepath.Join(d.t.TempDir(), "copy")
	require.NoError(d.t, os.CopyFS(dir, os.DirFS(d.at[0].Store.Dir())))
	s, err := store.Open(d.t.Context(), dir, store.Options{Now: storetest.Clock()})
	require.NoError(d.t, err)
	d.t.Cleanup(func() { assert.NoError(d.t, s.Close()) })
	other := *d.at[0]
	other.Store = s
	d.at = append(d.at, &other)
	d.desk = append(d.desk, sit(d.t, open(d.t, &other), "Dora"))
}

func (d *twoRuns) join(here, there int) {
	c, err := store.OpenCopy(d.t.Context(), d.at[there].Store.Dir(), d.t.TempDir(), store.Options{Now: storetest.Clock()})
	require.NoError(d.t, err)
	_, err = d.at[here].Store.Join(d.t.Context(), c)
	require.NoError(d.t, err)
	require.NoError(d.t, c.Close())
}

// step does one thing at one laptop, if its page lets it.
func (d *twoRuns) step() {
	d.clock = d.clock.Add(time.Duration(1+d.r.IntN(4)) * time.Minute)
	clock := d.clock.Format("15:04:05")
	i := d.r.IntN(len(d.at))
	b, p := d.at[i], d.desk[i]
	run := 1 + d.r.IntN(2)
	gate := []string{"6", "25"}[d.r.IntN(2)]
	if d.r.IntN(5) > 0 { // mostly of a line that there is, or that hangs there
		st, result := b.Load()
		lines := []rules.BoardLine{}
		for _, c := range result.Calls {
			lines = append(lines, rules.BoardLine{Run: c.Run, Bib: c.Bib, Gate: c.Gate})
		}
		for _, l := range st.Board {
			if l.Struck == nil || d.r.IntN(4) == 0 {
				lines = append(lines, l, l)
			}
		}
		lines = slices.DeleteFunc(lines, func(l rules.BoardLine) bool { return l.Bib != "14" })
		if len(lines) > 0 {
			l := lines[d.r.IntN(len(lines))]
			run, gate = l.Run, l.Gate
		}
	}
	form := func(do string, more ...string) url.Values {
		v := juryForm(do, append([]string{"gate", gate, "code", "F", "present", "referee", "reason", "for this test"}, more...)...)
		v.Set("run", fmt.Sprint(run))
		v.Set("at", clock)
		return v
	}
	do := []string{"bind", "bind", "posted", "posted", "posted", "protest", "protest", "upheld", "overruled", "no-decision", "no-protest", "withdrawn", "aside", "join", "join", "answer"}[d.r.IntN(16)]
	status := 0
	switch do {
	case "bind":
		status = p.send("/bind/spare/card-203", url.Values{"run": {fmt.Sprint(run)}, "course": {"Blue"}, "gates": {"19-30"}, "judge": {"Quirin Snowbasket"}}).status
	case "withdrawn":
		v := postingForm("withdrawn", clock, "group", "girls", "bib", "14", "why", "for this test")
		v.Set("run", fmt.Sprint(run))
		status = p.send("/posting", v).status
	case "protest":
		from := fmt.Sprintf("team %02d", len(d.protests)+1)
		a := p.send("/packet", form(do, "from", from))
		if status = a.status; status == http.StatusOK {
			d.protests = append(d.protests, protestIn{run: run, from: from})
			d.spoken = d.spoken || strings.Contains(a.body, "Two copies had another one")
		}
	case "aside":
		key := stacktest.Key("Blue", 1, 1, sheetmodel.PartBib)
		st, _ := b.Load()
		for _, dec := range st.Decisions {
			if dec.Reading == key && dec.Undone == nil && dec.Basis == sheetmodel.BasisSetAside {
				require.NoError(d.t, b.Store.Undo(d.t.Context(), dec.ID, "Ada", "Ada"))
				do, status = "back", http.StatusOK
			}
		}
		if do == "aside" {
			b.SetAside("Ada", key, "for this test")
			status = http.StatusOK
		}
	case "join":
		if len(d.at) == 1 {
			do = "part"
			d.part()
		} else {
			d.join(i, 1-i)
		}
		status = http.StatusOK
	case "answer":
		asks := walkFormed.FindAllStringSubmatch(p.get("/questions").body, -1)
		for _, ask := range asks {
			f := formsOf(ask[0])[0]
			key := f.values.Get("question")
			if !strings.HasPrefix(key, "jury/") && !strings.HasPrefix(key, "run-2-list/") || len(f.choices["answer"]) == 0 && len(f.buttons) == 0 {
				continue
			}
			v := clone(f.values)
			v.Set("note", "the referee")
			all := f.choices["answer"]
			for _, button := range f.buttons {
				if button[0] == "answer" {
					all = append(all, button[1])
				}
			}
			if len(all) == 0 {
				continue
			}
			v.Set("answer", all[d.r.IntN(len(all))])
			do = "answer " + key + " " + v.Get("answer")
			a := p.send("/questions", v)
			if status = a.status; status != http.StatusOK {
				d.log += walkHeading.FindString(a.body) + "\n"
				d.done[walkHeading.FindString(a.body)+v.Encode()]++
			}
			break
		}
	default:
		status = p.send("/packet", form(do)).status
	}
	d.log += fmt.Sprintf("%s laptop %d: %s run %d gate %s: %d\n", clock, i, do, run, gate, status)
	if status == http.StatusOK {
		d.spoken = d.spoken || do == "no-protest"
		d.done[strings.Fields(do)[0]]++
	} else {
		d.done["refused "+strings.Fields(do)[0]]++
	}
	for i := range d.at {
		d.faults(i)
	}
}

// faults looks at all that a laptop says, and at what it can't say.
func (d *twoRuns) faults(i int) {
	t, b := d.t, d.at[i]
	st, result := b.Load()
	spareAt := 0
	for _, c := range st.Cards {
		if c.Printed.Card == spareOf14 {
			spareAt = c.Key.Run
		}
	}
	records := st.Records()
	for _, c := range result.Calls {
		if c.Bib != "14" || c.Gate != "25" {
			continue
		}
		assert.Equal(t, spareAt, c.Run, "the spare's row makes a line only where the spare was used")
		// What the jury has struck in the other run isn't proposed here without a word about it.
		struck := false
		for _, v := range records[jury.Line{Run: 3 - c.Run, Course: "Blue", Group: "girls", Bib: "14"}].Decisions {
			struck = struck || v.Gate == "25" && v.Verdict == jury.Overruled
		}
		said := false
		for key, value := range st.Answers {
			said = said || strings.HasPrefix(key, "jury/") && strings.Contains(key, "/moved/") && value == "not"
		}
		unread := slices.ContainsFunc(st.Rows, func(r stack.Row) bool {
			return r.Ref.Run != c.Run && r.Gate.Seen.Text != "6" && r.Gate.Seen.Text != "3" // it may be the row that was decided on
		})
		assert.True(t, !struck || said || unread || c.Waiting || c.Overruled, "run %d: what the jury overruled in the other run stands", c.Run)
	}
	dr, err := draft.New(st, result, draft.Options{At: at, Layout: b.LayoutByHash})
	require.NoError(t, err)
	packet, board := d.desk[i].get("/packet?bib=14&group=girls").body, d.desk[i].get("/posting").body
	for run := 1; run <= 2; run++ {
		line := jury.Line{Run: run, Course: "Blue", Group: "girls", Bib: "14"}
		record := records[line]
		var stands []rules.BoardLine
		for _, l := range st.Board {
			if l.Struck == nil && l.Run == run && l.Bib == "14" {
				stands = append(stands, l)
			}
		}
		assert.LessOrEqual(t, len(stands), 1, "one line of a racer hangs there")
		disputed := slices.ContainsFunc(st.Disputes(), func(o store.Dispute) bool {
			of, ok := stack.JuryDispute(o)
			return ok && of == line
		})
		overruled := map[string]bool{}
		for _, v := range record.Decisions {
			if v.Verdict == jury.Overruled {
				overruled[v.Gate] = true
			}
		}
		for _, s := range dr.Sections {
			if s.Run != run || s.Course != "Blue" {
				continue
			}
			unmade := 0
			for _, l := range stands {
				if !slices.ContainsFunc(s.Proposed, func(o draft.Line) bool { return o.Bib == "14" && o.Gate == l.Gate && o.Code == l.Code }) {
					unmade++
				}
			}
			assert.Equal(t, unmade, s.Unmade, "run %d", run)
			for _, l := range s.Proposed {
				if l.Bib == "14" && !disputed {
					assert.False(t, overruled[l.Gate], "run %d gate %s is proposed, and overruled", run, l.Gate)
				}
			}
		}
		// A protest that is open is told, and somebody can end it: its form is there.
		for _, p := range record.OpenProtests() {
			told := strings.Contains(packet, p.From)
			if (len(stands) > 0 || disputed) && !strings.Contains(board, "not shown") {
				assert.True(t, told, "run %d: the protest of %s is on no packet (disputed: %v)", run, p.From, disputed)
			}
			if len(stands) > 0 && run == 1 && !strings.Contains(board, "not shown while rows of run 1") {
				assert.Contains(t, board, "May start under protest.", "protest of %s", p.From)
			}
		}
		// While a row of the run is to be typed unseen, no line of it is told that the draft has no more.
		unseen := slices.ContainsFunc(st.Rows, func(r stack.Row) bool { return r.Ref.Run == run && r.BibState == sheetmodel.BibWaiting })
		if disputed && !unseen && !strings.Contains(board, "not shown") {
			assert.Contains(t, packet, fmt.Sprintf(`name="run" value="%d"`, run), "what is to be entered again can be")
		}
		if run == 1 && strings.Contains(board, "Back in.") {
			assert.Empty(t, stands, "back in, and a line hangs there")
		}
		if run == 1 && len(stands) > 0 {
			assert.NotContains(t, board, "No line of run 1 keeps anybody out.")
		}
	}
	if t.Failed() {
		t.Logf("laptop %d", i)
	}
}

// ends joins the laptops: what either of them was told is there, at both, or asked about.
func (d *twoRuns) ends() {
	if len(d.at) > 1 {
		d.join(0, 1)
		d.join(1, 0)
	}
	for i, b := range d.at {
		d.faults(i)
		st, _ := b.Load()
		for _, p := range d.protests {
			line := jury.Line{Run: p.run, Course: "Blue", Group: "girls", Bib: "14"}
			there := slices.ContainsFunc(st.Records()[line].Protests, func(o jury.Protest) bool { return o.From == p.from })
			asked := slices.ContainsFunc(st.Disputes(), func(o store.Dispute) bool {
				return jury.ProtestOf(o.Subject) > 0 && (strings.Contains(o.Ours, p.from) || strings.Contains(o.Theirs, p.from))
			})
			assert.True(d.t, there || asked || d.spoken, "laptop %d: the protest of %s is gone", i, p.from)
		}
	}
}

// A spare is bound to one run and to the other while its lines are made public, protested and decided, at two laptops that are parted and joined: its row
// makes a line only where it was used, what hangs on the board can be protested against and decided wherever its row is by now, no protest is on no page,
// and run 2's list never has somebody back in whose line hangs there. Expected values: our own logic.
func TestJury_SpareMovedBetweenRuns_NothingIsLost(t *testing.T) {
	done := map[string]int{}
	for n := *runsDay; n < *runsDay+uint64(*runsDays); n++ {
		d := newTwoRuns(t, n, done)
		for range *runsSteps {
			if d.step(); t.Failed() {
				t.Fatalf("day %d:\n%s", n, d.log)
			}
		}
		if d.ends(); t.Failed() {
			t.Fatalf("day %d, joined:\n%s", n, d.log)
		}
	}
	for _, k := range sortedNames(done) {
		t.Logf("%6d %s", done[k], k)
	}
	for _, must := range []string{"bind", "posted", "withdrawn", "protest", "upheld", "overruled", "part", "join"} {
		assert.Positive(t, done[must], must)
	}
}

// A line hangs there, and its spare is bound to the other run: the line on the board, its protest and run 2's list stay, and the page says where the same line is by now.
// Source: our own logic.
func TestPosting_SpareMovedToRun2_SaysWhereItsLineIs(t *testing.T) {
	d := newTwoRuns(t, 1, map[string]int{})
	p := d.desk[0]
	bind := func(run string) {
		form := url.Values{"run": {run}, "course": {"Blue"}, "gates": {"19-30"}, "judge": {"Quirin Snowbasket"}}
		require.Equal(t, http.StatusOK, p.send("/bind/spare/card-203", form).status)
	}
	d.at[0].SetAside("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "for this test")
	bind("1")
	require.Equal(t, http.StatusOK, p.send("/posting", postingForm("posted", "12:04", "line", postedForm("14", "25", "F"))).status)
	const says = "Run 2 has the same line: its card may have been moved there."
	assert.NotContains(t, p.get("/posting").body, says)
	bind("2")
	page := p.get("/posting").body
	assert.Contains(t, page, says)
	assert.Contains(t, page, "May not start.")
	assert.Contains(t, page, "the draft has no line of the racer any more")
	page = p.send("/posting", postingForm("withdrawn", "12:20", "group", "girls", "bib", "14", "why", "its card is one of run 2")).body
	assert.NotContains(t, page, says)
	assert.Contains(t, page, "Back in.")
}
