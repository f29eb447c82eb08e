package sheetmodel_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

func TestBuiltinCodeBook_HasAllEffectsAndNoFaults(t *testing.T) {
	book := sheetmodel.BuiltinCodeBook()
	assert.Empty(t, book.Lint())
	seen := map[sheetmodel.Effect]bool{}
	for _, c := range book.Codes {
		seen[c.Effect] = true
	}
	// Leagues that want these two add a code of their own: the first must be read together with the fault that it takes
	// back, the second is penalised by some and not by others. On everybody's card they would be ticked by mistake.
	own := []sheetmodel.Effect{sheetmodel.EffectMended, sheetmodel.EffectOvertaken}
	for _, e := range sheetmodel.Effects {
		assert.Equal(t, !slices.Contains(own, e), seen[e], e)
	}
	book.Codes[0].Code = "changed"
	assert.Equal(t, "F", sheetmodel.BuiltinCodeBook().Codes[0].Code, "each caller has its own copy")
}

func TestCodeBookLint_OneFaultEach_IsNamed(t *testing.T) {
	for want, spoil := range map[string]func(b *sheetmodel.CodeBook){
		"code S: is easily read as the digit 5": func(b *sheetmodel.CodeBook) { b.Codes[5].Code = "S" },
		"codes C and G: are easily confused":    func(b *sheetmodel.CodeBook) { b.Codes[6].Code = "G" },
		"codes F and E: are easily confused":    func(b *sheetmodel.CodeBook) { b.Codes[6].Code = "E" },
		"code F: stands twice":                  func(b *sheetmodel.CodeBook) { b.Codes[6].Code = "F" },
		"unknown effect":                        func(b *sheetmodel.CodeBook) { b.Codes[0].Effect = "fine" },
		"needs code, word, meaning and basis":   func(b *sheetmodel.CodeBook) { b.Codes[0].Basis = "" },
		"too long for the card's list":          func(b *sheetmodel.CodeBook) { b.Codes[0].Meaning = strings.Repeat("gate ", 12) },
		"6 codes have tick: true":               func(b *sheetmodel.CodeBook) { b.Codes[6].Tick = true },
		"0 codes have tick: true": func(b *sheetmodel.CodeBook) {
			for i := range b.Codes {
				b.Codes[i].Tick = false
			}
		},
		"no codes": func(b *sheetmodel.CodeBook) { b.Codes = nil },
		"has room for 8": func(b *sheetmodel.CodeBook) {
			b.Codes = append(b.Codes, b.Codes...)
		},
	} {
		book := sheetmodel.BuiltinCodeBook()
		spoil(&book)
		assert.Contains(t, strings.Join(book.Lint(), "\n"), want)
	}
}

// Ticked letters are never written, so two that look alike do no harm.
func TestCodeBookLint_LookAlikesThatAreTicked_Pass(t *testing.T) {
	book := sheetmodel.BuiltinCodeBook()
	book.Codes[4].Code = "E" // beside F, both with a box
	assert.Empty(t, book.Lint())
}

func TestParseCodeBook_MisspeltKey_NamesLine(t *testing.T) {
	_, err := sheetmodel.ParseCodeBook("codes.yaml", []byte("name: x\ncodes:\n  - {code: F, wort: fault}\n"))
	require.ErrorContains(t, err, "codes.yaml:3: \"wort\" is no key here; known are code, word")
}
