package sheetmodel

import (
	"fmt"
	"strings"
)

const (
	ringPad  MM = 1.8 // white beside a word that is to be ringed, for the ring
	ringGap  MM = 1.2 // least white between two rings
	ringMost MM = 5   // no need for more
)

// ringWords lays out words to be ringed inside r, prints them and returns their options. It takes
// the largest type that fits in one line, then two lines, then gives up.
func (b *binder) ringWords(r Rect, words []string) ([]Option, error) {
	for _, lines := range []int{1, 2} {
		for size := MM(2.5); size >= 1.7; size -= 0.1 {
			if lines == 2 && size > 1.9 {
				continue // rings of the two lines would cross
			}
			if options, ok := b.tryWords(r, words, lines, roundMM(size)); ok {
				return options, nil
			}
		}
	}
	total := MM(0)
	for _, w := range words {
		total += TextWidth(w, Regular, 1.7) + 2*ringPad + ringGap
	}
	return nil, fmt.Errorf("%d words to ring (%s) need %.0f mm, two lines of %.0f mm are there; shorten the names",
		len(words), strings.Join(words, ", "), float64(total), float64(r.W))
}

func (b *binder) tryWords(r Rect, words []string, lines int, size MM) ([]Option, bool) {
	var rows [][]string
	perLine := (len(words) + lines - 1) / lines
	for at := 0; at < len(words); at += perLine {
		rows = append(rows, words[at:min(at+perLine, len(words))])
	}
	height := r.H / MM(lines)
	var options []Option
	var items []PrintItem
	for i, row := range rows {
		total := MM(0)
		for _, w := range row {
			total += TextWidth(w, Regular, size) + 2*ringPad
		}
		free := r.W - total
		if free < ringGap*MM(len(row)-1) {
			return nil, false
		}
		gap := MM(0)
		if len(row) > 1 {
			gap = min(ringMost, free/MM(len(row)-1))
		}
		x, y := r.X, r.Y+height*MM(i)
		for _, w := range row {
			width := TextWidth(w, Regular, size) + 2*ringPad
			options = append(options, Option{Value: w, Label: w, Rect: b.place(Rect{X: x, Y: y, W: width, H: height})})
			items = append(items, PrintItem{
				Text: w, At: SheetPoint{X: x + width/2, Y: y + height/2 + size/2}, Size: size, Align: AlignCenter,
			})
			x += width + gap
		}
	}
	for _, item := range items {
		b.print(item)
	}
	return options, true
}

// splitWord returns word in at most two lines, as even as its spaces allow.
func splitWord(word string, face Face) []string {
	parts := strings.Fields(word)
	best, width := []string{word}, TextWidth(word, face, 1)
	for i := 1; i < len(parts); i++ {
		a, c := strings.Join(parts[:i], " "), strings.Join(parts[i:], " ")
		if w := max(TextWidth(a, face, 1), TextWidth(c, face, 1)); w < width {
			best, width = []string{a, c}, w
		}
	}
	return best
}

const (
	turnedLargest  MM = 1.9
	turnedSmallest MM = 1.6
)

// turnedSize returns the size, at most turnedLargest, at which the lines fit a head from below to top.
func turnedSize(lines []string, head bandTemplate) MM {
	size := turnedLargest
	for _, s := range lines {
		size = min(size, (head.H-1.1)/TextWidth(s, Regular, 1))
	}
	return size
}

// turnedWord prints lines reading from below, centred on cx, starting at the bottom of head.
func (b *binder) turnedWord(lines []string, cx, size MM, head bandTemplate) {
	pitch := size * 1.4
	for i, s := range lines {
		x := cx + (MM(i)-MM(len(lines)-1)/2)*pitch + size/2
		b.print(PrintItem{Text: s, At: SheetPoint{X: x, Y: head.Y + head.H - 0.7}, Size: size, Turn: -90})
	}
}

// codeListIndent is how far a code's sentence begins behind its letter.
const codeListIndent MM = 5

// codeList prints the code book with its meanings, in columns.
func (b *binder) codeList(t listTemplate) {
	width := t.W/MM(t.Columns) - 2
	const indent, size = codeListIndent, MM(1.7)
	for i, c := range b.options.Codes.Codes {
		if i >= t.Lines*t.Columns {
			break // CodeBook.Lint says so
		}
		text := c.Meaning
		if TextWidth(text, Regular, size) > width-indent {
			text = c.Word
		}
		at := SheetPoint{X: t.X + MM(i/t.Lines)*(t.W/MM(t.Columns)), Y: t.Y + MM(i%t.Lines)*t.Pitch + size}
		b.print(PrintItem{Text: c.Code, At: at, Size: size, Bold: true})
		at.X += indent
		b.print(PrintItem{Text: text, At: at, Size: size})
	}
}
