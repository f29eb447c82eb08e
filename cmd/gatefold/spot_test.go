package main

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/ocr/calib"
)

// None wrong of 300 is at most 0.994 %, 1 of 450 at most 1.0498 % (Clopper-Pearson: 1 - 0.05^(1/300), and by
// bisection of the binomial).
func TestPercentAtMost_IsNeverLessThanTheBound(t *testing.T) {
	for _, c := range []struct {
		wrong, typed int
		want         string
	}{{0, 300, "1"}, {1, 450, "1.1"}, {0, 100, "3"}, {100, 100, "100"}} {
		assert.Equal(t, c.want, percentAtMost(calib.Upper(c.wrong, c.typed, 0.05)), "%d of %d", c.wrong, c.typed)
	}
}
