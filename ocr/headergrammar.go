package ocr

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"gatefold/ocr/ctc"
	"gatefold/ocr/net"
)

// The header's phone number and date. The cell net has no dot, no plus and no space: what a person writes with them
// comes without, or as another sign. A text's meaning is therefore its digits; for a date, the days that these may be.

// Digits of a phone number, without and with a country's number in front: E.164 allows 15.
const leastPhone, mostPhone = 5, 15

// phoneGrammar is 5 to 15 digits, with a dash, slash or comma between them now and then.
type phoneGrammar struct{}

// Next implements ctc.Grammar. State 2n is n digits, 2n+1 n digits and a sign behind them.
func (phoneGrammar) Next(state, symbol int) (int, bool) {
	switch c := net.CellSymbols[symbol]; {
	case isDigit(c) && state/2 < mostPhone:
		return 2 * (state/2 + 1), true
	case isBetween(c) && state > 0 && state%2 == 0:
		return state + 1, true
	}
	return 0, false
}

// Final implements ctc.Grammar.
func (phoneGrammar) Final(state int) bool { return state%2 == 0 && state/2 >= leastPhone }

func isBetween(c byte) bool { return strings.IndexByte("-/,", c) >= 0 }

// bare leaves of a text what is no sign between others.
func bare(text string) string {
	return strings.Map(func(c rune) rune {
		if isBetween(byte(c)) {
			return -1
		}
		return c
	}, text)
}

// monthNames are the months as capitals write them short, in English and, where it differs, in German; Ä has no
// symbol and comes as an A.
var monthNames = [12][]string{
	{"JAN"}, {"FEB"}, {"MAR"}, {"APR"}, {"MAY", "MAI"}, {"JUN"}, {"JUL"}, {"AUG"}, {"SEP"}, {"OCT", "OKT"}, {"NOV"}, {"DEC", "DEZ"},
}

// alikes are the signs that a name's letters are taken for, each behind its letter: where letters are meant, an O
// that looks like a nought is an O.
var alikes = []string{"O0", "I1", "S5", "Z2", "B8b", "G6", "Aa", "Q9"}

// alike returns all signs that a capital may look like.
func alike(c byte) string {
	for _, a := range alikes {
		if a[0] == c {
			return a
		}
	}
	return string(c)
}

// way is one way to write a date: for each of its signs, those that may stand there; and where day, month and year
// begin and end in it. Signs between are optional: dots are never seen.
type way struct {
	sets             []string
	day, month, year [2]int
	named            int // the month, if it is named
}

// dateWays lists the ways: day and month in either order, with a year of two or four digits or without; year, month
// and day; a day and the month's name in either order.
func dateWays() []way {
	const digit = "0123456789"
	days := [][]string{{"123456789"}, {"0", "123456789"}, {"12", digit}, {"3", "01"}}
	months := [][]string{{"123456789"}, {"0", "123456789"}, {"1", "012"}}
	years := [][]string{nil, {digit, digit}, {"2", "0", digit, digit}}
	signs := [][]string{nil, {"-/,"}}
	var all []way
	add := func(parts ...[]string) (w way, at [][2]int) {
		for _, p := range parts {
			at = append(at, [2]int{len(w.sets), len(w.sets) + len(p)})
			w.sets = append(w.sets, p...)
		}
		return w, at
	}
	put := func(named int, w way, day, month, year [2]int) {
		w.named, w.day, w.month, w.year = named, day, month, year
		all = append(all, w)
	}
	for _, s1 := range signs {
		for _, s2 := range signs {
			for _, d := range days {
				for _, m := range months {
					for _, y := range years {
						if y != nil && (s1 == nil) != (s2 == nil) {
							continue // who writes one sign between writes both
						}
						w, at := add(d, s1, m, s2, y)
						put(0, w, at[0], at[2], at[4])
						w, at = add(m, s1, d, s2, y)
						put(0, w, at[2], at[0], at[4])
					}
					if len(d) == 2 && len(m) == 2 && (s1 == nil) == (s2 == nil) {
						w, at := add(years[2], s1, m, s2, d)
						put(0, w, at[4], at[2], at[0])
					}
				}
				for n, names := range monthNames {
					for _, name := range names {
						letters := make([]string, len(name))
						for i := range letters {
							letters[i] = alike(name[i])
						}
						for _, y := range years {
							w, at := add(d, s1, letters, s2, y)
							put(n+1, w, at[0], [2]int{}, at[4])
							w, at = add(letters, s1, d, s2, y)
							put(n+1, w, at[2], [2]int{}, at[4])
						}
					}
				}
			}
		}
	}
	return all
}

// dateGrammar is all ways to write a date as the states of one machine.
type dateGrammar struct {
	ways  []way
	next  [][]int // by state and symbol; -1: no date goes on so
	final []bool
}

var dates = sync.OnceValue(newDateGrammar)

func newDateGrammar() *dateGrammar {
	g := &dateGrammar{ways: dateWays()}
	type set []int // ways still possible; all are as far along
	states, depth := []set{nil}, []int{0}
	for i := range g.ways {
		states[0] = append(states[0], i)
	}
	known := map[string]int{}
	for s := 0; s < len(states); s++ {
		row := make([]int, len(net.CellSymbols))
		final := false
		for _, i := range states[s] {
			final = final || len(g.ways[i].sets) == depth[s]
		}
		for c := range row {
			var to set
			for _, i := range states[s] {
				if w := g.ways[i].sets; len(w) > depth[s] && c > 0 && strings.IndexByte(w[depth[s]], net.CellSymbols[c]) >= 0 {
					to = append(to, i)
				}
			}
			if row[c] = -1; len(to) == 0 {
				continue
			}
			key := fmt.Sprint(depth[s]+1, to)
			n, ok := known[key]
			if !ok {
				n = len(states)
				known[key] = n
				states, depth = append(states, to), append(depth, depth[s]+1)
			}
			row[c] = n
		}
		g.next, g.final = append(g.next, row), append(g.final, final)
	}
	return g
}

// Next implements ctc.Grammar.
func (g *dateGrammar) Next(state, symbol int) (int, bool) {
	n := g.next[state][symbol]
	return n, n >= 0
}

// Final implements ctc.Grammar.
func (g *dateGrammar) Final(state int) bool { return g.final[state] }

var _ = []ctc.Grammar{phoneGrammar{}, (*dateGrammar)(nil)}

// meanings lists the days that a text of the grammar may mean, as 2026-02-07, or 02-07 where no year is written, in
// order. 7/2 is the seventh of February or the second of July: nothing on paper says which.
func (g *dateGrammar) meanings(text string) []string {
	var all []string
	for _, w := range g.ways {
		if !w.spells(text) {
			continue
		}
		month := w.named
		if month == 0 {
			month = number(text[w.month[0]:w.month[1]])
		}
		day := number(text[w.day[0]:w.day[1]])
		if day > [13]int{0, 31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}[month] {
			continue
		}
		out := fmt.Sprintf("%02d-%02d", month, day)
		switch y := text[w.year[0]:w.year[1]]; len(y) {
		case 2:
			out = "20" + y + "-" + out
		case 4:
			out = y + "-" + out
		}
		if !slices.Contains(all, out) {
			all = append(all, out)
		}
	}
	slices.Sort(all)
	return all
}

func (w *way) spells(text string) bool {
	if len(text) != len(w.sets) {
		return false
	}
	for i := range w.sets {
		if strings.IndexByte(w.sets[i], text[i]) < 0 {
			return false
		}
	}
	return true
}

// number reads digits.
func number(text string) int {
	n := 0
	for i := range len(text) {
		n = 10*n + int(text[i]-'0')
	}
	return n
}
