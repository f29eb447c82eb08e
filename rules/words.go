package rules

import (
	"fmt"
	"strconv"
	"strings"
)

// list joins words as one says them: "a", "a and b", "a, b and c".
func list(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// plural returns "1 row" or "2 rows".
func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// verb returns the form that goes with n things.
func verb(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

var smallNumbers = []string{"no", "one", "two", "three", "four", "five", "six"}

// number writes a small count as a word.
func number(n int) string {
	if n >= 0 && n < len(smallNumbers) {
		return smallNumbers[n]
	}
	return strconv.Itoa(n)
}

// racerName returns the bib as the sentences name it: "14", or "girls 8" where bibs come in groups.
func racerName(group, bib string) string {
	if group == "" {
		return bib
	}
	return group + " " + bib
}

// where names a card as officials do: "card 2 (B)".
func (c *card) where() string {
	s := "card " + strconv.Itoa(c.Key.Card)
	if c.Spare {
		s = "spare " + strconv.Itoa(c.Key.Card)
	}
	if c.placed && c.place.Name != "" {
		s += " (" + c.place.Name + ")"
	}
	return s
}

// sheetLabel opens the bracket in which a card's place and gates are named.
func sheetLabel(c *card) string {
	s := strconv.Itoa(c.Key.Card) + " ("
	if c.placed && c.place.Name != "" {
		s += c.place.Name + ", "
	}
	return s
}

// where names a row: "card 2 (B) row 1".
func (w *row) where() string {
	return w.card.where() + " row " + strconv.Itoa(w.Ref.Row)
}

// places names rows, those of one card together: "card 2 (B) rows 1 and 3; card 4 (D) row 1".
func places(rows []*row) string {
	var words []string
	for i := 0; i < len(rows); {
		var numbers []string
		c := rows[i].card
		for ; i < len(rows) && rows[i].card == c; i++ {
			numbers = append(numbers, strconv.Itoa(rows[i].Ref.Row))
		}
		noun := " row "
		if len(numbers) > 1 {
			noun = " rows "
		}
		words = append(words, c.where()+noun+list(numbers))
	}
	if len(words) > 1 && strings.Contains(strings.Join(words, ""), " rows ") {
		return strings.Join(words, "; ")
	}
	return list(words)
}

// times writes how often something is there: "twice", "three times".
func times(n int) string {
	if n == 2 {
		return "twice"
	}
	return number(n) + " times"
}

// capital makes the first letter of a sentence large.
func capital(s string) string {
	if s == "" {
		return s
	}
	if s[0] < 0x80 {
		return strings.ToUpper(s[:1]) + s[1:]
	}
	letters := []rune(s) // a group may begin with any letter
	return strings.ToUpper(string(letters[0])) + string(letters[1:])
}
