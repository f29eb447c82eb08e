package scan

import (
	"math"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/idcode"
)

// code is one printed identity as seen: grey values of its modules.
type code [idcode.Size][idcode.Size]float64

const (
	codeReach = 1.6 // mm, how far a code is sought from where marks put it
	codeStep  = 0.2 // mm, a quarter of a module
)

// readIdentity reads the identities printed at places. It returns nil if none can be read, and an
// error if two were read that differ.
func readIdentity(v *view, m *sheetMap, places []sheetmodel.Rect) (*sheetmodel.Identity, *RefusedError) {
	var found *sheetmodel.Identity
	var codes []code
	for _, r := range places {
		t := m.tangent(v, r.Center())
		if !t.inside(v, float64(r.W)/2) {
			continue
		}
		dx, dy, score := findCode(v, &t, r)
		if score < 0.25 {
			continue
		}
		c := sampleCode(v, &t, r, dx, dy)
		codes = append(codes, c)
		id, ok := c.decode()
		for _, d := range [4][2]float64{{0.15, 0}, {-0.15, 0}, {0, 0.15}, {0, -0.15}} {
			if ok {
				break
			}
			again := sampleCode(v, &t, r, dx+d[0], dy+d[1])
			id, ok = again.decode()
		}
		if !ok {
			continue
		}
		if found != nil && *found != id {
			return nil, refused(FaultIdentity, "keep the card aside and ask whose it is",
				"the two printed identities differ (card %d and card %d)", found.Card, id.Card)
		}
		found = &id
	}
	if found == nil && len(codes) > 1 {
		mean := meanCode(codes)
		if id, ok := mean.decode(); ok {
			found = &id
		}
	}
	return found, nil
}

// knownModule returns what every code shows at a border module: solid left and bottom, dotted top and right.
func knownModule(x, y int) (black, known bool) {
	const last = idcode.Size - 1
	switch {
	case x == 0 || y == last:
		return true, true
	case y == 0:
		return x%2 == 0, true
	case x == last:
		return y%2 == 1, true
	}
	return false, false
}

// findCode returns the shift at which the border fits best, mm, and its correlation.
func findCode(v *view, t *tangent, r sheetmodel.Rect) (dx, dy, score float64) {
	steps := int(math.Round(codeReach / codeStep))
	score = -2
	for j := -steps; j <= steps; j++ {
		for i := -steps; i <= steps; i++ {
			x, y := float64(i)*codeStep, float64(j)*codeStep
			if s := borderFit(v, t, r, x, y); s > score {
				dx, dy, score = x, y, s
			}
		}
	}
	return dx, dy, score
}

// borderFit correlates the known border, and the white margin round it, with the photo.
func borderFit(v *view, t *tangent, r sheetmodel.Rect, dx, dy float64) float64 {
	const n = idcode.Size
	step := float64(r.W) / n
	var count, sb, sg, sgg, sbg float64
	add := func(x, y int, black float64) {
		u, w := (float64(x)+0.5-n/2.0)*step+dx, (float64(y)+0.5-n/2.0)*step+dy
		g := v.grey(t.at(u, w))
		count++
		sb += black
		sg += g
		sgg += g * g
		sbg += black * g
	}
	for i := range n {
		for _, c := range [4][2]int{{0, i}, {n - 1, i}, {i, 0}, {i, n - 1}} {
			b := 0.0
			if black, _ := knownModule(c[0], c[1]); black {
				b = 1
			}
			add(c[0], c[1], b)
		}
		add(-1, i, 0)
		add(n, i, 0)
		add(i, -1, 0)
		add(i, n, 0)
	}
	vb, vg := sb/count-sb/count*sb/count, sgg/count-sg/count*sg/count
	if vg < 4 {
		return -1
	}
	return (sb/count*sg/count - sbg/count) / math.Sqrt(vb*vg)
}

func sampleCode(v *view, t *tangent, r sheetmodel.Rect, dx, dy float64) (c code) {
	const n = idcode.Size
	step := float64(r.W) / n
	for y := range n {
		for x := range n {
			u, w := (float64(x)+0.5-n/2.0)*step+dx, (float64(y)+0.5-n/2.0)*step+dy
			sum := 2 * v.grey(t.at(u, w))
			for _, d := range [4][2]float64{{.22, 0}, {-.22, 0}, {0, .22}, {0, -.22}} {
				sum += v.grey(t.at(u+d[0]*step, w+d[1]*step))
			}
			c[y][x] = sum / 6
		}
	}
	return c
}

// meanCode averages codes after bringing each to the same black and white.
func meanCode(codes []code) (mean code) {
	for i := range codes {
		low, high := codes[i].local(idcode.Size)
		for y := range mean {
			for x := range mean[y] {
				mean[y][x] += 255 * (codes[i][y][x] - low[y][x]) / max(high[y][x]-low[y][x], 1) / float64(len(codes))
			}
		}
	}
	return mean
}

// local returns the darkest and the brightest module within reach of each.
func (c *code) local(reach int) (low, high code) {
	for y := range c {
		for x := range c[y] {
			low[y][x], high[y][x] = math.Inf(1), math.Inf(-1)
			for v := max(0, y-reach); v <= min(len(c)-1, y+reach); v++ {
				for u := max(0, x-reach); u <= min(len(c)-1, x+reach); u++ {
					low[y][x], high[y][x] = min(low[y][x], c[v][u]), max(high[y][x], c[v][u])
				}
			}
		}
	}
	return low, high
}

// decode tries thresholds between the local black and white; the checksum keeps wrong tries out.
func (c *code) decode() (sheetmodel.Identity, bool) {
	low, high := c.local(3)
	for _, share := range [...]float64{0.5, 0.42, 0.58} {
		var m idcode.Modules
		for y := range m {
			for x := range m[y] {
				m[y][x] = c[y][x] < low[y][x]+share*(high[y][x]-low[y][x])
			}
		}
		if id, err := idcode.Decode(m); err == nil {
			return id, true
		}
	}
	return sheetmodel.Identity{}, false
}
