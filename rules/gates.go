package rules

import (
	"cmp"
	"slices"
	"strconv"
	"strings"
)

// maxRange bounds a written range where the run's gates are not known: no course has more gates.
const maxRange = 120

// splitGates returns the labels of a written gate, range or list, from the start down, each once.
// Labels that the run doesn't have are kept as written.
func (cr *courseRun) splitGates(text string) []string {
	text = strings.TrimSpace(text)
	if text == "" {
		return nil
	}
	if _, ok := cr.index[text]; ok {
		return []string{text}
	}
	var labels []string
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune(",;/+& ", r) }) {
		from, to, _ := strings.Cut(part, "-")
		if _, ok := cr.index[part]; ok || from == "" || to == "" {
			labels = append(labels, part)
			continue
		}
		labels = append(labels, cr.between(from, to)...)
	}
	return cr.sortGates(labels)
}

// between returns the labels from one gate to another, whichever stands higher on the slope.
func (cr *courseRun) between(from, to string) []string {
	i, okFrom := cr.index[from]
	j, okTo := cr.index[to]
	if okFrom && okTo {
		return slices.Clone(cr.gates[min(i, j) : max(i, j)+1])
	}
	a, errA := strconv.Atoi(from)
	b, errB := strconv.Atoi(to)
	a, b = min(a, b), max(a, b)
	if len(cr.gates) > 0 || errA != nil || errB != nil || a < 0 || b > maxRange {
		return []string{from, to}
	}
	var labels []string
	for n := a; n <= b; n++ {
		labels = append(labels, strconv.Itoa(n))
	}
	return labels
}

// sortGates returns the labels from the start down, each once.
func (cr *courseRun) sortGates(labels []string) []string {
	sorted := slices.Clone(labels)
	slices.SortFunc(sorted, cr.compareGates)
	return slices.Compact(sorted)
}

// sortLabels orders texts that are or end in numbers.
func sortLabels(labels []string) {
	slices.SortFunc(labels, compareLabels)
}

// compareGates orders labels from the start down; labels that the run doesn't have come last, by number.
func (cr *courseRun) compareGates(a, b string) int {
	i, okA := cr.index[a]
	j, okB := cr.index[b]
	switch {
	case okA && okB:
		return i - j
	case okA:
		return -1
	case okB:
		return 1
	}
	return compareLabels(a, b)
}

// compareLabels orders "2" before "12", "12" before "12a".
func compareLabels(a, b string) int {
	numA, restA := leadingNumber(a)
	numB, restB := leadingNumber(b)
	return firstOf(cmp.Compare(numA, numB), strings.Compare(restA, restB), strings.Compare(a, b))
}

func leadingNumber(s string) (int, string) {
	i := 0
	for i < len(s) && i < 9 && s[i] >= '0' && s[i] <= '9' {
		i++
	}
	if i == 0 {
		return 1 << 30, s // words and letters after all numbers
	}
	n, _ := strconv.Atoi(s[:i]) // up to nine digits: always fits
	return n, s[i:]
}

// firstOf returns the first comparison that is not equal.
func firstOf(comparisons ...int) int {
	for _, c := range comparisons {
		if c != 0 {
			return c
		}
	}
	return 0
}

// gateWords writes labels as a judge would: "gate 7", "gates 22-28", "gates 3, 4 and 9".
func (cr *courseRun) gateWords(labels []string) string {
	switch {
	case len(labels) == 0:
		return "no gate"
	case len(labels) == 1:
		return "gate " + labels[0]
	}
	var runs []string
	for i := 0; i < len(labels); {
		j := i
		for j+1 < len(labels) && cr.follows(labels[j], labels[j+1]) {
			j++
		}
		switch {
		case j == i:
			runs = append(runs, labels[i])
		case j == i+1 && len(labels) > 2:
			runs = append(runs, labels[i], labels[j])
		default:
			runs = append(runs, labels[i]+"-"+labels[j])
		}
		i = j + 1
	}
	return "gates " + list(runs)
}

// follows reports whether b is the next gate below a.
func (cr *courseRun) follows(a, b string) bool {
	i, okA := cr.index[a]
	j, okB := cr.index[b]
	if okA && okB {
		return j == i+1
	}
	m, errA := strconv.Atoi(a)
	n, errB := strconv.Atoi(b)
	return !okA && !okB && errA == nil && errB == nil && n == m+1
}
