package review_test

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"github.com/stretchr/testify/require"

	"gatefold/review/draft"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// latest is the photo of a card's front that truly was taken last, of those that came in, are read and have its name; nil: none.
func (d *walkDay) latest(l *walkLaptop, named sheetmodel.CardKey, card int) *walkShot {
	var last *walkShot
	sheets := d.sheetsOf(l)
	for i := range sheets {
		s := &sheets[i]
		if s.Side != sheetmodel.Front || int(s.Quality.BlurMM) != card || s.Card != named {
			continue
		}
		if shot := l.photos[s.Photo]; last == nil || shot.taken > last.taken {
			last = shot
		}
	}
	return last
}

func (d *walkDay) sheetsOf(l *walkLaptop) []store.Sheet {
	sheets, err := l.store.Sheets(d.t.Context())
	require.NoError(d.t, err)
	return sheets
}

// check holds the list of a laptop against the paper, and returns how many calls stand.
func (d *walkDay) check(l *walkLaptop) int {
	st, said := d.load(l)
	stood := 0
	for i := range said.Calls {
		c := &said.Calls[i]
		if line := lineWords(c.Bib, c.Gate, c.Code); c.Overruled && !d.decided[line] {
			d.fault("%s: %s is struck as overruled, and the jury never overruled that", l.name, line)
		}
		if c.Waiting || c.Overruled {
			continue
		}
		stood++
		for k, ref := range c.Rows {
			row := st.Row(ref)
			if row == nil {
				d.fault("%s: a call rests on a row that isn't there: %+v", l.name, c)
				continue
			}
			d.checkRow(l, st, c, row, k == len(c.Rows)-1)
		}
		d.checkLosses(l, st, c)
	}
	if len(d.wrong) > 0 { // what is looked for then
		for _, s := range d.sheetsOf(l) {
			d.fault("  sheet %d: side %s of %v, %s, in truth card %v", s.ID, s.Side, s.Card, l.photos[s.Photo].name, s.Quality.BlurMM)
			for _, r := range s.Read.Reading.Rows {
				d.fault("    row %d struck %v: bib %q %s, code %q %s, gate %q %s", r.Number, r.Struck, r.Bib.Text, r.Bib.State, r.Code.Text, r.Code.State, r.Gate.Text, r.Gate.State)
			}
		}
		for _, q := range st.Questions {
			d.fault("  asked: %s: %d, %d, rows %v: %q", q.Key, q.Earlier, q.Later, q.Rows, st.Answers[q.Key])
		}
		for i := range st.Rows {
			r := &st.Rows[i]
			sheet := int64(0)
			if r.Sheet != nil {
				sheet = r.Sheet.ID
			}
			d.fault("  card %d row %d: sheet %d, %+v", r.Ref.Card, r.Ref.Row, sheet, r.Row)
		}
	}
	d.checkUnseen(l, st)
	d.checkLost(l, st, said)
	d.checkBacks(l, st, said)
	for _, f := range said.Findings {
		if f.Question != nil {
			d.counts["asked by the rules: "+f.Rule]++
		}
	}
	for i := range said.Calls {
		d.counts[fmt.Sprint("call of ", said.Calls[i].Code, ", waiting: ", said.Calls[i].Waiting)]++
	}
	if len(l.people) > 0 && d.r.IntN(12) == 0 {
		d.checkShown(l, said)
	}
	return stood
}

// checkLosses counts the skis that a racer truly lost who is put out for that, by the rows that the line rests on.
func (d *walkDay) checkLosses(l *walkLaptop, st *stack.Stack, c *sheetmodel.Call) {
	losses := map[int]bool{}
	for _, ref := range c.Rows {
		row := st.Row(ref)
		if row == nil || st.Row(c.Rows[0]).Row.Code != "K" {
			return
		}
		for _, is := range d.paper[d.spotOf(row, inBib)] {
			if is.truth == c.Bib {
				losses[is.event] = true
			}
		}
	}
	if len(losses) < 2 {
		d.fault("%s: %s is put out for lost skis, and lost %d: %v, %v", l.name, c.Bib, len(losses), c.Rows, c.Further)
	}
}

// checkRow holds a row that carries a call against the paper.
func (d *walkDay) checkRow(l *walkLaptop, st *stack.Stack, c *sheetmodel.Call, row *stack.Row, leads bool) {
	at := d.spotOf(row, inBib)
	last := d.latest(l, st.Cards[row.Card].Printed, at.card)
	from := func(at spot) int { // the oldest ink that may count
		if last == nil {
			return 0
		}
		return last.shows[at]
	}
	true1 := func(at spot, text string) bool {
		for m := max(from(at), 0); m < len(d.paper[at]); m++ {
			if d.paper[at][m].truth == text {
				return true
			}
		}
		return false
	}
	where := fmt.Sprintf("%s: %s at gate %s (%s) stands on card %d row %d", l.name, c.Bib, c.Gate, c.Code, at.card, at.row)
	if last != nil {
		if is := d.inkIn(at, last.shows[at]); is.struck {
			d.fault("%s, which %s shows struck out", where, last.name)
		}
		if last.shows[at] < 0 && row.Sheet != nil { // else it is from the paper, as somebody said
			d.fault("%s, where %s shows nothing", where, last.name)
		}
	}
	if !true1(at, c.Bib) {
		d.fault("%s, where no paper shows that bib: %s", where, d.tell(at, last))
	}
	if code := (spot{at.card, at.row, inCode}); !true1(code, row.Row.Code) {
		d.fault("%s with %s, where no paper shows that: %s", where, row.Row.Code, d.tell(code, last))
	}
	if gate := (spot{at.card, at.row, inGate}); !true1(gate, row.Row.Gate) {
		d.fault("%s with gate %s, where no paper shows that: %s", where, row.Row.Gate, d.tell(gate, last))
	}
	if d.kind == "left" && !d.without["view"] {
		d.checkAsked(l, st, c, row, at, where)
	}
	if who := d.looks(l, st, row, c.Bib); len(who) < 2 {
		d.fault("%s on the looks of %v: %+v", where, who, row.BibSeen.Seen)
	}
}

// checkAsked looks for a call on a row whose judge saw another racer, beside a row by which somebody had to be asked about it: whoever
// was asked of this very row was told so.
func (d *walkDay) checkAsked(l *walkLaptop, st *stack.Stack, c *sheetmodel.Call, row *stack.Row, at spot, where string) {
	for m := range d.paper[at] {
		if is := d.paper[at][m]; is.truth == c.Bib && !is.unreal {
			return
		}
	}
	gates := d.table.Race.Run(row.Ref.Run).Course("Blue").Gates
	for i := range st.Rows {
		o := &st.Rows[i]
		twoLooks := o.BibState == sheetmodel.BibTwoLooks && o.CodeSure && o.GateSure && !o.Struck
		if o.Bib != c.Bib || !twoLooks || row.Ref == o.Ref || row.Ref.Run != o.Ref.Run {
			continue
		}
		above := slices.Index(gates, row.Row.Gate) - slices.Index(gates, o.Row.Gate)
		if o.Row.Code == "P" && above > 0 || o.Row.Code == "H" && above >= 0 {
			d.fault("%s, whose judge saw another racer, beside %s at gate %s on card %d row %d: nobody was asked of it", where, o.Row.Code, o.Row.Gate, o.Ref.Card, o.Ref.Row)
		}
	}
}

func (d *walkDay) tell(at spot, last *walkShot) string {
	var words []string
	for m, is := range d.paper[at] {
		word := is.truth
		if is.struck {
			word += " struck"
		}
		if last != nil && last.shows[at] == m {
			word += " (" + last.name + ")"
		}
		words = append(words, word)
	}
	return strings.Join(words, ", then ")
}

// spotOf is a box of the paper that a row is truly on.
func (d *walkDay) spotOf(row *stack.Row, part string) spot {
	if row.Sheet != nil {
		return spot{int(row.Sheet.Quality.BlurMM), row.Ref.Row, part}
	}
	return spot{d.paperOf(row.Ref.CardKey), row.Ref.Row, part}
}

// looks names who has truly seen a bib in a row, independently of each other.
func (d *walkDay) looks(l *walkLaptop, st *stack.Stack, row *stack.Row, bib string) []string {
	var who []string
	at := d.spotOf(row, inBib)
	if row.Sheet != nil {
		read := row.Ink.Bib
		if read.Text == bib || slices.ContainsFunc(read.Rivals, func(r sheetmodel.Rival) bool { return r.Text == bib }) {
			who = append(who, "the reader")
		}
	}
	if at.row <= walkRows && d.secondWriting(l, st, row, at, bib) {
		who = append(who, "the second writing")
	}
	var scribes []string
	for _, dec := range st.Decisions {
		if dec.Reading != row.BibSeen.Key || dec.Undone != nil || dec.Text != bib {
			continue
		}
		honest := func(judge bool) bool {
			return slices.ContainsFunc(d.words, func(w *typedWord) bool {
				return w.by == dec.By && w.text == bib && (w.at == at || d.alike(w.at, at, row)) && w.judge == judge && !d.told(l, w) &&
					slices.ContainsFunc(w.inks, func(m int) bool { return d.inkIn(at, m).truth == bib })
			})
		}
		if dec.ReadBack && honest(true) {
			if !slices.Contains(scribes, dec.By) {
				scribes = append(scribes, dec.By)
			}
		} else if honest(false) && !slices.Contains(who, dec.By) {
			who = append(who, dec.By)
		}
	}
	if len(scribes) > 0 {
		if len(scribes) == 1 { // who wrote the judge's word down is no second person beside it
			who = slices.DeleteFunc(who, func(w string) bool { return w == scribes[0] })
		}
		if row.Ref.Card <= 2 && at.card > 0 && at.card <= 2 { // whoever wrote the card is none, either
			card := at.card
			if d.kind == "twins" || d.kind == "unnamed" { // of papers that go by another one's number nobody knows whose they are
				card = row.Ref.Card
			}
			place := d.table.Race.Run(1).Course("Blue").Places[card-1]
			who = slices.DeleteFunc(who, func(w string) bool {
				return w == place.Judge || slices.ContainsFunc(place.Relief, func(r sheetmodel.Relief) bool { return r.Judge == w })
			})
		}
		who = append(who, fmt.Sprint("the judge by ", scribes))
	}
	return who
}

// checkUnseen looks for bibs that count as typed unseen, or as the judge's own word, by somebody who had been told them, whether a call needs
// that look or not.
func (d *walkDay) checkUnseen(l *walkLaptop, st *stack.Stack) {
	for _, dec := range st.Decisions {
		if dec.Undone != nil || !dec.Blind && (!dec.ReadBack || dec.Basis == sheetmodel.BasisOnPaper) { // what is read aloud counts only if it is blind
			continue
		}
		var words []*typedWord
		for _, w := range d.words {
			if w.by == dec.By && w.text == dec.Text {
				words = append(words, w)
			}
		}
		if len(words) > 0 && !slices.ContainsFunc(words, func(w *typedWord) bool { return !d.told(l, w) }) {
			d.fault("%s: %s of %s by %s counts as not told, and %s had been: %s", l.name, dec.Text, dec.Reading, dec.By, dec.By, l.seen[toldTo{dec.By, dec.Text}].words)
		}
	}
}

// alike reports whether a box of another paper stands in the same row, with the same code and gate beside it. While both papers go by one
// number, nothing tells these two rows apart, and what somebody typed of the one is true of the other.
func (d *walkDay) alike(other, at spot, row *stack.Row) bool {
	if d.kind != "twins" && d.kind != "unnamed" || other.row != at.row || other.part != at.part {
		return false
	}
	shows := func(part, text string) bool {
		return slices.ContainsFunc(d.paper[spot{other.card, other.row, part}], func(is walkInk) bool { return is.truth == text })
	}
	return shows(inCode, row.Row.Code) && shows(inGate, row.Row.Gate)
}

// secondWriting reports whether a bib stands once more under a row's drawing, unstruck, as the latest photo of the back shows it.
func (d *walkDay) secondWriting(l *walkLaptop, st *stack.Stack, row *stack.Row, at spot, bib string) bool {
	var last *walkShot
	for _, s := range d.sheetsOf(l) {
		if shot := l.photos[s.Photo]; s.Side == sheetmodel.Back && s.Card == st.Cards[row.Card].Printed && int(s.Quality.BlurMM) == at.card && (last == nil || shot.taken > last.taken) {
			last = shot
		}
	}
	at.part = under
	if last == nil || last.shows[at] < 0 {
		return false
	}
	is := d.inkIn(at, last.shows[at])
	return is.truth == bib && !is.struck
}

// checkBacks looks for cards whose fronts alone are in and of whose backs nobody has said anything, and the list lacks nothing of them;
// and for backs that are in and are asked for all the same.
func (d *walkDay) checkBacks(l *walkLaptop, st *stack.Stack, said rules.Result) {
	if d.kind == "unnamed" || d.kind == "twins" {
		return // whose papers may be taken for each other
	}
	answers, err := l.store.Answers(d.t.Context())
	require.NoError(d.t, err)
	papers, err := l.store.PaperCards(d.t.Context())
	require.NoError(d.t, err)
	for card := 1; card <= walkCards; card++ {
		key := d.keyOf(card)
		back := slices.ContainsFunc(d.sheetsOf(l), func(s store.Sheet) bool { return s.Side == sheetmodel.Back && s.Card == key })
		told := slices.ContainsFunc(papers, func(p store.PaperCard) bool { return p.Card == key }) ||
			slices.ContainsFunc(answers, func(a store.Answer) bool { return a.Question == "back-seen/"+store.CardName(key) })
		i := slices.IndexFunc(st.Cards, func(c stack.Card) bool { return c.Printed == key })
		if i < 0 || st.Cards[i].Key.Run == 0 {
			continue // a spare that nobody has bound
		}
		used := st.Cards[i].Key
		gap := slices.ContainsFunc(said.Findings, func(f sheetmodel.Finding) bool {
			return f.Rule == "missing-back" && *f.Card == used && slices.ContainsFunc(said.Incomplete, func(g rules.Gap) bool { return g.Run == used.Run && g.Course == used.Course && g.Why == f.Sentence })
		})
		if gap {
			d.counts["backs that are not in"]++
		}
		if front := d.latest(l, key, card) != nil; front && !back && !told && !gap {
			d.fault("%s: the front of card %d is in, its back isn't, nobody has said anything of it, and the list lacks nothing", l.name, card)
		} else if back && gap {
			d.fault("%s: the back of card %d is in, and the list lacks it", l.name, card)
		}
	}
}

// checkLost looks for rows that stand on their paper with two looks, and are told nowhere.
func (d *walkDay) checkLost(l *walkLaptop, st *stack.Stack, said rules.Result) {
	standing := map[sheetmodel.RowRef]rules.RowStanding{}
	for _, s := range said.Standings {
		standing[s.Ref] = s
	}
	asked := map[int]bool{} // cards about which something is asked
	for _, q := range st.Questions {
		asked[d.paperOf(q.Card)] = asked[d.paperOf(q.Card)] || !q.Answered
	}
	for _, f := range said.Findings {
		if f.Question == nil {
			continue
		}
		if f.Card != nil {
			asked[d.paperOf(*f.Card)] = true
		}
		for _, r := range f.Rows {
			asked[d.paperOf(r.CardKey)] = true
		}
	}
	for card := 1; card <= walkCards; card++ {
		if d.kind == "unnamed" || d.kind == "twins" {
			return // whose papers may be taken for each other
		}
		last := d.latest(l, d.keyOf(card), card)
		if last == nil || asked[card] {
			continue
		}
		for n := 1; n <= walkRows; n++ {
			at := spot{card, n, inBib}
			is := d.inkIn(at, last.shows[at])
			code := d.inkIn(spot{card, n, inCode}, last.shows[spot{card, n, inCode}])
			if is.truth == "" || is.struck || code.truth != "F" || len(d.paper[at])-1 != last.shows[at] {
				continue
			}
			key := d.keyOf(card)
			var row *stack.Row
			for i := range st.Rows {
				if r := &st.Rows[i]; st.Cards[r.Card].Printed == key && r.Ref.Row == n {
					row = r
				}
			}
			if row == nil {
				for _, dec := range st.Decisions {
					if dec.Undone == nil && strings.HasPrefix(dec.Reading, fmt.Sprintf("%s/front/row-%02d.bib", store.CardName(key), n)) && dec.Basis != sheetmodel.BasisNoWriting {
						d.fault("%s: card %d row %d, %s, was typed by %s, and is gone without a word", l.name, card, n, is.truth, dec.By)
					}
				}
				continue
			}
			ref := row.Ref
			if s := standing[ref]; s.Standing == sheetmodel.StandsInform && len(d.looks(l, st, row, is.truth)) > 1 && row.Row.Code == "F" && !d.hasLine(said, ref) {
				d.fault("%s: card %d row %d, %s, stands on its paper with looks of %v, and is only recorded: %s", l.name, card, n, is.truth, d.looks(l, st, row, is.truth), s.Why)
			}
			if len(row.Nothing) > 0 {
				d.fault("%s: card %d row %d, %s, stands on its paper, and is dropped on the word of %v", l.name, card, n, is.truth, row.Nothing)
			}
		}
	}
}

func (d *walkDay) hasLine(said rules.Result, ref sheetmodel.RowRef) bool {
	return slices.ContainsFunc(said.Calls, func(c sheetmodel.Call) bool { return slices.Contains(c.Rows, ref) || slices.Contains(c.Further, ref) })
}

// checkLater holds against each other what a race says now and what it says read anew from the disk, once people are forgotten, and
// once all that was typed is taken back.
func (d *walkDay) checkLater() {
	for _, l := range d.laptops {
		_, said := d.load(l)
		dir := filepath.Join(d.dir, "anew-"+l.name)
		require.NoError(d.t, os.CopyFS(dir, os.DirFS(l.store.Dir())))
		s, err := store.Open(d.t.Context(), dir, store.Options{Now: func() time.Time { return d.clock }})
		require.NoError(d.t, err)
		o := &walkLaptop{name: l.name + " later", store: s, photos: l.photos, seen: l.seen}
		st, again := d.loadAnew(o)
		was, err := json.Marshal(said)
		require.NoError(d.t, err)
		is, err := json.Marshal(again)
		require.NoError(d.t, err)
		if string(was) != string(is) {
			d.fault("%s: read anew it says otherwise: %s, not %s", l.name, is, was)
		}
		stood := standingCalls(said)
		words := [][]string{{"Ada", "Di"}, {"Bo"}, {"Cy", "Ed"}}[d.n/6%3] // as one person
		_, err = s.Forget(d.t.Context(), store.Forget{Match: func(name string) bool { return slices.Contains(words, name) }, Words: words, By: "the referee"})
		require.NoError(d.t, err)
		named := d.forgetPlaces(words)
		_, forgotten := d.loadAnew(o)
		stoodToo := func(c string) bool { // in a line that another gate led, which waits now
			return slices.ContainsFunc(forgotten.Calls, func(now sheetmodel.Call) bool {
				return lineWords(now.Bib, now.Gate, now.Code) == c && slices.ContainsFunc(said.Calls, func(was sheetmodel.Call) bool {
					return !was.Waiting && !was.Overruled && was.Run == now.Run && was.Course == now.Course && was.Group == now.Group && was.Bib == now.Bib && !slices.ContainsFunc(now.Rows, func(ref sheetmodel.RowRef) bool {
						return !slices.Contains(was.Further, ref) || !slices.ContainsFunc(said.Standings, func(s rules.RowStanding) bool {
							return s.Ref == ref && s.Standing == sheetmodel.StandsCall
						})
					})
				})
			})
		}
		for c := range standingCalls(forgotten) {
			if !stood[c] && !stoodToo(c) {
				d.fault("%s: %s stands once people are forgotten, and didn't before", l.name, c)
			}
		}
		for _, dec := range st.Decisions {
			if dec.Undone == nil {
				require.NoError(d.t, s.Undo(d.t.Context(), dec.ID, dec.By, dec.Session))
			}
		}
		_, undone := d.loadAnew(o)
		for _, c := range undone.Calls { // two writings stand by themselves
			for _, ref := range c.Rows {
				if row := st.Row(ref); !c.Waiting && !c.Overruled && (row == nil || !d.secondWriting(o, st, row, d.spotOf(row, inBib), c.Bib)) {
					d.fault("%s: %s at gate %s stands, and all that was typed is taken back", l.name, c.Bib, c.Gate)
				}
			}
		}
		named()
		require.NoError(d.t, s.Close())
	}
}

// forgetPlaces takes names from the placing list too, as the command that forgets does, and returns what puts them back.
func (d *walkDay) forgetPlaces(words []string) (back func()) {
	places := d.table.Race.Run(1).Course("Blue").Places
	was := make([]sheetmodel.Place, len(places))
	for i := range places {
		p := &places[i]
		was[i] = *p
		p.Relief = slices.Clone(p.Relief)
		if slices.Contains(words, p.Judge) {
			p.Judge = ""
		}
		for k := range p.Relief {
			if slices.Contains(words, p.Relief[k].Judge) {
				p.Relief[k].Judge = ""
			}
		}
	}
	return func() { copy(places, was) }
}

// checkJoined joins the laptops of a day, each with another, in copies: what stands then is borne out by the paper, too.
func (d *walkDay) checkJoined() {
	if len(d.laptops) < 2 {
		return
	}
	for i, l := range d.laptops {
		o := d.laptops[(i+1)%len(d.laptops)]
		both := &walkLaptop{name: l.name + " and " + o.name, photos: map[string]*walkShot{}, seen: seenByEither(l, o)}
		dir := filepath.Join(d.dir, "both-"+l.name)
		require.NoError(d.t, os.CopyFS(dir, os.DirFS(l.store.Dir())))
		opt := store.Options{Now: func() time.Time { return d.clock }}
		s, err := store.Open(d.t.Context(), dir, opt)
		require.NoError(d.t, err)
		scratch, err := os.MkdirTemp(d.dir, "scratch")
		require.NoError(d.t, err)
		c, err := store.OpenCopy(d.t.Context(), o.store.Dir(), scratch, opt)
		require.NoError(d.t, err)
		_, err = s.Join(d.t.Context(), c)
		require.NoError(d.t, err)
		require.NoError(d.t, c.Close())
		for _, from := range []*walkLaptop{l, o} {
			for id, shot := range from.photos {
				both.photos[id] = shot
			}
		}
		both.store = s
		d.check(both)
		require.NoError(d.t, s.Close())
	}
}

func standingCalls(said rules.Result) map[string]bool {
	all := map[string]bool{}
	for _, c := range said.Calls {
		if !c.Waiting && !c.Overruled {
			all[lineWords(c.Bib, c.Gate, c.Code)] = true
		}
	}
	return all
}

// standsBeside reports whether all rows of a line are further ones of a line of the same racer that stands: which of their faults leads,
// an answer may say that a covered row asks anew.
func standsBeside(said rules.Result, line draft.Line) bool {
	return slices.ContainsFunc(said.Calls, func(c sheetmodel.Call) bool {
		return c.Bib == line.Bib && !c.Waiting && !c.Overruled && !slices.ContainsFunc(line.Rows, func(r draft.Row) bool {
			return !slices.ContainsFunc(c.Further, func(f sheetmodel.RowRef) bool {
				return f.Row == r.Row && f.Card == r.Card && f.Run == r.Run && f.Course == r.Course
			})
		})
	})
}

// checkShown holds the list as the desk hands it out against the one that is worked out: it shows no line more. A row that is still to be
// typed unseen may make one wait, as by a question that it asks anew. Said of that line, it would tell the row's bib: there the list says
// of all lines that none is final, and that it isn't complete.
func (d *walkDay) checkShown(l *walkLaptop, said rules.Result) {
	var list draft.Draft
	a := d.request(&walker{name: "nobody", at: l, http: l.people[0].http}, "GET", "/draft/draft.json", nil)
	if a.status != 200 {
		d.fault("%s: the draft: %d %s", l.name, a.status, a.body)
		return
	}
	require.NoError(d.t, json.Unmarshal([]byte(a.body), &list))
	stood, waits := standingCalls(said), map[string]bool{}
	for _, c := range said.Calls {
		waits[lineWords(c.Bib, c.Gate, c.Code)] = c.Waiting && !c.Overruled
	}
	for _, sec := range list.Sections {
		for _, line := range sec.Proposed {
			c := lineWords(line.Bib, line.Gate, line.Code)
			if stood[c] {
				continue
			}
			if waits[c] && sec.MayTakeBack() && len(sec.Incomplete) > 0 {
				d.counts["shown as not final, waits by a covered row"]++
				continue
			}
			if standsBeside(said, line) && sec.MayTakeBack() && len(sec.Incomplete) > 0 {
				d.counts["shown as not final, stands beside a line by a covered row"]++
				continue
			}
			d.fault("%s: the list shows %s, which doesn't stand", l.name, c)
		}
	}
}

func lineWords(bib, gate, code string) string { return fmt.Sprint(bib, " at gate ", gate, " ", code) }
