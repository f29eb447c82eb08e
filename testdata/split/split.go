package split

import (
	_ "embed" // the lists
	"fmt"
	"strconv"
	"strings"
	"sync"
)

// Digits is the number of digits in MNIST's training part.
const Digits = 60000

// Files with one index a line.
var (
	//go:embed train.txt
	trainText string
	//go:embed select.txt
	selectText string
	//go:embed calibration.txt
	calibrationText string
	//go:embed threshold.txt
	thresholdText string
)

var (
	train       = sync.OnceValue(func() []int { return mustParse("train.txt", trainText) })
	selection   = sync.OnceValue(func() []int { return mustParse("select.txt", selectText) })
	calibration = sync.OnceValue(func() []int { return mustParse("calibration.txt", calibrationText) })
	threshold   = sync.OnceValue(func() []int { return mustParse("threshold.txt", thresholdText) })
)

// Train returns the digits that nets may train on, those of Select among them. The caller must not
// change the slice; the same holds for the other lists.
func Train() []int { return train() }

// Select returns the digits of train that nets and lengths of training are chosen on.
func Select() []int { return selection() }

// Learn returns train without Select.
func Learn() []int { return learn() }

// Calibration returns the digits for calibration curves, tests and the demo.
func Calibration() []int { return calibration() }

// Threshold returns the digits for choosing thresholds and nothing else.
func Threshold() []int { return threshold() }

var learn = sync.OnceValue(func() []int {
	held := make(map[int]bool, len(selection()))
	for _, i := range selection() {
		held[i] = true
	}
	var out []int
	for _, i := range train() {
		if !held[i] {
			out = append(out, i)
		}
	}
	return out
})

// Format writes indices as the lists hold them.
func Format(indices []int) string {
	var b strings.Builder
	for _, i := range indices {
		b.WriteString(strconv.Itoa(i))
		b.WriteByte('\n')
	}
	return b.String()
}

// Parse reads a list: ascending indices below Digits, one a line.
func Parse(text string) ([]int, error) {
	var out []int
	last := -1
	for n, line := range strings.Split(strings.TrimSuffix(text, "\n"), "\n") {
		i, err := strconv.Atoi(line)
		if err != nil || i <= last || i >= Digits {
			return nil, fmt.Errorf("line %d: %q: not an ascending index below %d; make the lists anew", n+1, line, Digits)
		}
		out, last = append(out, i), i
	}
	return out, nil
}

// mustParse panics on a bad list: the lists are part of the program and tested.
func mustParse(name, text string) []int {
	out, err := Parse(text)
	if err != nil {
		panic(fmt.Sprintf("split list %s: %v", name, err))
	}
	return out
}
