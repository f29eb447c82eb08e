package joint

import (
	"fmt"
	"slices"

	"gatefold/sheetmodel"
)

// Tie says that the paper shows a second writing for a row, and whether it may be used.
type Tie struct {
	Row   int                 `json:"row"`
	Kind  sheetmodel.LookKind `json:"kind"` // LookSecondBox or LookStrip
	Panel string              `json:"panel,omitempty"`
	Entry int                 `json:"entry,omitempty"` // of the panel's strip; 0 if none is tied
	Alike []int               `json:"alike,omitempty"` // further entries with the same bib, any of which may be the row's
	// Fault is empty when the tie holds. Otherwise it lends nothing: DoubtTie says that the paper
	// doesn't tell which writing belongs to the row, DoubtWritings that the two show different bibs.
	Fault  sheetmodel.DoubtKind `json:"fault,omitempty"`
	Detail string               `json:"detail,omitempty"`
}

// A row and another row's entry may look alike, as the claim that both show the same text, by less than maxCrossed. It is
// far above what two clearly different bibs share and below what makes them agree.
//
// For two rows to have found each other's entries, both must have been misread, each as the other: the two claims together
// must stay below maxExchange. leastCrossed stands for the claims of a reader that is sure and wrong.
const (
	maxCrossed   = 1e-2
	maxExchange  = 1e-6
	leastCrossed = 1e-4
)

// Ties finds the second writings of a card's rows. front holds the rows, back the strips; either may
// be the zero value. Ties come in row order, a row's second box before its strip.
//
// A row is tied to its own second box. It is tied to a strip entry only if the rows naming the panel
// and the strip's entries are equally many, agree one to one, and no two rows can have found each other's
// entries. Struck rows and struck entries take no part, nor does what nobody can see: an entry under a finger, or a row that
// may name the panel and whose bib is plainly none of the strip's. The row's own reading never chooses its entry:
// if any of this fails the whole strip lends nothing.
//
// Source: design rule of the project, ocr/decisions/0005-ties.md; common practice, no source.
func Ties(front, back sheetmodel.SheetReading) []Tie {
	var ties []Tie
	for _, r := range front.Rows {
		if !r.Struck && written(r.Bib) && written(r.BibAgain) {
			ties = append(ties, secondBox(r))
		}
	}
	for _, p := range panels(back.Strips) {
		ties = append(ties, strip(p, front.Rows, back.Strips)...)
	}
	slices.SortStableFunc(ties, func(a, b Tie) int { return a.Row - b.Row })
	return ties
}

// written leaves out what nobody wrote and what its writer took back.
func written(r sheetmodel.Reading) bool {
	return (r.State == sheetmodel.Clear || r.State == sheetmodel.Doubtful) && !r.HasDoubt(sheetmodel.DoubtStruckOut)
}

func secondBox(r sheetmodel.Row) Tie {
	t := Tie{Row: r.Number, Kind: sheetmodel.LookSecondBox}
	if sameInk(r.Bib, r.BibAgain) {
		t.Fault = sheetmodel.DoubtTie
		t.Detail = "both boxes for the bib lie in the same place, so it was written once"
	} else if !agree(r.Bib, r.BibAgain) {
		t.Fault = sheetmodel.DoubtWritings
		t.Detail = "the second box of this row does not show the same bib"
	}
	return t
}

// sameInk reports whether two readings are of one place: a layout that was described by hand may say so. What was written once is no two looks.
func sameInk(a, b sheetmodel.Reading) bool { return a.Side == b.Side && a.Region.SameInk(b.Region) }

// LeastOverlap is the least claim that two writings show the same text with which they still agree. One
// misread digit leaves far less: then both are sure of different texts. A writing that may be read two
// ways keeps its second text, and the joint certainty says what the two are worth together.
const LeastOverlap = 0.02

// agree reports whether both writings may well be the same bib. Ink that is more likely no bib at all
// agrees with nothing.
func agree(a, b sheetmodel.Reading) bool {
	x, y := FromReading(a), FromReading(b)
	textX, _ := x.Top()
	textY, _ := y.Top()
	return textX != "" && textY != "" && Overlap(x, y) >= LeastOverlap
}

func panels(strips []sheetmodel.StripEntry) []string {
	var names []string
	for _, e := range strips {
		if written(e.Bib) && !slices.Contains(names, e.Panel) {
			names = append(names, e.Panel)
		}
	}
	slices.Sort(names)
	return names
}

// strip ties the rows that name panel to the entries of its strip.
func strip(panel string, all []sheetmodel.Row, strips []sheetmodel.StripEntry) []Tie {
	var rows, maybe []sheetmodel.Row
	var entries []sheetmodel.StripEntry
	doubt := ""
	for _, r := range all {
		if r.Struck || blankButCovered(r) {
			continue
		}
		switch named := names(r.Panel, panel); {
		case named == not, named == perhaps && r.Bib.State == sheetmodel.Empty:
		case !written(r.Bib):
			doubt = fmt.Sprintf("row %d names panel %s without a bib", r.Number, panel)
		case named == surely:
			rows = append(rows, r)
		default:
			maybe = append(maybe, r)
		}
	}
	for _, e := range strips {
		if e.Panel == panel && written(e.Bib) && !e.Bib.OnlyCovered() {
			entries = append(entries, e)
		}
	}
	for _, r := range maybe {
		if !noneOf(r.Bib, entries) {
			doubt = fmt.Sprintf("row %d may also name panel %s", r.Number, panel)
		}
	}
	for i, e := range entries {
		if slices.ContainsFunc(entries[:i], func(o sheetmodel.StripEntry) bool { return o.Entry == e.Entry }) {
			doubt = fmt.Sprintf("strip %s: two of its bibs are number %d", panel, e.Entry) // by their numbers their ink is found
		}
		for _, r := range rows {
			if sameInk(r.Bib, e.Bib) {
				doubt = fmt.Sprintf("strip %s: an entry lies where row %d has its bib, so it was written once", panel, r.Number)
			}
		}
	}
	if doubt == "" && len(rows) != len(entries) {
		doubt = fmt.Sprintf("strip %s: %s, named by %s", panel, count(len(entries), "bib"), count(len(rows), "row"))
	}
	ties := make([]Tie, len(rows))
	for i, r := range rows {
		ties[i] = Tie{Row: r.Number, Kind: sheetmodel.LookStrip, Panel: panel}
	}
	if doubt == "" {
		doubt = match(panel, rows, entries, ties)
	}
	if doubt != "" {
		for i := range ties {
			if ties[i].Fault == "" {
				ties[i].Fault, ties[i].Detail, ties[i].Entry, ties[i].Alike = sheetmodel.DoubtTie, doubt, 0, nil
			}
		}
	}
	return ties
}

// noneOf reports whether a row's bib is read without trouble and plainly none of the entries: then none of them is that row's,
// whether it names their panel or not.
func noneOf(bib sheetmodel.Reading, entries []sheetmodel.StripEntry) bool {
	if text, _ := FromReading(bib).Top(); text == "" {
		return false
	}
	for _, d := range bib.Doubts {
		if d.Kind != sheetmodel.DoubtLowCertainty {
			return false
		}
	}
	return !slices.ContainsFunc(entries, func(e sheetmodel.StripEntry) bool { return overlap(bib, e.Bib) >= leastApart })
}

// leastApart is the claim to be the same text below which two writings plainly differ, with nothing else to say so.
const leastApart = 1e-3

func overlap(a, b sheetmodel.Reading) sheetmodel.Prob { return Overlap(FromReading(a), FromReading(b)) }

// blankButCovered reports whether nothing is written in a row as far as it can be seen, its bib's boxes among it, and all
// that may name a panel there lies under a finger or outside the picture. Without a bib and with no other ink, what may be
// below it says nothing of any racer.
func blankButCovered(r sheetmodel.Row) bool {
	for _, x := range []sheetmodel.Reading{r.Bib, r.BibAgain, r.Code, r.CodeOther, r.Gate, r.Rerun} {
		if x.State != sheetmodel.Empty && x.State != "" && !x.OnlyCovered() {
			return false
		}
	}
	return r.Bib.State == sheetmodel.Empty && r.Panel.OnlyCovered()
}

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

type naming int

const (
	not naming = iota
	perhaps
	surely
)

// names says whether a row's panel reading names the panel. A doubtful reading names each of its
// rivals perhaps, and every panel if it may be none of them: a mark between two boxes belongs to either.
// A mark that may be no mark at all names its own box or nothing.
func names(r sheetmodel.Reading, panel string) naming {
	switch r.State {
	case sheetmodel.Clear:
		if r.Text == panel {
			return surely
		}
		return not
	case sheetmodel.Doubtful:
		if r.HasDoubt(sheetmodel.DoubtStruckOut) && len(r.Rivals) == 0 && r.Text == "" {
			return not
		}
		if r.Text == panel || r.Text == "" {
			return perhaps
		}
		for _, v := range r.Rivals {
			if v.Text == panel || v.Text == "" && !inBoxes(r) {
				return perhaps
			}
		}
		return not
	case sheetmodel.Empty:
		return not
	default:
		return perhaps
	}
}

// inBoxes reports whether all that is doubtful about a reading are marks that lie in their boxes, and none of
// its other boxes may hold one.
func inBoxes(r sheetmodel.Reading) bool {
	for _, d := range r.Doubts {
		switch d.Kind {
		case sheetmodel.DoubtFaintInk, sheetmodel.DoubtTwoMarks, sheetmodel.DoubtStruckOut, sheetmodel.DoubtOverwritten:
		default: // also those added later
			return false
		}
	}
	return len(r.Doubts) > 0
}

// match pairs rows and entries, equally many, and fills in the entries of ties. It returns why the
// strip as a whole lends nothing, or "".
func match(panel string, rows []sheetmodel.Row, entries []sheetmodel.StripEntry, ties []Tie) string {
	doubt := ""
	partner := make([]int, len(rows)) // in entries
	used := make([]bool, len(entries))
	for i, r := range rows {
		var fits []int
		for j, e := range entries {
			if agree(r.Bib, e.Bib) {
				fits = append(fits, j)
			}
		}
		free := slices.IndexFunc(fits, func(j int) bool { return !used[j] })
		switch {
		case len(fits) == 0:
			ties[i].Fault = sheetmodel.DoubtWritings
			ties[i].Detail = fmt.Sprintf("strip %s does not show the same bib", panel)
			doubt = fmt.Sprintf("strip %s: row %d finds no entry of its own", panel, r.Number)
			if len(entries) == 1 {
				ties[i].Entry = entries[0].Entry // the only one it can be: both are shown
			}
			partner[i] = -1
			continue
		case free < 0 || len(fits) > 1 && !sameBib(r, rows, entries, fits):
			return fmt.Sprintf("strip %s: row %d fits more than one place", panel, r.Number)
		}
		partner[i] = fits[free]
		used[partner[i]] = true
		ties[i].Entry = entries[partner[i]].Entry
		for _, j := range fits {
			if j != partner[i] {
				ties[i].Alike = append(ties[i].Alike, entries[j].Entry)
			}
		}
	}
	if doubt != "" {
		return doubt
	}
	for i, r := range rows {
		for k, other := range rows[:i] {
			if top(other.Bib) == top(r.Bib) {
				continue // one bib, written as often on both sides: exchanged or not, it is the same
			}
			a, b := overlap(r.Bib, entries[partner[k]].Bib), overlap(other.Bib, entries[partner[i]].Bib)
			if max(a, b) >= maxCrossed || max(a, leastCrossed)*max(b, leastCrossed) > maxExchange {
				return fmt.Sprintf("strip %s: rows %d and %d may have found each other's entries", panel, other.Number, r.Number)
			}
		}
	}
	return ""
}

// sameBib reports whether r is one of several rows with one bib, and the entries that fit it are as many with that bib and
// fit no other row. Whichever entry is whose, a wrong bib then still takes a misread row and its own entry misread alike.
func sameBib(r sheetmodel.Row, rows []sheetmodel.Row, entries []sheetmodel.StripEntry, fits []int) bool {
	text, like := top(r.Bib), 0
	for _, o := range rows {
		if top(o.Bib) == text {
			like++
		}
	}
	for _, j := range fits {
		if top(entries[j].Bib) != text {
			return false
		}
		for _, o := range rows {
			if top(o.Bib) != text && agree(o.Bib, entries[j].Bib) {
				return false
			}
		}
	}
	return text != "" && like == len(fits)
}

func top(r sheetmodel.Reading) string {
	text, _ := FromReading(r).Top()
	return text
}
