package camera

import (
	"math"

	"gatefold/sheetmodel"
)

// other returns the shot of a further card of this photo: the same camera, seen from the other card.
func (s *Shot) other(o Lying) Shot {
	t := *s
	t.SheetW, t.SheetH, t.Bend = sheetmodel.MM(o.W), sheetmodel.MM(o.H), o.Bend
	t.TurnDeg = s.TurnDeg + o.TurnDeg
	rot := s.rotation()
	for i := range 3 {
		t.CameraMM[i] += rot[3*i]*o.X + rot[3*i+1]*o.Y
	}
	t.Covers, t.Damps, t.Second = nil, nil, nil
	t.Staging = &Staging{Doses: s.Staging.Doses}
	t.Light.Azimuth -= o.TurnDeg
	return t
}

// pose is where a card lies on the table: its view, and its place in the frame of the first card.
type pose struct {
	view     *View
	x, y     float64 // middle
	sin, cos float64
	lift     float64 // mm of paper beneath
}

// toTable takes a point of the card, from its middle, to the table, from the first card's middle.
func (p *pose) toTable(x, y float64) (float64, float64) {
	return p.x + p.cos*x - p.sin*y, p.y + p.sin*x + p.cos*y
}

// fromTable is the inverse of toTable.
func (p *pose) fromTable(x, y float64) (float64, float64) {
	dx, dy := x-p.x, y-p.y
	return p.cos*dx + p.sin*dy, -p.sin*dx + p.cos*dy
}

// shadowless reports whether the card lies over a point of the table.
func (p *pose) shadowless(x, y float64) bool {
	u, v := p.fromTable(x, y)
	return math.Abs(u) < p.view.halfW && math.Abs(v) < p.view.halfH
}

// Cards returns the views of all cards in the photo: this one first, then Others in their order. Each
// knows what covers its card.
func (v *View) Cards() []*View {
	all := v.poses()
	out := make([]*View, len(all))
	for i, p := range all {
		out[i] = p.view
	}
	return out
}

// poses returns the cards in the photo as Cards does.
func (v *View) poses() []*pose {
	all := []*pose{{view: v, cos: 1}}
	st := v.shot.Staging
	if st == nil {
		return all
	}
	const paper = 0.25 // mm
	all[0].lift = paper * float64(st.Beneath)
	for i, o := range st.Others {
		shot := v.shot.other(o)
		a := o.TurnDeg * math.Pi / 180
		p := &pose{view: shot.View(), x: o.X, y: o.Y, sin: math.Sin(a), cos: math.Cos(a), lift: paper * float64(i)}
		if i >= st.Beneath {
			p.lift += paper
		}
		all = append(all, p)
	}
	// What lies on what: each card knows, in its own frame, those above it.
	for i, p := range all[1:] {
		for j, q := range all {
			if q.lift <= p.lift || j == i+1 {
				continue
			}
			x, y := p.fromTable(q.x, q.y)
			p.view.over = append(p.view.over, &pose{view: q.view, x: x, y: y,
				cos: q.cos*p.cos + q.sin*p.sin, sin: q.sin*p.cos - q.cos*p.sin})
		}
	}
	// This card's covers lie on the others, too.
	for _, p := range all[1:] {
		for _, c := range v.shot.Covers {
			c.X, c.Y = p.fromTable(c.X-v.halfW, c.Y-v.halfH)
			c.X, c.Y = c.X+p.view.halfW, c.Y+p.view.halfH
			c.TurnDeg -= math.Atan2(p.sin, p.cos) * 180 / math.Pi
			p.view.shot.Covers = append(p.view.shot.Covers, c)
		}
	}
	return all
}
