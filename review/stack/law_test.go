package stack_test

import (
	"bytes"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
)

// The law, held against days that chance makes: no bib stands unless two looks agree on ink that is still on its paper.
//
// A day is a handful of cards that their judges write over, photos of them that come in late, twice, in another order or to
// another laptop, readers that read them anew, people who type what they see, judges who are asked, words taken back, rows set
// aside, copies of the race that part and are joined. What each photo shows and who has said what of which ink is known to the
// day itself; it shares no code with what counts the looks. Source: our own logic.

var (
	daysFlag = flag.Int("days", 25, "how many days chance makes")
	dayFlag  = flag.Uint64("day", 0, "the number of the first of them")
	stepFlag = flag.Int("day-steps", 40, "how much happens in a day")
)

func TestLaw_DaysThatChanceMakes(t *testing.T) {
	stood := 0
	for n := *dayFlag; n < *dayFlag+uint64(*daysFlag); n++ {
		d := newDay(t, n)
		for range *stepFlag {
			d.step()
			for _, l := range d.laptops {
				stood += d.check(l)
			}
			if t.Failed() {
				t.Fatalf("day %d:\n%s", n, strings.Join(d.log, "\n"))
			}
		}
		d.bothWays()
		for _, l := range d.laptops {
			require.NoError(t, l.Close())
		}
		require.NoError(t, os.RemoveAll(d.dir))
		if t.Failed() {
			t.Fatalf("day %d:\n%s", n, strings.Join(d.log, "\n"))
		}
	}
	assert.Greater(t, stood, *daysFlag, "or nothing was put to the test")
}

const (
	rowsOfADay = 2 // that every reader sees
	inkOfADay  = 3 // the last one is seen by some newer readers, and by people who add it by hand
)

// otherForm is added to the number of a card in a side that was read as another form than it is: its rows lie elsewhere there.
const otherForm = 0.5

// boxOf is which box of which card a row of a side truly is.
func boxOf(s *store.Sheet, row int) box {
	b := box{int(s.Quality.BlurMM), row}
	if s.Quality.BlurMM > float64(b.card) {
		b.row = inkOfADay + 1 - row
	}
	return b
}

// ink is what stands in a box between two strokes of its judge's pencil.
type ink struct {
	truth  string // empty: rubbed out
	alike  string // what others may take it for; no other ink says so
	struck bool   // there is a line through it
}

type box struct{ card, row int }

// shot is a photo of fronts, with the ink that each shows: the number of its mending.
type shot struct {
	name  string
	bytes []byte
	cards []int // whose fronts
	backs []int // whose backs
	shows map[box]int
	seed  uint64
}

// word is what somebody said of a box.
type word struct {
	at     box
	mend   int
	text   string
	by     string
	judge  bool // unprompted
	nod    bool
	blind  bool // nothing was shown to them before, as far as is known where it was said
	on     *daysLaptop
	id     int64 // there
	sheet  int64 // there; 0: the paper
	seen   showing
	known  map[*daysLaptop]bool
	goneOn map[*daysLaptop]bool // taken back, as far as it is known there
	said   int                  // which of the day's words it is; put back, it is the same once more
}

// showing is that somebody was shown what is read of an ink.
type showing struct {
	by    string
	at    box
	mend  int
	row   int    // as which it was shown: which row of another form it is, nobody knows
	named int    // the card that its side was taken for then
	photo string // empty: typed from the paper
	boxed string // the box that was drawn around the row, where people have added it
}

// is reports whether two inks are one as far as anybody here can know: one box of a card by the same name, or in the same photo.
func (s showing) is(o showing) bool {
	return s.by == o.by && s.at == o.at && s.mend == o.mend && s.row == o.row && (s.named == o.named || s.photo != "" && s.photo == o.photo)
}

type daysLaptop struct {
	*store.Store
	name    string
	photos  map[string]*shot // by their name in the store
	reader  int
	paper   map[int]bool // cards typed from the paper
	showing []showing
	joined  bool         // with another: the order of what was said in two copies is nobody's to know
	marks   map[box]bool // rows that somebody marked as struck out
	head    int64
	sheets  []store.Sheet // that were in then
}

type day struct {
	doubts  int // bibs that waited when laptops were joined because somebody had read them otherwise and taken that back
	t       *testing.T
	r       *rand.Rand
	dir     string
	table   *table
	paper   map[box][]ink
	shots   []*shot
	words   []*word
	laptops []*daysLaptop
	log     []string
	clock   time.Time
	copies  int
	truths  int
	plain   bool // the cards carry no identity: their heads are read, or people say which they are; some fit two forms
	twins   bool // both carry the code of card 1
	*backs       // nil: nobody turns a card
}

func newDay(t *testing.T, n uint64) *day {
	t.Helper()
	d := &day{t: t, r: rand.New(rand.NewPCG(n, 4)), dir: filepath.Join(t.TempDir(), "day"), paper: map[box][]ink{}, table: &table{t: t, race: demoRace(t)}, clock: storetest.Clock()(), truths: 10, plain: n%3 == 2, twins: n%4 == 3 && n%3 != 2}
	for card := 1; card <= 2; card++ {
		for row := 1; row <= inkOfADay; row++ {
			d.write(box{card, row})
		}
	}
	if d.r.IntN(3) == 0 { // whoever wrote a card sits at the desk, too
		places := d.table.race.Run(1).Course("Blue").Places
		places[0].Judge, places[1].Judge = "Ada", "Bo"
		places[1].Relief = []sheetmodel.Relief{{Judge: "Cy", At: "10:30"}}
	}
	require.NoError(t, os.Mkdir(d.dir, 0o700))
	first := &daysLaptop{name: "A", photos: map[string]*shot{}, paper: map[int]bool{}}
	d.open(first)
	d.laptops = []*daysLaptop{first}
	return d
}

func (d *day) open(l *daysLaptop) {
	s, err := store.Open(d.t.Context(), filepath.Join(d.dir, l.name), store.Options{Now: func() time.Time {
		d.clock = d.clock.Add(time.Second)
		if d.r.IntN(40) == 0 {
			d.clock = d.clock.Add(-2 * time.Hour) // somebody sets the clock
		}
		return d.clock
	}})
	require.NoError(d.t, err)
	l.Store = s
}

func (d *day) write(b box) {
	d.truths++
	d.paper[b] = append(d.paper[b], ink{truth: fmt.Sprint(d.truths), alike: fmt.Sprint(d.truths + 200)})
}

// rub rubs out what stands in a box.
func (d *day) rub(b box) {
	if all := d.paper[b]; len(all) > 0 && all[len(all)-1].truth != "" {
		d.paper[b] = append(all, ink{})
		d.say("judge rubs out card %d, %d", b.card, b.row)
	}
}

func (d *day) say(format string, about ...any) { d.log = append(d.log, fmt.Sprintf(format, about...)) }

func (d *day) one(of ...string) string { return of[d.r.IntN(len(of))] }

func (d *day) key(b box) string {
	return fmt.Sprintf("run1/Blue/card-%d/front/row-%02d.bib", b.card, b.row)
}

func (d *day) step() {
	l := d.laptops[d.r.IntN(len(d.laptops))]
	b := box{1 + d.r.IntN(2), 1 + d.r.IntN(inkOfADay)}
	switch n := d.r.IntN(100); {
	case n < 2:
		d.rub(b)
	case n < 8:
		d.write(b)
		d.say("judge writes over card %d row %d: %s now", b.card, b.row, d.paper[b][len(d.paper[b])-1].truth)
	case n < 20:
		d.shoot()
	case n < 36:
		d.deliver(l)
	case n < 42:
		d.readAgain(l)
	case n < 62:
		d.typeBib(l, b)
	case n < 74:
		d.judge(l, b)
	case n < 78:
		d.reveal(l, b)
	case n < 82:
		d.setAside(l, b)
	case n < 86:
		d.undo(l)
	case n < 87:
		d.redo(l)
	case n < 89:
		d.answer(l)
	case n < 90:
		d.addRow(l, b.card)
	case n < 93 && (d.plain || d.twins && d.r.IntN(2) == 0):
		d.which(l)
	case n < 93 && d.twins:
		d.apart(l)
	case n < 95:
		d.typeFromPaper(l, b.card)
	case n < 97:
		d.part(l)
	case n < 98:
		d.bind(l, b.card)
	default:
		d.joinUp(l)
	}
}

// shoot takes a photo of one card or of both.
func (d *day) shoot() {
	s := &shot{name: fmt.Sprintf("photo %d", len(d.shots)+1), shows: map[box]int{}, seed: d.r.Uint64()}
	s.bytes = []byte("\xff\xd8\xff " + s.name)
	s.cards = [][]int{{1}, {2}, {1, 2}, {2, 1}}[d.r.IntN(4)]
	for _, card := range s.cards {
		for row := 1; row <= inkOfADay; row++ {
			s.shows[box{card, row}] = len(d.paper[box{card, row}]) - 1
		}
	}
	d.shots = append(d.shots, s)
	d.say("%s shows %v", s.name, s.shows)
}

// read is what a reader makes of a photo; another one may make something else of doubtful ink, find the sides in another order, or
// lose one.
func (d *day) read(s *shot, reader int) []store.NewSheet {
	if d.backs != nil {
		return d.readSides(s, reader)
	}
	r := rand.New(rand.NewPCG(s.seed, uint64(reader)))
	fits := d.plain && s.seed%3 == 0 // each of them two forms
	type found struct {
		store.NewSheet
		place int
	}
	var all []found
	for place, card := range s.cards {
		for form := range 2 {
			if form > 0 && !fits {
				continue
			}
			rows := rowsOfADay
			if reader > 0 && r.IntN(4) == 0 {
				rows = inkOfADay
			}
			at := &store.Sheet{}
			at.Quality.BlurMM = float64(card) + otherForm*float64(form) // which nobody looks at but the day
			bibs := make([]string, rows)
			for row := range bibs {
				b := boxOf(at, row+1)
				bibs[row] = d.paper[b][s.shows[b]].truth
			}
			n := d.table.front(card, bibs...)
			for row := range bibs {
				b := boxOf(at, row+1)
				d.readBox(r, &n, row, d.paper[b][:s.shows[b]+1])
			}
			n.Quality = at.Quality
			if form > 0 {
				n.Layout = "another form"
			}
			if d.plain {
				d.unnamed(r, &n, place)
			}
			if fits {
				n.Card = sheetmodel.CardKey{}
			}
			if d.twins {
				n.Card.Card, n.Corners = 1, cornersAt(place)
			}
			all = append(all, found{n, place})
		}
	}
	if reader > 0 {
		r.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
		if r.IntN(4) == 0 {
			all = all[1:]
		}
	}
	var sheets []store.NewSheet
	for i := range all {
		n := all[i].NewSheet
		n.Part = i + 1
		for o := range all {
			if o != i && all[o].place == all[i].place {
				n.Read.Plain = &store.PlainCard{OneSided: true, Or: []int{o + 1}}
			}
		}
		sheets = append(sheets, n)
	}
	return sheets
}

// cornersAt are those of a side at its place in a photo, whichever reader finds it.
func cornersAt(place int) [4]sheetmodel.PhotoPoint {
	x := float64(1000 * place)
	return [4]sheetmodel.PhotoPoint{{X: x, Y: 0}, {X: x + 800, Y: 0}, {X: x + 800, Y: 600}, {X: x, Y: 600}}
}

// unnamed makes a side one that carries no identity, whose head is read rightly, wrongly or not at all. It keeps its place in
// the photo, whichever reader finds it.
func (d *day) unnamed(r *rand.Rand, n *store.NewSheet, place int) {
	n.Read.Plain = &store.PlainCard{OneSided: true}
	n.Corners = cornersAt(place)
	switch how := r.IntN(10); {
	case how < 3:
		n.Card = sheetmodel.CardKey{}
	case how < 4:
		n.Card.Card = 3 - n.Card.Card
	}
}

// readBox makes the reading of a bib: clear and right, or doubtful. Ink that was written over shows it unless it is clear.
func (d *day) readBox(r *rand.Rand, n *store.NewSheet, row int, inks []ink) {
	is := inks[len(inks)-1]
	bib := &n.Read.Reading.Rows[row].Bib
	if is.truth == "" {
		bib.Text, bib.State = "", sheetmodel.Empty
		return
	}
	doubt := func(kind sheetmodel.DoubtKind) {
		bib.State = sheetmodel.Doubtful
		bib.Doubts = append(bib.Doubts, sheetmodel.Doubt{Kind: kind, Detail: "for this test"})
	}
	rival := func(text string) {
		bib.Rivals = append(bib.Rivals, sheetmodel.Rival{Text: text, Prob: 0.3})
		n.Read.Alone = slices.DeleteFunc(n.Read.Alone, func(f string) bool { return f == bib.Field })
	}
	how := r.IntN(10)
	if how < 5 {
		return
	}
	if len(inks) > 1 {
		doubt(sheetmodel.DoubtOverwritten)
	}
	switch how {
	case 5, 6:
		doubt(sheetmodel.DoubtLowCertainty)
	case 7:
		doubt(sheetmodel.DoubtLowCertainty)
		if alike := inks[r.IntN(len(inks))].alike; alike != "" {
			rival(alike)
		}
	case 8: // taken for another, or for what stood there before
		doubt(sheetmodel.DoubtReaders)
		bib.Text = is.alike
		if len(inks) > 1 && inks[len(inks)-2].truth != "" {
			bib.Text = inks[len(inks)-2].truth
		}
		rival(is.truth)
	case 9:
		doubt(sheetmodel.DoubtNotInGrammar)
		bib.Text = ""
		rival("")
		bib.Rivals = nil
	}
}

func (d *day) deliver(l *daysLaptop) {
	switch {
	case len(d.shots) > 0:
	case d.backs != nil:
		d.shootSides()
	default:
		d.shoot()
	}
	s := d.shots[d.r.IntN(len(d.shots))]
	p, known, err := l.AddPhoto(d.t.Context(), s.name, bytes.NewReader(s.bytes), -1, time.Time{})
	require.NoError(d.t, err)
	if known {
		return
	}
	require.NoError(d.t, l.AddSheets(d.t.Context(), p.ID, fmt.Sprint("reader ", l.reader), d.read(s, l.reader)))
	l.photos[p.ID] = s
	d.say("%s: %s comes in", l.name, s.name)
}

func (d *day) readAgain(l *daysLaptop) {
	l.reader++
	for _, id := range sortedKeys(l.photos) {
		if d.r.IntN(2) == 0 {
			continue
		}
		sheets := d.read(l.photos[id], l.reader)
		if len(sheets) == 0 {
			require.NoError(d.t, l.Refuse(d.t.Context(), id, fmt.Sprint("reader ", l.reader), store.Refusal{Fault: "blurred", Detail: "not sharp", Remedy: "again"}))
		} else {
			require.NoError(d.t, l.AddSheets(d.t.Context(), id, fmt.Sprint("reader ", l.reader), sheets))
		}
		d.say("%s: %s is read again by reader %d: %d sides", l.name, l.photos[id].name, l.reader, len(sheets))
	}
}

func sortedKeys[V any](m map[string]V) []string {
	var keys []string
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}

func (d *day) load(l *daysLaptop) *stack.Stack {
	st, err := stack.Load(d.t.Context(), d.table.race, l.Store)
	require.NoError(d.t, err)
	return st
}

// row is a row of a card, whichever run that was used in.
func (d *day) row(st *stack.Stack, b box) *stack.Row {
	i := slices.IndexFunc(st.Rows, func(r stack.Row) bool { return r.Ref.Card == b.card && r.Ref.Row == b.row })
	if i < 0 {
		return nil
	}
	return &st.Rows[i]
}

// shown is the sheet that a row is read from, which box of which card it truly is and which ink that shows; the paper as it is
// now, if it is typed from that.
func (d *day) shown(l *daysLaptop, st *stack.Stack, b box) (sheet int64, of box, mend int, ok bool) {
	row := d.row(st, b)
	if row == nil {
		return 0, b, 0, false
	}
	if row.Sheet == nil {
		return 0, b, len(d.paper[b]) - 1, true
	}
	s := l.photos[row.Sheet.Photo]
	require.NotNil(d.t, s)
	of = boxOf(row.Sheet, b.row)
	return row.Sheet.ID, of, s.shows[of], true
}

func (d *day) typeBib(l *daysLaptop, b box) {
	st := d.load(l)
	sheet, of, mend, ok := d.shown(l, st, b)
	if !ok {
		return
	}
	by, is := d.one("Ada", "Bo", "Cy", "Di"), d.paper[of][mend]
	if is.struck && sheet == 0 {
		return // they see that it is struck out
	}
	text := is.truth
	if d.r.IntN(8) == 0 {
		text = is.alike
	}
	if d.r.IntN(12) == 0 {
		text = fmt.Sprint(400 + d.r.IntN(2)) // a slip of the keyboard
	}
	e := store.Entry{Reading: d.key(b), Text: text, Basis: sheetmodel.BasisOnPaper, By: by, Session: l.name + by, Sheet: sheet}
	if d.r.IntN(5) == 0 || text == "" {
		e.Basis, e.Text, text = sheetmodel.BasisNoWriting, "", look.NoWriting
	}
	require.NoError(d.t, l.Serve(d.t.Context(), store.Served{Session: l.name + by, Person: by, Readings: []string{d.key(b)}, Sheet: sheet, What: "entry"}))
	dec, err := l.Settle(d.t.Context(), e)
	require.NoError(d.t, err)
	d.heard(l, &word{at: of, mend: mend, text: text, by: by, blind: !d.knows(l, d.seen(st, by, b, of, mend)), seen: d.seen(st, by, b, of, mend), on: l, id: dec[0].ID, sheet: sheet})
	d.say("%s: %s types %s at card %d row %d, which is %v, ink %d, sheet %d", l.name, by, text, b.card, b.row, of, mend, sheet)
}

// knows reports whether somebody was shown the text of an ink before, has typed it or taken a word about it back, as far as a
// laptop knows.
func (d *day) knows(l *daysLaptop, now showing) bool {
	return slices.ContainsFunc(l.showing, now.is) ||
		slices.ContainsFunc(d.words, func(w *word) bool { return w.seen.is(now) && w.known[l] })
}

// seen is what somebody sees who looks at a row.
func (d *day) seen(st *stack.Stack, by string, b, of box, mend int) showing {
	s := showing{by: by, at: of, mend: mend, row: b.row, named: b.card}
	if row := d.row(st, b); row != nil && row.Sheet != nil {
		s.photo = row.Sheet.Photo
		s.boxed = st.Answers[stack.AddedKey(st.Cards[row.Card].Printed, b.row)]
	}
	return s
}

// ofOtherBox reports whether something was said of a row that people had added with another box than the one that is drawn around it now: what
// stands there they haven't seen.
func ofOtherBox(st *stack.Stack, w *word, row *stack.Row) bool {
	return row.Added && w.seen.boxed != "" && w.seen.boxed != st.Answers[stack.AddedKey(st.Cards[row.Card].Printed, row.Ref.Row)]
}

func (d *day) heard(l *daysLaptop, w *word) {
	for _, o := range d.words {
		if o.on == l && o.id == w.id {
			return // the same word once more
		}
	}
	if w.said == 0 {
		w.said = len(d.words) + 1
	}
	w.known, w.goneOn = map[*daysLaptop]bool{l: true}, map[*daysLaptop]bool{}
	d.words = append(d.words, w)
}

// judge is asked, reads aloud, or is shown the text and nods. They speak of the paper in their hand.
func (d *day) judge(l *daysLaptop, b box) {
	st := d.load(l)
	sheet, of, _, ok := d.shown(l, st, b)
	if !ok {
		return
	}
	mend := len(d.paper[of]) - 1
	if d.paper[of][mend].struck || d.paper[of][mend].truth == "" {
		return // they say that they have struck it out, or rubbed it out
	}
	by := d.one("Ada", "Bo", "Cy", "Di")
	w := &word{at: of, mend: mend, text: d.paper[of][mend].truth, by: by, judge: true, on: l, sheet: sheet, seen: d.seen(st, by, b, of, mend)}
	e := store.Entry{Reading: d.key(b), Text: w.text, Basis: sheetmodel.BasisJudgeAsked, ReadBack: true, By: by, Session: l.name + by, Sheet: sheet}
	how := d.one("asked", "aloud", "nod")
	switch how {
	case "aloud":
		e.Basis = sheetmodel.BasisOnPaper
		require.NoError(d.t, l.Serve(d.t.Context(), store.Served{Session: l.name + by, Person: by, Readings: []string{d.key(b)}, Sheet: sheet, What: "read-back"}))
		w.judge = !d.knows(l, w.seen)
	case "asked":
		w.judge = !slices.ContainsFunc(l.showing, w.seen.is)
	case "nod":
		e.ReadBack, w.judge = false, false
	}
	dec, err := l.Settle(d.t.Context(), e)
	require.NoError(d.t, err)
	w.id, w.nod = dec[0].ID, !w.judge
	d.heard(l, w)
	d.say("%s: judge, %s by %s, says %s at card %d row %d, which is %v, ink %d, sheet %d", l.name, how, by, w.text, b.card, b.row, of, mend, sheet)
}

func (d *day) reveal(l *daysLaptop, b box) {
	by := d.one("Ada", "Bo", "Cy", "Di")
	require.NoError(d.t, l.Serve(d.t.Context(), store.Served{Session: l.name + by, Person: by, Readings: []string{d.key(b)}, Reveals: true, What: "draft"}))
	st := d.load(l)
	if _, of, mend, ok := d.shown(l, st, b); ok {
		l.showing = append(l.showing, d.seen(st, by, b, of, mend))
	}
	d.say("%s: %s is shown card %d row %d", l.name, by, b.card, b.row)
}

func (d *day) setAside(l *daysLaptop, b box) {
	if d.row(d.load(l), b) == nil {
		return
	}
	by := d.one("Ada", "Bo", "Cy", "Di")
	dec, err := l.Settle(d.t.Context(), store.Entry{Reading: d.key(b), Basis: sheetmodel.BasisSetAside, Note: "the judge has left", By: by, Session: l.name + by})
	require.NoError(d.t, err)
	d.heard(l, &word{at: b, mend: -1, by: by, on: l, id: dec[0].ID})
	d.say("%s: %s sets card %d row %d aside", l.name, by, b.card, b.row)
}

func (d *day) undo(l *daysLaptop) {
	mine := slices.DeleteFunc(slices.Clone(d.words), func(w *word) bool { return w.on != l || w.goneOn[l] })
	if len(mine) == 0 {
		return
	}
	w := mine[d.r.IntN(len(mine))]
	require.NoError(d.t, l.Undo(d.t.Context(), w.id, w.by, l.name+w.by))
	w.goneOn[l] = true
	d.say("%s: %s takes back %q at card %d row %d", l.name, w.by, w.text, w.at.card, w.at.row)
}

// answer says which of two photos shows the card as it was handed in: the one that shows the newer ink.
func (d *day) answer(l *daysLaptop) {
	st := d.load(l)
	for _, q := range st.Questions {
		if q.Answered {
			continue
		}
		value := q.Answers[d.r.IntN(len(q.Answers))].Value
		if q.OfAddedRow() {
			value = stack.AnswerSame
			if d.shows(l, q.Earlier, q.Rows[0]) != d.shows(l, q.Later, q.Rows[0]) {
				value = stack.AnswerOther
				earlier, err1 := l.Sheet(d.t.Context(), q.Earlier)
				later, err2 := l.Sheet(d.t.Context(), q.Later)
				require.NoError(d.t, err1)
				require.NoError(d.t, err2)
				if len(q.Answers) > 2 && d.newer(l.photos[earlier.Photo], l.photos[later.Photo], int(earlier.Quality.BlurMM)) {
					value = stack.AnswerEarlier
				}
			}
		} else if q.Earlier != 0 && q.Later != 0 && value != stack.AnswerStands && value != stack.AnswerNotThere {
			earlier, err1 := l.Sheet(d.t.Context(), q.Earlier)
			later, err2 := l.Sheet(d.t.Context(), q.Later)
			require.NoError(d.t, err1)
			require.NoError(d.t, err2)
			a, b := int(earlier.Quality.BlurMM), int(later.Quality.BlurMM)
			value = stack.AnswerLater
			if a == b && d.newer(l.photos[earlier.Photo], l.photos[later.Photo], a) || a != b && a == q.Card.Card {
				value = stack.AnswerEarlier
			}
		}
		require.NoError(d.t, l.Answer(d.t.Context(), store.Answer{Question: q.Key, Value: value, By: "Ada"}))
		d.say("%s: %s: %s", l.name, q.Key, value)
		return
	}
}

// shows is what a row of a sheet truly shows.
func (d *day) shows(l *daysLaptop, sheet int64, row int) string {
	s, err := l.Sheet(d.t.Context(), sheet)
	require.NoError(d.t, err)
	b := boxOf(&s, row)
	return d.paper[b][l.photos[s.Photo].shows[b]].truth
}

// which says which card a side is, mostly rightly, or that it isn't the one it was taken for.
func (d *day) which(l *daysLaptop) {
	sheets, err := l.Sheets(d.t.Context())
	require.NoError(d.t, err)
	if len(sheets) == 0 {
		return
	}
	s := sheets[d.r.IntN(len(sheets))]
	if !s.Renamable() {
		return
	}
	card := rowRef(int(s.Quality.BlurMM), 1).CardKey
	if d.r.IntN(4) == 0 {
		card.Card = 3 - card.Card
	}
	value := store.CardName(card)
	switch d.r.IntN(8) {
	case 0:
		value = "not-known"
	case 1:
		value = ""
	}
	require.NoError(d.t, l.Answer(d.t.Context(), store.Answer{Question: store.WhichCard(s.Photo, s.Part), Value: value, By: "Ada"}))
	d.say("%s: side %d of %s is %s, truly of card %v", l.name, s.Part, l.photos[s.Photo].name, value, s.Quality.BlurMM)
}

// apart says that two photos of one number are of two papers, mostly where they are, or that no two papers have one.
func (d *day) apart(l *daysLaptop) {
	code := rowRef(1, 1).CardKey
	if d.r.IntN(5) == 0 {
		require.NoError(d.t, l.Answer(d.t.Context(), store.Answer{Question: store.TwoPapers(code), By: "Ada"}))
		d.say("%s: one paper after all", l.name)
		return
	}
	sheets, err := l.Sheets(d.t.Context())
	require.NoError(d.t, err)
	sheets = slices.DeleteFunc(sheets, func(s store.Sheet) bool { return s.Card != code })
	if len(sheets) < 2 {
		return
	}
	d.r.Shuffle(len(sheets), func(i, j int) { sheets[i], sheets[j] = sheets[j], sheets[i] })
	keeps, goes := sheets[0], sheets[1]
	if keeps.Quality.BlurMM == goes.Quality.BlurMM && d.r.IntN(4) > 0 {
		return
	}
	all := []store.Answer{
		{Question: store.WhichCard(keeps.Photo, keeps.Part), Value: store.CardName(code), By: "Ada"},
		{Question: store.WhichCard(goes.Photo, goes.Part), Value: "not-known", By: "Ada"},
	}
	if !goes.Renamable() {
		all = append(all, store.Answer{Question: store.TwoPapers(code), Value: store.AnswerTwoPapers, By: "Ada"})
	}
	require.NoError(d.t, l.Answer(d.t.Context(), d.load(l).OnPaper(all...)...))
	d.say("%s: %s keeps the number, %s is of another paper", l.name, l.photos[keeps.Photo].name, l.photos[goes.Photo].name)
}

// addRow adds the last row of a card by hand, or takes it out again.
func (d *day) addRow(l *daysLaptop, card int) {
	value := stack.FormatBox(sheetmodel.Rect{X: 1, Y: 1, W: 9, H: 9})
	switch d.r.IntN(5) {
	case 0:
		value = ""
	case 1: // beside the first one: other ink is seen there
		value = stack.FormatBox(sheetmodel.Rect{X: 1, Y: 9, W: 9, H: 9})
	}
	d.box(l, card, value)
}

// box draws a box around the last row of a card, where it has a photo; an empty one takes the row out.
func (d *day) box(l *daysLaptop, card int, value string) {
	st := d.load(l)
	c := st.Card(rowRef(card, 1).CardKey)
	if c == nil || c.Front == nil {
		return
	}
	require.NoError(d.t, l.Answer(d.t.Context(), st.OnPaper(store.Answer{Question: stack.AddedKey(c.Printed, inkOfADay), Value: value, By: "Ada"})...))
	d.say("%s: row %d of card %d is added: %q", l.name, inkOfADay, card, value)
}

// redo puts back what somebody took back, if the store lets them.
func (d *day) redo(l *daysLaptop) {
	gone := slices.DeleteFunc(slices.Clone(d.words), func(w *word) bool { return w.on != l || !w.goneOn[l] })
	if len(gone) == 0 {
		return
	}
	w := gone[d.r.IntN(len(gone))]
	again, err := l.Redo(d.t.Context(), []int64{w.id}, w.by, l.name+w.by)
	if err != nil {
		return
	}
	back := *w
	back.id = again[0].ID
	d.heard(l, &back)
	d.say("%s: %s puts %q back at card %d row %d", l.name, w.by, w.text, w.at.card, w.at.row)
}

// newer reports whether a shows newer ink of a card than b.
func (d *day) newer(a, b *shot, card int) bool {
	for at, mend := range a.shows {
		if other, both := b.shows[at]; both && at.card == card && mend > other {
			return true
		}
	}
	return false
}

func (d *day) typeFromPaper(l *daysLaptop, card int) {
	if c := d.load(l).Card(rowRef(card, 1).CardKey); c != nil && c.Front != nil {
		return
	}
	require.NoError(d.t, l.TypeFromPaper(d.t.Context(), store.PaperCard{Card: rowRef(card, 1).CardKey, Rows: rowsOfADay, By: "Ada"}))
	l.paper[card] = true
	d.say("%s: card %d is typed from the paper", l.name, card)
}

// part copies a race to a second laptop.
func (d *day) part(l *daysLaptop) {
	if len(d.laptops) > 2 {
		return
	}
	d.copies++
	card, boxed := 1+d.r.IntN(2), d.r.IntN(3) == 0
	if boxed {
		d.box(l, card, stack.FormatBox(sheetmodel.Rect{X: 1, Y: 1, W: 9, H: 9}))
	}
	o := &daysLaptop{name: fmt.Sprintf("%c", 'A'+d.copies), photos: map[string]*shot{}, reader: l.reader, paper: map[int]bool{}, showing: slices.Clone(l.showing), joined: l.joined, marks: l.marks}
	for id, s := range l.photos {
		o.photos[id] = s
	}
	require.NoError(d.t, os.CopyFS(filepath.Join(d.dir, o.name), os.DirFS(l.Dir())))
	d.open(o)
	for _, w := range d.words {
		w.known[o], w.goneOn[o] = w.known[l], w.goneOn[l]
	}
	d.laptops = append(d.laptops, o)
	d.say("%s is a copy of %s", o.name, l.name)
	if boxed { // what is typed there is of the box as it was, and here it is drawn anew
		for range 4 {
			d.typeBib(o, box{card, inkOfADay})
		}
		d.box(l, card, "")
		d.box(l, card, stack.FormatBox(sheetmodel.Rect{X: 1, Y: 9, W: 9, H: 9}))
		if d.r.IntN(2) == 0 {
			d.joins(l, o)
		}
	}
}

func (d *day) joinUp(l *daysLaptop) {
	o := d.laptops[d.r.IntN(len(d.laptops))]
	if o != l {
		d.joins(l, o)
	}
}

// joins lets a laptop take over what another has.
func (d *day) joins(l, o *daysLaptop) {
	scratch, err := os.MkdirTemp(d.dir, "scratch")
	require.NoError(d.t, err)
	c, err := store.OpenCopy(d.t.Context(), o.Dir(), scratch, store.Options{Now: storetest.Clock()})
	require.NoError(d.t, err)
	_, err = l.Join(d.t.Context(), c)
	require.NoError(d.t, err)
	l.joined = true
	require.NoError(d.t, c.Close())
	for id, s := range o.photos {
		l.photos[id] = s
	}
	for _, w := range d.words {
		w.known[l] = w.known[l] || w.known[o]
		w.goneOn[l] = w.goneOn[l] || w.goneOn[o]
	}
	l.showing = append(l.showing, o.showing...)
	d.say("%s joins %s", l.name, o.name)
}

// bothWays joins two laptops of the day, the one with the other and the other with the one: no row stands with one bib here and
// with another there, and joined once more nothing changes.
func (d *day) bothWays() {
	if len(d.laptops) < 2 {
		d.part(d.laptops[0])
	}
	a, b := d.laptops[0], d.laptops[1]
	d.dissent(a, b)
	d.dissent(b, a)
	ab, ba := d.joined(a, b), d.joined(b, a)
	d.raisesNothing(a, ab)
	d.raisesNothing(b, ba)
	for i := range ab.Rows {
		row := &ab.Rows[i]
		other := ba.Row(row.Ref)
		if other != nil && row.BibState == sheetmodel.BibTwoLooks && other.BibState == sheetmodel.BibTwoLooks {
			assert.Equal(d.t, row.Bib, other.Bib, "%s and %s joined in either order: %v", a.name, b.name, row.Ref)
		}
		// A line through a row may be seen by the reader of one of the two alone; what people say is the same.
		aside := func(r *stack.Row) bool { return r.BibState == sheetmodel.BibSetAside && len(r.Nothing) == 0 }
		stands := func(r *stack.Row) bool { return r.BibState == sheetmodel.BibTwoLooks && !r.Struck }
		if other != nil && row.Sheet != nil && other.Sheet != nil && row.Sheet.Photo == other.Sheet.Photo {
			assert.False(d.t, stands(row) && aside(other) || aside(row) && stands(other), "%s and %s joined in either order, %v: %v, %s and %v, %s", a.name, b.name, row.Ref, row.BibState, row.Reason, other.BibState, other.Reason)
		}
	}
}

// dissent has somebody read what stands on the reader's word otherwise, and take that back. Half of the time they were shown its text at the other laptop.
func (d *day) dissent(l, o *daysLaptop) {
	who := "Hal of " + l.name
	st := d.load(l)
	for i := range st.Rows {
		row := &st.Rows[i]
		if row.Sheet == nil || row.BibState != sheetmodel.BibTwoLooks || slices.ContainsFunc(row.BibSeen.Seen.Looks, readByPerson) {
			continue
		}
		key := row.BibSeen.Key
		require.NoError(d.t, l.Serve(d.t.Context(), store.Served{Session: who, Person: who, Readings: []string{key}, Sheet: row.Sheet.ID, What: "test"}))
		said, err := l.Settle(d.t.Context(), store.Entry{Reading: key, Text: "9" + row.Bib, Basis: sheetmodel.BasisOnPaper, By: who, Session: who, Sheet: row.Sheet.ID})
		require.NoError(d.t, err)
		require.NoError(d.t, l.Undo(d.t.Context(), said[0].ID, who, who))
		if d.r.IntN(2) == 0 {
			require.NoError(d.t, o.Serve(d.t.Context(), store.Served{Session: "there", Person: who, Readings: []string{key}, Reveals: true, What: "test"}))
		}
	}
}

func readByPerson(k sheetmodel.Look) bool {
	return k.Kind != sheetmodel.LookWriting && k.Kind != sheetmodel.LookSecondBox && k.Kind != sheetmodel.LookStrip
}

// raisesNothing holds what stands on a laptop against what stands once it has joined another: a bib that waits because somebody had read it otherwise, and
// taken that back, stands by nothing that the reader has said before.
func (d *day) raisesNothing(l *daysLaptop, joined *stack.Stack) {
	was := d.load(l)
	for i := range was.Rows {
		row := &was.Rows[i]
		if row.Reason != stack.ReadOtherwiseOnce || row.Sheet == nil {
			continue
		}
		d.doubts++
		now := joined.Row(row.Ref)
		if now == nil || now.Sheet == nil || now.Sheet.ID != row.Sheet.ID || now.BibState != sheetmodel.BibTwoLooks {
			continue
		}
		assert.True(d.t, slices.ContainsFunc(now.BibSeen.Seen.Looks, readByPerson), "%s: %v waited for a further person, and stands on the reader's word by joining: %v", l.name, row.Ref, now.BibSeen.Seen)
	}
}

// joined is a copy of a laptop that has joined another.
func (d *day) joined(l, o *daysLaptop) *stack.Stack {
	dir, err := os.MkdirTemp(d.dir, "joined")
	require.NoError(d.t, err)
	require.NoError(d.t, os.CopyFS(dir, os.DirFS(l.Dir())))
	s, err := store.Open(d.t.Context(), dir, store.Options{Now: storetest.Clock()})
	require.NoError(d.t, err)
	defer func() { assert.NoError(d.t, s.Close()) }()
	for again := range 2 {
		scratch, err := os.MkdirTemp(d.dir, "scratch")
		require.NoError(d.t, err)
		c, err := store.OpenCopy(d.t.Context(), o.Dir(), scratch, store.Options{Now: storetest.Clock()})
		require.NoError(d.t, err)
		done, err := s.Join(d.t.Context(), c)
		require.NoError(d.t, err)
		require.NoError(d.t, c.Close())
		assert.False(d.t, again > 0 && done.Changed(), "joined once more: %+v", done)
	}
	st, err := stack.Load(d.t.Context(), d.table.race, s)
	require.NoError(d.t, err)
	return st
}

// check holds what stands on a laptop against what was said, and returns how many bibs stand.
func (d *day) check(l *daysLaptop) int { return d.checkStack(l, d.load(l)) }

func (d *day) checkStack(l *daysLaptop, st *stack.Stack) int {
	sheets := d.sheets(l)
	stood := 0
	for i := range st.Rows {
		row := &st.Rows[i]
		if len(row.Nothing) > 0 && row.Sheet != nil {
			_, of, mend, _ := d.shown(l, st, box{row.Ref.Card, row.Ref.Row})
			who := map[string]bool{}
			for _, w := range d.words {
				who[w.by] = who[w.by] || w.at == of && w.mend == mend && w.text == look.NoWriting && w.known[l] && !w.goneOn[l]
			}
			n := 0
			for _, says := range who {
				if says {
					n++
				}
			}
			assert.GreaterOrEqual(d.t, n, 2, "%s, %v: dropped on the word of %v", l.name, row.Ref, row.Nothing)
		}
		if row.BibState != sheetmodel.BibTwoLooks || d.plain && row.Sheet == nil { // whose side people once took for this card, and is lost
			continue
		}
		stood++
		b := box{row.Ref.Card, row.Ref.Row}
		assert.False(d.t, d.asideLast(l, b), "%s, %v: %s stands, and it was set aside after all that was typed of it", l.name, b, row.Bib)
		_, of, mend, ok := d.shown(l, st, b)
		require.True(d.t, ok)
		newest := 0
		for _, s := range sheets {
			if s.Card.Card == b.card && int(s.Quality.BlurMM) == of.card && s.Side == sheetmodel.Front {
				newest = max(newest, l.photos[s.Photo].shows[of])
			}
		}
		if row.Sheet != nil {
			assert.GreaterOrEqual(d.t, mend, newest, "%s, %v: %s stands on ink that its judge has written over since, as a photo shows", l.name, b, row.Bib)
		}
		if row.Sheet != nil && !row.Added && !slices.ContainsFunc(row.BibSeen.Seen.Looks, func(k sheetmodel.Look) bool {
			return k.Kind == sheetmodel.LookReadBack || k.Kind == sheetmodel.LookJudgeAsked
		}) { // design, section 5.2: typed by a person counts beside a reader that sees no rival, and nothing else does without the judge
			alone := row.Ink.Bib.Text == row.Bib && slices.Contains(row.Sheet.Read.Alone, row.Ink.Bib.Field)
			assert.True(d.t, alone || d.backs != nil && d.secondWriting(l, st, row), "%s, %v: %s stands without the judge: %+v", l.name, b, row.Bib, row.Ink.Bib)
			assert.False(d.t, d.backs != nil && d.contradicted(l, row), "%s, %v: %s stands without the judge, and its second writing shows another bib", l.name, b, row.Bib)
		}
		who := d.looksAt(l, of, mend, mend, row)
		if d.backs != nil && d.secondWriting(l, st, row) {
			who = append(who, "the second writing")
			for m, is := range d.paper[of] { // the judge, with the paper in the hand, and the photo that counts is older
				if m != mend && is.truth == row.Bib {
					who = append(who, slices.DeleteFunc(d.looksAt(l, of, m, m, row), func(who string) bool { return !strings.HasPrefix(who, "the judge") })...)
				}
			}
			if len(who) == 2 && who[0] == "the reader" {
				d.tiedOnce++
			}
		}
		// What was typed from the paper before its photo came, in which no reader sees anything else. And what somebody typed from the paper and
		// the judge named, both of newer ink than that photo shows: what stands is what the paper says, and no photo can say more than it shows.
		if row.Sheet != nil && row.Ink.Bib.Text == "" {
			for m := range d.paper[b] {
				if w := d.looksAt(l, b, m, m, row); len(w) > len(who) && d.fromPaper(l, b, m, row.Bib, m > mend) {
					who = w
				}
			}
		}
		if row.Sheet == nil { // the paper may be mended any time, and no photo says so
			for m := range d.paper[of] {
				if w := d.looksAt(l, of, m, mend, row); len(w) > len(who) {
					who = w
				}
			}
		}
		if row.Added {
			boxed := slices.DeleteFunc(slices.Clone(d.words), func(w *word) bool { return ofOtherBox(st, w, row) })
			all := d.words
			d.words = boxed
			who = d.looksAt(l, of, mend, mend, row)
			d.words = all
		}
		assert.GreaterOrEqual(d.t, len(who), 2, "%s, %v which is %v, ink %d: %s stands on %v; %+v", l.name, b, of, mend, row.Bib, who, row.BibSeen.Seen)
	}
	return stood
}

// asideLast reports whether the last that was said of a box, and not taken back, is that it is set aside. Put back, a word is as old
// as it was.
func (d *day) asideLast(l *daysLaptop, b box) bool {
	if d.plain || d.twins || l.joined || d.backs != nil && d.mended > 0 {
		return false
	}
	last := -1
	for i, w := range d.words {
		if w.at == b && w.known[l] && !w.goneOn[l] && (last < 0 || w.said >= d.words[last].said) {
			last = i
		}
	}
	return last >= 0 && d.words[last].mend < 0
}

// fromPaper reports whether all that stands of a text in ink was said without a photo; judges: or by its judge, who has the card in the
// hand whatever photo the desk shows.
func (d *day) fromPaper(l *daysLaptop, b box, mend int, text string, judges bool) bool {
	return !slices.ContainsFunc(d.words, func(w *word) bool {
		return w.at == b && w.mend == mend && w.text == text && w.known[l] && !w.goneOn[l] && w.sheet != 0 && !(judges && w.judge)
	})
}

// looksAt names who, independently of each other, has seen a text in ink as it is.
func (d *day) looksAt(l *daysLaptop, b box, mend, now int, row *stack.Row) []string {
	var who []string
	text := row.Bib
	if row.Sheet != nil {
		read := row.Ink.Bib
		if read.Text == text || read.State != sheetmodel.Clear && slices.ContainsFunc(read.Rivals, func(r sheetmodel.Rival) bool { return r.Text == text }) {
			who = append(who, "the reader")
		}
	}
	stands := func(w *word) bool { return w.at == b && w.known[l] && !w.goneOn[l] && w.mend >= 0 }
	at := func(w *word) bool {
		return (w.mend == mend || d.onlyStruck(b, w.mend, mend)) && (mend == now || w.sheet == 0 || w.judge || row.Sheet == nil)
	}
	var judgeBy []string // whoever wrote the judge's word down is no second person beside it
	for _, w := range d.words {
		if stands(w) && w.judge && w.text == text && at(w) && !slices.Contains(judgeBy, w.by) {
			judgeBy = append(judgeBy, w.by)
		}
	}
	if len(judgeBy) > 0 {
		who = append(who, fmt.Sprint("the judge by ", judgeBy))
	}
	for _, by := range []string{"Ada", "Bo", "Cy", "Di"} {
		saw, otherwise := false, false
		for _, w := range d.words {
			if stands(w) && w.by == by && !w.judge && !w.nod {
				saw = saw || w.text == text && at(w) && w.blind
				otherwise = otherwise || w.text != text && w.mend == mend && !d.movedOn(l, w, row) && (w.seen.named == row.Ref.Card || row.Sheet != nil && w.seen.photo == row.Sheet.Photo)
			}
		}
		if saw && !otherwise && !(len(judgeBy) == 1 && judgeBy[0] == by) && !(len(judgeBy) > 0 && d.wrote(by, row)) {
			who = append(who, by)
		}
	}
	return who
}

// wrote reports whether somebody may have written a card themselves: then they are no second person beside its judge's word.
func (d *day) wrote(by string, row *stack.Row) bool {
	place := d.table.race.Run(1).Course("Blue").Places[row.Ref.Card-1]
	return place.Judge == by || slices.ContainsFunc(place.Relief, func(r sheetmodel.Relief) bool { return r.Judge == by })
}

// bind says that a card was used in the other run, as after a mix-up, or in its own after all.
func (d *day) bind(l *daysLaptop, card int) {
	place := d.table.race.Run(1).Course("Blue").Places[card-1]
	run := 1 + d.r.IntN(2)
	b := store.Binding{Card: rowRef(card, 1).CardKey, Run: run, Course: "Blue", Gates: place.Gates, Judge: place.Judge, Source: "header", By: "Ada"}
	if c := d.load(l).Card(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card}); c != nil && c.Front != nil {
		b.Paper = c.Front.Paper()
	}
	if err := l.Bind(d.t.Context(), b); err == nil {
		d.say("%s: card %d was used in run %d", l.name, card, run)
	}
}

// onlyStruck reports whether all that was done to a box between two of its inks is a line through it: it holds the same bib.
func (d *day) onlyStruck(b box, one, other int) bool {
	return d.paper[b][one].truth == d.paper[b][other].truth && d.paper[b][one].struck != d.paper[b][other].struck
}

// movedOn reports whether the side at which something was said is in, and is not known to be of a row's card any more: then what
// was said waits with it, until somebody says which card it is, and every list is open.
func (d *day) movedOn(l *daysLaptop, w *word, row *stack.Row) bool {
	if w.seen.photo == "" || row.Sheet == nil || w.seen.photo == row.Sheet.Photo {
		return false
	}
	sheets, err := l.Sheets(d.t.Context())
	require.NoError(d.t, err)
	in := false
	for i := range sheets {
		if sheets[i].Photo == w.seen.photo && int(sheets[i].Quality.BlurMM) == w.at.card {
			if in = true; sheets[i].Card.Card == row.Ref.Card {
				return false
			}
		}
	}
	return in
}
