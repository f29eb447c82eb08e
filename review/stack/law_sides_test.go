package stack_test

import (
	"bytes"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/calib"
	"gatefold/ocr/joint"
	"gatefold/review"
	"gatefold/review/draft"
	"gatefold/review/jury"
	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// The law, held against days whose cards have two sides: bibs written once more in a second box, or under a drawing, which judges
// forget, write over, strike out or add later, on one side, on the other or on both. What the paper ties is the day's own knowledge;
// the ties themselves are worked out by package joint, as gatefold collect does it. Source: our own logic, after design, section 5.
func TestLaw_DaysOfCardsWithTwoSides(t *testing.T) {
	stood, tied, called, veiled, doubts := 0, 0, 0, 0, 0
	for n := *dayFlag; n < *dayFlag+uint64(*daysFlag); n++ {
		d := newDay(t, n)
		d.withBacks(n)
		for range *stepFlag {
			l := d.stepOfSides() // nothing changes on any other
			st := d.load(l)
			stood += d.checkStack(l, st)
			called += d.checkCalls(l, st)
			if t.Failed() {
				t.Fatalf("day %d:\n%s", n, strings.Join(d.log, "\n"))
			}
		}
		tied, veiled = tied+d.tiedOnce, veiled+d.veiled
		d.bothWays()
		doubts += d.doubts
		for _, l := range d.laptops {
			require.NoError(t, l.Close())
		}
		require.NoError(t, os.RemoveAll(d.dir))
		if t.Failed() {
			t.Fatalf("day %d:\n%s", n, strings.Join(d.log, "\n"))
		}
	}
	t.Logf("%d days: bibs stood %d times, %d of them on two writings; %d calls stood; %d bibs were looked for in what is shown", *daysFlag, stood, tied, called, veiled)
	t.Logf("%d bibs that somebody had read otherwise and taken back waited when two laptops were joined", doubts)
	assert.Greater(t, doubts, *daysFlag/20, "or nobody read anything otherwise")
	assert.Greater(t, stood, *daysFlag, "or nothing was put to the test")
	assert.Greater(t, tied, *daysFlag/5, "or no tie was")
	assert.Greater(t, called, *daysFlag/2, "or no call was")
	assert.Greater(t, veiled, *daysFlag/2, "or no bib was hidden")
}

// Where on a card lies what belongs to a row, beside its bib: box{card, again + row}.
const (
	again = 10 * (iota + 1) // its second box
	strip                   // under the drawing that it shares
	codes                   // what happened
	gates
)

// backs is what a day knows of cards with two sides.
type backs struct {
	panels   map[box]string // that a row names, by its bib
	under    map[box]string // under which its bib stands once more, by its strip
	seconds  bool           // whether the card has second boxes
	folds    int            // of how many rows one looks struck out, and isn't: a fold, a shadow, a smear
	mended   int            // the reader from which on the layout is another: the rows lie elsewhere; 0: none
	hidden   bool           // whether what may still be typed can be told from all else in a list
	public   []string       // bibs that were posted
	said     []*word        // of what happened and of gates
	tiedOnce int
	veiled   int
}

func (d *day) withBacks(n uint64) {
	d.backs = &backs{panels: map[box]string{}, under: map[box]string{}}
	d.plain, d.twins = n%4 == 3, false
	if n%3 == 1 {
		d.mended = 1 + d.r.IntN(3)
	}
	d.folds = []int{40, 40, 40, 3}[d.r.IntN(4)]
	if n%2 == 0 { // every bib of the day stands on the start list, and nowhere else
		d.hidden = true
		d.table.race.SpotCheck = 0.5
		for b, all := range d.paper {
			all[0].truth, all[0].alike = "50"+all[0].truth, "5"+all[0].alike
			d.paper[b] = all
		}
		d.truths += 5000
		for n := d.truths - 100; n < d.truths+400; n++ {
			d.table.race.Starters = append(d.table.race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: fmt.Sprint(n), Group: "girls"}, Course: "Blue"})
		}
	}
	d.seconds = d.r.IntN(3) == 0
	for card := 1; card <= 2; card++ {
		for row := 1; row <= inkOfADay; row++ {
			b := box{card, row}
			is := d.paper[b][0]
			if d.seconds && d.r.IntN(4) > 0 {
				d.paper[box{card, again + row}] = []ink{is}
			}
			d.panels[b] = d.one("B", "B", "C", "")
			d.under[box{card, strip + row}] = d.panels[b]
			if d.panels[b] != "" {
				if d.r.IntN(8) == 0 {
					d.under[box{card, strip + row}] = d.one("B", "C")
				}
				if d.r.IntN(6) > 0 {
					d.paper[box{card, strip + row}] = []ink{is}
				}
			}
			if code := d.one("F", "F", "F", "F", "K", "P", ""); code != "" {
				d.paper[box{card, codes + row}] = []ink{{truth: code, alike: "C"}}
			}
			if d.r.IntN(8) > 0 {
				d.paper[box{card, gates + row}] = []ink{{truth: d.gate(card), alike: d.gate(card)}}
			}
		}
	}
}

func (d *day) gate(card int) string {
	all := d.table.race.Run(1).Course("Blue").Places[card-1].Gates
	return all[d.r.IntN(len(all))]
}

func (d *day) stepOfSides() *daysLaptop {
	l := d.laptops[d.r.IntN(len(d.laptops))]
	b := box{1 + d.r.IntN(2), 1 + d.r.IntN(inkOfADay)}
	switch n := d.r.IntN(100); {
	case n < 10:
		d.mend(b)
	case n < 19:
		d.shootSides()
	case n < 34:
		d.deliver(l)
		d.tieSometimes(l)
	case n < 39:
		d.readAgain(l)
		d.tieSometimes(l)
	case n < 44:
		d.tie(l)
	case n < 60:
		d.typeBib(l, b)
	case n < 68:
		d.judge(l, b)
	case n < 71:
		d.reveal(l, b)
	case n < 74:
		d.setAside(l, b)
	case n < 77:
		d.undo(l)
	case n < 78:
		d.redo(l)
	case n < 83:
		d.answer(l)
	case n < 87:
		d.answerRules(l)
	case n < 89:
		d.post(l)
	case n < 91:
		d.typeOther(l, b)
	case n < 92:
		d.addRow(l, b.card)
	case n < 94:
		d.mark(l, b)
	case n < 95:
		if d.plain {
			d.which(l)
		} else {
			d.typeFromPaper(l, b.card)
		}
	case n < 96:
		d.part(l)
	case n < 97:
		d.bind(l, b.card)
	default:
		d.joinUp(l)
		d.tieSometimes(l)
	}
	return l
}

// mend is what a judge does to a row with the pencil.
func (d *day) mend(b box) {
	add := func(at int, is ink) {
		b := box{b.card, at + b.row}
		d.paper[b] = append(d.paper[b], is)
	}
	last := func(at int) (is ink, ok bool) {
		all := d.paper[box{b.card, at + b.row}]
		if len(all) == 0 {
			return ink{}, false
		}
		return all[len(all)-1], true
	}
	row, _ := last(0)
	if row.struck {
		return
	}
	d.truths++
	is := ink{truth: fmt.Sprint(d.truths), alike: fmt.Sprint(d.truths + 200)}
	switch d.r.IntN(9) {
	case 8:
		d.rub(box{b.card, []int{0, 0, again, strip}[d.r.IntN(4)] + b.row})
	case 0:
		for _, at := range []int{0, again, strip, codes, gates} {
			if was, ok := last(at); ok && (at != strip || d.r.IntN(2) == 0) {
				was.struck = true
				add(at, was)
			}
		}
		d.say("judge strikes out card %d row %d", b.card, b.row)
	case 1:
		if was, ok := last(strip); ok && !was.struck {
			was.struck = true
			add(strip, was)
			d.say("judge strikes out what stands for card %d row %d under the drawing", b.card, b.row)
		}
	case 2:
		if was, ok := last(strip); ok && !was.struck {
			add(strip, is)
			d.say("judge writes over what stands for card %d row %d under the drawing: %s now", b.card, b.row, is.truth)
		}
	case 3:
		if was, ok := last(again); ok && !was.struck {
			add(again, is)
			d.say("judge writes over the second box of card %d row %d: %s now", b.card, b.row, is.truth)
		}
	case 4:
		add(0, is)
		d.say("judge writes over card %d row %d alone: %s now", b.card, b.row, is.truth)
	case 5, 6:
		add(0, is)
		for _, at := range []int{again, strip} {
			if was, ok := last(at); ok && !was.struck {
				add(at, is)
			}
		}
		d.say("judge writes over card %d row %d wherever it stands: %s now", b.card, b.row, is.truth)
	case 7:
		switch _, ok := last(strip); {
		case row.truth == "": // nothing to write once more
		case !ok && d.panels[b] != "":
			add(strip, row)
			d.say("judge writes %s of card %d row %d under the drawing too", row.truth, b.card, b.row)
		case d.seconds && len(d.paper[box{b.card, again + b.row}]) == 0:
			add(again, row)
			d.say("judge writes %s of card %d row %d once more beside it", row.truth, b.card, b.row)
		default:
			at, is := codes, ink{truth: d.one("F", "K", "P"), alike: "C"}
			if d.r.IntN(3) == 0 {
				gate := d.gate(b.card)
				at, is = gates, ink{truth: gate, alike: gate}
			}
			if was, ok := last(at); !ok || was.truth != is.truth {
				add(at, is)
				d.say("judge writes %s at card %d row %d", is.truth, b.card, b.row)
			}
		}
	}
}

// shootSides takes a photo of a side, of both sides of a card, or of sides of both cards.
func (d *day) shootSides() {
	s := &shot{name: fmt.Sprintf("photo %d", len(d.shots)+1), shows: map[box]int{}, seed: d.r.Uint64()}
	s.bytes = []byte("\xff\xd8\xff " + s.name)
	card := 1 + d.r.IntN(2)
	switch d.r.IntN(6) {
	case 0, 1:
		s.cards = []int{card}
	case 2, 3:
		s.backs = []int{card}
	case 4:
		s.cards, s.backs = []int{card}, []int{card}
	case 5:
		s.cards, s.backs = []int{1, 2}, []int{1, 2}
	}
	show := func(card int, parts ...int) {
		for row := 1; row <= inkOfADay; row++ {
			for _, at := range parts {
				b := box{card, at + row}
				s.shows[b] = len(d.paper[b]) - 1
			}
		}
	}
	for _, card := range s.cards {
		show(card, 0, again, codes, gates)
	}
	for _, card := range s.backs {
		show(card, strip)
	}
	d.shots = append(d.shots, s)
	d.say("%s shows fronts %v and backs %v as they are", s.name, s.cards, s.backs)
}

// readSides is what a reader makes of such a photo.
func (d *day) readSides(s *shot, reader int) []store.NewSheet {
	r := rand.New(rand.NewPCG(s.seed, uint64(reader)))
	var sheets []store.NewSheet
	for _, card := range s.cards {
		sheets = append(sheets, d.readFront(r, s, reader, card))
	}
	for _, card := range s.backs {
		sheets = append(sheets, d.readBack(r, s, card))
	}
	for i := range sheets {
		n := &sheets[i]
		if d.mended > 0 && reader >= d.mended {
			n.Layout = "the mended form"
			if n.Read.Reading.Side == sheetmodel.Front {
				n.Quality.BlurMM += otherForm
			}
		}
		if d.plain {
			d.unnamed(r, n, i)
			n.Read.Plain.OneSided = false
		}
	}
	if reader > 0 {
		r.Shuffle(len(sheets), func(i, j int) { sheets[i], sheets[j] = sheets[j], sheets[i] })
		if r.IntN(4) == 0 {
			sheets = sheets[1:]
		}
	}
	for i := range sheets {
		sheets[i].Part = i + 1
	}
	return sheets
}

func (d *day) readFront(r *rand.Rand, s *shot, reader, card int) store.NewSheet {
	at := &store.Sheet{}
	at.Quality.BlurMM = float64(card)
	if d.mended > 0 && reader >= d.mended {
		at.Quality.BlurMM += otherForm
	}
	rows := rowsOfADay
	if reader > 0 && r.IntN(4) == 0 {
		rows = inkOfADay
	}
	n := d.table.front(card, make([]string, rows)...)
	n.Quality.BlurMM = float64(card)
	for i := range n.Read.Reading.Rows {
		row, b := &n.Read.Reading.Rows[i], boxOf(at, i+1)
		is := d.paper[b][s.shows[b]]
		row.Bib.Text, row.Bib.State = is.truth, sheetmodel.Clear
		d.readBox(r, &n, i, d.paper[b][:s.shows[b]+1])
		row.Struck = is.struck || r.IntN(d.folds) == 0
		if row.Struck && is.truth != "" && r.IntN(2) == 0 {
			row.Bib.Doubt(sheetmodel.DoubtStruckOut, "for this test")
		}
		d.readSecond(r, &row.BibAgain, s, box{card, again + b.row})
		row.Panel.Text, row.Panel.State = d.panels[b], sheetmodel.Clear
		if row.Panel.Text == "" {
			row.Panel.State = sheetmodel.Empty
		} else if r.IntN(10) == 0 {
			row.Panel.Doubt(sheetmodel.DoubtTwoMarks, "for this test")
			row.Panel.Rivals = []sheetmodel.Rival{{Text: d.other(row.Panel.Text), Prob: 0.3}}
		}
		d.readTick(r, &row.Code, s, box{card, codes + b.row})
		d.readTick(r, &row.Gate, s, box{card, gates + b.row})
		n.Read.Alone = append(n.Read.Alone, row.Code.Field, row.Gate.Field)
	}
	return n
}

func (d *day) other(panel string) string {
	if panel == "B" {
		return "C"
	}
	return "B"
}

// readTick reads what happened, or a gate: rightly, doubtfully, or as empty where nothing is.
func (d *day) readTick(r *rand.Rand, is *sheetmodel.Reading, s *shot, b box) {
	mend := s.shows[b]
	if mend < 0 {
		is.Text, is.State = "", sheetmodel.Empty
		return
	}
	is.Text, is.State = d.paper[b][mend].truth, sheetmodel.Clear
	switch {
	case mend > 0 && r.IntN(2) == 0:
		is.Doubt(sheetmodel.DoubtTwoMarks, "for this test")
	case r.IntN(10) == 0:
		is.Doubt(sheetmodel.DoubtLowCertainty, "for this test")
		is.Rivals = []sheetmodel.Rival{{Text: d.paper[b][mend].alike, Prob: 0.2}}
	}
}

// readSecond reads a second writing: as readBox does, and what is struck out as struck out.
func (d *day) readSecond(r *rand.Rand, is *sheetmodel.Reading, s *shot, b box) {
	mend := s.shows[b]
	if mend < 0 {
		is.Text, is.State = "", sheetmodel.Empty
		return
	}
	one := store.NewSheet{}
	one.Read.Reading.Rows = []sheetmodel.Row{{Bib: sheetmodel.Reading{Field: is.Field, Side: is.Side, Text: d.paper[b][mend].truth, State: sheetmodel.Clear}}}
	d.readBox(r, &one, 0, d.paper[b][:mend+1])
	*is = one.Read.Reading.Rows[0].Bib
	if d.paper[b][mend].struck && is.Text != "" {
		is.Doubt(sheetmodel.DoubtStruckOut, "for this test")
	}
}

func (d *day) readBack(r *rand.Rand, s *shot, card int) store.NewSheet {
	n := d.table.back(card)
	n.Quality.BlurMM = float64(card)
	entries := map[string]int{}
	for row := 1; row <= inkOfADay; row++ {
		b := box{card, strip + row}
		if s.shows[b] < 0 {
			continue
		}
		panel := d.under[b]
		entries[panel]++
		e := sheetmodel.StripEntry{Panel: panel, Entry: entries[panel]}
		e.Bib = sheetmodel.Reading{Field: fmt.Sprintf("panel-%s.bib-%d", strings.ToLower(panel), e.Entry), Side: sheetmodel.Back}
		d.readSecond(r, &e.Bib, s, b)
		n.Read.Reading.Strips = append(n.Read.Reading.Strips, e)
	}
	return n
}

func (d *day) tieSometimes(l *daysLaptop) {
	if d.r.IntN(5) > 0 {
		d.tie(l)
	}
}

// fromScore calls clear what two clear writings are together, and nothing less.
type fromScore struct{}

func (fromScore) Judge(_ calib.Kind, score float64) (sheetmodel.Certainty, bool) {
	return sheetmodel.Certainty{}, score > 1.5
}

// tie reads the two writings of each row together, as gatefold collect does.
func (d *day) tie(l *daysLaptop) {
	sheets, err := l.Sheets(d.t.Context())
	require.NoError(d.t, err)
	for _, front := range sheets {
		if front.Side != sheetmodel.Front || !front.Named() {
			continue
		}
		backs := slices.DeleteFunc(slices.Clone(sheets), func(s store.Sheet) bool {
			return s.Side != sheetmodel.Back || !s.Named() || s.Card != front.Card
		})
		if len(backs) == 0 {
			backs = []store.Sheet{{}}
		}
		for _, back := range backs {
			ties := store.CardTies{Front: front.ID, Back: back.ID, Reader: fmt.Sprint("reader ", l.reader)}
			for _, p := range joint.Card(front.Read.Reading, back.Read.Reading, fromScore{}) {
				t := look.Tied{Row: p.Row, Panel: p.Panel, Entry: p.Entry, Text: p.Both.Text, Clear: p.Fault == "" && p.Both.State == sheetmodel.Clear, Differs: p.Fault == sheetmodel.DoubtWritings}
				for _, r := range front.Read.Reading.Rows {
					if p.Kind == sheetmodel.LookSecondBox && r.Number == p.Row {
						t.Second = r.BibAgain.Text
					}
				}
				for _, e := range back.Read.Reading.Strips {
					if e.Panel == p.Panel && e.Entry == p.Entry {
						t.Second = e.Bib.Text
					}
				}
				ties.Ties = append(ties.Ties, t)
			}
			require.NoError(d.t, l.AddTies(d.t.Context(), ties))
		}
	}
	d.say("%s: its cards' two writings are read together", l.name)
}

// answerRules answers a question of the rules: whether a row is struck out, as its photo shows it, and any other somehow.
func (d *day) answerRules(l *daysLaptop) {
	st := d.load(l)
	var open []sheetmodel.Finding
	for _, f := range rules.Check(st.Facts()).Findings {
		if f.Question != nil && f.Severity == sheetmodel.Asks {
			open = append(open, f)
		}
	}
	if len(open) == 0 {
		return
	}
	f := open[d.r.IntN(len(open))]
	value := f.Question.Answers[d.r.IntN(len(f.Question.Answers))].Value
	if strings.HasPrefix(f.Question.Key, "struck-row/") {
		value = "stands"
		if row := st.Row(f.Rows[0]); row.Sheet == nil || d.struck(l, row) {
			value = "struck"
		}
	}
	require.NoError(d.t, l.Answer(d.t.Context(), st.OnPaper(store.Answer{Question: f.Question.Key, Value: value, By: "Ada", View: f.Question.View})...))
	d.say("%s: %s: %s", l.name, f.Question.Key, value)
	// What was just said of what is there counts: a view that its own answer changed would ask for ever.
	for _, again := range rules.Check(d.load(l).Facts()).Findings {
		if again.Question != nil && again.Question.Key == f.Question.Key {
			require.Fail(d.t, "asked again at once", "%s: %s", f.Question.Key, again.Sentence)
		}
	}
}

// post makes a line that stands public, or has the jury decide about one.
func (d *day) post(l *daysLaptop) {
	st := d.load(l)
	for _, c := range rules.Check(st.Facts()).Calls {
		if c.Waiting || d.r.IntN(2) == 0 {
			continue
		}
		line := jury.Line{Run: c.Run, Course: c.Course, Group: c.Group, Bib: c.Bib}
		var what any
		switch now := d.clock; d.r.IntN(4) {
		case 0, 1:
			what = jury.Posting{At: now, Gate: c.Gate, Code: c.Code}
		case 2:
			what = jury.Posting{At: now, Gate: c.Gate, Code: c.Code, Withdrawn: true, Why: "for this test"}
		case 3:
			what = jury.Decision{Verdict: []jury.Verdict{jury.Upheld, jury.Overruled}[d.r.IntN(2)], At: now, Gate: c.Gate, Code: c.Code, Present: []string{"referee"}}
		}
		require.NoError(d.t, l.Answer(d.t.Context(), store.Answer{Question: jury.Key(line, what), Value: jury.Value(what), By: "Ada"}))
		d.public = append(d.public, c.Bib)
		d.say("%s: %s: %+v", l.name, c.Bib, what)
		return
	}
}

// struck reports whether a row is struck out as the photo shows it that counts.
func (d *day) struck(l *daysLaptop, row *stack.Row) bool {
	if row.Sheet == nil {
		return false
	}
	of := boxOf(row.Sheet, row.Ref.Row)
	return d.paper[of][l.photos[row.Sheet.Photo].shows[of]].struck
}

// mark marks a row as struck out by hand, or takes that back.
func (d *day) mark(l *daysLaptop, b box) {
	st := d.load(l)
	for _, c := range rules.Check(st.Facts()).Calls {
		if !c.Waiting && d.r.IntN(2) == 0 {
			b = box{c.Rows[0].Card, c.Rows[0].Row}
		}
	}
	c := st.Card(rowRef(b.card, 1).CardKey)
	if c == nil || c.Front == nil || d.row(st, b) == nil {
		return
	}
	value := stack.Marked
	if d.r.IntN(3) == 0 {
		value = ""
	}
	require.NoError(d.t, l.Answer(d.t.Context(), st.OnPaper(store.Answer{Question: stack.StruckKey(c.Printed, b.row), Value: value, By: "Ada"})...))
	l.marks = maps.Clone(l.marks) // a copy of this laptop knows what was marked before it was made
	if l.marks == nil {
		l.marks = map[box]bool{}
	}
	l.marks[b] = value == stack.Marked
	d.say("%s: card %d row %d is marked as struck out: %q", l.name, b.card, b.row, value)
}

// typeOther types what happened, or a gate, as the photo shows it, sometimes otherwise.
func (d *day) typeOther(l *daysLaptop, b box) {
	st := d.load(l)
	row := d.row(st, b)
	if row == nil || row.Sheet == nil {
		return
	}
	at, e, other := codes, row.Code, d.one("F", "K", "P")
	if d.r.IntN(3) == 0 {
		at, e, other = gates, row.Gate, d.gate(b.card)
	}
	of := boxOf(row.Sheet, b.row)
	of.row += at
	mend := l.photos[row.Sheet.Photo].shows[of]
	text := other
	if mend >= 0 && d.r.IntN(6) > 0 {
		text = d.paper[of][mend].truth
	}
	by := d.one("Ada", "Bo", "Cy", "Di")
	require.NoError(d.t, l.Serve(d.t.Context(), store.Served{Session: l.name + by, Person: by, Readings: []string{e.Key}, Sheet: row.Sheet.ID, What: "entry"}))
	_, err := l.Settle(d.t.Context(), store.Entry{Reading: e.Key, Text: text, Basis: sheetmodel.BasisOnPaper, By: by, Session: l.name + by, Sheet: row.Sheet.ID})
	require.NoError(d.t, err)
	d.said = append(d.said, &word{at: of, mend: mend, text: text, by: by})
	d.say("%s: %s types %q at %s, ink %d", l.name, by, text, e.Key, mend)
}

// sheets are the sides that are in, looked up once for each change.
func (d *day) sheets(l *daysLaptop) []store.Sheet {
	head, err := l.Head(d.t.Context())
	require.NoError(d.t, err)
	if head != l.head {
		l.sheets, err = l.Sheets(d.t.Context())
		require.NoError(d.t, err)
		l.head = head
	}
	return l.sheets
}

// newestOf is the newest ink of a box that any photo of a laptop shows whose side is in and has a card's name; -1: none does.
func (d *day) newestOf(l *daysLaptop, named sheetmodel.CardKey, b box) int {
	side, newest := sheetmodel.Front, -1
	if b.row > strip && b.row <= strip+inkOfADay {
		side = sheetmodel.Back
	}
	for _, s := range d.sheets(l) {
		if s.Side == side && s.Card == named && int(s.Quality.BlurMM) == b.card {
			newest = max(newest, l.photos[s.Photo].shows[b])
		}
	}
	return newest
}

// secondWriting reports whether the paper ties a second writing of a text to a row, as the newest photos of it show it, and those
// that count are no older.
func (d *day) secondWriting(l *daysLaptop, st *stack.Stack, row *stack.Row) bool {
	if row.Sheet == nil {
		return false
	}
	c, of := st.Cards[row.Card], boxOf(row.Sheet, row.Ref.Row)
	card := c.Printed
	shows := l.photos[row.Sheet.Photo].shows
	same := func(b box, shown int) bool {
		return shown >= 0 && shown == d.newestOf(l, card, b) && !d.paper[b][shown].struck && d.paper[b][shown].truth == row.Bib
	}
	if b := (box{of.card, again + of.row}); same(b, shows[b]) {
		return true
	}
	if c.Back == nil || int(c.Back.Quality.BlurMM) != of.card || d.panels[of] == "" {
		return false
	}
	found := false
	for n := 1; n <= inkOfADay; n++ {
		b := box{of.card, strip + n}
		shown := l.photos[c.Back.Photo].shows[b]
		if d.under[b] != d.panels[of] {
			continue
		}
		if shown < d.newestOf(l, card, b) {
			return false // the paper ties them otherwise since, or not at all
		}
		found = found || same(b, shown)
	}
	return found
}

// contradicted reports whether a photo in which a second writing of a row's bib is read clearly shows another number there, and none
// shows that it was mended since.
func (d *day) contradicted(l *daysLaptop, row *stack.Row) bool {
	if row.Sheet == nil {
		return false
	}
	of := boxOf(row.Sheet, row.Ref.Row)
	b := box{of.card, again + of.row}
	shown := l.photos[row.Sheet.Photo].shows[b]
	return shown >= 0 && row.Ink.BibAgain.State == sheetmodel.Clear && row.Ink.BibAgain.Text != row.Bib && !d.paper[b][shown].struck
}

// checkCalls holds the calls that stand on a laptop against what its photos show, and returns how many there are.
func (d *day) checkCalls(l *daysLaptop, st *stack.Stack) int {
	n := 0
	if d.r.IntN(8) == 0 {
		d.checkStartList(st)
	}
	if d.hidden && !d.plain && d.mended == 0 && d.r.IntN(3) == 0 { // else what was typed of one row may lie in the log of another
		d.checkHidden(st)
	}
	for _, c := range rules.Check(st.Facts()).Calls {
		if c.Waiting || c.Overruled {
			continue
		}
		n++
		for _, ref := range c.Rows {
			row := st.Row(ref)
			require.NotNil(d.t, row)
			assert.Equal(d.t, sheetmodel.BibTwoLooks, row.BibState, "%s: a call stands on %v", l.name, ref)
			assert.Equal(d.t, c.Bib, row.Bib, "%s: a call of another bib stands on %v", l.name, ref)
			if row.Sheet == nil {
				continue
			}
			of := boxOf(row.Sheet, ref.Row)
			assert.False(d.t, d.struck(l, row), "%s: a call stands on %v, which its judge struck out", l.name, ref)
			if newest := d.newestOf(l, st.Cards[row.Card].Printed, of); newest >= 0 {
				assert.False(d.t, d.paper[of][newest].struck, "%s: a call stands on %v, which its judge has struck out since", l.name, ref)
			}
			if !d.plain && d.mended == 0 && !l.joined {
				assert.False(d.t, l.marks[box{ref.Card, ref.Row}], "%s: a call stands on %v, which somebody marked as struck out", l.name, ref)
			}
			d.checkOther(l, st.Cards[row.Card].Printed, row, box{of.card, codes + of.row}, row.Row.Code, "what happened")
			d.checkOther(l, st.Cards[row.Card].Printed, row, box{of.card, gates + of.row}, row.Row.Gate, "the gate")
		}
	}
	return n
}

var hashes = regexp.MustCompile(`[0-9a-f]{11,}`)

// checkHidden looks for bibs that may still be typed unseen in what people are shown: the list, and what the rules say.
func (d *day) checkHidden(st *stack.Stack) {
	result := rules.Check(st.Facts())
	shown, said, _ := review.Veil(st, result)
	list, err := draft.New(shown, said, draft.Options{At: d.clock})
	require.NoError(d.t, err)
	var text bytes.Buffer
	require.NoError(d.t, list.WriteJSON(&text))
	require.NoError(d.t, list.WriteCSV(&text))
	for _, r := range shown.Rows {
		fmt.Fprintf(&text, "%+v %s\n", r.Row, r.Hint)
	}
	fmt.Fprintf(&text, "%+v %+v", said, shown.Questions)
	told := hashes.ReplaceAllString(text.String(), "")
	standing := map[sheetmodel.RowRef]sheetmodel.Standing{}
	for _, s := range result.Standings {
		standing[s.Ref] = s.Standing
	}
	referee := slices.Clone(d.public) // and what is told of rows that are set aside
	for i := range st.Rows {
		if r := &st.Rows[i]; standing[r.Ref] == sheetmodel.StandsSetAside {
			referee = append(append(referee, r.Bib), r.BibSeen.Seen.Rivals...)
		}
	}
	for i := range st.Rows {
		r := &st.Rows[i]
		waits := standing[r.Ref] == sheetmodel.StandsWaiting || standing[r.Ref] == sheetmodel.StandsInform && (r.Row.Code == "F" || r.Row.Code == "K")
		struck := r.Struck && !rules.SaidToStand(st.Answers, r.Ref)
		harmless := r.BibState == sheetmodel.BibOneLook && r.CodeSure && r.Row.Code == "P" // who left the course: one look will do
		if r.BibState == sheetmodel.BibSetAside || standing[r.Ref] == sheetmodel.StandsSetAside || harmless && !struck || !struck && (r.BibState == sheetmodel.BibTwoLooks || !waits) {
			continue
		}
		d.veiled++
		of := box{r.Ref.Card, r.Ref.Row}
		if r.Sheet != nil {
			of = boxOf(r.Sheet, r.Ref.Row)
		}
		for _, at := range []int{0, again, strip} {
			for _, is := range d.paper[box{of.card, at + of.row}] {
				for _, bib := range []string{is.truth, is.alike} {
					if bib == "" || slices.Contains(referee, bib) {
						continue
					}
					// As a word: addresses are told, too, and may end so.
					found := regexp.MustCompile(`\b` + bib + `\b`).FindStringIndex(told)
					at := 0
					if found != nil {
						at = found[0]
					}
					assert.Nil(d.t, found, "%v may still be typed unseen, %s, and %s is told: ...%s...", r.Ref, standing[r.Ref], bib, told[max(0, at-400):min(len(told), max(0, at)+700)])
				}
			}
		}
	}
}

// checkStartList takes racers off the start list: no bib is read otherwise for it, and no call stands that didn't.
func (d *day) checkStartList(st *stack.Stack) {
	facts := st.Facts()
	stands := map[string]bool{}
	for _, c := range rules.Check(facts).Calls {
		stands[fmt.Sprint(c.Run, c.Course, c.Bib, c.Gate, c.Code)] = !c.Waiting
	}
	fewer := *facts.Race
	fewer.Starters = slices.DeleteFunc(slices.Clone(fewer.Starters), func(sheetmodel.Starter) bool { return d.r.IntN(3) == 0 })
	facts.Race = &fewer
	for _, c := range rules.Check(facts).Calls {
		assert.True(d.t, c.Waiting || stands[fmt.Sprint(c.Run, c.Course, c.Bib, c.Gate, c.Code)], "a call stands on a shorter start list alone: %+v", c)
	}
}

// checkOther holds what happened, or a gate, against its newest ink, or what somebody typed of that.
func (d *day) checkOther(l *daysLaptop, card sheetmodel.CardKey, row *stack.Row, b box, text, what string) {
	newest := d.newestOf(l, card, b)
	right := newest >= 0 && d.paper[b][newest].truth == text
	typed := slices.ContainsFunc(d.said, func(w *word) bool { return w.at == b && w.mend == newest && w.text == text })
	assert.True(d.t, right || typed, "%s, %v: %s stands with %q, ink %d", l.name, row.Ref, what, text, newest)
}
