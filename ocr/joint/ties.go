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
	// Fault is empty when the tie holds. Otherwise it lends nothing: DoubtTie says that the paper
	// doesn't tell which writing belongs to the row, DoubtWritings that the two show different bibs.
	Fault  sheetmodel.DoubtKind `json:"fault,omitempty"`
	Detail string               `json:"detail,omitempty"`
}

// maxCrossed is how much a row and another row's entry may look alike, as the claim that both show
// the same text. One in a thousand: far above what two clearly different bibs share, far below what
// one misread digit leaves.
const maxCrossed = 1e-3

// Ties finds the second writings of a card's rows. front holds the rows, back the strips; either may
// be the zero value. Ties come in row order, a row's second box before its strip.
//
// A row is tied to its own second box. It is tied to a strip entry only if the rows naming the panel
// and the strip's entries are equally many, agree one to one, and no row looks like another row's
// entry. Struck rows and struck entries take no part. The row's own reading never chooses its entry:
// if any of this fails the whole strip lends nothing.
//
// Source: design rule of the project; common practice, no source.
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
	if !agree(r.Bib, r.BibAgain) {
		t.Fault = sheetmodel.DoubtWritings
		t.Detail = "the second box of this row does not show the same bib"
	}
	return t
}

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
	var rows []sheetmodel.Row
	var entries []sheetmodel.StripEntry
	doubt := ""
	for _, r := range all {
		if r.Struck || blankButCovered(r) {
			continue
		}
		switch named := names(r.Panel, panel); {
		case named == not:
		case !written(r.Bib):
			doubt = fmt.Sprintf("row %d names panel %s without a bib", r.Number, panel)
		case named == surely:
			rows = append(rows, r)
		default:
			doubt = fmt.Sprintf("row %d may also name panel %s", r.Number, panel)
		}
	}
	for _, e := range strips {
		if e.Panel == panel && written(e.Bib) {
			entries = append(entries, e)
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
				ties[i].Fault, ties[i].Detail, ties[i].Entry = sheetmodel.DoubtTie, doubt, 0
			}
		}
	}
	return ties
}

// blankButCovered reports whether nothing is written in a row as far as it can be seen, its bib's boxes among it, and all
// that may name a panel there lies under a finger or outside the picture. Without a bib and with no other ink, what may be
// below it says nothing of any racer.
func blankButCovered(r sheetmodel.Row) bool {
	for _, x := range []sheetmodel.Reading{r.Bib, r.BibAgain, r.Code, r.CodeOther, r.Gate, r.Rerun} {
		if x.State != sheetmodel.Empty && x.State != "" && !onlyCovered(x) {
			return false
		}
	}
	return r.Bib.State == sheetmodel.Empty && onlyCovered(r.Panel)
}

// onlyCovered reports whether a reading is nothing but a place that can't be seen.
func onlyCovered(x sheetmodel.Reading) bool {
	return x.State == sheetmodel.Doubtful && x.Text == "" && len(x.Rivals) == 0 && len(x.Doubts) == 1 && x.HasDoubt(sheetmodel.DoubtHidden)
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
	used := make([]bool, len(entries))
	for i, r := range rows {
		partner := -1
		for j, e := range entries {
			if !agree(r.Bib, e.Bib) {
				continue
			}
			if partner >= 0 || used[j] {
				return fmt.Sprintf("strip %s: row %d fits more than one place", panel, r.Number)
			}
			partner = j
		}
		if partner < 0 {
			ties[i].Fault = sheetmodel.DoubtWritings
			ties[i].Detail = fmt.Sprintf("strip %s does not show the same bib", panel)
			doubt = fmt.Sprintf("strip %s: row %d finds no entry of its own", panel, r.Number)
			if len(entries) == 1 {
				ties[i].Entry = entries[0].Entry // the only one it can be: both are shown
			}
			continue
		}
		used[partner] = true
		ties[i].Entry = entries[partner].Entry
		for j, e := range entries {
			if j != partner && Overlap(FromReading(r.Bib), FromReading(e.Bib)) >= maxCrossed {
				doubt = fmt.Sprintf("strip %s: row %d is too much like entry %d", panel, r.Number, e.Entry)
			}
		}
	}
	return doubt
}
