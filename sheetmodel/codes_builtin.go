package sheetmodel

import (
	"fmt"
	"slices"
	"sync"
)

var builtinCodes = sync.OnceValue(func() CodeBook {
	const file = "layouts/codes.yaml"
	data, err := layoutFiles.ReadFile(file)
	if err != nil {
		panic(err) // compiled in
	}
	b, err := ParseCodeBook(file, data)
	if err != nil {
		panic(fmt.Sprintf("embedded code book: %v", err)) // a test reads it
	}
	return b
})

// BuiltinCodeBook returns the code book of an invented league. It is the caller's own copy.
func BuiltinCodeBook() CodeBook {
	b := builtinCodes()
	b.Codes = slices.Clone(b.Codes)
	return b
}

// ParseCodeBook reads a code book from YAML; unknown keys are errors with file and line.
func ParseCodeBook(file string, data []byte) (CodeBook, error) {
	var b CodeBook
	if err := strictYAML(file, data, &b); err != nil {
		return CodeBook{}, err
	}
	return b, nil
}

// Effects lists all effects of a code, for checks.
var Effects = []Effect{EffectPropose, EffectLostSki, EffectLostTwo, EffectInform, EffectLeft, EffectHindered, EffectMended, EffectOvertaken}

// lookAlikes are signs that cold hands write alike. Source: common practice, no source.
var lookAlikes = []string{
	"0ODQ", "1IJL", "2Z", "3B", "4A", "5S", "6GB", "7TYZ", "8B", "9GQP",
	"EF", "UV", "VY", "MN", "NH", "CG", "KX", "KR", "PR", "DP", "WM",
}

// alike reports whether a and b are the same sign or one of lookAlikes.
func alike(a, b rune) bool {
	if a == b {
		return true
	}
	for _, set := range lookAlikes {
		rs := []rune(set)
		if slices.Contains(rs, a) && slices.Contains(rs, b) {
			return true
		}
	}
	return false
}

func confusable(a, b string) bool {
	ra, rb := []rune(a), []rune(b)
	if len(ra) != len(rb) {
		return false
	}
	for i := range ra {
		if !alike(ra[i], rb[i]) {
			return false
		}
	}
	return true
}

// listedCodes is how many codes the card's list has room for; meaningRoom is the width of a meaning
// there, in heights of a capital.
const (
	listedCodes = 8
	meaningRoom = 43.5 / 1.7
)

// Lint returns what a league should mend in its code book; an empty slice if nothing.
// A code of one letter that can be read as a digit is named too: gates and bibs stand beside it.
func (b CodeBook) Lint() []string {
	var found []string
	add := func(format string, args ...any) { found = append(found, fmt.Sprintf(format, args...)) }
	ticks := 0
	for i, c := range b.Codes {
		if c.Code == "" || c.Word == "" || c.Meaning == "" || c.Basis == "" {
			add("code %d (%q): needs code, word, meaning and basis", i+1, c.Code)
			continue
		}
		if !slices.Contains(Effects, c.Effect) {
			add("code %s: unknown effect %q; known are %v", c.Code, c.Effect, Effects)
		}
		if c.Tick {
			ticks++
		}
		for _, r := range "0123456789" {
			if !c.Tick && confusable(c.Code, string(r)) {
				add("code %s: is easily read as the digit %c; give it another letter or a tick box", c.Code, r)
			}
		}
		for _, o := range b.Codes[:i] {
			switch {
			case o.Code == c.Code:
				add("code %s: stands twice in the book", c.Code)
			case confusable(o.Code, c.Code) && !(o.Tick && c.Tick):
				add("codes %s and %s: are easily confused in handwriting; rename one, or give both a tick box", o.Code, c.Code)
			}
		}
		if float64(TextWidth(c.Meaning, Regular, 1)) > meaningRoom {
			add("code %s: its meaning is too long for the card's list, which will show %q; shorten it", c.Code, c.Word)
		}
	}
	switch {
	case len(b.Codes) == 0:
		add("code book %s: no codes", b.Name)
	case ticks == 0 || ticks > MaxTickCodes:
		add("code book %s: %d codes have tick: true; a row has room for 1 to %d", b.Name, ticks, MaxTickCodes)
	}
	if len(b.Codes) > listedCodes {
		add("code book %s: %d codes; the card's list has room for %d", b.Name, len(b.Codes), listedCodes)
	}
	return found
}
