package stack

import (
	"fmt"
)

// footHints tells whoever looks at a row that may be only grain of the paper that the card's judge
// counted fewer rows than hold ink.
func (l *loader) footHints() {
	ink := make([]int, len(l.Cards))
	for _, r := range l.Rows {
		if (!r.Struck || l.saidToStand(&r)) && !r.Blank && len(r.Nothing) == 0 {
			ink[r.Card]++
		}
	}
	for i := range l.Rows {
		r := &l.Rows[i]
		written := l.Cards[r.Card].RowCount
		switch {
		case !r.Unsure || written == nil || *written >= ink[r.Card]:
		case *written == 0:
			r.Hint = "At the foot of the card its judge wrote that no row stands."
		default:
			r.Hint = fmt.Sprintf("At the foot of the card its judge wrote %d, the rows that stand; %d seem to hold ink.", *written, ink[r.Card])
		}
	}
}
