package ctc

import (
	"cmp"
	"math"
	"slices"
)

// Grammar says which texts may be meant, symbol by symbol. States are the grammar's own; 0 is the start.
type Grammar interface {
	// Next returns the state after symbol, and whether a text may go on so.
	Next(state, symbol int) (int, bool)
	// Final reports whether a text may end in state.
	Final(state int) bool
}

// Text is one text with its probability.
type Text struct {
	Symbols []int
	Prob    float64
}

// prefix is the beginning of a text while it is looked for: the log probability of all ways to it that end in
// its last symbol, and of those that end in a blank.
type prefix struct {
	text          []int
	state         int
	inked, spaced float64
	all           float64 // both
}

func (p *prefix) total() float64 { return add(p.inked, p.spaced) }

const (
	beamWidth = 40
	longest   = 16   // symbols: no field holds more
	faintest  = -16. // log probability of a symbol at a place, below which nothing is begun with it
	leastPart = -18. // below the likeliest beginning: less than one in ten million of it is not followed
)

// Best returns up to n texts of g, or of any shape where g is nil, the likeliest first, each with its exact
// probability. It keeps the 40 best beginnings at each place: a text that is unlikely all along may be missed,
// one that matters is not.
func (l *Line) Best(n int, g Grammar) []Text {
	beam := []*prefix{{inked: never}}
	for t := range l.places {
		beam = l.advance(beam, t, g)
	}
	var out []Text
	for _, p := range beam {
		if g == nil || g.Final(p.state) {
			out = append(out, Text{Symbols: p.text, Prob: math.Exp(l.Log(p.text))})
		}
	}
	slices.SortStableFunc(out, func(a, b Text) int {
		return cmp.Or(cmp.Compare(b.Prob, a.Prob), slices.Compare(a.Symbols, b.Symbols))
	})
	return out[:min(n, len(out))]
}

// advance takes all beginnings over one place.
func (l *Line) advance(beam []*prefix, t int, g Grammar) []*prefix {
	row := l.at(t)
	next := make(map[string]*prefix, 4*len(beam))
	var order []*prefix // a map has no order of its own
	find := func(text []int, last, state int) *prefix {
		key := make([]byte, 0, longest)
		for _, s := range text {
			key = append(key, byte(s))
		}
		if last > 0 {
			key = append(key, byte(last))
		}
		p := next[string(key)]
		if p == nil {
			p = &prefix{text: text, state: state, inked: never, spaced: never}
			if last > 0 {
				p.text = append(slices.Clone(text), last)
			}
			next[string(key)] = p
			order = append(order, p)
		}
		return p
	}
	least := never
	for _, p := range beam {
		least = math.Max(least, p.total()+row[0]+leastPart)
	}
	for _, p := range beam {
		same := find(p.text, 0, p.state)
		total := p.total()
		same.spaced = add(same.spaced, total+row[0])
		last := 0
		if len(p.text) > 0 {
			last = p.text[len(p.text)-1]
			same.inked = add(same.inked, p.inked+row[last])
		}
		if len(p.text) == longest || total < least {
			continue
		}
		for s := 1; s < l.symbols; s++ {
			if row[s] < faintest || total+row[s] < least {
				continue
			}
			state := 0
			if g != nil {
				var ok bool
				if state, ok = g.Next(p.state, s); !ok {
					continue
				}
			}
			from := total
			if s == last {
				from = p.spaced // two alike have a blank between them
			}
			if math.IsInf(from, -1) {
				continue
			}
			more := find(p.text, s, state)
			more.inked = add(more.inked, from+row[s])
		}
	}
	for _, p := range order {
		p.all = p.total()
	}
	slices.SortFunc(order, func(a, b *prefix) int {
		return cmp.Or(cmp.Compare(b.all, a.all), slices.Compare(a.text, b.text))
	})
	return order[:min(beamWidth, len(order))]
}
