package camera

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sync"
)

// DrawFamilies draws a photo of the scene at a level without any of the level's faults or covered marks,
// and lays the families on it, each at its step. Equal generators give equal shots.
//
// Dose.Amount is drawn from the step where it is 0. The error names a family or step that isn't there.
func (l Level) DrawFamilies(scene Scene, doses []Dose, rng *rand.Rand) (Shot, error) {
	l.Faults, l.MarksCovered, l.Reason = Span{}, Span{}, nil
	s := l.Draw(scene, rng)
	s.Staging = &Staging{}
	b := &staging{Shot: &s, scene: scene, rng: rng, margin: l.MarginShare.Draw(rng),
		focal: 0.75 + 0.2*rng.Float64(), room: [2]float64{rng.Float64(), rng.Float64()}}
	var after []func()
	for _, d := range doses {
		f, err := FamilyOf(d.Family)
		if err != nil {
			return Shot{}, err
		}
		if d.Step < 1 || d.Step > FamilySteps {
			return Shot{}, fmt.Errorf("fault family %s has no step %d; give 1 to %d", d.Family, d.Step, FamilySteps)
		}
		if d.Amount == 0 {
			d.Amount = f.Step(d.Step).Draw(rng)
		}
		s.Staging.Doses = append(s.Staging.Doses, d)
		if do := stagers[d.Family](b, &f, d.Amount); do != nil {
			after = append(after, do)
		}
	}
	s.place(b.scene, b.margin, b.focal, b.room)
	for _, do := range after {
		do()
	}
	return s, nil
}

// staging is a shot that families are being laid on.
type staging struct {
	*Shot
	scene  Scene
	rng    *rand.Rand
	margin float64
	focal  float64
	room   [2]float64
}

// stagers lays each family on a shot. What they return, if anything, is done when the camera has its place.
var stagers map[FamilyName]func(b *staging, f *Family, amount float64) func()

func init() {
	stagers = map[FamilyName]func(b *staging, f *Family, amount float64) func(){
		"snow":              stageSnow,
		"blown":             func(b *staging, _ *Family, a float64) func() { b.WhiteGrey = a; return nil },
		"hand-shadow":       stageHand,
		"dusk":              func(b *staging, _ *Family, a float64) func() { b.NoiseShare = a; return nil },
		"motion":            stageMotion,
		"defocus":           func(b *staging, _ *Family, a float64) func() { b.BlurSigmaMM, b.MotionShare = a, 0; return nil },
		"perspective":       func(b *staging, _ *Family, a float64) func() { b.TiltDeg = a; return nil },
		"turn":              func(b *staging, _ *Family, a float64) func() { b.TurnDeg = a; return nil },
		"second-card":       stageSecond,
		"several":           stageSeveral,
		"stack":             stageStack,
		"thumb":             stageThumb,
		"clip":              func(b *staging, _ *Family, a float64) func() { b.suffer(Clip, a, b.scene, b.rng); return nil },
		"sleeve":            stageSleeve,
		"hole":              stageHole,
		"cut":               stageCut,
		"corner-outside":    stageCorner,
		"halves":            stageHalves,
		"quarters":          stageQuarters,
		"curl":              stageCurl,
		"crumple":           stageCrumple,
		"wet":               stageWet,
		"translucent":       func(b *staging, _ *Family, a float64) func() { b.Staging.Through = a; return nil },
		"smear":             stageSmear,
		"lens":              func(b *staging, _ *Family, a float64) func() { b.LensK1 = a * b.sign(); return nil },
		"chromatic":         func(b *staging, _ *Family, a float64) func() { b.Staging.Chromatic = a * b.sign(); return nil },
		"phone-look":        stageLook,
		"messenger":         stageMessenger,
		"twelve-megapixels": stageTwelve,
		"print-scale":       stagePrintScale,
		"wrong-edge":        stageWrongEdge,
		"one-sided": func(b *staging, _ *Family, a float64) func() {
			b.Staging.Through, b.Staging.Blank = a, true
			return nil
		},
		"pale":      func(b *staging, _ *Family, a float64) func() { b.Staging.Print.Pale = a; return nil },
		"photocopy": stagePhotocopy,
	}
}

func (b *staging) sign() float64 { return float64(1 - 2*b.rng.IntN(2)) }

func (b *staging) size() (w, h float64) { return float64(b.SheetW), float64(b.SheetH) }

// span draws from lo to hi.
func (b *staging) span(lo, hi float64) float64 { return lo + (hi-lo)*b.rng.Float64() }

func stageSnow(b *staging, _ *Family, amount float64) func() {
	b.Ground, b.Staging.GroundGain = Snow, (1-amount)/snowLight()
	return nil
}

// snowLight is the mean of the snow's texture.
var snowLight = sync.OnceValue(func() float64 {
	sum := 0.0
	t := groundTexture(Snow)
	for _, c := range t {
		sum += 0.3*float64(c[0]) + 0.6*float64(c[1]) + 0.1*float64(c[2])
	}
	return sum / float64(len(t))
})

func stageHand(b *staging, f *Family, amount float64) func() {
	w, h := b.size()
	b.Light.Elevation, b.Light.Sky = f.draw("sun_deg", b.rng), 1-amount
	b.Staging.Bones = drawHand(w*b.span(-0.3, 0.3), h*b.span(-0.3, 0.3), f.draw("above_mm", b.rng), b.Light, b.rng)
	return nil
}

func stageMotion(b *staging, f *Family, amount float64) func() {
	b.BlurSigmaMM, b.MotionShare = amount, f.draw("motion_share", b.rng)
	return nil
}

func stageSecond(b *staging, _ *Family, share float64) func() {
	// It lies to the left or to the right, a little beneath this one or beside it.
	w, h := b.size()
	side := b.sign()
	b.Staging.Others = append(b.Staging.Others, Lying{X: side * (w + b.span(-6, 8)), Y: 0.3 * h * b.span(-1, 1),
		TurnDeg: 8*b.rng.NormFloat64() + 180*float64(b.rng.IntN(2)), W: w, H: h, Bend: b.slightBend()})
	b.Staging.Beneath = 1
	b.Staging.reach = [][2]float64{{side * (0.5 + share) * w, -0.2 * h}, {side * (0.5 + share) * w, 0.2 * h}}
	return nil
}

func (b *staging) slightBend() Bend {
	return Bend{DirDeg: 180 * b.rng.Float64(), HeightMM: 1.5 * b.rng.Float64(), Bow: b.span(-1, 1), Curl: b.span(-1, 1), FoldDir: 1}
}

func stageSeveral(b *staging, f *Family, amount float64) func() {
	n := int(math.Round(amount))
	w, h := b.size()
	across := min(3, int(math.Ceil(math.Sqrt(float64(n)))))
	if n == 2 && w > h {
		across = 1
	}
	// In rows, each a little askew and apart; this card is one of them.
	self := b.rng.IntN(n)
	type at struct{ x, y, turn float64 }
	cells := make([]at, n)
	for i := range cells {
		gap := f.draw("gap_mm", b.rng) + 0.035*h // a turn by 2 degrees takes some room
		cells[i] = at{float64(i%across)*(w+gap) + b.span(-1, 1), float64(i/across)*(h+gap) + b.span(-1, 1), 1.3 * b.rng.NormFloat64()}
		if b.rng.Float64() < 0.4 {
			cells[i].turn += 180
		}
	}
	a := cells[self]
	a.turn = 0
	for i, c := range cells {
		if i == self {
			continue
		}
		b.Staging.Others = append(b.Staging.Others, Lying{X: c.x - a.x, Y: c.y - a.y, TurnDeg: c.turn, W: w, H: h, Bend: b.slightBend()})
		for _, k := range [4][2]float64{{-1, -1}, {1, -1}, {1, 1}, {-1, 1}} {
			b.Staging.reach = append(b.Staging.reach, [2]float64{c.x - a.x + k[0]*(0.52*w), c.y - a.y + k[1]*(0.52*h)})
		}
	}
	return nil
}

func stageStack(b *staging, f *Family, amount float64) func() {
	w, h := b.size()
	for range int(math.Round(f.draw("beneath", b.rng))) {
		a := 2 * math.Pi * b.rng.Float64()
		turn := math.Atan2(amount, h) * 180 / math.Pi * b.rng.NormFloat64()
		b.Staging.Others = append(b.Staging.Others, Lying{X: amount * math.Cos(a), Y: amount * math.Sin(a),
			TurnDeg: turn + 180*float64(b.rng.IntN(2)), W: w, H: h, Bend: b.slightBend()})
	}
	b.Staging.Beneath = len(b.Staging.Others)
	return nil
}

func stageThumb(b *staging, _ *Family, reach float64) func() {
	if reach <= 8 {
		b.suffer(Fingertip, reach, b.scene, b.rng)
	} else { // it hides what it hides
		free := b.scene
		free.Marks, free.Rows = nil, nil
		b.suffer(Fingertip, reach, free, b.rng)
	}
	// The finger stands above the paper and throws a shadow.
	w, h := b.size()
	for _, c := range b.Covers {
		if c.What != "fingertip" && c.What != "mitten" {
			continue
		}
		sin, cos := math.Sincos(c.TurnDeg * math.Pi / 180)
		x, y := c.X-w/2, c.Y-h/2
		b.Staging.Bones = append(b.Staging.Bones, Bone{R: c.R * 0.95,
			A: [3]float64{x - c.HX*cos, y - c.HX*sin, c.R}, B: [3]float64{x + c.HX*cos, y + c.HX*sin, c.R}})
	}
	return nil
}

func stageSleeve(b *staging, f *Family, amount float64) func() {
	w, h := b.size()
	return func() {
		v := b.View()
		// The mirror image of the bright sky falls on a place of the card when the sleeve is flat there.
		in := v.toCamera(w*b.span(-0.3, 0.3), h*b.span(-0.3, 0.3))
		s := &Sleeve{Amount: amount, WaveMM: f.draw("wave_mm", b.rng), Slope: b.span(0.02, 0.09), Width: b.span(0.06, 0.16),
			Window: [3]float64{-in[0], -in[1], in[2]}}
		n := int(f.draw("drops_per_cm2", b.rng) * amount / f.Edges[FamilySteps] * 2 * w * h / 100)
		for range n {
			s.Drops = append(s.Drops, Hole{X: w * b.rng.Float64(), Y: h * b.rng.Float64(), R: f.draw("drop_mm", b.rng)})
		}
		b.Staging.Sleeve = s
	}
}

func stageHole(b *staging, _ *Family, amount float64) func() {
	w, h := b.size()
	const apart, in, r = 80, 12, 3
	n := int(math.Round(amount))
	edge, slip := b.rng.IntN(4), 8*b.rng.NormFloat64()
	for i := range n {
		along := apart*(float64(i)-float64(n-1)/2) + slip
		if n > 2 {
			along = apart/1.6*(float64(i)-float64(n-1)/2) + slip
		}
		at := [4]Hole{{in, h/2 + along, r}, {w - in, h/2 + along, r}, {w/2 + along, in, r}, {w/2 + along, h - in, r}}[edge]
		b.Staging.Holes = append(b.Staging.Holes, at)
	}
	return nil
}

func stageCut(b *staging, _ *Family, amount float64) func() {
	t := &b.Staging.Trim
	*[4]*float64{&t.Left, &t.Top, &t.Right, &t.Bottom}[b.rng.IntN(4)] = amount
	w, h := b.size()
	t.Slope = math.Min(math.Tan(2*math.Pi/180), 1.6*amount/math.Max(w, h)) * b.span(-1, 1)
	return nil
}

func stageCorner(b *staging, f *Family, amount float64) func() {
	b.TurnDeg = 90*float64(b.rng.IntN(4)) + f.draw("askew_deg", b.rng)
	side := b.rng.IntN(4)
	return func() {
		// Move the camera until the corner that reaches farthest to one side lies out by so much.
		for range 6 {
			v := b.View()
			c := v.Corners()
			size := float64(b.W)
			if side >= 2 {
				size = float64(b.H)
			}
			lo, hi := math.Inf(1), math.Inf(-1)
			for _, p := range c {
				at := [2]float64{p.X, p.Y}[side/2]
				lo, hi = math.Min(lo, at), math.Max(hi, at)
			}
			move := -amount*b.PxPerMM - lo
			if side%2 == 1 {
				move = size + amount*b.PxPerMM - hi
			}
			b.CameraMM[side/2] += move * b.CameraMM[2] / b.FocalPx
		}
	}
}
