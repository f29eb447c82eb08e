package scantest

import (
	"errors"
	"fmt"
	"image"
	"time"

	"gatefold/scan"
)

// JudgeCards reads a staged sample and compares every page with the truth of the card it lies on.
//
// Right needs every card whose rows are all in sight; pages of cards that others cover in part may be there
// or not, but never wrong. A refusal is Due when the truth gives the same reason, or when there was nothing
// to find. clock measures the time from file to pages.
func JudgeCards(s *Sample, forms *scan.Forms, clock func() time.Time) Outcome {
	start := clock()
	photo, _, err := scan.Decode(fmt.Sprintf("%s-%d.jpg", s.Level, s.Seed), s.JPEG)
	if err != nil {
		return Outcome{Verdict: Refused, Why: err.Error(), Fault: "file"}
	}
	defer photo.Close()
	pages, err := scan.Pages(photo, forms, scan.Options{})
	out := Outcome{Took: clock().Sub(start), Extra: len(pages) - 1, Verdict: Right}
	for _, p := range pages {
		defer p.Close()
	}
	cards := append([]*Sample{s}, s.Others...)
	found := make([]bool, len(cards))
	for _, p := range pages {
		at := nearest(cards, p)
		switch {
		case s.blank():
			out.Verdict, out.Why = Wrong, "a page of an empty side"
		case at < 0:
			out.Verdict, out.Why = Wrong, "a page where no card lies"
		case found[at]:
			out.Verdict, out.Why = Wrong, "one card found twice"
		default:
			found[at] = true
			if verdict, why := cards[at].compare(p, &out); verdict == Wrong {
				out.Verdict, out.Why = Wrong, why
			}
			if at == 0 {
				out.Quality, out.NoIdent = p.Quality, p.Identity == nil
			}
		}
	}
	if out.Verdict == Wrong {
		return out
	}
	var refusal *scan.RefusedError
	if errors.As(err, &refusal) {
		out.Fault = refusal.Fault
	}
	missing, due := 0, 0
	for i, c := range cards {
		if found[i] || i > 0 && c.lostRows() {
			continue
		}
		missing++
		if c.Truth().Gives(out.Fault) {
			due++
		}
	}
	if missing == 0 {
		out.Fault = ""
		return out
	}
	out.Verdict, out.Errors, out.Due = Refused, nil, due == missing
	out.Why = fmt.Sprintf("%d of %d cards missing: %v", missing, len(cards), err)
	return out
}

func (s *Sample) blank() bool {
	st := s.View.Shot().Staging
	return st != nil && st.Blank
}

// lostRows reports whether anything of the sheet's rows or panels can't be seen.
func (s *Sample) lostRows() bool {
	for _, r := range sceneOf(s.Side, image.Point{}).Rows {
		if !s.View.RowInView(r) {
			return true
		}
	}
	return false
}

// nearest returns which card a page lies on, -1 for none.
func nearest(cards []*Sample, p *scan.Page) int {
	best, miss := -1, float64(otherCard)
	for i, c := range cards {
		if m := c.miss(p, center(p.Side)); m < miss {
			best, miss = i, m
		}
	}
	return best
}
