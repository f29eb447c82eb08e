package camera

import (
	"image"
	"math"
	"math/rand/v2"

	"gatefold/sheetmodel"
)

// Scene is what the camera must know of a sheet before a photo is drawn.
type Scene struct {
	W, H  sheetmodel.MM     // size of the sheet
	Marks []sheetmodel.Rect // registration marks: one is covered at the hard level
	Rows  []sheetmodel.Rect // what must be in the picture and uncovered, or outside it when impossible
	// Frame is the size of the camera's picture in px, either way up, long side first; zero for a
	// picture just large enough at the drawn px/mm, which is what accuracy is measured on. With a frame
	// the card is as large as px/mm and the frame allow, and Shot.PxPerMM says what came out.
	Frame image.Point
}

// Fault is one fault of a photo and how bad it is.
type Fault struct {
	Kind   FaultKind `json:"kind"`
	Amount float64   `json:"amount"` // in the unit that levels.yaml gives for the kind
}

// Shot holds everything that makes a photo but the sheet itself: its truth. Angles are in degrees,
// lengths in mm on the sheet, frames as in sheetmodel.
type Shot struct {
	Level  string        `json:"level"`
	Reason Reason        `json:"reason,omitempty"` // of an impossible photo
	Faults []Fault       `json:"faults"`
	SheetW sheetmodel.MM `json:"sheet_w"`
	SheetH sheetmodel.MM `json:"sheet_h"`

	W           int        `json:"w"` // photo size in px
	H           int        `json:"h"`
	PxPerMM     float64    `json:"px_per_mm"`
	TiltDeg     float64    `json:"tilt_deg"`
	TiltDirDeg  float64    `json:"tilt_dir_deg"` // direction in the photo in which the sheet recedes
	TurnDeg     float64    `json:"turn_deg"`     // clockwise turn of the sheet in the photo
	FocalPx     float64    `json:"focal_px"`
	LensK1      float64    `json:"lens_k1"`
	CameraMM    [3]float64 `json:"camera_mm"` // middle of the sheet seen from the camera: right, down, away
	Bend        Bend       `json:"bend"`
	BlurSigmaMM float64    `json:"blur_sigma_mm"`
	MotionShare float64    `json:"motion_share"`
	MotionDeg   float64    `json:"motion_deg"` // direction on the sheet

	Light       Light      `json:"light"`
	WhiteGrey   float64    `json:"white_grey"`
	NoiseShare  float64    `json:"noise_share"`
	CastRGB     [3]float64 `json:"cast_rgb"`
	Tone        float64    `json:"tone"` // strength of the S-shaped tone curve
	Sharpen     float64    `json:"sharpen"`
	JPEGQuality int        `json:"jpeg_quality"`
	Ground      Ground     `json:"ground"`
	Covers      []Cover    `json:"covers"`
	Damps       []Spot     `json:"damps"`
	Second      *Second    `json:"second,omitempty"`
	Seed        uint64     `json:"seed"`              // of paper fibres, ground and noise
	Staging     *Staging   `json:"staging,omitempty"` // what fault families add; nil for photos of a level
}

// Second is another card beside or under the one photographed, turned by TurnDeg about its top left
// corner, which lies at At on the plane of the sheet.
type Second struct {
	At      sheetmodel.SheetPoint `json:"at"`
	TurnDeg float64               `json:"turn_deg"`
}

// Draw draws a photo of the scene at a level. Equal generators give equal shots.
//
// Every value lies in the level's span. For an impossible level one reason is drawn and everything else
// comes from the level that it is like.
func (l Level) Draw(scene Scene, rng *rand.Rand) Shot {
	s := Shot{
		Level: l.Name, SheetW: scene.W, SheetH: scene.H,
		PxPerMM: l.PxPerMM.Draw(rng), TiltDeg: l.TiltDeg.Draw(rng), TiltDirDeg: 360 * rng.Float64(),
		TurnDeg: l.TurnDeg.Draw(rng), LensK1: l.LensK1.Draw(rng), BlurSigmaMM: l.BlurSigmaMM.Draw(rng),
		MotionDeg: 360 * rng.Float64(), WhiteGrey: l.WhiteGrey.Draw(rng), NoiseShare: l.NoiseShare.Draw(rng),
		CastRGB: drawCast(l.CastShare.Draw(rng), rng), Tone: 0.25 * rng.Float64(), Sharpen: l.Sharpen.Draw(rng),
		JPEGQuality: l.JPEGQuality.drawInt(rng), Ground: Grounds()[rng.IntN(len(Grounds()))], Seed: rng.Uint64(),
	}
	s.Bend = Bend{DirDeg: 180 * rng.Float64(), HeightMM: l.BendMM.Draw(rng),
		Bow: 2*rng.Float64() - 1, Curl: 2*rng.Float64() - 1, Twist: 0.3 * (2*rng.Float64() - 1), FoldDir: 1}
	s.Light = drawLight(l.LightFall.Draw(rng), rng)
	margin := l.MarginShare.Draw(rng)
	if len(l.Reason) > 0 {
		s.Reason = []Reason{TooBlurred, TooSmall, RowOutside}[rng.IntN(3)]
		switch s.Reason {
		case TooBlurred:
			s.BlurSigmaMM = l.Reason[TooBlurred].Draw(rng)
		case TooSmall:
			s.PxPerMM = l.Reason[TooSmall].Draw(rng)
		case RowOutside:
		}
	}
	n := l.Faults.drawInt(rng)
	kinds := FaultKinds()
	rng.Shuffle(len(kinds), func(i, j int) { kinds[i], kinds[j] = kinds[j], kinds[i] })
	for _, kind := range kinds {
		if len(s.Faults) == n {
			break
		}
		amount := l.Fault[kind].Draw(rng)
		if s.suffer(kind, amount, scene, rng) {
			s.Faults = append(s.Faults, Fault{kind, amount})
		}
	}
	for range l.MarksCovered.drawInt(rng) {
		s.coverMark(scene, rng)
	}
	s.place(scene, margin, 0.75+0.2*rng.Float64(), [2]float64{rng.Float64(), rng.Float64()})
	if s.Reason == RowOutside {
		s.pushOut(scene, l.Reason[RowOutside].Draw(rng), rng)
	}
	return s
}

// Flat returns a shot without any fault: the sheet seen straight from above at pxPerMM, sharp, evenly
// lit, with a narrow margin. Tests of what comes after the camera start from it.
func Flat(w, h sheetmodel.MM, pxPerMM float64) Shot {
	s := Shot{Level: Ordinary, SheetW: w, SheetH: h, PxPerMM: pxPerMM, BlurSigmaMM: 0.02, WhiteGrey: 0.9,
		CastRGB: [3]float64{1, 1, 1}, JPEGQuality: 95, Ground: Bench, Bend: Bend{FoldDir: 1},
		Light: Light{Sky: 1, Elevation: 80}}
	s.place(Scene{W: w, H: h}, 0.05, 0.8, [2]float64{0.5, 0.5})
	return s
}

func drawCast(share float64, rng *rand.Rand) [3]float64 {
	// Warm or cold, with a little green or purple.
	warm := share * math.Copysign(1, rng.Float64()-0.5)
	green := 0.4 * share * (2*rng.Float64() - 1)
	return [3]float64{1 + warm, 1 + green*0.5, 1 - warm}
}
