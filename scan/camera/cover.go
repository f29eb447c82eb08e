package camera

import "math"

// lay puts a cover over px: round, in the light of the same sun, with a dark rim where it touches the paper.
func (sg *stage) lay(px []float32, c Cover, x, y float64, fall float32) {
	d := c.distance(x, y)
	if d > 3 {
		return
	}
	soft := math.Max(sg.edgeMM, 0.15)
	cov := float32(math.Max(0, math.Min(1, 0.5-d/soft)))
	rim := float32(1 - 0.35*math.Exp(-math.Max(0, d)/1.2)*math.Min(1, 0.2+c.R/8))
	colour := c.RGB
	light := float32(0)
	if cov > 0 {
		// The way out of the cover is the way its surface leans.
		const e = 0.3
		gx, gy := (c.distance(x+e, y)-d)/e, (c.distance(x, y+e)-d)/e
		bulge := math.Max(2, c.R)
		if c.What == "clip" {
			bulge = 2.5
		}
		lean := math.Max(0, math.Min(0.97, 1+d/bulge))
		n := [3]float64{gx * lean, gy * lean, math.Sqrt(1 - lean*lean)}
		lamp := &sg.v.shot.Light
		sun := sg.sun
		lit := lamp.Sky*(0.35+0.65*n[2]) + (1-lamp.Sky)*math.Max(0, dot(n, sun))/math.Max(sun[2], 0.35)
		if c.What == "clip" || c.What == "fingertip" {
			half := [3]float64{sun[0], sun[1], sun[2] + 1}
			k := dot(n, half) / math.Sqrt(dot(half, half))
			gloss := 0.06
			if c.What == "clip" {
				gloss = 0.5
			}
			lit += gloss * math.Pow(math.Max(0, k), 24) / math.Max(0.2, colour[1])
		}
		if c.What == "fingertip" && c.HY == 0 {
			colour = c.nail(x, y)
		}
		light = float32(lit) * fall * (1 + 0.05*sg.grain(x*0.7, y*0.7))
	}
	for ch := range px {
		px[ch] = px[ch]*rim*(1-cov) + float32(colour[ch])*light*cov
	}
}

func (sg *stage) grain(x, y float64) float32 {
	const m = fibreSide - 1
	return sg.fibre[(int(y*fibrePxPerMM)&m)*fibreSide+int(x*fibrePxPerMM)&m]
}

// nail returns a finger's colour, lighter where its nail is.
func (c *Cover) nail(x, y float64) [3]float64 {
	sin, cos := math.Sincos(c.TurnDeg * math.Pi / 180)
	u, v := (x-c.X)*cos+(y-c.Y)*sin-c.HX, -(x-c.X)*sin+(y-c.Y)*cos
	q := math.Hypot((u+0.15*c.R)/(0.72*c.R), v/(0.62*c.R)) // a little behind the tip's middle
	k := 0.35 * (1 - smoothstep((q-0.9)/0.15))
	if u < -0.4*c.R {
		k *= 1 - smoothstep((-u/c.R-0.4)/0.3)
	}
	return [3]float64{c.RGB[0] + k*(0.62-c.RGB[0]), c.RGB[1] + k*(0.46-c.RGB[1]), c.RGB[2] + k*(0.42-c.RGB[2])}
}
