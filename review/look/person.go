package look

import (
	"regexp"
	"strings"
	"sync"
	"unicode"

	"golang.org/x/text/cases"
	"golang.org/x/text/unicode/norm"
)

// Person is the key under which all spellings of one name are one person. It is compared, never shown
// or kept: the log holds names as they were typed, so stores of any age are judged by the same key.
//
// Names that differ only in case, spaces, punctuation, diacritics, signs that don't show, full width, or
// in letters of another script that look like Latin ones are one person; so are "Müller" and "Mueller".
// A second person must be another one, so too much made one costs a further entry, and too little would
// cost the second look itself. Empty: the name holds no letter or digit.
//
// Words keep their order: "A. Ada" and "Ada A." are two persons, and so are "Ada" and "Ada B.". In a
// family that races together initials and first names are all that tells two people apart, and no key
// tells one person who gives two names on purpose from two people. That stays in the log, for a person.
//
// Sources: Unicode Standard Annex 15 (normalisation), Unicode Technical Standard 39 (letters that look
// alike; from memory, the commonest only).
func Person(name string) string {
	if len(name) > keptNameBytes {
		return person(name)
	}
	keptNames.RLock()
	key, ok := keptNames.of[name]
	keptNames.RUnlock()
	if ok {
		return key
	}
	key = person(name)
	keptNames.Lock()
	defer keptNames.Unlock()
	if len(keptNames.of) >= keptNamesMost {
		clear(keptNames.of)
	}
	keptNames.of[strings.Clone(name)] = key
	return key
}

// A race knows few names, and asks about each of them at every entry that it shows. What comes from outside may be any
// number of names, of any length.
const (
	keptNamesMost = 2048
	keptNameBytes = 256
)

var keptNames = struct {
	sync.RWMutex
	of map[string]string
}{of: map[string]string{}}

// person is Person, worked out.
func person(name string) string {
	// A broken byte would keep the letter behind it from being taken apart.
	// Folding alone turns small Cherokee letters into large ones and back.
	folded := strings.ToLower(cases.Fold().String(norm.NFKD.String(strings.ToValidUTF8(name, ""))))
	// Taken apart once more: folding can put letters together.
	folded = strings.Map(func(r rune) rune {
		// Some signs that don't show, and apostrophes by another name, are letters to Unicode.
		if unicode.In(r, unicode.Other_Default_Ignorable_Code_Point, unicode.Lm) || !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			return -1
		}
		return r
	}, norm.NFKD.String(folded))
	return umlaut.ReplaceAllString(alike.Replace(folded), "$1")
}

// alike holds letters that no decomposition brings to the Latin ones they look like.
var alike = strings.NewReplacer(
	"ø", "o", "ł", "l", "đ", "d", "ð", "d", "ħ", "h", "ı", "i", "ŧ", "t", "æ", "ae", "œ", "oe", "þ", "th", // one stroke more
	"а", "a", "в", "b", "е", "e", "һ", "h", "н", "h", "і", "i", "ј", "j", "к", "k", "м", "m", "о", "o", // Cyrillic
	"р", "p", "с", "c", "ѕ", "s", "т", "t", "у", "y", "х", "x", "ѵ", "v", "ԁ", "d", "ԛ", "q", "ԝ", "w",
	"α", "a", "β", "b", "ε", "e", "ζ", "z", "η", "h", "ι", "i", "κ", "k", "μ", "m", "ν", "n", "ο", "o", // Greek, by their capitals
	"ρ", "p", "τ", "t", "υ", "y", "χ", "x",
)

// umlaut is how a keyboard without the letter writes it.
var umlaut = regexp.MustCompile(`([aou])e+`)
