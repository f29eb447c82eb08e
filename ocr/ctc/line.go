package ctc

import (
	"fmt"
	"math"
)

// Line is what a net says along one line of writing.
type Line struct {
	places, symbols int
	log             []float64 // log probabilities, place by place
}

var never = math.Inf(-1)

// New makes a Line of log-odds given symbol by symbol, each for all places, as a convolution leaves them.
// A value that is no number makes its place certain of nothing: all symbols alike.
func New(odds []float32, symbols, places int) (*Line, error) {
	if symbols < 2 || places < 1 || len(odds) != symbols*places {
		return nil, fmt.Errorf("line of writing: %d values for %d symbols at %d places", len(odds), symbols, places)
	}
	l := &Line{places: places, symbols: symbols, log: make([]float64, len(odds))}
	for t := range places {
		row := l.at(t)
		most, bad := never, false
		for s := range row {
			row[s] = float64(odds[s*places+t])
			bad = bad || math.IsNaN(row[s]) || math.IsInf(row[s], 0)
			most = math.Max(most, row[s])
		}
		if bad {
			for s := range row {
				row[s] = -math.Log(float64(symbols))
			}
			continue
		}
		sum := 0.0
		for _, v := range row {
			sum += math.Exp(v - most)
		}
		total := most + math.Log(sum)
		for s := range row {
			row[s] -= total
		}
	}
	return l, nil
}

func (l *Line) at(t int) []float64 { return l.log[t*l.symbols : (t+1)*l.symbols] }

// Log returns the natural logarithm of the probability that the line says text and nothing else. Text may be
// empty. A symbol that the net doesn't have, or 0, has no probability.
func (l *Line) Log(text []int) float64 {
	for _, s := range text {
		if s <= 0 || s >= l.symbols {
			return never
		}
	}
	// State 2i is the blank before symbol i, 2i+1 the symbol; two alike can't do without the blank between.
	n := 2*len(text) + 1
	now, next := make([]float64, n), make([]float64, n)
	for i := range now {
		now[i] = never
	}
	first := l.at(0)
	now[0] = first[0]
	if n > 1 {
		now[1] = first[text[0]]
	}
	for t := 1; t < l.places; t++ {
		row := l.at(t)
		for i := range next {
			v := now[i]
			if i > 0 {
				v = add(v, now[i-1])
			}
			if i%2 == 0 {
				next[i] = v + row[0]
				continue
			}
			k := i / 2
			if k > 0 && text[k] != text[k-1] {
				v = add(v, now[i-2])
			}
			next[i] = v + row[text[k]]
		}
		now, next = next, now
	}
	if n == 1 {
		return now[0]
	}
	return add(now[n-1], now[n-2])
}

// add returns log(exp(a) + exp(b)).
func add(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	if math.IsInf(b, -1) {
		return a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// Folded returns the line as a net would give it that can't tell the symbols of each group apart: all of a group's
// probability is its first symbol's. Groups don't overlap.
func (l *Line) Folded(groups [][]int) *Line {
	out := &Line{places: l.places, symbols: l.symbols, log: append([]float64(nil), l.log...)}
	for t := range l.places {
		row := out.at(t)
		for _, g := range groups {
			for _, s := range g[1:] {
				row[g[0]], row[s] = add(row[g[0]], row[s]), never
			}
		}
	}
	return out
}
