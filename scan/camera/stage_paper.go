package camera

import (
	"image"
	"math"
)

// lowLight lets the sun stand where it shows the paper's height.
func (b *staging) lowLight(f *Family) {
	b.Light.Elevation, b.Light.Sky = f.draw("sun_deg", b.rng), f.draw("sky", b.rng)
}

func stageHalves(b *staging, f *Family, deg float64) func() {
	b.lowLight(f)
	w, h := b.size()
	dir := 0.0 // across the longer side
	if h > w {
		dir = 90
	}
	b.Bend.HeightMM = math.Min(b.Bend.HeightMM, 2)
	b.Staging.Relief.Creases = []Crease{{DirDeg: dir + 0.6*b.rng.NormFloat64(), At: 1.5 * b.rng.NormFloat64(), Deg: deg * b.sign()}}
	return nil
}

func stageQuarters(b *staging, f *Family, deg float64) func() {
	stageHalves(b, f, deg)
	first := b.Staging.Relief.Creases[0]
	b.Staging.Relief.Creases = append(b.Staging.Relief.Creases,
		Crease{DirDeg: first.DirDeg + 90 + 0.6*b.rng.NormFloat64(), At: 1.5 * b.rng.NormFloat64(), Deg: 0.8 * deg * b.sign()})
	return nil
}

func stageCurl(b *staging, f *Family, height float64) func() {
	// Rolled evenly, or more and more towards one side.
	b.Bend = Bend{DirDeg: float64(90*b.rng.IntN(2)) + 12*b.rng.NormFloat64(), HeightMM: height, FoldDir: 1,
		Bow: b.sign(), Curl: 0.8 * b.span(-1, 1)}
	b.lowLight(f)
	return nil
}

func stageCrumple(b *staging, f *Family, height float64) func() {
	b.lowLight(f)
	b.Bend.HeightMM = math.Min(b.Bend.HeightMM, 2)
	b.Staging.Relief.CrumpleMM, b.Staging.Relief.FacetMM, b.Staging.Relief.Seed = height, f.draw("facet_mm", b.rng), b.rng.Uint64()
	return nil
}

func stageWet(b *staging, f *Family, amount float64) func() {
	w, h := b.size()
	for range int(f.draw("spots", b.rng)) {
		r := b.span(6, 24)
		b.Staging.Wets = append(b.Staging.Wets, Spot{X: w * b.rng.Float64(), Y: h * b.rng.Float64(), RX: r * b.span(0.8, 1.3), RY: r, Share: amount})
	}
	b.Staging.WetThrough = f.draw("through", b.rng)
	b.Staging.Relief.CockleMM, b.Staging.Relief.Seed = 6*amount, b.rng.Uint64()
	return nil
}

func stageSmear(b *staging, f *Family, amount float64) func() {
	w, h := b.size()
	s := Smear{Amount: amount, DragMM: f.draw("drag_mm", b.rng), DirDeg: 20 * b.rng.NormFloat64()}
	for range 2 + b.rng.IntN(4) {
		s.Lanes = append(s.Lanes, Spot{X: w * b.rng.Float64(), Y: h * b.rng.Float64(), RX: w * b.span(0.3, 0.8), RY: b.span(8, 25), Share: b.span(0.5, 1)})
	}
	b.Staging.Smear = s
	return nil
}

func stageLook(b *staging, _ *Family, amount float64) func() {
	b.Staging.Look, b.Sharpen, b.Tone = amount, 0.5+0.9*amount, 0.1+0.2*amount
	return nil
}

func stageMessenger(b *staging, f *Family, quality float64) func() {
	b.Staging.Messenger, b.JPEGQuality = 1280, int(quality)
	b.TurnDeg = 90*float64(b.rng.IntN(4)) + f.draw("askew_deg", b.rng)
	b.margin = f.draw("margin_share", b.rng)
	b.PxPerMM = math.Max(b.PxPerMM, 9) // as the phone took it
	return nil
}

func stageTwelve(b *staging, _ *Family, fill float64) func() {
	b.scene.Frame, b.margin = image.Pt(4032, 3024), 0.01
	b.PxPerMM = 1000
	near := *b.Shot
	near.place(b.scene, b.margin, b.focal, b.room)
	b.PxPerMM = near.PxPerMM * fill
	return nil
}

func stagePrintScale(b *staging, f *Family, percent float64) func() {
	p := &b.Staging.Print
	p.Scale = 1 - percent/100
	if percent <= 3 && b.rng.IntN(2) == 0 {
		p.Scale = 1 + percent/100
	}
	a, far := 2*math.Pi*b.rng.Float64(), f.draw("shift_mm", b.rng)
	p.DX, p.DY = far*math.Cos(a), far*math.Sin(a)
	return nil
}

func stageWrongEdge(b *staging, _ *Family, amount float64) func() {
	b.Staging.Through, b.Staging.BackTurned, b.Staging.BackOther = amount, true, b.rng.IntN(2) == 0
	return nil
}

func stagePhotocopy(b *staging, _ *Family, amount float64) func() {
	n := int(math.Round(amount))
	b.Staging.Print.Copied = n
	// Each copy is larger or smaller by a trifle, always the same way on one machine.
	b.Staging.Print.Scale = math.Pow(1+0.002*b.span(-1, 1.5), float64(n))
	return nil
}
