package main

import (
	"errors"
	"fmt"
	"image"
	"maps"
	"slices"
	"strings"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/propose"
)

// errUpsideDown is of a picture whose printed words can be read once it is turned by half.
var errUpsideDown = errors.New("the card stands upside down in it: its printed words can be read once the picture is turned by half; turn it, and give it again")

// errTurned is of a picture whose words say nothing, and whose boxes are those of the layout once it is turned by half.
var errTurned = errors.New("its boxes are those of the layout once the picture is turned by half: one of the two stands upside down; turn the picture, and give it again")

// errElsewhere is of a picture with boxes, none of which is one of the layout's.
var errElsewhere = errors.New("it shows boxes, and none of the layout's fields lies on one: it is cut or turned otherwise than the one that was described, mirrored, " +
	"or of another card; give the picture that gatefold describe was given")

// errSwapped is of pictures of two sides, each of which shows the boxes of the other one.
var errSwapped = errors.New("its first page shows the boxes that the layout has on the back, and its second those of the front: put the pages in the layout's order, or " +
	"call front in the layout what is the back")

// fewBoxes is of how many fields nothing follows if all lie beside the boxes: what a person drew by hand may, round places to tick say.
const fewBoxes = 8

// upsideDown reports whether a side of which no printed word was understood as it stands says what at least two parts are for once
// it is turned by half. p is the side as it stands.
func upsideDown(p *propose.Proposal, style sheetmodel.Style, picture *image.Gray, w, h sheetmodel.MM, read propose.Reader) bool {
	if read == nil || partsSaid(p) > 0 {
		return false
	}
	turned, err := propose.SideOf(style, turnedByHalf(picture), w, h, read)
	return err == nil && partsSaid(turned) >= 2
}

// partsSaid counts the parts that the words of a side are for.
func partsSaid(p *propose.Proposal) int {
	parts := map[sheetmodel.Part]bool{}
	for _, f := range p.Fields {
		if f.Part != sheetmodel.PartUnnamed {
			parts[f.Part] = true
		}
	}
	return len(parts)
}

func turnedByHalf(g *image.Gray) *image.Gray {
	w, h := g.Rect.Dx(), g.Rect.Dy()
	out := image.NewGray(image.Rect(0, 0, w, h))
	for y := range h {
		row := out.Pix[(h-1-y)*out.Stride:][:w]
		copy(row, g.Pix[y*g.Stride:][:w])
		slices.Reverse(row)
	}
	return out
}

// besideNotes hold the pictures of a blank card against its layout, and say what a person should look at: fields that lie on no box or line,
// columns whose words name something else, a printed bib that is another. The error is of a picture over which photos can't be laid:
// upside down, of another sheet of the list, or cut, turned or of another card so that nothing fits; rows would be read in the places of others.
func besideNotes(l *sheetmodel.Layout, blanks map[sheetmodel.SideName]*image.Gray) ([]string, error) {
	words, done, err := openLabels()
	if err != nil {
		return nil, err
	}
	defer done()
	if swapped, err := swappedSides(l, blanks); err != nil {
		return nil, err
	} else if swapped {
		return nil, errSwapped
	}
	var notes []string
	for i := range l.Sides {
		side := &l.Sides[i]
		picture := blanks[side.Name]
		if picture == nil {
			continue
		}
		p, err := propose.SideOf(l.Style, picture, side.W, side.H, words)
		if err != nil {
			return nil, err
		}
		if upsideDown(p, l.Style, picture, side.W, side.H, words) {
			return nil, errUpsideDown
		}
		note, err := otherPrint(side, p)
		if err != nil {
			return nil, err
		}
		if note != "" {
			notes = append(notes, note)
		}
		notes = append(notes, otherWords(side, p)...)
		beside, err := besideTheirBoxes(side, picture)
		if err != nil {
			return nil, err
		}
		if 2*len(beside) > len(side.Fields) {
			turned, err := besideTheirBoxes(side, turnedByHalf(picture))
			if err == nil && 4*len(turned) < len(beside) {
				return nil, errTurned
			}
			if len(beside) == boxed(side) && len(beside) >= fewBoxes && 2*boxesOf(p) >= len(beside) {
				return nil, errElsewhere
			}
		}
		if written := writtenIn(side, picture); len(written) > 0 {
			notes = append(notes, fmt.Sprintf("%s: in the picture something stands in %s, and not in other rows: is the card blank? What judges write over it is doubted, or lost",
				side.Name, strings.Join(written[:min(len(written), 8)], ", ")))
		}
		if len(beside) > 0 {
			notes = append(notes, fmt.Sprintf("%s: %s of %d lie on no box or line that is seen in the picture; a judge writes where the boxes are: %s",
				side.Name, count(len(beside), "field"), len(side.Fields), strings.Join(beside[:min(len(beside), 8)], ", ")))
			if 2*len(beside) > len(side.Fields) {
				notes = append(notes, fmt.Sprintf("%s: does the picture show this card, and a blank one? Where something is written in it, writing is lost", side.Name))
			}
		}
	}
	return notes, nil
}

// swappedSides reports whether more fields of either side lie on boxes of the other side's picture than of its own: a photo of the one would
// be laid over the other.
func swappedSides(l *sheetmodel.Layout, blanks map[sheetmodel.SideName]*image.Gray) (bool, error) {
	front, back := l.Side(sheetmodel.Front), l.Side(sheetmodel.Back)
	if front == nil || back == nil || len(front.Fields) == 0 || len(back.Fields) == 0 {
		return false, nil
	}
	for _, one := range []struct {
		side       *sheetmodel.Side
		own, other sheetmodel.SideName
	}{{front, sheetmodel.Front, sheetmodel.Back}, {back, sheetmodel.Back, sheetmodel.Front}} {
		here, err := besideTheirBoxes(one.side, blanks[one.own])
		if err != nil {
			return false, err
		}
		if 2*len(here) <= boxed(one.side) {
			return false, nil
		}
		there, err := besideTheirBoxes(one.side, blanks[one.other])
		if err != nil {
			return false, err
		}
		if len(there) >= len(here) {
			return false, nil
		}
	}
	return true, nil
}

// otherPrint compares the bibs that a layout says are printed with those that were read in the picture in their places. Where most
// are others it is an error: the column was said to begin with another bib, or the picture is of another sheet of the list, and
// each row would be another racer's.
func otherPrint(side *sheetmodel.Side, p *propose.Proposal) (note string, err error) {
	read, others, first := 0, 0, ""
	for _, f := range side.Fields {
		bib, ok := f.PrintedBib()
		if !ok || f.Row == 0 {
			continue
		}
		for _, o := range p.Fields {
			seen, ok := o.PrintedBib()
			if !ok || !f.Rect.Contains(o.Rect.Center()) && !o.Rect.Contains(f.Rect.Center()) {
				continue
			}
			read++
			if seen != bib {
				others++
				if first == "" {
					first = fmt.Sprintf("%s: row %d is said to be of bib %s, where %s was read in the picture", side.Name, f.Row, bib, seen)
				}
			}
			break
		}
	}
	switch {
	case others == 0:
		return "", nil
	case others > 1 && 2*others > read:
		return "", fmt.Errorf("%s; %d of the %s that were read are others: say the first bib of each column anew, or give the picture of this sheet of the list",
			first, others, count(read, "printed bib"))
	case others == 1:
		return first + ": look which of the two is printed", nil
	default:
		return fmt.Sprintf("%s; so it is with %d of %s: look which of the two is printed", first, others, count(read, "printed bib")), nil
	}
}

// wordsTell are the parts whose words, printed over a column or beside a box, are held against the layout: what is written for one
// of them and read as another would accuse or be lost.
var wordsTell = []sheetmodel.Part{
	sheetmodel.PartBib, sheetmodel.PartGate, sheetmodel.PartCode, sheetmodel.PartPassed, sheetmodel.PartRerun, sheetmodel.PartPanel,
	sheetmodel.PartRun, sheetmodel.PartCard, sheetmodel.PartGateFrom, sheetmodel.PartGateTo, sheetmodel.PartRowCount,
}

// otherWords tell of fields that are for something else by the words that are printed at them. Only people know what a league means
// by its words, so it is no error: but last season's card may have had its columns in another order.
func otherWords(side *sheetmodel.Side, p *propose.Proposal) []string {
	type pair struct{ said, seen sheetmodel.Part }
	var order []pair
	names := map[pair][]string{}
	for _, f := range side.Fields {
		i := slices.IndexFunc(p.Fields, func(o sheetmodel.Field) bool {
			return f.Rect.Contains(o.Rect.Center()) || o.Rect.Contains(f.Rect.Center())
		})
		if i < 0 {
			continue
		}
		at := pair{f.Part, p.Fields[i].Part}
		if at.said == at.seen || !slices.Contains(wordsTell, at.said) || !slices.Contains(wordsTell, at.seen) {
			continue
		}
		if names[at] == nil {
			order = append(order, at)
		}
		names[at] = append(names[at], f.Name)
	}
	var notes []string
	for _, at := range order {
		which := names[at][0] + " is"
		if n := len(names[at]); n > 1 {
			which = fmt.Sprintf("%s to %s are", names[at][0], names[at][n-1])
		}
		notes = append(notes, fmt.Sprintf("%s: %s said to be for %s, and the words printed there say %s: look at the card; what is written there would be taken for a %s",
			side.Name, which, at.said, at.seen, at.said))
	}
	return notes
}

// besideTheirBoxes names the fields of a side whose ends are no ruled box's or line's of its picture, within 2 mm. Words to
// ring have none.
func besideTheirBoxes(side *sheetmodel.Side, picture *image.Gray) ([]string, error) {
	p, err := propose.Side(picture, side.W, side.H, nil)
	if err != nil {
		return nil, err
	}
	var beside []string
	const slack = 2 // mm
	for _, f := range side.Fields {
		// Two boxes made one field, to tick one of them or for two digits, begin with one box and end with another.
		begins, ends := false, false
		for _, o := range p.Fields {
			if foot := o.Rect.Y + o.Rect.H - f.Rect.Y - f.Rect.H; max(foot, -foot) < slack {
				left, right := o.Rect.X-f.Rect.X, o.Rect.X+o.Rect.W-f.Rect.X-f.Rect.W
				begins, ends = begins || max(left, -left) < slack, ends || max(right, -right) < slack
			}
		}
		near := begins && ends
		if !near && inBox(f) {
			beside = append(beside, f.Name)
		}
	}
	return beside, nil
}

// What stands in a place to write of a blank card, if it isn't the rim of its box.
const (
	boxRimMM    = 1.4 // within which lines and the blur of a copy lie
	leastInkMM2 = 0.8 // a short stroke
	inkDarker   = 60  // of 255, than most of the place
)

// writtenIn names the fields of rows in which something stands in a picture of the blank card, though most rows have nothing there: an
// example, or somebody wrote on the card before it was scanned. It is taken for print, and print hides what is written over it.
func writtenIn(side *sheetmodel.Side, picture *image.Gray) []string {
	type column struct {
		part sheetmodel.Part
		box  int
	}
	all, inked := map[column]int{}, map[column][]string{}
	for i := range side.Fields {
		f := &side.Fields[i]
		var boxes []sheetmodel.Rect
		switch {
		case f.Row == 0 || f.Rings:
		case f.Kind == sheetmodel.Comb:
			for k := range f.Boxes {
				boxes = append(boxes, f.Rect.Box(k, f.Boxes))
			}
		case f.Kind == sheetmodel.Choice:
			for _, o := range f.Options {
				boxes = append(boxes, o.Rect)
			}
		case f.Kind == sheetmodel.Cell || f.Kind == sheetmodel.Tick:
			boxes = append(boxes, f.Rect)
		}
		for k, b := range boxes {
			at := column{f.Part, k}
			all[at]++
			if inkIn(side, picture, b.Grow(-boxRimMM)) >= leastInkMM2 {
				inked[at] = append(inked[at], f.Name)
			}
		}
	}
	seen := map[string]bool{}
	for at, names := range inked {
		if 2*len(names) < all[at] { // else it is the card's own print
			for _, n := range names {
				seen[n] = true
			}
		}
	}
	return slices.Sorted(maps.Keys(seen))
}

// inkIn returns how many mm² of a place are darker than most of it.
func inkIn(side *sheetmodel.Side, picture *image.Gray, r sheetmodel.Rect) float64 {
	kx, ky := float64(picture.Rect.Dx())/float64(side.W), float64(picture.Rect.Dy())/float64(side.H)
	var greys [256]int
	n := 0
	for y := int(float64(r.Y) * ky); y < int(float64(r.Y+r.H)*ky); y++ {
		for x := int(float64(r.X) * kx); x < int(float64(r.X+r.W)*kx); x++ {
			greys[picture.GrayAt(picture.Rect.Min.X+x, picture.Rect.Min.Y+y).Y]++
			n++
		}
	}
	middle, below := 0, 0
	for ; middle < 255 && 2*(below+greys[middle]) < n; middle++ {
		below += greys[middle]
	}
	dark := 0
	for v := range max(0, middle-inkDarker) {
		dark += greys[v]
	}
	return float64(dark) / (kx * ky)
}

// inBox reports whether a field should lie on a box or line.
func inBox(f sheetmodel.Field) bool { return !f.Rings && f.Kind != sheetmodel.Printed }

// boxesOf counts the boxes that were found in a picture, without lines to write on.
func boxesOf(p *propose.Proposal) int {
	n := 0
	for _, f := range p.Fields {
		if f.Kind != sheetmodel.Text && f.Kind != sheetmodel.Printed {
			n++
		}
	}
	return n
}

// boxed counts the fields of a side that should lie on one.
func boxed(side *sheetmodel.Side) int {
	n := 0
	for _, f := range side.Fields {
		if inBox(f) {
			n++
		}
	}
	return n
}
