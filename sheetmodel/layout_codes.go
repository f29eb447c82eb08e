package sheetmodel

import (
	"math"
	"slices"
	"strings"
	"unicode"
)

// PrintedCode is what a card says of one code, as its layout was printed. Word stands over the tick box,
// Meaning in the list of codes; each is empty where the card doesn't have it.
type PrintedCode struct {
	Code    string
	Word    string
	Meaning string
}

// PrintedCodes returns what the layout says of each code, in print order: those with a tick box first.
func (l *Layout) PrintedCodes() []PrintedCode {
	var all []PrintedCode
	at := func(code string) *PrintedCode {
		i := slices.IndexFunc(all, func(c PrintedCode) bool { return c.Code == code })
		if i < 0 {
			all = append(all, PrintedCode{Code: code})
			i = len(all) - 1
		}
		return &all[i]
	}
	for _, side := range l.Sides {
		for _, f := range side.Fields {
			if f.Part != PartCode {
				continue
			}
			for _, o := range f.Options {
				at(o.Value).Word = o.Label
			}
		}
		// The list of codes: a bold code with its sentence beside it, see binder.codeList. A letter over
		// a tick box stands alone.
		for i := range max(len(side.Print)-1, 0) {
			code, text := side.Print[i], side.Print[i+1]
			if code.Bold && code.Text != "" && !text.Bold && text.Text != "" &&
				near(text.At.X, code.At.X+codeListIndent) && near(text.At.Y, code.At.Y) && near(text.Size, code.Size) {
				at(code.Text).Meaning = text.Text
			}
		}
	}
	return all
}

// near allows for lengths that went through a file.
func near(a, b MM) bool { return math.Abs(float64(a-b)) < 0.02 }

// ReusedCode is a code that says something else on cards that were printed than in the code book now, or
// that did something else when they were.
type ReusedCode struct {
	Layout  string // content hash of the layout that it was printed with; empty: whatever the layout
	Code    string
	Printed string // what the card says
	Now     string // what the code book says in its place
}

// Reused compares what the layout says of its codes with the book. A printed code that the book has no
// longer is not among them: it means nothing, and its rows are asked about one by one.
//
// Case, spaces and signs make no difference. Where the list on the card had no room for a meaning, it
// shows the word instead.
func (b CodeBook) Reused(l *Layout) []ReusedCode {
	var all []ReusedCode
	for _, was := range l.PrintedCodes() {
		now, ok := b.Find(was.Code)
		if !ok {
			continue
		}
		r := ReusedCode{Layout: l.Hash(), Code: was.Code}
		switch {
		case was.Word != "" && !sameWords(was.Word, was.Code) && !sameWords(was.Word, now.Word): // a letter by itself says nothing
			r.Printed, r.Now = was.Word, now.Word
		case was.Meaning != "" && !sameWords(was.Meaning, now.Meaning) && !sameWords(was.Meaning, now.Word):
			r.Printed, r.Now = was.Meaning, now.Meaning
		default:
			continue
		}
		all = append(all, r)
	}
	return all
}

func sameWords(a, b string) bool { return plainWords(a) == plainWords(b) }

// plainWords leaves the letters and digits, in small letters.
func plainWords(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, s)
}
