package joint

import (
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

// Belief is what one reader thinks of one writing: texts with their claims, best first, and the mass
// of everything else (a dash, a name, ink that can't be read, texts too unlikely to be listed).
//
// Claims and Other sum to 1.
type Belief struct {
	Texts []sheetmodel.Rival
	Other sheetmodel.Prob
}

// NewBelief returns a Belief of the given texts, in any order, and of the mass of everything else. It
// scales both to sum to 1 and keeps texts for itself.
func NewBelief(texts []sheetmodel.Rival, other sheetmodel.Prob) Belief {
	b := Belief{Texts: texts, Other: other}
	b.normalise()
	return b
}

// FromReading takes the Belief out of a Reading. Among the rivals of a Reading the empty text stands
// for "none of these"; the Reading's own text has what the rivals leave.
func FromReading(r sheetmodel.Reading) Belief {
	var b Belief
	var rest sheetmodel.Prob
	for _, v := range r.Rivals {
		rest += v.Prob
		if v.Text == "" {
			b.Other += v.Prob
			continue
		}
		b.Texts = append(b.Texts, v)
	}
	own := max(1-rest, 0)
	if r.Text == "" {
		b.Other += own
	} else {
		b.Texts = append(b.Texts, sheetmodel.Rival{Text: r.Text, Prob: own})
	}
	b.sort()
	return b
}

// Top returns the likeliest text and its claim. It is the empty text when "none of these" is likelier.
func (b Belief) Top() (string, sheetmodel.Prob) {
	if len(b.Texts) == 0 || b.Texts[0].Prob <= b.Other {
		return "", b.Other
	}
	return b.Texts[0].Text, b.Texts[0].Prob
}

// Rest returns the mass of all but the top outcome, summed from small to large.
func (b Belief) Rest() sheetmodel.Prob {
	var rest sheetmodel.Prob
	top, _ := b.Top()
	for _, v := range slices.Backward(b.Texts) {
		if v.Text != top {
			rest += v.Prob
		}
	}
	if top != "" {
		rest += b.Other
	}
	return rest
}

// Prob returns the claim of text; the empty text is "none of these".
func (b Belief) Prob(text string) sheetmodel.Prob {
	if text == "" {
		return b.Other
	}
	for _, v := range b.Texts {
		if v.Text == text {
			return v.Prob
		}
	}
	return 0
}

// Fill writes the Belief into a Reading: text, and at most keep rivals; what is not kept goes to
// "none of these". Field, side, region, state and doubts are left alone.
func (b Belief) Fill(r *sheetmodel.Reading, keep int) {
	text, _ := b.Top()
	r.Text, r.Rivals = text, nil
	other := b.Other
	for _, v := range b.Texts {
		switch {
		case v.Text == text:
		case len(r.Rivals) < keep:
			r.Rivals = append(r.Rivals, v)
		default:
			other += v.Prob
		}
	}
	if text != "" && other > 0 {
		r.Rivals = append(r.Rivals, sheetmodel.Rival{Prob: other})
		sortRivals(r.Rivals)
	}
}

// normalise multiplies all claims so that they sum to 1.
func (b *Belief) normalise() {
	sum := b.Other
	for _, v := range b.Texts {
		sum += v.Prob
	}
	if sum <= 0 {
		*b = Belief{Other: 1}
		return
	}
	b.Other /= sum
	for i := range b.Texts {
		b.Texts[i].Prob /= sum
	}
	b.sort()
}

func (b *Belief) sort() { sortRivals(b.Texts) }

func sortRivals(v []sheetmodel.Rival) {
	slices.SortStableFunc(v, func(x, y sheetmodel.Rival) int {
		switch {
		case x.Prob > y.Prob:
			return -1
		case x.Prob < y.Prob:
			return 1
		}
		return strings.Compare(x.Text, y.Text)
	})
}
