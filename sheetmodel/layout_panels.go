package sheetmodel

import (
	"fmt"
	"strings"
)

// entriesOf returns how many bibs a panel's strip holds.
func (t panelTemplate) entriesOf(letter string) int {
	if own, ok := t.Own[letter]; ok {
		return own.Entries
	}
	return t.Entries
}

// withStrip returns the letters of the panels that a row can name.
func (t panelTemplate) withStrip() []string {
	var letters []string
	for _, l := range t.Letters {
		if t.entriesOf(l) > 0 {
			letters = append(letters, l)
		}
	}
	return letters
}

func (b *binder) panels(t panelTemplate) {
	for i, letter := range t.Letters {
		x, top := t.X+MM(i)*t.Pitch, t.Y
		if own, ok := t.Own[letter]; ok {
			top = own.Y
		}
		bottom, entries := t.Y+t.H, t.entriesOf(letter)
		strip := MM(entries) * t.Entry.H
		name := "panel-" + strings.ToLower(letter)
		b.side.Fields = append(b.side.Fields, Field{
			Name: name + ".drawing", Part: PartDrawing, Kind: Drawing, Grammar: GrammarDrawing, Panel: letter,
			Rect: b.place(Rect{X: x, Y: top, W: t.W, H: bottom - strip - top}),
		})
		b.print(PrintItem{Text: letter, At: SheetPoint{X: x + 1.3, Y: top + 5.2}, Size: 3.8, Bold: true})
		if entries == 0 {
			continue
		}
		w := t.Entry.Right
		if b.options.BibBoxes == 4 {
			w = t.Entry.Boxes4
		}
		for e := range entries {
			b.side.Fields = append(b.side.Fields, Field{
				Name: fmt.Sprintf("%s.entry-%d.bib", name, e+1), Part: PartBib, Kind: Comb, Grammar: GrammarBib,
				Panel: letter, Entry: e + 1, Boxes: b.options.BibBoxes,
				Rect: b.place(Rect{X: x + t.W - w, Y: bottom - strip + MM(e)*t.Entry.H, W: w, H: t.Entry.H}),
			})
		}
		if room := t.W - w; room >= 2.5 {
			const size = 1.8
			half := TextWidth("bibs", Regular, size) / 2
			b.print(PrintItem{Text: "bibs", At: SheetPoint{X: x + room/2 + size/2, Y: bottom - strip/2 + half}, Size: size, Turn: -90})
		}
	}
}
