package look_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/review/look"
)

// Source: Unicode Standard Annex 15 and Unicode Technical Standard 39; the spellings: common practice,
// no source.
func TestPerson_SpellingsOfOneName_AreOne(t *testing.T) {
	for _, same := range [][]string{
		{"Ada", "ada", "ADA", " A da ", "Ada.", "A-da", "Ada\u200b", "\u202eAda", "A\u00adda", "Ａda", "Ad\u00e1", "Ada\u0301", "\u0410d\u0430", "\u0391da", "Ada\u3164", "A\u115fda", "Ada\u02bc"},
		{"Ren\u00e9", "Rene\u0301", "RENE", "rene"},
		{"Jörg Müller", "Joerg Mueller", "JORG  MULLER", "Jorg-Muller"},
		{"Weiß", "WEISS", "Weiss"}, {"Bjørn", "Bjorn", "BJØRN"}, {"Łucja", "lucja"}, {"Åse", "Ase"},
		{"A. Ada", "a ada"}, {"!!", "", "–", "\u3164"},
	} {
		for _, other := range same[1:] {
			assert.Equal(t, look.Person(same[0]), look.Person(other), "%q and %q", same[0], other)
		}
	}
}

func TestPerson_OtherNames_StayOthers(t *testing.T) {
	seen := map[string]string{}
	for _, name := range []string{
		"Ada", "Ida", "Ada A.", "A. Ada", "Ada B.", "Ada 1", "Ada 2", "Bo", "Иван", "Ирина", "Νίκος", "Νίκη", "李", "王", "",
	} {
		key := look.Person(name)
		other, taken := seen[key]
		assert.False(t, taken, "%q and %q", name, other)
		seen[key] = name
	}
}

func FuzzPerson(f *testing.F) {
	f.Add("Ada\u0345 Straße")
	f.Add("\xf0ü") // a broken byte kept the letter behind it whole
	f.Add("Ꮑ")     // folding a Cherokee letter twice gave it back
	f.Fuzz(func(t *testing.T, name string) {
		assert.Equal(t, look.Person(name), look.Person(look.Person(name)), "a key is its own key")
	})
}

// What is kept of names is what would be worked out, however many names come, long ones too. Our own logic.
func TestPerson_ManyNames_SameAnswersAgain(t *testing.T) {
	name := func(i int) string { return fmt.Sprintf("Müller %d ", i) + strings.Repeat("é", i%200) }
	first := map[string]string{}
	for round := range 2 {
		for i := range 5000 {
			got := look.Person(name(i))
			if round == 0 {
				first[name(i)] = got
			}
			assert.Equal(t, first[name(i)], got)
		}
	}
	assert.Equal(t, look.Person("Müller 7 ééééééé"), look.Person("mueller 7 eeeeeee"))
}
