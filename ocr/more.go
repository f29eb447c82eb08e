package ocr

import (
	"cmp"
	"slices"

	"gatefold/sheetmodel"
)

// Two characters in one box are read as one, and the number is shorter than what was written.
const (
	standsShare = 0.6 // of the tallest piece's height: a character by itself, not a bar, a dot or a tail
	standsMM    = 2.5 // high at least
	standsOver  = 0.3 // of the narrower one's width: pieces one above the other are parts of one character
)

// standing counts the pieces of a comb's ink that stand beside each other, each as tall as a character.
func standing(own []piece) int {
	tallest := 0
	for _, p := range own {
		tallest = max(tallest, p.y1-p.y0)
	}
	var tall []piece
	for _, p := range own {
		if h := float64(p.y1 - p.y0); h >= standsShare*float64(tallest) && h >= standsMM*inkPxPerMM {
			tall = append(tall, p)
		}
	}
	slices.SortFunc(tall, func(a, b piece) int { return cmp.Compare(a.x0, b.x0) })
	n, end := 0, 0
	for _, p := range tall {
		if over := float64(end - p.x0); n > 0 && over > standsOver*float64(p.x1-p.x0) {
			end = max(end, p.x1)
			continue
		}
		n, end = n+1, p.x1
	}
	return n
}

// doubtShort doubts a number that has fewer characters than stand in its boxes.
func (c comb) doubtShort(out *sheetmodel.Reading) {
	if out.Text != "" && standing(c.ink.own) > len(out.Text) && !out.HasDoubt(sheetmodel.DoubtOverwritten) {
		out.Doubt(sheetmodel.DoubtOverwritten, "more characters seem to stand there than were read")
	}
}
