package racefolder

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

// maxGates bounds a course; a range such as 1-9999 is a slip of the keyboard.
const maxGates = 200

var (
	gateLabel = regexp.MustCompile(`^[0-9]{1,3}[a-z]?$`)
	gateRange = regexp.MustCompile(`^([0-9]{1,3}[a-z]?)-([0-9]{1,3}[a-z]?)$`)
)

// courseGates expands "1-12", "12a", "13-34" into the labels of a course, from the start down.
// The error says what is wrong and what to do.
func courseGates(parts []string) ([]string, error) {
	var labels []string
	seen := map[string]bool{}
	for _, part := range parts {
		more, err := expandByNumber(sheetmodel.CanonicalGate(part))
		if err != nil {
			return nil, err
		}
		for _, g := range more {
			if seen[g] {
				return nil, fmt.Errorf("gate %s is written twice; write each gate once, from the start down", g)
			}
			seen[g] = true
			labels = append(labels, g)
		}
		if len(labels) > maxGates {
			return nil, fmt.Errorf("more than %d gates; check the numbers", maxGates)
		}
	}
	return labels, nil
}

// placeGates expands a place's gates along the course, so that 11-13 holds 12a where the course has one.
// While the course's gates are not known, ranges are taken by number.
func placeGates(parts, course []string) ([]string, error) {
	if len(course) == 0 {
		return courseGates(parts)
	}
	index := map[string]int{}
	for i, g := range course {
		index[g] = i
	}
	taken := make([]bool, len(course))
	for _, raw := range parts {
		part := sheetmodel.CanonicalGate(raw)
		from, to := part, part
		if m := gateRange.FindStringSubmatch(part); m != nil {
			from, to = m[1], m[2]
		} else if !gateLabel.MatchString(part) {
			return nil, badGate(raw)
		}
		i, okFrom := index[plainGate(from)]
		j, okTo := index[plainGate(to)]
		for _, end := range []struct {
			label string
			ok    bool
		}{{from, okFrom}, {to, okTo}} {
			if !end.ok {
				return nil, fmt.Errorf("gate %s is not on this course (%s); correct it, or add it to the course's gates", end.label, SpellGates(course, course))
			}
		}
		if i > j {
			return nil, fmt.Errorf("gates %s run backwards; write the smaller gate first", part)
		}
		for k := i; k <= j; k++ {
			if taken[k] {
				return nil, fmt.Errorf("gate %s is written twice; write each gate once", course[k])
			}
			taken[k] = true
		}
	}
	var labels []string
	for k, t := range taken {
		if t {
			labels = append(labels, course[k])
		}
	}
	return labels, nil
}

func expandByNumber(part string) ([]string, error) {
	m := gateRange.FindStringSubmatch(part)
	if m == nil {
		if !gateLabel.MatchString(part) {
			return nil, badGate(part)
		}
		if strings.Trim(part, "0abcdefghijklmnopqrstuvwxyz") == "" {
			return nil, fmt.Errorf("gate %s: gates are counted from 1; correct it", part)
		}
		return []string{plainGate(part)}, nil
	}
	a, errA := strconv.Atoi(m[1])
	b, errB := strconv.Atoi(m[2])
	switch {
	case errA != nil || errB != nil:
		return nil, fmt.Errorf("gates %s: a range needs plain numbers; write gates such as 12a singly, as in 1-12, 12a, 13-34", part)
	case a > b:
		return nil, fmt.Errorf("gates %s run backwards; write the smaller gate first", part)
	case a == 0:
		return nil, fmt.Errorf("gates %s: gates are counted from 1; correct it", part)
	case b-a >= maxGates:
		return nil, fmt.Errorf("gates %s are more than %d; check the numbers", part, maxGates)
	}
	labels := make([]string, 0, b-a+1)
	for n := a; n <= b; n++ {
		labels = append(labels, strconv.Itoa(n))
	}
	return labels, nil
}

// plainGate drops leading zeros: gate 07 of a card is gate 7 of the course.
func plainGate(label string) string {
	t := strings.TrimLeft(label, "0")
	if t == "" || t[0] < '0' || t[0] > '9' {
		return label
	}
	return t
}

func badGate(part string) error {
	return fmt.Errorf("%q is not a gate; write numbers and ranges, as in 1-12, 12a, 13-34", shorten(part))
}

// SpellGates returns the short form of labels that stand in the order of course, "1-12, 12a, 13-34",
// as race.yaml writes them. course may be empty while it is not known.
func SpellGates(labels, course []string) string {
	index := map[string]int{}
	for i, g := range course {
		index[g] = i
	}
	whole := len(labels) == len(course)
	follows := func(a, b string) bool {
		if whole || len(course) == 0 {
			x, errX := strconv.Atoi(a)
			y, errY := strconv.Atoi(b)
			return errX == nil && errY == nil && y == x+1
		}
		i, okI := index[a]
		j, okJ := index[b]
		return okI && okJ && j == i+1
	}
	var parts []string
	for i := 0; i < len(labels); {
		j := i
		for j+1 < len(labels) && follows(labels[j], labels[j+1]) {
			j++
		}
		if j > i {
			parts = append(parts, labels[i]+"-"+labels[j])
		} else {
			parts = append(parts, labels[i])
		}
		i = j + 1
	}
	return strings.Join(parts, ", ")
}
