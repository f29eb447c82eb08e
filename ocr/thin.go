package ocr

import (
	"math"
	"slices"
)

// depth is the distance of each px of ink to paper, in px: two passes over the neighbours.
func (c cut) depth() []float64 {
	d := make([]float64, len(c.ink))
	for i, ink := range c.ink {
		if ink {
			d[i] = math.Inf(1)
		}
	}
	relax := func(i, j int, step float64) { d[i] = min(d[i], d[j]+step) }
	for y := 1; y < c.h-1; y++ {
		for x := 1; x < c.w-1; x++ {
			i := y*c.w + x
			relax(i, i-1, 1)
			relax(i, i-c.w, 1)
			relax(i, i-c.w-1, math.Sqrt2)
			relax(i, i-c.w+1, math.Sqrt2)
		}
	}
	for y := c.h - 2; y > 0; y-- {
		for x := c.w - 2; x > 0; x-- {
			i := y*c.w + x
			relax(i, i+1, 1)
			relax(i, i+c.w, 1)
			relax(i, i+c.w+1, math.Sqrt2)
			relax(i, i+c.w-1, math.Sqrt2)
		}
	}
	return d
}

// thinned is the middle lines of the ink, one px wide (Zhang and Suen 1984).
func (c cut) thinned() cut {
	t := c
	t.ink = slices.Clone(c.ink)
	ring := [8]int{-c.w, -c.w + 1, 1, c.w + 1, c.w, c.w - 1, -1, -c.w - 1} // clockwise from above
	var gone []int
	for {
		removed := 0
		for pass := range 2 {
			gone = gone[:0]
			for y := 1; y < c.h-1; y++ {
				for x := 1; x < c.w-1; x++ {
					i := y*c.w + x
					if t.ink[i] && t.removable(i, ring, pass) {
						gone = append(gone, i)
					}
				}
			}
			for _, i := range gone {
				t.ink[i] = false
			}
			removed += len(gone)
		}
		if removed == 0 {
			return t
		}
	}
}

func (c cut) removable(i int, ring [8]int, pass int) bool {
	n, turns := 0, 0
	for k := range 8 {
		a, b := c.ink[i+ring[k]], c.ink[i+ring[(k+1)%8]]
		if a {
			n++
		}
		if !a && b {
			turns++
		}
	}
	if n < 2 || n > 6 || turns != 1 {
		return false
	}
	up, right, down, left := c.ink[i+ring[0]], c.ink[i+ring[2]], c.ink[i+ring[4]], c.ink[i+ring[6]]
	if pass == 0 {
		return !(up && right && down) && !(right && down && left)
	}
	return !(up && right && left) && !(up && down && left)
}

// follow returns the length of middle lines in mm, their ends, and their joints: px where three or more
// lines meet, those that touch each other counted once.
func (c cut) follow() (length float64, ends, joints int) {
	joint := make([]bool, len(c.ink))
	for y := 1; y < c.h-1; y++ {
		for x := 1; x < c.w-1; x++ {
			i := y*c.w + x
			if !c.ink[i] {
				continue
			}
			for _, j := range [2]int{i + 1, i + c.w} {
				if c.ink[j] {
					length++
				}
			}
			// A diagonal step counts where no straight ones lead round the corner.
			if c.ink[i+c.w+1] && !c.ink[i+1] && !c.ink[i+c.w] {
				length += math.Sqrt2
			}
			if c.ink[i+c.w-1] && !c.ink[i-1] && !c.ink[i+c.w] {
				length += math.Sqrt2
			}
			switch turns := c.turns(i); {
			case turns == 1:
				ends++
			case turns >= 3:
				joint[i] = true
			}
		}
	}
	const near = 2 // px: a crossing is thinned to two joints close together
	for i := range joint {
		if !joint[i] {
			continue
		}
		joints++
		for dy := -near; dy <= near; dy++ {
			for dx := -near; dx <= near; dx++ {
				if j := i + dy*c.w + dx; j >= 0 && j < len(joint) {
					joint[j] = false
				}
			}
		}
	}
	return length / inkPxPerMM, ends, joints
}

// turns counts the lines that leave a px.
func (c cut) turns(i int) int {
	ring := [8]int{-c.w, -c.w + 1, 1, c.w + 1, c.w, c.w - 1, -1, -c.w - 1}
	n := 0
	for k := range 8 {
		if !c.ink[i+ring[k]] && c.ink[i+ring[(k+1)%8]] {
			n++
		}
	}
	return n
}
