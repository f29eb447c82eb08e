package review_test

import (
	"bytes"
	"crypto/rand"
	"flag"
	"fmt"
	"maps"
	randv2 "math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/calib"
	"gatefold/ocr/joint"
	"gatefold/review"
	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/stack/stacktest"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// A walk through a day that chance makes, over HTTP: judges who mend their cards, photos that come in late and in another order,
// readers that read them anew, and honest people at the desk. They type what stands on the ink before them, answer each
// question as the page tells it that they have open, and let pages lie open for long before they send them. What each photo shows
// is known to the walk alone; it shares no code with what it tests. Source: our own logic, after design, section 5.

var (
	walkDays    = flag.Int("walk-days", 3, "how many days are walked through")
	walkFirst   = flag.Uint64("walk", 0, "the number of the first of them")
	walkSteps   = flag.Int("walk-steps", 45, "how much happens in a day")
	walkWithout = flag.String("walk-without", "", "kinds of steps and pages to leave out, with commas between: join, stale, late, gap, posting …")
	walkGoOn    = flag.Bool("walk-go-on", false, "go on with the next day where one fails")
	walkTold    = flag.Bool("walk-told", false, "tell all steps also of days in which nothing is wrong")
)

func TestWalk_HonestPeopleOverHTTP_AccuseNobodyWrongly(t *testing.T) {
	calls, steps := 0, 0
	counts := map[string]int{}
	for n := *walkFirst; n < *walkFirst+uint64(*walkDays); n++ {
		d := newWalk(t, n)
		for range *walkSteps {
			l := d.step()
			steps++
			calls += d.check(l)
			if len(d.wrong) > 0 {
				break
			}
		}
		if len(d.wrong) == 0 {
			d.checkLater()
			d.checkJoined()
		}
		for k, v := range d.counts {
			counts[k] += v
		}
		d.close()
		if *walkTold {
			t.Logf("day %d:\n%s", n, strings.Join(d.log, "\n"))
		}
		if len(d.wrong) > 0 {
			t.Errorf("day %d:\n%s\n%s", n, strings.Join(d.log, "\n"), strings.Join(d.wrong, "\n"))
			if !*walkGoOn {
				return
			}
		}
	}
	t.Logf("%d steps; calls stood %d times", steps, calls)
	for _, k := range sortedNames(counts) {
		t.Logf("%6d %s", counts[k], k)
	}
	assert.Greater(t, calls, *walkDays, "or nothing was put to the test")
}

func sortedNames(m map[string]int) []string {
	var all []string
	for k := range m {
		all = append(all, k)
	}
	slices.Sort(all)
	return all
}

// Parts of a row, as a walk knows them.
const (
	inBib  = "bib"
	inCode = "code"
	inGate = "gate"
	under  = "under its drawing" // the bib once more, on the back
)

const (
	walkCards = 3 // that there are on paper; their places are those of the demo race
	walkRows  = 4 // of a card that may hold ink
)

// spot is a box on paper.
type spot struct {
	card, row int
	part      string
}

// walkInk is what stands in a box between two strokes of its judge's pencil.
type walkInk struct {
	truth  string // empty: rubbed out
	alike  string // what others may take it for; no other ink says so
	struck bool   // there is a line through its row
	event  int    // what its judge saw: one that two judges saw has one number
	unreal bool   // its judge saw another racer, and will say so when somebody asks about this row
}

// walkShot is a photo, with the ink that each of its boxes shows: the number of its mending. -1: none yet.
type walkShot struct {
	name  string
	taken int
	bytes []byte
	cards []int // whose fronts
	backs []int // whose backs
	shows map[spot]int
	seed  uint64
}

// typedWord is that somebody wrote something of an ink into a form, and sent it.
type typedWord struct {
	by, text string
	at       spot
	inks     []int // what they had before them
	judge    bool
	alone    bool // the text stood in one row only by then, of a card that nothing else is taken for
	moment   int
}

// sight is that somebody was sent a text for the first time, as far as a laptop knows.
type sight struct {
	moment int
	words  string // where, and what stood beside it
}

type toldTo struct{ name, text string }

type walkLaptop struct {
	store  *store.Store
	desk   *review.Desk
	name   string
	photos map[string]*walkShot // by their name in the store
	reader int
	ahead  time.Duration // of the true time, by its own clock
	people []*walker
	seen   map[toldTo]sight // on it, and on those that it was copied from or has joined, as they were then

	head int64 // of the store, when it was looked at
	st   *stack.Stack
	said rules.Result
}

type walkDay struct {
	t       *testing.T
	r       *randv2.Rand
	n       uint64
	dir     string
	table   *stacktest.Table // for its race and its layout
	paper   map[spot][]walkInk
	panels  map[spot]string
	foot    bool // the judge writes at the foot how many rows stand
	kind    string
	hash    string // of the layout of all cards
	skis    bool   // three racers lose skis all over the course, and stand in many rows
	second  bool   // the third card is one of run 2, with the first one's number and gates of its own
	strange int    // a card in most of whose rows a neighbour's gates stand; 0: none
	heads   bool   // the judges' names stand in the heads
	late    int    // the step in which a spare is taken into use
	shots   []*walkShot
	laptops []*walkLaptop
	words   []*typedWord
	slips   map[string]bool // boxes of which somebody made a slip already
	reused  map[string]bool // bibs that stand in more than one row
	log     []string
	wrong   []string
	counts  map[string]int
	decided map[string]bool // lines, as the jury overruled them
	clock   time.Time
	truths  int
	without map[string]bool
	stepNo  int
	moments int // counts what is sent and typed
}

func newWalk(t *testing.T, n uint64) *walkDay {
	t.Helper()
	d := &walkDay{
		t: t, r: randv2.New(randv2.NewPCG(n, 11)), n: n, dir: filepath.Join(t.TempDir(), "day"), table: stacktest.New(t), paper: map[spot][]walkInk{},
		panels: map[spot]string{}, slips: map[string]bool{}, reused: map[string]bool{},
		counts: map[string]int{}, decided: map[string]bool{}, clock: time.Date(2027, 1, 23, 9, 0, 0, 0, time.UTC), truths: 5000, without: map[string]bool{},
	}
	for _, w := range strings.Split(*walkWithout, ",") {
		d.without[w] = true
	}
	race := d.table.Race
	for n := 5000; n < 5400; n++ { // every bib of the day is on the start list, and stands nowhere else
		race.Starters = append(race.Starters, sheetmodel.Starter{Bib: sheetmodel.Bib{Number: fmt.Sprint(n), Group: "girls"}, Course: "Blue"})
	}
	race.SpotCheck = []float64{0, 0, 0.4}[d.r.IntN(3)]
	d.foot, d.hash = d.r.IntN(2) == 0, d.table.Layout.Hash()
	d.kind = []string{"plain", "skis", "unnamed", "twins", "spare", "left"}[n%6]
	d.heads = n/6%2 == 1
	if n/12%3 == 1 {
		d.strange = 1 + d.r.IntN(walkCards)
	}
	if d.second = n/6%3 == 2 && (d.kind == "plain" || d.kind == "skis" || d.kind == "left"); d.second {
		later := race.Run(2)
		later.Reruns, later.DidNotEnd = race.Run(1).Reruns, race.Run(1).DidNotEnd
		course := later.Course("Blue")
		course.Gates = slices.Clone(race.Run(1).Course("Blue").Gates[:30])
		course.Places = []sheetmodel.Place{{Card: 1, Name: "B1", Gates: course.Gates[:7], Judge: "Olli Fernbucket"}}
	}
	if d.kind == "spare" && d.r.IntN(2) == 0 {
		d.late = 1 + d.r.IntN(*walkSteps)
	}
	if d.skis = d.kind == "skis" || d.kind == "left"; d.skis {
		race.Run(1).Reruns = sheetmodel.BibList{Given: sheetmodel.ListNone}
		race.Run(2).Reruns = race.Run(1).Reruns
	}
	for card := 1; card <= walkCards; card++ {
		rows := 1 + d.r.IntN(2)
		if d.kind == "plain" && card == walkCards && d.r.IntN(2) == 0 {
			rows = 0 // nothing has happened there yet
		}
		if card > d.cards() {
			rows = 0 // not taken into use yet
		}
		for row := range rows {
			d.write(card, row+1)
		}
	}
	if d.kind == "left" { // who did not finish is not known: nothing else is asked of those who left
		race.Run(1).DidNotEnd = sheetmodel.BibList{Given: sheetmodel.ListUnknown}
		race.Run(2).DidNotEnd = race.Run(1).DidNotEnd
	}
	if d.r.IntN(3) == 0 { // whoever wrote a card sits at the desk, too
		places := race.Run(1).Course("Blue").Places
		places[0].Judge, places[1].Judge = "Ada", "Bo"
		places[1].Relief = []sheetmodel.Relief{{Judge: "Cy", At: "10:30"}}
	}
	require.NoError(t, os.Mkdir(d.dir, 0o700))
	l := &walkLaptop{name: "A", photos: map[string]*walkShot{}, seen: map[toldTo]sight{}}
	d.open(l, "Ada", "Bo", "Cy")
	d.laptops = []*walkLaptop{l}
	return d
}

func (d *walkDay) open(l *walkLaptop, people ...string) {
	s, err := store.Open(d.t.Context(), filepath.Join(d.dir, l.name), store.Options{Now: func() time.Time {
		d.clock = d.clock.Add(time.Second)
		return d.clock.Add(l.ahead)
	}})
	require.NoError(d.t, err)
	l.store = s
	d.start(l, people...)
}

// start opens the desk of a laptop, with somebody at each of its browsers.
func (d *walkDay) start(l *walkLaptop, people ...string) {
	desk, err := review.New(d.t.Context(), review.Options{
		Race: func() (*sheetmodel.Race, error) { return d.table.Race, nil }, Store: l.store, Layout: d.layout,
		Now: func() time.Time { return d.clock.Add(l.ahead) }, Random: rand.Reader,
	})
	require.NoError(d.t, err)
	l.desk, l.people = desk, nil
	for _, name := range people {
		l.people = append(l.people, d.sit(l, name))
	}
}

func (d *walkDay) layout(hash string) *sheetmodel.Layout {
	if hash != d.hash {
		return nil
	}
	return d.table.Layout
}

func (d *walkDay) close() {
	for _, l := range d.laptops {
		l.desk.HangUp()
		require.NoError(d.t, l.store.Close())
	}
	require.NoError(d.t, os.RemoveAll(d.dir))
}

func (d *walkDay) say(format string, about ...any) {
	d.log = append(d.log, fmt.Sprintf("%3d ", d.stepNo)+fmt.Sprintf(format, about...))
}

// fault notes what must not be.
func (d *walkDay) fault(format string, about ...any) {
	d.wrong = append(d.wrong, fmt.Sprintf(format, about...))
}

func pick[V any](r *randv2.Rand, of ...V) V { return of[r.IntN(len(of))] }

// write lets a judge begin a row: a fault or a lost ski, of a new racer or of one who stands on another card.
func (d *walkDay) write(card, row int) {
	is := d.newBib()
	code := pick(d.r, "F", "F", "F", "K")
	if d.skis {
		code = pick(d.r, "F", "K", "K", "K")
	}
	if d.kind == "left" {
		code = pick(d.r, "F", "F", "F", "P", "H")
	}
	gates := d.gates(card)
	gate := d.anyGate(card)
	at := spot{card, row, inBib}
	if o := (spot{card - 1, row, inBib}); d.skis && d.r.IntN(3) == 0 && len(d.paper[o]) > 0 && card > 1 { // the neighbour saw it, too
		is, _ = d.now(o)
	}
	if !d.skis && d.r.IntN(4) == 0 {
		o := spot{1 + card%walkCards, 1 + d.r.IntN(2), inBib}
		if inks := d.paper[o]; len(inks) == 1 {
			is = inks[0]
			is.event = d.r.Int()
			d.reused[is.truth], d.reused[is.alike] = true, true
			code = pick(d.r, "F", "K", "K")
		}
	}
	d.paper[at] = append(d.paper[at], is)
	d.paper[spot{card, row, inCode}] = append(d.paper[spot{card, row, inCode}], walkInk{truth: code, alike: "C"})
	d.paper[spot{card, row, inGate}] = append(d.paper[spot{card, row, inGate}], walkInk{truth: gate, alike: gates[0]})
	d.panels[at] = pick(d.r, "B", "C", "")
	if d.panels[at] != "" && d.r.IntN(3) > 0 && !d.skis { // of three bibs one would stand under another row's drawing by chance
		d.paper[spot{card, row, under}] = []walkInk{is}
	}
	d.say("judge writes %s %s at gate %s into card %d row %d", is.truth, code, gate, card, row)
}

// cards is how many cards there are by now.
func (d *walkDay) cards() int {
	if d.stepNo < d.late {
		return walkCards - 1
	}
	return walkCards
}

// gates are those that the judge of a card watches.
func (d *walkDay) gates(card int) []string {
	if d.second && card == 3 {
		return d.table.Race.Run(2).Course("Blue").Places[0].Gates
	}
	return d.table.Race.Run(1).Course("Blue").Places[card-1].Gates
}

// anyGate is one of them, or on a day of strange gates one of a neighbour's, who was looked after for a while.
func (d *walkDay) anyGate(card int) string {
	gates := d.gates(card)
	if card == d.strange && d.r.IntN(4) > 0 || d.strange > 0 && d.r.IntN(8) == 0 {
		gates = d.gates(1 + card%2)
	}
	return gates[d.r.IntN(len(gates))]
}

// now is the latest ink of a box; false: nothing was ever written there.
func (d *walkDay) now(at spot) (walkInk, bool) {
	all := d.paper[at]
	if len(all) == 0 {
		return walkInk{}, false
	}
	return all[len(all)-1], true
}

// inkIn is the ink of a box by the number of its mending; nothing where that is -1.
func (d *walkDay) inkIn(at spot, mend int) walkInk {
	if mend < 0 || mend >= len(d.paper[at]) {
		return walkInk{}
	}
	return d.paper[at][mend]
}

// mend is what a judge does to a card with the pencil.
func (d *walkDay) mend() {
	card, row := 1+d.r.IntN(d.cards()), 1+d.r.IntN(walkRows)
	at := spot{card, row, inBib}
	is, written := d.now(at)
	switch {
	case !written:
		if row > 1 {
			if _, before := d.now(spot{card, row - 1, inBib}); !before {
				return
			}
		}
		d.write(card, row)
		return
	case is.struck || is.truth == "":
		return
	}
	second := spot{card, row, under}
	switch d.r.IntN(9) {
	case 8:
		switch was, there := d.now(second); {
		case !there && d.panels[at] != "" && !d.skis:
			d.paper[second] = []walkInk{is}
			d.say("judge writes %s of card %d row %d under its drawing too", is.truth, card, row)
		case there && !was.struck && was.truth != "":
			was.struck = true
			d.paper[second] = append(d.paper[second], was)
			d.say("judge strikes out what stands for card %d row %d under its drawing", card, row)
		}
	case 0, 1:
		is.struck = true
		d.paper[at] = append(d.paper[at], is)
		if was, there := d.now(second); there && was.truth != "" && d.r.IntN(2) == 0 {
			was.struck = true
			d.paper[second] = append(d.paper[second], was)
		}
		d.say("judge strikes out card %d row %d, %s", card, row, is.truth)
	case 2:
		for _, part := range []string{inBib, inCode, inGate} {
			d.paper[spot{card, row, part}] = append(d.paper[spot{card, row, part}], walkInk{})
		}
		d.say("judge rubs out card %d row %d, %s", card, row, is.truth)
	case 3:
		gates, gate := d.gates(card), d.anyGate(card)
		if was, _ := d.now(spot{card, row, inGate}); was.truth != gate {
			d.paper[spot{card, row, inGate}] = append(d.paper[spot{card, row, inGate}], walkInk{truth: gate, alike: gates[0]})
			d.say("judge writes gate %s at card %d row %d", gate, card, row)
		}
	case 4:
		code := pick(d.r, "F", "K", "K")
		if d.kind == "left" {
			code = pick(d.r, "F", "P", "H")
		}
		if was, _ := d.now(spot{card, row, inCode}); was.truth != code {
			d.paper[spot{card, row, inCode}] = append(d.paper[spot{card, row, inCode}], walkInk{truth: code, alike: "C"})
			d.say("judge writes %s at card %d row %d", code, card, row)
		}
	default:
		if other := d.newBib(); other.truth != is.truth {
			d.paper[at] = append(d.paper[at], other)
			if was, there := d.now(second); there && !was.struck && was.truth != "" && d.r.IntN(2) == 0 {
				d.paper[second] = append(d.paper[second], other)
			}
			d.say("judge writes over card %d row %d: %s now", card, row, other.truth)
		}
	}
}

// newBib is a bib that a judge writes down.
func (d *walkDay) newBib() walkInk {
	n := 5001 + d.r.IntN(3)
	if d.skis {
		d.reused[fmt.Sprint(n)], d.reused[fmt.Sprint(n+200)] = true, true
	} else {
		d.truths++
		n = d.truths
	}
	return walkInk{truth: fmt.Sprint(n), alike: fmt.Sprint(n + 200), event: d.r.Int(), unreal: d.kind == "left" && d.r.IntN(3) == 0}
}

// shoot takes a photo of fronts, of backs, or of both.
func (d *walkDay) shoot() *walkShot {
	s := &walkShot{name: fmt.Sprintf("photo %d", len(d.shots)+1), taken: len(d.shots) + 1, shows: map[spot]int{}, seed: d.r.Uint64()}
	s.bytes = []byte("\xff\xd8\xff " + s.name + fmt.Sprint(" of day ", d.n))
	card := 1 + d.r.IntN(d.cards())
	s.cards = []int{card}
	if d.r.IntN(5) == 0 {
		s.cards = append(s.cards, 1+card%d.cards())
	}
	if d.kind != "unnamed" && d.kind != "twins" {
		s.backs = [][]int{nil, {card}}[d.r.IntN(2)]
	}
	for _, card := range s.cards {
		for row := 1; row <= walkRows; row++ {
			for _, part := range []string{inBib, inCode, inGate} {
				at := spot{card, row, part}
				s.shows[at] = len(d.paper[at]) - 1
			}
		}
	}
	for _, card := range s.backs {
		for row := 1; row <= walkRows; row++ {
			at := spot{card, row, under}
			s.shows[at] = len(d.paper[at]) - 1
		}
	}
	if len(s.backs) > 0 && d.r.IntN(3) == 0 {
		s.cards = nil
	}
	d.shots = append(d.shots, s)
	d.say("%s shows fronts %v, backs %v", s.name, s.cards, s.backs)
	return s
}

// deliver lets a photo come in: a new one, or one that has lain about for long.
func (d *walkDay) deliver(l *walkLaptop) {
	var s *walkShot
	late := slices.DeleteFunc(slices.Clone(d.shots), func(s *walkShot) bool {
		for _, o := range l.photos {
			if o == s {
				return true
			}
		}
		return false
	})
	if len(late) > 0 && d.r.IntN(3) == 0 && !d.without["late"] {
		s = late[d.r.IntN(len(late))]
	} else {
		s = d.shoot()
		if d.r.IntN(5) == 0 && !d.without["late"] {
			return // it comes later
		}
	}
	p, known, err := l.store.AddPhoto(d.t.Context(), s.name, bytes.NewReader(s.bytes), -1, time.Time{})
	require.NoError(d.t, err)
	if known {
		return
	}
	if d.r.IntN(15) == 0 {
		require.NoError(d.t, l.store.Refuse(d.t.Context(), p.ID, fmt.Sprint("reader ", l.reader), storeRefusal))
		d.say("%s: %s comes in, and is refused", l.name, s.name)
		l.photos[p.ID] = s
		return
	}
	require.NoError(d.t, l.store.AddSheets(d.t.Context(), p.ID, fmt.Sprint("reader ", l.reader), d.read(s, l.reader)))
	l.photos[p.ID] = s
	d.say("%s: %s comes in", l.name, s.name)
	d.tie(l)
}

func (d *walkDay) readAgain(l *walkLaptop) {
	l.reader++
	for _, p := range d.photosOf(l) {
		if d.r.IntN(2) == 0 {
			continue
		}
		require.NoError(d.t, l.store.AddSheets(d.t.Context(), p, fmt.Sprint("reader ", l.reader), d.read(l.photos[p], l.reader)))
		d.say("%s: %s is read again by reader %d", l.name, l.photos[p].name, l.reader)
	}
	d.tie(l)
}

func (d *walkDay) photosOf(l *walkLaptop) []string {
	var all []string
	for id := range l.photos {
		all = append(all, id)
	}
	slices.SortFunc(all, func(a, b string) int { return l.photos[a].taken - l.photos[b].taken })
	return all
}

// sureOfTwo calls clear what two clear writings are together, and nothing less.
type sureOfTwo struct{}

func (sureOfTwo) Judge(_ calib.Kind, score float64) (sheetmodel.Certainty, bool) {
	return sheetmodel.Certainty{}, score > 1.5
}

// tie reads the two writings of each row together, as gatefold collect does, or forgets to.
func (d *walkDay) tie(l *walkLaptop) {
	if d.r.IntN(8) == 0 {
		return
	}
	sheets := d.sheetsOf(l)
	for _, front := range sheets {
		if front.Side != sheetmodel.Front || !front.Named() {
			continue
		}
		for _, back := range append([]store.Sheet{{}}, sheets...) {
			if back.ID != 0 && (back.Side != sheetmodel.Back || back.Card != front.Card) {
				continue
			}
			ties := store.CardTies{Front: front.ID, Back: back.ID, Reader: fmt.Sprint("reader ", l.reader)}
			for _, p := range joint.Card(front.Read.Reading, back.Read.Reading, sureOfTwo{}) {
				t := look.Tied{Row: p.Row, Panel: p.Panel, Entry: p.Entry, Text: p.Both.Text, Clear: p.Fault == "" && p.Both.State == sheetmodel.Clear, Differs: p.Fault == sheetmodel.DoubtWritings}
				for _, e := range back.Read.Reading.Strips {
					if e.Panel == p.Panel && e.Entry == p.Entry {
						t.Second = e.Bib.Text
					}
				}
				ties.Ties = append(ties.Ties, t)
			}
			require.NoError(d.t, l.store.AddTies(d.t.Context(), ties))
		}
	}
}

// read is what a reader makes of a photo. Another one may make something else of doubtful ink.
func (d *walkDay) read(s *walkShot, reader int) []store.NewSheet {
	r := randv2.New(randv2.NewPCG(s.seed, uint64(reader)))
	var sheets []store.NewSheet
	for _, card := range s.cards {
		n := d.side(card, sheetmodel.Front)
		for row := 1; row <= walkRows; row++ {
			at := spot{card, row, inBib}
			if s.shows[at] >= 0 {
				if r.IntN(10) > 0 { // else the reader doesn't see it
					d.readRow(r, &n, s, card, row)
				}
			} else if r.IntN(40) == 0 {
				d.readGrain(&n, row)
			}
		}
		if d.foot {
			count := sheetmodel.Reading{Field: "foot.row-count", Side: sheetmodel.Front, Text: fmt.Sprint(d.standing(s, card)), State: sheetmodel.Clear}
			if r.IntN(8) == 0 {
				count.Text = fmt.Sprint(d.standing(s, card) + r.IntN(2))
				count.Doubt(sheetmodel.DoubtLowCertainty, "for this test")
			}
			n.Read.Reading.Header = append(n.Read.Reading.Header, count)
		}
		if d.heads {
			judge := sheetmodel.Reading{Field: "header.judge", Side: sheetmodel.Front, Text: d.judgeOf(card), State: sheetmodel.Doubtful}
			if r.IntN(3) == 0 {
				judge.Text = ""
			}
			n.Read.Reading.Header = append(n.Read.Reading.Header, judge)
		}
		if gates := d.headGates(card); gates != nil {
			for i, part := range []sheetmodel.Part{sheetmodel.PartGateFrom, sheetmodel.PartGateTo} {
				gate := sheetmodel.Reading{Field: "header." + string(part), Side: sheetmodel.Front, Text: gates[i], State: sheetmodel.Clear}
				switch r.IntN(24) {
				case 0: // a misread number, of another judge's gate perhaps
					gate.Text = d.table.Race.Run(1).Course("Blue").Gates[r.IntN(20)]
				case 1:
					gate.Doubt(sheetmodel.DoubtLowCertainty, "for this test")
				}
				n.Read.Reading.Header = append(n.Read.Reading.Header, gate)
			}
		}
		sheets = append(sheets, n)
	}
	for _, card := range s.backs {
		n := d.side(card, sheetmodel.Back)
		for _, panel := range []string{"b", "c"} {
			n.Read.Reading.Ink = append(n.Read.Reading.Ink, sheetmodel.Reading{Field: stack.PanelField(strings.ToUpper(panel), sheetmodel.PartDrawing), Side: sheetmodel.Back, State: sheetmodel.Doubtful, Text: "/"})
			entry := 0
			for row := 1; row <= walkRows; row++ {
				at := spot{card, row, under}
				if s.shows[at] < 0 || d.panels[spot{card, row, inBib}] != strings.ToUpper(panel) {
					continue
				}
				entry++
				e := sheetmodel.StripEntry{Panel: strings.ToUpper(panel), Entry: entry}
				e.Bib = sheetmodel.Reading{Field: fmt.Sprintf("panel-%s.bib-%d", panel, entry), Side: sheetmodel.Back, State: sheetmodel.Empty}
				if is := d.inkIn(at, s.shows[at]); is.truth != "" {
					readBib(r, &e.Bib, d.paper[at][:s.shows[at]+1])
					if is.struck && e.Bib.Text != "" {
						e.Bib.Doubt(sheetmodel.DoubtStruckOut, "for this test")
					}
				}
				n.Read.Reading.Strips = append(n.Read.Reading.Strips, e)
			}
		}
		sheets = append(sheets, n)
	}
	for i := range sheets {
		n := &sheets[i]
		n.Part = i + 1
		x := float64(1000 * i)
		n.Corners = [4]sheetmodel.PhotoPoint{{X: x, Y: 0}, {X: x + 800, Y: 0}, {X: x + 800, Y: 600}, {X: x, Y: 600}}
		switch {
		case d.kind == "unnamed": // no code; its head is read rightly, wrongly or not at all
			n.Read.Plain = &store.PlainCard{OneSided: true}
			switch how := r.IntN(10); {
			case how < 4:
				n.Card = sheetmodel.CardKey{}
			case how < 5:
				n.Card.Card = 1 + n.Card.Card%walkCards
			}
		case d.kind == "twins" && n.Card.Card == 2: // a copy was made of card 1
			n.Card.Card, n.Identity.Card = 1, 1
		}
	}
	return sheets
}

// standing is how many rows stand on a card as a photo shows it, and what its judge wrote at its foot then.
func (d *walkDay) standing(s *walkShot, card int) (n int) {
	for row := 1; row <= walkRows; row++ {
		at := spot{card, row, inBib}
		if is := d.inkIn(at, s.shows[at]); is.truth != "" && !is.struck {
			n++
		}
	}
	return n
}

// headGates are the first and the last gate that the judge of a card has written into its head; nil: nothing is written there.
func (d *walkDay) headGates(card int) []string {
	if d.n%2 == 0 || d.kind == "unnamed" || d.kind == "twins" || d.kind == "spare" {
		return nil
	}
	gates := d.gates(card)
	return []string{gates[0], gates[len(gates)-1]}
}

// judgeOf is the name that the judge of a card has written into its head.
func (d *walkDay) judgeOf(card int) string {
	if d.second && card == 3 {
		return "Olli Fernbucket"
	}
	if d.kind == "spare" && card == 3 {
		return "Quirin Snowbasket"
	}
	return d.table.Race.Run(1).Course("Blue").Places[card-1].Judge
}

// spareCard is what stands on the third card of a day with a spare; its other two are those of their places.
const spareCard = 203

// keyOf is what a card carries.
func (d *walkDay) keyOf(card int) sheetmodel.CardKey {
	if d.kind == "spare" && card == 3 {
		return sheetmodel.CardKey{Card: spareCard}
	}
	if d.second && card == 3 {
		return sheetmodel.CardKey{Run: 2, Course: "Blue", Card: 1}
	}
	return sheetmodel.CardKey{Run: 1, Course: "Blue", Card: card}
}

// paperOf is the card that has a place or carries a number; of two that do, that which has its place. 0: there is none.
func (d *walkDay) paperOf(key sheetmodel.CardKey) int {
	switch {
	case key.Card == spareCard, d.second && key.Run == 2 && key.Card == 1:
		return 3
	case key.Run == 2, d.second && key.Card == 3:
		return 0
	}
	return key.Card
}

func (d *walkDay) side(card int, name sheetmodel.SideName) store.NewSheet {
	n := store.NewSheet{
		Identity: sheetmodel.Identity{
			Run: 1, Course: d.table.Race.CourseIndex("Blue"), Card: card, Side: name, Race: sheetmodel.RaceHash(d.table.Race.ID), Layout: d.table.Layout.HashStart(),
		},
		Card: d.keyOf(card), Layout: d.hash, PagePxPerMM: 6, Page: []byte("a page"),
		Read: store.SideRead{Reading: sheetmodel.SheetReading{Side: name, Reader: "test reader"}},
	}
	n.Identity.Run, n.Identity.Card = n.Card.Run, n.Card.Card
	if n.Card.Run == 0 {
		n.Identity.Course = 0
	}
	n.Quality.BlurMM = float64(card) // which nobody looks at but the walk
	return n
}

func frontReading(row int, part sheetmodel.Part) sheetmodel.Reading {
	return sheetmodel.Reading{Field: stack.RowField(row, part), Side: sheetmodel.Front, State: sheetmodel.Empty}
}

// readRow reads a row: clearly and rightly, or doubtfully. Ink that was written over shows it unless it is clear.
func (d *walkDay) readRow(r *randv2.Rand, n *store.NewSheet, s *walkShot, card, number int) {
	at := spot{card, number, inBib}
	is := d.inkIn(at, s.shows[at])
	row := sheetmodel.Row{
		Number: number, HasInk: true, Bib: frontReading(number, sheetmodel.PartBib), Code: frontReading(number, sheetmodel.PartCode),
		CodeOther: frontReading(number, sheetmodel.PartCodeOther), Gate: frontReading(number, sheetmodel.PartGate), Panel: frontReading(number, sheetmodel.PartPanel),
		Rerun: frontReading(number, sheetmodel.PartRerun),
	}
	row.Struck = is.struck || r.IntN(25) == 0
	alone := true
	if is.truth != "" {
		alone = readBib(r, &row.Bib, d.paper[at][:s.shows[at]+1])
		if row.Struck && r.IntN(2) == 0 {
			row.Bib.Doubt(sheetmodel.DoubtStruckOut, "for this test")
		}
		if row.Panel.Text = d.panels[at]; row.Panel.Text != "" {
			row.Panel.State = sheetmodel.Clear
		}
	}
	if alone {
		n.Read.Alone = append(n.Read.Alone, row.Bib.Field)
	}
	for i, reading := range []*sheetmodel.Reading{&row.Code, &row.Gate} {
		at := spot{card, number, []string{inCode, inGate}[i]}
		mend := s.shows[at]
		if reading.Text = d.inkIn(at, mend).truth; reading.Text != "" {
			reading.State = sheetmodel.Clear
		}
		switch {
		case reading.Text == "":
		case mend > 0 && r.IntN(2) == 0:
			reading.Doubt(sheetmodel.DoubtTwoMarks, "for this test")
		case r.IntN(10) == 0:
			reading.Doubt(sheetmodel.DoubtLowCertainty, "for this test")
			reading.Rivals = []sheetmodel.Rival{{Text: d.inkIn(at, mend).alike, Prob: 0.2}}
		}
		n.Read.Alone = append(n.Read.Alone, reading.Field)
	}
	n.Read.Reading.Rows = append(n.Read.Reading.Rows, row)
}

// readGrain is a row that isn't there.
func (d *walkDay) readGrain(n *store.NewSheet, number int) {
	row := sheetmodel.Row{
		Number: number, HasInk: true, Bib: frontReading(number, sheetmodel.PartBib), Code: frontReading(number, sheetmodel.PartCode),
		CodeOther: frontReading(number, sheetmodel.PartCodeOther), Gate: frontReading(number, sheetmodel.PartGate), Panel: frontReading(number, sheetmodel.PartPanel),
		Rerun: frontReading(number, sheetmodel.PartRerun),
	}
	row.Bib.State, row.Bib.Doubts = sheetmodel.Doubtful, []sheetmodel.Doubt{{Kind: sheetmodel.DoubtNotInGrammar, Detail: "for this test"}}
	n.Read.Reading.Rows = append(n.Read.Reading.Rows, row)
}

// readBib makes the reading of a bib out of all inks that ever stood there, and reports whether no rival is seen.
func readBib(r *randv2.Rand, bib *sheetmodel.Reading, inks []walkInk) (alone bool) {
	is := inks[len(inks)-1]
	bib.Text, bib.State = is.truth, sheetmodel.Clear
	alone = true
	doubt := func(kind sheetmodel.DoubtKind) {
		bib.State = sheetmodel.Doubtful
		bib.Doubts = append(bib.Doubts, sheetmodel.Doubt{Kind: kind, Detail: "for this test"})
	}
	how := r.IntN(10)
	if how < 5 {
		return true
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
			bib.Rivals = append(bib.Rivals, sheetmodel.Rival{Text: alike, Prob: 0.3})
			alone = false
		}
	case 8: // taken for another, or for what stood there before
		doubt(sheetmodel.DoubtReaders)
		bib.Text = is.alike
		if len(inks) > 1 && inks[len(inks)-2].truth != "" && inks[len(inks)-2].truth != is.truth {
			bib.Text = inks[len(inks)-2].truth
		}
		bib.Rivals = append(bib.Rivals, sheetmodel.Rival{Text: is.truth, Prob: 0.3})
		alone = false
	case 9:
		doubt(sheetmodel.DoubtNotInGrammar)
		bib.Text = ""
		alone = false
	}
	return alone
}

func (d *walkDay) load(l *walkLaptop) (*stack.Stack, rules.Result) {
	head, err := l.store.Head(d.t.Context())
	require.NoError(d.t, err)
	if l.st == nil || head != l.head {
		l.st, l.said = d.loadAnew(l)
		l.head = head
	}
	return l.st, l.said
}

func (d *walkDay) loadAnew(l *walkLaptop) (*stack.Stack, rules.Result) {
	st, err := stack.Load(d.t.Context(), d.table.Race, l.store)
	require.NoError(d.t, err)
	return st, rules.Check(st.Facts())
}

// step lets one thing happen, and returns the laptop at which it did.
func (d *walkDay) step() *walkLaptop {
	d.stepNo++
	if d.stepNo == d.late {
		d.write(walkCards, 1)
	}
	l := d.laptops[d.r.IntN(len(d.laptops))]
	p := l.people[d.r.IntN(len(l.people))]
	switch n := d.r.IntN(100); {
	case n < 7:
		d.mend()
	case n < 15:
		d.deliver(l)
	case n < 17:
		d.readAgain(l)
	case n < 40:
		d.openPage(l, p)
	case n < 95:
		d.sendSomething(l, p)
	case n < 97:
		d.part(l)
	case n < 99:
		d.joinUp(l)
	default:
		d.restart(l)
	}
	return l
}

// restart closes the desk of a laptop and opens it again: nobody's page is worth anything any more but what it shows.
func (d *walkDay) restart(l *walkLaptop) {
	var names []string
	for _, p := range l.people {
		names = append(names, p.name)
	}
	l.desk.HangUp()
	d.start(l, names...)
	d.say("%s: the desk is started anew", l.name)
}

// part copies the race to a second laptop, at which others sit.
func (d *walkDay) part(l *walkLaptop) {
	if len(d.laptops) > 2 || d.without["join"] || len(d.laptops) > 1 && d.without["third"] {
		return
	}
	// A third one is a copy of either: what two of them share the other may have heard on its own.
	name, people := "B", []string{"Di", "Ed"}
	if len(d.laptops) > 1 {
		name, people = "C", []string{"Flo", pick(d.r, "Ada", "Ed", "Gus")} // somebody may have walked over from another
	}
	o := &walkLaptop{name: name, photos: map[string]*walkShot{}, reader: l.reader, ahead: pick(d.r, 0, -time.Hour, time.Hour), seen: maps.Clone(l.seen)}
	for id, s := range l.photos {
		o.photos[id] = s
	}
	require.NoError(d.t, os.CopyFS(filepath.Join(d.dir, o.name), os.DirFS(l.store.Dir())))
	d.open(o, people...)
	d.laptops = append(d.laptops, o)
	d.say("%s is a copy of %s, its clock is %v ahead", o.name, l.name, o.ahead)
}

func (d *walkDay) joinUp(l *walkLaptop) {
	o := d.laptops[d.r.IntN(len(d.laptops))]
	if o == l || d.without["join"] {
		return
	}
	scratch, err := os.MkdirTemp(d.dir, "scratch")
	require.NoError(d.t, err)
	c, err := store.OpenCopy(d.t.Context(), o.store.Dir(), scratch, store.Options{Now: func() time.Time { return d.clock }})
	require.NoError(d.t, err)
	_, err = l.store.Join(d.t.Context(), c)
	require.NoError(d.t, err)
	require.NoError(d.t, c.Close())
	for id, s := range o.photos {
		l.photos[id] = s
	}
	l.seen = seenByEither(l, o)
	d.tie(l)
	d.say("%s joins %s", l.name, o.name)
}
