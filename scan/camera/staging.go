package camera

import (
	"math"

	"gatefold/sheetmodel"
)

// Staging is what fault families add to a shot. Lengths are mm, places are on the paper from its top left
// corner; paper and print differ when the printer scaled. Heights are above the table.
type Staging struct {
	Doses  []Dose `json:"doses"`
	Relief Relief `json:"relief"`
	Trim   Trim   `json:"trim"`
	Holes  []Hole `json:"holes,omitempty"`
	Print  Print  `json:"print"`

	Others  []Lying `json:"others,omitempty"` // further cards, lowest first
	Beneath int     `json:"beneath"`          // how many of them lie beneath this card

	Bones  []Bone  `json:"bones,omitempty"` // what stands between sun and card
	Wets   []Spot  `json:"wets,omitempty"`  // wet spots of ragged outline
	Sleeve *Sleeve `json:"sleeve,omitempty"`

	Through    float64 `json:"through"`     // share of the back's darkness that shows through dry paper
	WetThrough float64 `json:"wet_through"` // and more of it through wet paper
	BackTurned bool    `json:"back_turned"` // the back stands upside down behind the front
	BackOther  bool    `json:"back_other"`  // and is another card's
	Blank      bool    `json:"blank"`       // the seen side is empty: there is nothing to find

	Smear      Smear   `json:"smear"`
	GroundGain float64 `json:"ground_gain"` // 0 leaves the ground as it is
	Chromatic  float64 `json:"chromatic"`   // share by which red is larger than green and green than blue
	Look       float64 `json:"look"`        // local tone mapping and wide sharpening, 0 to 1
	Messenger  int     `json:"messenger"`   // long side in px after a messenger; 0 for none

	reach [][2]float64 // on the table, from the card's middle: what shall be in the picture, too
}

// Trim is the paper that is cut off along each edge, mm in the edge's middle, and how much askew.
type Trim struct {
	Left, Top, Right, Bottom float64
	Slope                    float64 // mm per mm
}

// Hole is a punched hole.
type Hole struct{ X, Y, R float64 }

// Print is how the printer placed and wore the print.
type Print struct {
	Scale  float64 `json:"scale"` // of the print on the paper; 0 means 1
	DX, DY float64 // mm, of the print's middle from the paper's
	Pale   float64 `json:"pale"`   // share of darkness that is missing
	Copied int     `json:"copied"` // photocopies between the printer and this paper
}

// Lying is another card on the same table: its middle from the middle of this one, its turn against it.
type Lying struct {
	X       float64 `json:"x"`
	Y       float64 `json:"y"`
	TurnDeg float64 `json:"turn_deg"`
	Bend    Bend    `json:"bend"`
	W       float64 `json:"w"` // paper size
	H       float64 `json:"h"`
}

// Bone is a rounded rod in space, from A to B, R thick: fingers, an arm, the edge of a phone.
type Bone struct {
	A, B [3]float64 // on the table from the middle of the card, and height
	R    float64
}

// Sleeve is a plastic sleeve: a slightly wavy mirror with drops on it.
type Sleeve struct {
	Amount float64    `json:"amount"` // light of the reflection's middle, share of the paper's
	WaveMM float64    `json:"wave_mm"`
	Slope  float64    `json:"slope"`
	Window [3]float64 `json:"window"` // direction of the bright part of the sky that is mirrored
	Width  float64    `json:"width"`  // of it, radians
	Drops  []Hole     `json:"drops,omitempty"`
}

// Smear is pencil carried on by a glove.
type Smear struct {
	Amount float64 `json:"amount"`
	DragMM float64 `json:"drag_mm"`
	DirDeg float64 `json:"dir_deg"`
	Lanes  []Spot  `json:"lanes,omitempty"` // where the glove went
}

// Sight says whether a point of the sheet can be seen in a photo, and why not.
type Sight string

// The sights.
const (
	InSight      Sight = "in sight"
	OutOfPicture Sight = "outside the picture"
	CutAway      Sight = "cut away" // not on the paper any more, or never printed there
	CoveredUp    Sight = "covered"
)

// Sight returns whether p can be seen in the photo.
func (v *View) Sight(p sheetmodel.SheetPoint) Sight {
	s := &v.shot
	x, y := v.onPaper(p)
	if s.Staging != nil && s.inside(x, y) < 0 {
		return CutAway
	}
	if !s.InFrame(v.PhotoFromSheet(p)) {
		return OutOfPicture
	}
	for _, c := range s.Covers {
		if c.distance(x, y) < 0 {
			return CoveredUp
		}
	}
	if v.behind != nil {
		at, _ := v.surf.mesh.between(x-v.halfW, y-v.halfH)
		hidden := v.behind()
		if hidden[at[0]] || hidden[at[1]] || hidden[at[2]] || hidden[at[3]] {
			return CoveredUp // by the sheet's own folds
		}
	}
	for _, o := range v.over {
		if o.shadowless(x-v.halfW, y-v.halfH) {
			return CoveredUp
		}
	}
	return InSight
}

// allInSight reports whether all of r can be seen, by points 1.5 mm apart.
func (v *View) allInSight(r sheetmodel.Rect) bool {
	nx, ny := int(math.Ceil(float64(r.W)/1.5)), int(math.Ceil(float64(r.H)/1.5))
	for j := range ny + 1 {
		for i := range nx + 1 {
			p := sheetmodel.SheetPoint{X: r.X + r.W*sheetmodel.MM(i)/sheetmodel.MM(max(nx, 1)), Y: r.Y + r.H*sheetmodel.MM(j)/sheetmodel.MM(max(ny, 1))}
			if v.Sight(p) != InSight {
				return false
			}
		}
	}
	return true
}

// onPaper takes a point of the print to the paper, in mm from the paper's top left corner.
func (v *View) onPaper(p sheetmodel.SheetPoint) (x, y float64) {
	x, y = float64(p.X), float64(p.Y)
	if st := v.shot.Staging; st != nil {
		k := st.Print.scale()
		x = v.halfW + st.Print.DX + k*(x-v.halfW)
		y = v.halfH + st.Print.DY + k*(y-v.halfH)
	}
	return x, y
}

// inPrint is the inverse of onPaper.
func (v *View) inPrint(x, y float64) (float64, float64) {
	if st := v.shot.Staging; st != nil {
		k := st.Print.scale()
		x = v.halfW + (x-v.halfW-st.Print.DX)/k
		y = v.halfH + (y-v.halfH-st.Print.DY)/k
	}
	return x, y
}

func (p Print) scale() float64 {
	if p.Scale == 0 {
		return 1
	}
	return p.Scale
}

// inside returns how far a point of the paper lies inside the paper that is left, mm, negative outside.
func (s *Shot) inside(x, y float64) float64 {
	w, h := float64(s.SheetW), float64(s.SheetH)
	st := s.Staging
	if st == nil {
		return min(x, w-x, y, h-y)
	}
	t := &st.Trim
	in := min(x-t.Left-t.Slope*(y-h/2), w-x-t.Right-t.Slope*(y-h/2), y-t.Top-t.Slope*(x-w/2), h-y-t.Bottom-t.Slope*(x-w/2))
	if t.Left+t.Top+t.Right+t.Bottom > 0 {
		in = min(in, x, w-x, y, h-y) // a slanted cut gives no paper back
	}
	for _, hole := range st.Holes {
		in = min(in, math.Hypot(x-hole.X, y-hole.Y)-hole.R)
	}
	return in
}
