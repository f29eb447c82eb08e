package stack

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
)

// The lot gives each reading the same chance: of 50,000 places a fiftieth, within 4 standard deviations of a
// binomial draw (from memory), and other places in another race.
func TestLot_DrawsTheShareAsked(t *testing.T) {
	const n, share = 50_000, 0.02
	drawn, both := 0, 0
	for i := range n {
		key := fmt.Sprintf("1/Blue/%d/front/row-%02d.bib", i/10, i%10+1)
		if lot("spring-cup", key) < share {
			drawn++
			if lot("autumn-cup", key) < share {
				both++
			}
		}
	}
	assert.InDelta(t, n*share, drawn, 4*math.Sqrt(n*share*(1-share)))
	assert.InDelta(t, n*share*share, both, 4*math.Sqrt(n*share*share))
}
