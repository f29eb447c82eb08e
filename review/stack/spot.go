package stack

import (
	"crypto/sha256"
	"encoding/binary"
	"slices"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// SpotCheck is what lot has drawn among the bibs of which the reader alone is certain, and what people
// who typed them unseen made of it. Draft and rules don't wait for it; who types another bib makes the
// row wait like any other.
type SpotCheck struct {
	Certain int     `json:"certain"` // rows whose bib the reader is certain of without a person
	Drawn   []Drawn `json:"-"`
}

// Drawn is one bib of the spot check.
type Drawn struct {
	Row   sheetmodel.RowRef
	Entry Entry
	Twice bool // written twice; once otherwise
	Typed bool // a person has typed it unseen, from the ink
	Same  bool // as the reader has it
	// Wrong: what was typed differs, and nobody has settled since that the reader was right.
	Wrong bool
}

// Typed returns how many were typed, and how many of these the reader has otherwise, as far as is known.
func (c SpotCheck) Typed() (typed, wrong int) {
	for _, d := range c.Drawn {
		if d.Typed {
			typed++
		}
		if d.Wrong {
			wrong++
		}
	}
	return typed, wrong
}

// SpotCheck draws by lot. The lot falls on a reading's place (race, run, course, card, row) and knows nothing of the
// ink, so neither how sure the reader is nor what a person does moves it, and it falls alike each time.
func (s *Stack) SpotCheck() SpotCheck {
	var c SpotCheck
	for i := range s.Rows {
		r := &s.Rows[i]
		e := r.BibSeen
		if r.Sheet == nil || r.Struck || e.Key == "" {
			continue
		}
		alone := look.Count(e.ink, "", nil)
		if alone.State != sheetmodel.BibOneLook && alone.State != sheetmodel.BibTwoLooks {
			continue
		}
		c.Certain++
		if lot(s.Race.ID, e.Key) >= s.Race.SpotCheck {
			continue
		}
		d := Drawn{Row: r.Ref, Entry: e, Twice: alone.State == sheetmodel.BibTwoLooks}
		// The first word counts: whoever types it anew knows of the first.
		if k := slices.IndexFunc(s.Decisions, func(dec store.Decision) bool {
			return dec.Reading == e.Key && dec.Blind && !dec.ReadBack && dec.Undone == nil &&
				(dec.Basis == sheetmodel.BasisOnPaper || dec.Basis == sheetmodel.BasisNoWriting)
		}); k >= 0 {
			d.Typed = true
			d.Same = s.Decisions[k].Basis == sheetmodel.BasisOnPaper && sheetmodel.CanonicalBib(s.Decisions[k].Text) == alone.Text
			d.Wrong = !d.Same && !(e.Seen.State == sheetmodel.BibTwoLooks && e.Seen.Text == alone.Text)
		}
		c.Drawn = append(c.Drawn, d)
	}
	return c
}

// lot returns a number from 0 to below 1 for a reading of a race.
func lot(race, key string) float64 {
	sum := sha256.Sum256([]byte("spot check\x00" + race + "\x00" + key))
	return float64(binary.BigEndian.Uint64(sum[:])>>11) / (1 << 53)
}
