package scantest

import (
	"fmt"
	"image"
	"math/rand/v2"

	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// Sample is one photo of one filled side, and the truth about it.
type Sample struct {
	Level    string
	Seed     uint64
	Layout   *sheetmodel.Layout
	Side     *sheetmodel.Side
	Identity sheetmodel.Identity
	JPEG     []byte
	View     *camera.View
	Others   []*Sample // further cards of a staged photo, without JPEG
	Tags     TagFamily // what is printed in place of the marks, empty: the marks
}

// Kind says what to photograph; the zero value draws everything at random.
type Kind struct {
	Level       string
	Layouts     []*sheetmodel.Layout // nil: Layouts()
	Frame       image.Point          // see camera.Scene
	Orientation int                  // EXIF, see camera.View.Take
	Side        sheetmodel.SideName  // empty: either
	Change      func(*camera.Shot)   // nil: none; may set one fault, or none
	Doses       []camera.Dose        // fault families laid on a photo of the level without its own faults
	PxPerMM     float64              // 0: the level's; of staged photos only
	Tags        TagFamily            // empty: the layout's own marks
	Kept        string               // folder of photos taken before, "": none; see kept
}

// Layouts returns the layouts that samples are drawn from: the built-in ones and two of a race.
func Layouts() ([]*sheetmodel.Layout, error) {
	all := sheetmodel.BuiltinLayouts()
	for _, second := range []bool{false, true} {
		l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{
			Groups: []string{"U12 f", "U12 m", "U14 f", "U14 m"}, Courses: []string{"red", "blue"}, SecondWriting: second,
		})
		if err != nil {
			return nil, fmt.Errorf("layout for samples: %w", err)
		}
		all = append(all, l)
	}
	return all, nil
}

// Make draws and photographs one sample; 0.3 to 2 s.
func Make(kind Kind, seed uint64) (*Sample, error) {
	rng := rand.New(rand.NewPCG(seed, 0x5ca9))
	layouts := kind.Layouts
	if layouts == nil {
		var err error
		if layouts, err = Layouts(); err != nil {
			return nil, err
		}
	}
	level, ok := camera.Levels()[kind.Level]
	if !ok {
		return nil, fmt.Errorf("level %q is not in the levels file", kind.Level)
	}
	s := &Sample{Level: kind.Level, Seed: seed, Layout: layouts[rng.IntN(len(layouts))], Tags: kind.Tags}
	name := []sheetmodel.SideName{sheetmodel.Front, sheetmodel.Back}[rng.IntN(2)]
	if kind.Side != "" {
		name = kind.Side
	}
	s.Side = s.Layout.Side(name)
	s.Identity = sheetmodel.Identity{
		Run: 1 + rng.IntN(2), Course: 1 + rng.IntN(3), Card: 1 + rng.IntN(60), Side: name,
		Race: sheetmodel.RaceHash(fmt.Sprintf("race %d", rng.IntN(100))), Layout: s.Layout.HashStart(),
	}
	if s.Layout.Spare {
		s.Identity.Run, s.Identity.Course = 0, 0
	}
	if len(kind.Doses) > 0 {
		return s, s.stage(kind, level, layouts, rng)
	}
	// The draw of the shot has a generator of its own: other writing must not change the photo's faults.
	shot := level.Draw(sceneOf(s.Side, kind.Frame), rand.New(rand.NewPCG(seed, 0xca3e)))
	if kind.Change != nil {
		kind.Change(&shot)
	}
	s.View = shot.View()
	if s.JPEG = kind.kept(seed); s.JPEG != nil {
		return s, nil
	}
	sheet, err := s.write(level, min(max(1.4*shot.PxPerMM, 12), 20), rng)
	if err != nil {
		return nil, err
	}
	photo, err := s.View.Take(sheet, kind.Orientation)
	if err != nil {
		return nil, fmt.Errorf("sample %s %d: %w", kind.Level, seed, err)
	}
	s.JPEG, s.View = photo.JPEG, photo.View
	return s, kind.keep(seed, s.JPEG)
}

// sceneOf tells the camera where marks lie and what must stay in the picture.
func sceneOf(side *sheetmodel.Side, frame image.Point) camera.Scene {
	scene := camera.Scene{W: side.W, H: side.H, Frame: frame, Rows: rowsOf(side)}
	for _, m := range side.Marks {
		scene.Marks = append(scene.Marks, m.Rect)
	}
	return scene
}

// rowsOf returns where a side's rows lie, or its panels if it has none.
func rowsOf(side *sheetmodel.Side) []sheetmodel.Rect {
	var out []sheetmodel.Rect
	for row := 1; row <= side.Rows(); row++ {
		fields := side.RowFields(row)
		all := fields[0].Rect
		for _, f := range fields[1:] {
			all = all.Union(f.Rect)
		}
		out = append(out, all)
	}
	if side.Rows() == 0 {
		for _, f := range side.Fields {
			if f.Panel != "" {
				out = append(out, f.Rect)
			}
		}
	}
	return out
}

// write prints the side and fills it: scan sees handwriting as clutter, whatever it says.
func (s *Sample) write(level camera.Level, pxPerMM float64, rng *rand.Rand) (camera.Sheet, error) {
	paper, ink, err := s.layers(level, pxPerMM, rng)
	if err != nil {
		return camera.Sheet{}, err
	}
	ink.Over(paper)
	return camera.Sheet{Image: paper, PxPerMM: pxPerMM}, nil
}

// layers returns the side's print, and what is written on it.
func (s *Sample) layers(level camera.Level, pxPerMM float64, rng *rand.Rand) (*image.Gray, *hand.Ink, error) {
	paper, err := print.Raster(s.Side, print.CardPrint{
		Race: "Dachs Cup, Oberhang", Date: "14 February 2027", Discipline: "giant slalom", Course: "red", Identity: s.Identity,
	}, pxPerMM)
	if err != nil {
		return nil, nil, err
	}
	if s.Tags != "" {
		s.Tags.print(paper, s.Side, pxPerMM)
	}
	plan := fill.Plan{Header: map[string]string{
		"header.judge": "Ida Moen", "header.phone": "555 0142", "header.gate-from": "11", "header.gate-to": "18", "foot.row-count": "4",
	}, GatesSketched: rng.IntN(2) == 0}
	rows := rng.IntN(11)
	for row := 1; row <= rows; row++ {
		plan.Rows = append(plan.Rows, fill.Row{
			Number: row, Bib: fmt.Sprint(1 + rng.IntN(120)), Gate: fmt.Sprint(11 + rng.IntN(8)), Code: "F",
			Panel: string(rune('B' + rng.IntN(6))),
		})
	}
	for _, letter := range []string{"B", "C", "D"} {
		plan.Panels = append(plan.Panels, fill.Panel{Letter: letter, Bibs: []string{fmt.Sprint(1 + rng.IntN(120))}, Path: true})
	}
	ink := hand.NewInk(sheetmodel.Rect{W: s.Side.W, H: s.Side.H}, pxPerMM)
	fill.Side(ink, s.Side, plan, fill.Writer{Pen: hand.DrawWriter(level.Pens(), rng), Digits: scribble{}}, rng)
	return paper, ink, nil
}

// scribble writes letters where digits are meant.
type scribble struct{}

// Digit returns a letter that stands for d.
func (scribble) Digit(d int, rng *rand.Rand) (hand.Strokes, int) {
	s, _ := hand.Letter(rune('A'+d), rng)
	return s, -1
}
