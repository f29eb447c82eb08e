package hand

import "math"

// skeleton is a thinned glyph as a graph: nodes where strokes meet, edges along the strokes.
// Coordinates and widths are in mask pixels.
type skeleton struct {
	nodes []Point
	edges []edge
}

// edge runs from node a to node b; -1 is a free end. A closed ring without nodes has a = b = -1 and
// its first point again as its last.
type edge struct {
	a, b int
	pts  []Point
}

func (e edge) length() float64 { return Line{Points: e.pts}.length() }

// newSkeleton follows the lines of bones, one pixel wide; thick holds the distance to the ink's border.
func newSkeleton(bones mask, thick []float32) *skeleton {
	sk := &skeleton{}
	point := func(i int) Point {
		return Point{X: float64(i % maskSide), Y: float64(i / maskSide), W: 2 * float64(thick[i])}
	}
	deg := make([]int8, len(bones))
	node := make([]int, len(bones)) // node number + 1 of a pixel where strokes meet
	for i, set := range bones {
		if set {
			deg[i] = int8(count(bones.neighbours(i)))
		}
	}
	for i, set := range bones {
		if !set || deg[i] < 3 || node[i] != 0 {
			continue
		}
		cluster := []int{i}
		node[i] = len(sk.nodes) + 1
		for k := 0; k < len(cluster); k++ {
			for _, o := range around {
				if j := cluster[k] + o; bones[j] && deg[j] >= 3 && node[j] == 0 {
					node[j] = node[i]
					cluster = append(cluster, j)
				}
			}
		}
		var c Point
		for _, j := range cluster {
			p := point(j)
			c.X, c.Y, c.W = c.X+p.X, c.Y+p.Y, c.W+p.W
		}
		n := float64(len(cluster))
		sk.nodes = append(sk.nodes, Point{X: c.X / n, Y: c.Y / n, W: c.W / n})
	}
	seen := make([]bool, len(bones))
	walk := func(start, from int) {
		path := []int{start}
		seen[start] = true
		end := -1
		for {
			i := path[len(path)-1]
			next, met := -1, -1
			for _, k := range [8]int{0, 2, 4, 6, 1, 3, 5, 7} { // side neighbours first
				j := i + around[k]
				if !bones[j] {
					continue
				}
				if n := node[j] - 1; n >= 0 {
					// Back at the node we left only counts once the path has gone somewhere.
					if n != from || len(path) > 2 {
						met = n
					}
				} else if !seen[j] && next < 0 {
					next = j
				}
			}
			if met >= 0 && (met != from || next < 0) {
				end = met
				break
			}
			if next < 0 {
				break
			}
			seen[next] = true
			path = append(path, next)
		}
		e := edge{a: from, b: end}
		if from >= 0 {
			e.pts = append(e.pts, sk.nodes[from])
		}
		for _, i := range path {
			e.pts = append(e.pts, point(i))
		}
		if end >= 0 {
			e.pts = append(e.pts, sk.nodes[end])
		}
		if from < 0 && end < 0 && len(path) > 3 && touches(path[0], path[len(path)-1]) {
			e.pts = append(e.pts, e.pts[0])
		}
		sk.edges = append(sk.edges, e)
	}
	for i := range bones {
		if node[i] == 0 {
			continue
		}
		for _, o := range around {
			if j := i + o; bones[j] && node[j] == 0 && !seen[j] {
				walk(j, node[i]-1)
			}
		}
	}
	for i, set := range bones {
		if set && node[i] == 0 && !seen[i] && deg[i] <= 1 {
			walk(i, -1)
		}
	}
	for i, set := range bones {
		if set && node[i] == 0 && !seen[i] {
			walk(i, -1)
		}
	}
	for n := range sk.nodes {
		if sk.degree(n) == 0 {
			sk.edges = append(sk.edges, edge{a: -1, b: -1, pts: []Point{sk.nodes[n]}})
		}
	}
	return sk
}

func touches(i, j int) bool {
	for _, o := range around {
		if i+o == j {
			return true
		}
	}
	return false
}

// degree counts the edge ends at node n.
func (sk *skeleton) degree(n int) int {
	d := 0
	for _, e := range sk.edges {
		if e.a == n {
			d++
		}
		if e.b == n {
			d++
		}
	}
	return d
}

// contract joins nodes whose edge is shorter than the stroke is wide: thinning turns a crossing into
// two forks with a bridge. A parallel edge becomes a loop, so no hole is lost.
func (sk *skeleton) contract() {
	for i := 0; i < len(sk.edges); i++ {
		e := sk.edges[i]
		if e.a < 0 || e.b < 0 || e.a == e.b {
			continue
		}
		if e.length() > 0.55*math.Max(sk.nodes[e.a].W, sk.nodes[e.b].W) {
			continue
		}
		keep, gone := e.a, e.b
		p, q := sk.nodes[keep], sk.nodes[gone]
		mid := Point{X: (p.X + q.X) / 2, Y: (p.Y + q.Y) / 2, W: (p.W + q.W) / 2}
		sk.nodes[keep] = mid
		sk.edges = append(sk.edges[:i], sk.edges[i+1:]...)
		for k := range sk.edges {
			o := &sk.edges[k]
			if o.a == keep || o.a == gone {
				o.a = keep
				o.pts[0] = mid
			}
			if o.b == keep || o.b == gone {
				o.b = keep
				o.pts[len(o.pts)-1] = mid
			}
		}
		i = -1
	}
}

// prune drops free ends that hardly leave the blob of the node they grow from: thinning makes such
// spurs at corners.
func (sk *skeleton) prune() {
	for i := 0; i < len(sk.edges); i++ {
		e := sk.edges[i]
		if (e.a < 0) == (e.b < 0) {
			continue
		}
		n := max(e.a, e.b)
		free := e.pts[0]
		if e.b < 0 {
			free = e.pts[len(e.pts)-1]
		}
		// How far the ink at the free end sticks out of the disc round the node.
		if dist(free, sk.nodes[n])+free.W/2 > 0.85*sk.nodes[n].W || sk.degree(n) < 3 {
			continue
		}
		sk.edges = append(sk.edges[:i], sk.edges[i+1:]...)
		i = -1
	}
}

// traced is a line that knows which of its ends are ends of the ink.
type traced struct {
	Line
	freeHead, freeTail bool
}

// lines joins edges that run on straight through a node, so that the pen goes through crossings as a
// hand does, and smooths all lines.
func (sk *skeleton) lines() []traced {
	edges := append([]edge(nil), sk.edges...)
	for n := range sk.nodes {
		for {
			i, j := straightest(edges, n)
			if i < 0 {
				break
			}
			joined := join(edges[i], edges[j], n)
			edges[i] = joined
			edges = append(edges[:j], edges[j+1:]...)
		}
	}
	const smoothing = 18 // rounds of 1-2-1 on points one mask pixel apart: sigma 3 of them, half a glyph pixel
	out := make([]traced, 0, len(edges))
	for _, e := range edges {
		p := e.pts
		closed := len(p) > 3 && p[0] == p[len(p)-1]
		l := Line{Points: p}.resampled(1).smoothed(smoothing, closed && e.a == e.b)
		out = append(out, traced{Line: l, freeHead: e.a < 0 && !closed, freeTail: e.b < 0 && !closed})
	}
	return out
}

// straightest returns the two edges that meet at n with the smallest turn below 50 degrees, or two of
// only two; -1 when there are none left to join. The first index is the smaller.
func straightest(edges []edge, n int) (int, int) {
	type end struct {
		edge   int
		dx, dy float64
	}
	var ends []end
	for i, e := range edges {
		if e.a == e.b {
			continue
		}
		if e.a == n {
			dx, dy := leaving(e.pts)
			ends = append(ends, end{i, dx, dy})
		}
		if e.b == n {
			dx, dy := leaving(reversed(e.pts))
			ends = append(ends, end{i, dx, dy})
		}
	}
	best, bi, bj := math.Cos(130*math.Pi/180), -1, -1
	if len(ends) == 2 {
		best = 2
	}
	for i := range ends {
		for j := i + 1; j < len(ends); j++ {
			// Joining two edges into a ring at another shared node is fine: it is then a loop there.
			if c := ends[i].dx*ends[j].dx + ends[i].dy*ends[j].dy; c < best && ends[i].edge != ends[j].edge {
				best, bi, bj = c, ends[i].edge, ends[j].edge
			}
		}
	}
	return bi, bj
}

// leaving is the unit direction from p[0] over the next few pixels.
func leaving(p []Point) (dx, dy float64) {
	k := min(len(p)-1, 2*up)
	dx, dy = p[k].X-p[0].X, p[k].Y-p[0].Y
	if n := math.Hypot(dx, dy); n > 0 {
		return dx / n, dy / n
	}
	return 0, 0
}

// join makes one edge of two that meet at n. Should they meet at both ends, the result is a loop.
func join(e, f edge, n int) edge {
	p, from := e.pts, e.a
	if e.b != n {
		p, from = reversed(e.pts), e.b
	}
	q, to := f.pts, f.b
	if f.a != n {
		q, to = reversed(f.pts), f.a
	}
	pts := append(append([]Point(nil), p...), q[1:]...)
	return edge{a: from, b: to, pts: pts}
}
