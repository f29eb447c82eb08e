package ocr

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"gatefold/ocr/crop"
	"gatefold/ocr/ctc"
	"gatefold/ocr/joint"
	"gatefold/ocr/net"
	"gatefold/sheetmodel"
)

// A number in a free cell is read twice: by the net that sees the line as a whole, and digit by digit, by the net of boxes, where
// the line says that each stands. The two are of different make; what both read is surer than what one does.

// SignReader looks at one sign of a strip. A Classifier may be one; where it isn't, cells are read by the line alone.
type SignReader interface {
	// Sign returns what the sign between two columns of a strip may be; at is a column where it surely is.
	Sign(s *crop.Strip, from, to, at int) (Dist, error)
}

// CellReader reads single strips with both readers, outside of pages; for calibration.
type CellReader struct {
	line *net.Cell
	nets *boxNets
}

// OpenCellReader opens the embedded nets. The caller closes it.
func OpenCellReader() (*CellReader, error) {
	line, err := net.OpenCell()
	if err != nil {
		return nil, err
	}
	nets, err := net.Open()
	if err != nil {
		return nil, errors.Join(err, line.Close())
	}
	return &CellReader{line, &boxNets{nets}}, nil
}

// Read returns what a cell may say under a grammar, one strip for each look at it, and the claims of a question mark and of ink that
// is no sign, as a Reader sees them.
func (c *CellReader) Read(looks []*crop.Strip, g sheetmodel.Grammar) (b joint.Belief, query, junk float64, err error) {
	var all []cellLook
	for _, s := range looks {
		line, err := c.line.Look(s)
		if err != nil {
			return joint.Belief{Other: 1}, 0, 0, err
		}
		l, err := lookAtStrip(line, c.nets, func() crop.Strip { return *s }, g)
		if err != nil {
			return joint.Belief{Other: 1}, 0, 0, err
		}
		all = append(all, l)
	}
	b, query, junk = poolLooks(all)
	return b, query, junk, nil
}

// Close frees the nets.
func (c *CellReader) Close() error { return errors.Join(c.line.Close(), c.nets.Close()) }

// signWeight is the power of the second reader's claims; the line's have 1. Chosen on calibration writers, see ocr/train/report.md.
const signWeight = 0.4

// bySigns reads the likeliest text of a strip once more, sign by sign, and all others of as many signs, and pools both readers' claims.
// line is what the whole strip said, whole what that may mean. How many signs there are the second reader can't tell: texts of other
// lengths weigh against the likeliest as they did. second is its own likeliest text, empty if it sees none.
func bySigns(signs SignReader, s *crop.Strip, line *ctc.Line, whole joint.Belief) (pooled joint.Belief, second string, err error) {
	if len(whole.Texts) == 0 {
		return whole, "", nil
	}
	first := whole.Texts[0].Text
	seen, err := signsOf(signs, s, line, first)
	if err != nil || seen == nil {
		return whole, "", err
	}
	claims, best, rest := map[string]float64{}, 0.0, 1.0
	for _, v := range whole.Texts {
		if len(v.Text) != len(first) {
			continue
		}
		claim := 1.0
		for i, d := range seen {
			if c := v.Text[i]; isDigit(c) {
				claim *= d[c-'0']
			} else {
				claim *= d[ClassOther]
			}
		}
		claims[v.Text] = claim
		rest -= claim
		if claim > best {
			best, second = claim, v.Text
		}
	}
	rest = max(rest, 0)
	if rest > best {
		second = ""
	}
	weight := func(p float64) sheetmodel.Prob { return sheetmodel.Prob(math.Pow(math.Max(p, voiceLeast), signWeight)) }
	texts := make([]sheetmodel.Rival, len(whole.Texts))
	for i, v := range whole.Texts {
		claim, ok := claims[v.Text]
		if !ok {
			claim = best
		}
		texts[i] = sheetmodel.Rival{Text: v.Text, Prob: v.Prob * weight(claim)}
	}
	return joint.NewBelief(texts, whole.Other*weight(rest)), second, nil
}

// signsOf looks at each sign of a text where the line has it; nil if the line can't have that text.
func signsOf(signs SignReader, s *crop.Strip, line *ctc.Line, text string) ([]Dist, error) {
	places := line.Places(symbolsOf(text))
	var out []Dist
	from := 0
	for i, p := range places {
		to := crop.StripW
		if i+1 < len(places) {
			to = s.Between(columnOf(p), columnOf(places[i+1]))
		}
		d, err := signs.Sign(s, from, to, columnOf(p))
		if err != nil {
			return nil, fmt.Errorf("sign by sign: %w", err)
		}
		out = append(out, d)
		from = to
	}
	return out, nil
}

// columnOf is the column of a strip that a place of its line looks at.
func columnOf(place int) int {
	return int(math.Round((float64(place) + 0.5) * crop.StripW / net.CellPlaces))
}

// symbolsOf is the way back from spelt.
func symbolsOf(text string) []int {
	var out []int
	for _, c := range text {
		out = append(out, strings.IndexRune(net.CellSymbols, c))
	}
	return out
}

// ofDigits reports whether a field of the grammar holds mostly digits.
func ofDigits(g sheetmodel.Grammar) bool {
	return g == sheetmodel.GrammarBib || g == sheetmodel.GrammarCount || g == sheetmodel.GrammarGate
}
