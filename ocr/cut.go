package ocr

// cut is a small picture of ink with a rim of one px of paper; its ink begins at (x0, y0) of the map.
type cut struct {
	ink          []bool
	w, h, x0, y0 int
}

func (m *inkMap) cutOut(px []int) cut {
	x0, y0, x1, y1 := m.w, m.h, 0, 0
	for _, i := range px {
		x, y := i%m.w, i/m.w
		x0, y0, x1, y1 = min(x0, x), min(y0, y), max(x1, x+1), max(y1, y+1)
	}
	c := cut{w: x1 - x0 + 2, h: y1 - y0 + 2, x0: x0, y0: y0}
	c.ink = make([]bool, c.w*c.h)
	for _, i := range px {
		c.ink[(i/m.w-y0+1)*c.w+i%m.w-x0+1] = true
	}
	// Single px of paper inside a stroke are grain.
	for y := 1; y < c.h-1; y++ {
		for x := 1; x < c.w-1; x++ {
			i := y*c.w + x
			if !c.ink[i] && c.ink[i-1] && c.ink[i+1] && c.ink[i-c.w] && c.ink[i+c.w] {
				c.ink[i] = true
			}
		}
	}
	return c
}

// crossed counts the strokes on the way through, from side to side and from top to bottom.
func (c cut) crossed() (rows, cols float64) {
	r, k := make([]float64, c.h), make([]float64, c.w)
	for y := 1; y < c.h; y++ {
		for x := 1; x < c.w; x++ {
			i := y*c.w + x
			if c.ink[i] && !c.ink[i-1] {
				r[y]++
			}
			if c.ink[i] && !c.ink[i-c.w] {
				k[x]++
			}
		}
	}
	return busiest(r), busiest(k)
}

// shutIn counts areas of paper that ink shuts in.
func (c cut) shutIn() int {
	const least = 3 // px; less is grain
	seen := make([]bool, len(c.ink))
	n := 0
	for start := range c.ink {
		if c.ink[start] || seen[start] {
			continue
		}
		size := 0
		stack := []int{start}
		seen[start] = true
		for len(stack) > 0 {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			size++
			for _, j := range [4]int{i - 1, i + 1, i - c.w, i + c.w} {
				if j < 0 || j >= len(c.ink) || c.ink[j] || seen[j] || (j/c.w != i/c.w && j%c.w != i%c.w) {
					continue
				}
				seen[j] = true
				stack = append(stack, j)
			}
		}
		if size >= least {
			n++
		}
	}
	return n - 1 // the paper around
}
