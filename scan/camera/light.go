package camera

import (
	"math"
	"math/rand/v2"
)

// Light is one lamp or sun and the sky around it.
type Light struct {
	Elevation float64 `json:"elevation_deg"`
	Azimuth   float64 `json:"azimuth_deg"` // on the sheet, from where the light comes
	Sky       float64 `json:"sky"`         // share of the light that comes from everywhere
	Fall      float64 `json:"fall"`        // share lost across the sheet
	FallDeg   float64 `json:"fall_deg"`    // direction on the sheet in which it is lost
	Vignette  float64 `json:"vignette"`    // share lost in the picture's corners
	Shadow    Cast    `json:"shadow"`
	Glare     Blob    `json:"glare"`
}

// Cast is the shadow of a hand or a phone on the sheet.
type Cast struct {
	Share  float64 `json:"share"`   // of the light, lost in the shadow
	SoftMM float64 `json:"soft_mm"` // width of its edge
	Parts  []Cover `json:"parts"`
}

// Blob is a bright patch: Amount of the paper's light added in the middle, R mm to where it is 0.6 of that.
type Blob struct {
	X      float64 `json:"x"`
	Y      float64 `json:"y"`
	R      float64 `json:"r"`
	Amount float64 `json:"amount"`
}

func drawLight(fall float64, rng *rand.Rand) Light {
	return Light{Elevation: 30 + 50*rng.Float64(), Azimuth: 360 * rng.Float64(), Sky: 0.35 + 0.5*rng.Float64(),
		Fall: fall, FallDeg: 360 * rng.Float64(), Vignette: 0.2 * rng.Float64()}
}

// drawShadow casts a phone or a hand from the side of the light over a part of the sheet.
func drawShadow(share, w, h float64, l Light, rng *rand.Rand) Cast {
	c := Cast{Share: share, SoftMM: 0.8 * math.Pow(20, rng.Float64())}
	a := l.Azimuth * math.Pi / 180
	tipX, tipY := w*(0.2+0.6*rng.Float64()), h*(0.2+0.6*rng.Float64())
	back := func(d float64) (float64, float64) { return tipX + d*math.Cos(a), tipY + d*math.Sin(a) }
	if rng.Float64() < 0.5 {
		x, y := back(80) // its long side points to the hand that holds it
		c.Parts = []Cover{{What: "phone", X: x, Y: y, HX: 72, HY: 32, R: 8, TurnDeg: l.Azimuth + 15*rng.NormFloat64()}}
		return c
	}
	x, y := back(78)
	armX, armY := back(240)
	c.Parts = []Cover{{What: "palm", X: x, Y: y, HX: 22, HY: 16, R: 22, TurnDeg: l.Azimuth},
		{What: "arm", X: armX, Y: armY, HX: 160, HY: 6, R: 26, TurnDeg: l.Azimuth}}
	for i := range 2 + rng.IntN(3) {
		spread := 11*(float64(i)-1.5) + 3*rng.NormFloat64()
		fx, fy := back(32 + 8*rng.NormFloat64())
		c.Parts = append(c.Parts, Cover{What: "finger", X: fx - spread*math.Sin(a), Y: fy + spread*math.Cos(a),
			HX: 24, R: 7.5, TurnDeg: l.Azimuth + spread})
	}
	return c
}

// at returns the light on the sheet at (x, y) mm, 1 on flat, fully lit paper; n is the paper's normal.
func (l Light) at(x, y, w, h float64, n [3]float64) float64 {
	el, az := l.Elevation*math.Pi/180, l.Azimuth*math.Pi/180
	direct := math.Max(0, n[0]*math.Cos(el)*math.Cos(az)+n[1]*math.Cos(el)*math.Sin(az)+n[2]*math.Sin(el)) / math.Sin(el)
	shadow := 0.0
	for _, p := range l.Shadow.Parts {
		shadow = math.Max(shadow, 1-smoothstep(p.distance(x, y)/math.Max(l.Shadow.SoftMM, 0.1)+0.5))
	}
	e := l.Sky*(0.5+0.5*n[2]) + (1-l.Sky)*direct
	e *= 1 - l.Shadow.Share*shadow
	if l.Fall > 0 {
		f := l.FallDeg * math.Pi / 180
		reach := math.Abs(w*math.Cos(f)) + math.Abs(h*math.Sin(f))
		t := ((x-w/2)*math.Cos(f)+(y-h/2)*math.Sin(f))/reach + 0.5
		e *= 1 - l.Fall*math.Max(-0.3, math.Min(1.3, t))
	}
	return e
}

// glare returns what a shiny patch adds, in shares of white paper's light.
func (l Light) glare(x, y float64) float64 {
	if l.Glare.Amount == 0 {
		return 0
	}
	d2 := (x-l.Glare.X)*(x-l.Glare.X) + (y-l.Glare.Y)*(y-l.Glare.Y)
	return l.Glare.Amount * math.Exp(-d2/(2*l.Glare.R*l.Glare.R))
}

func smoothstep(t float64) float64 {
	t = math.Max(0, math.Min(1, t))
	return t * t * (3 - 2*t)
}
