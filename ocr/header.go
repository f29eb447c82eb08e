package ocr

import (
	"fmt"
	"math"
	"strings"

	"gatefold/ocr/ctc"
	"gatefold/ocr/joint"
	"gatefold/ocr/net"
	"gatefold/sheetmodel"
)

// readLine lets the cell net read a line of the header, if it reads such lines; the first result says so. State and
// doubts stay those of ink that a person reads: this is help to find whom to phone, no fact.
func (r *Reader) readLine(pg *page, f sheetmodel.Field, out *sheetmodel.Reading) (bool, error) {
	if !r.header {
		return false, nil
	}
	var judges []string
	switch f.Part {
	case sheetmodel.PartPhone, sheetmodel.PartDate:
	case sheetmodel.PartJudge:
		if r.judges != nil {
			judges = r.judges()
		}
		if len(judges) == 0 {
			return false, nil
		}
	default:
		return false, nil
	}
	line, err := r.cells.Line(pg.pix, pg.w, pg.pxPerMM, f.Rect)
	if err != nil {
		return true, fmt.Errorf("field %s: %w", f.Name, err)
	}
	var b joint.Belief
	switch f.Part {
	case sheetmodel.PartPhone:
		b = PhoneBelief(line)
	case sheetmodel.PartDate:
		b = DateBelief(line)
	default:
		b = NameBelief(line, judges)
	}
	if Help(b) != "" {
		b.Fill(out, listedRivals)
		keepLikely(out)
	}
	return true, nil
}

// LeastHelp is the claim that a line's text needs to be shown beside its picture: a wrong number rings at a stranger's.
const LeastHelp = 0.8

// Help returns the text of a line that is shown, empty if none is likely enough.
func Help(b joint.Belief) string {
	if text, prob := b.Top(); prob >= LeastHelp {
		return text
	}
	return ""
}

// PhoneBelief says which phone numbers a line may hold, by their digits, with their exact probabilities; all the rest
// of 1 is "none of these".
func PhoneBelief(l *ctc.Line) joint.Belief {
	claims := map[string]float64{}
	for _, t := range l.Best(listedTexts, phoneGrammar{}) {
		claims[bare(spelt(t.Symbols))] += t.Prob
	}
	return toBelief(claims, leastClaim)
}

// DateBelief says which days a line may hold: as 2026-02-07, or 02-07 where no year is written; where a text may mean
// several days, all of them with "or" between. All the rest of 1 is "none of these".
func DateBelief(l *ctc.Line) joint.Belief {
	claims, g := map[string]float64{}, dates()
	for _, t := range l.Best(listedTexts, g) {
		if days := g.meanings(spelt(t.Symbols)); len(days) > 0 {
			claims[strings.Join(days, " or ")] += t.Prob
		}
	}
	return toBelief(claims, leastClaim)
}

// Weights of NameSigns for a name's log-odds, the constant first: fitted by logistic regression on names of other judges
// by selection writers, capitals and small letters, a fifth of them nobody's. calibrate header-weights -cards 150 -seed 5201
// fits them again.
var nameWeights = [3]float64{1.91, 0.212, -0.767}

// Beyond these the signs of a name say nothing more.
const mostOver, mostUnder = 15, 8

// NameBelief says which of names a line may hold in block capitals, whole in either order, either part alone, or an
// initial and a part. Only the name that fits best is named; all the rest of 1 is "none of these", also another judge.
// Two names that are spelt alike speak against each other: neither is likely then.
func NameBelief(l *ctc.Line, names []string) joint.Belief {
	best, over, under := NameSigns(l, names)
	if best == "" {
		return joint.Belief{Other: 1}
	}
	x := nameWeights[0] + nameWeights[1]*min(over, mostOver) + nameWeights[2]*min(under, mostUnder)
	p := 1 / (1 + math.Exp(-x)) / (1 + math.Exp(-over)) // the next name has its share, whatever the weights
	return toBelief(map[string]float64{best: p}, leastClaim)
}

// NameSigns measures how a line speaks for the name it fits best among names: how many times likelier than the next
// name it is, and than all of that length's letters are unlikelier than the line's likeliest text, both as natural
// logarithms, the second for each letter.
func NameSigns(l *ctc.Line, names []string) (best string, over, under float64) {
	f := l.Folded(alikeSymbols())
	top, next, letters := math.Inf(-1), math.Inf(-1), 1
	for _, n := range names {
		own, size := math.Inf(-1), 1
		for _, s := range spellings(n) {
			if p := f.Log(s); p > own {
				own, size = p, len(s)
			}
		}
		switch {
		case own > top:
			best, top, next, letters = n, own, top, size // ties: the first
		case own > next:
			next = own
		}
	}
	free := math.Inf(-1)
	for _, t := range f.Best(1, nil) {
		free = math.Log(t.Prob)
	}
	return best, top - next, (free - top) / float64(letters)
}

// alikeSymbols are alikes as symbols of the net.
func alikeSymbols() [][]int {
	out := make([][]int, len(alikes))
	for i, a := range alikes {
		for j := range len(a) {
			out[i] = append(out[i], strings.IndexByte(net.CellSymbols, a[j]))
		}
	}
	return out
}

// spellings lists how a name is written, as symbols.
func spellings(name string) [][]int {
	var words []string
	for _, w := range strings.Fields(strings.ToUpper(name)) {
		w = strings.Map(func(c rune) rune {
			if c >= 'A' && c <= 'Z' {
				return c
			}
			return -1
		}, w)
		if w != "" {
			words = append(words, w)
		}
	}
	if len(words) == 0 {
		return nil
	}
	first, last := words[0], words[len(words)-1]
	all := []string{strings.Join(words, "")}
	if len(words) > 1 {
		all = append(all, last+first, last, first, first[:1]+last, last+first[:1])
	}
	out := make([][]int, len(all))
	for i, s := range all {
		for j := range len(s) {
			out[i] = append(out[i], strings.IndexByte(net.CellSymbols, s[j]))
		}
	}
	return out
}
