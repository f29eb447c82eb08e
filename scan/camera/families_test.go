package camera

import (
	"bytes"
	"image"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

func TestFamilies_File_EveryStepLiesInsideItsEdges(t *testing.T) {
	all := Families()
	require.Len(t, all, 34)
	for _, f := range all {
		for step := 1; step <= FamilySteps; step++ {
			s, err := Levels()[Hard].DrawFamilies(testScene(), []Dose{{Family: f.Name, Step: step}}, rand.New(rand.NewPCG(1, uint64(step))))
			require.NoError(t, err, f.Name)
			require.Len(t, s.Staging.Doses, 1)
			got, span := s.Staging.Doses[0].Amount, f.Step(step)
			assert.GreaterOrEqual(t, got, min(span.Min, span.Max), "%s step %d", f.Name, step)
			assert.LessOrEqual(t, got, max(span.Min, span.Max), "%s step %d", f.Name, step)
			assert.Empty(t, s.Faults, "%s: the level's own faults stay away", f.Name)
		}
		if f.Level == "none" {
			assert.Zero(t, f.Beyond, "%s: no level to leave", f.Name)
		}
	}
	assert.Len(t, FamiliesHash(), 64)
	assert.Len(t, FamiliesBut("snow", "thumb"), 32)
}

// TestFamilies_BeyondStep_IsWhereTheHardLevelEnds compares the file with levels.yaml.
func TestFamilies_BeyondStep_IsWhereTheHardLevelEnds(t *testing.T) {
	hard := Levels()[Hard]
	ends := map[string]float64{
		"white_grey": hard.WhiteGrey.Max, "blur_sigma_mm": hard.BlurSigmaMM.Max, "tilt_deg": hard.TiltDeg.Max,
		"bend_mm": hard.BendMM.Max, "lens_k1": hard.LensK1.Max, "jpeg_quality": hard.JPEGQuality.Min, "turn_deg": hard.TurnDeg.Max,
	}
	for kind, span := range hard.Fault {
		ends[string(kind)] = span.Max
	}
	for _, f := range Families() {
		if f.Level == "none" {
			continue
		}
		end, ok := ends[f.Level]
		require.True(t, ok, "%s: level value %s", f.Name, f.Level)
		for step := 1; step <= FamilySteps; step++ {
			span := f.Step(step)
			past := span.Max > end
			if span.Min > span.Max {
				past = span.Max < end
			}
			assert.Equal(t, past, f.Beyond > 0 && step >= f.Beyond, "%s step %d ends at %g, the hard level at %g", f.Name, step, span.Max, end)
		}
	}
}

func TestParseFamilies_BadFiles_AreRefused(t *testing.T) {
	for _, text := range []string{
		"format: 2", "format: [", "format: 1", "format: 1\nfamilies: [{name: rain, steps: [1, 2, 3, 4, 5, 6]}]",
		"format: 1\nfamilies: [{name: snow, steps: [1, 2]}]", "format: 1\nfamilies: [{name: snow, beyond: 6, steps: [1, 2, 3, 4, 5, 6]}]",
	} {
		_, err := parseFamilies([]byte(text))
		require.Error(t, err, text)
	}
	_, err := Levels()[Hard].DrawFamilies(testScene(), []Dose{{Family: "snow", Step: 6}}, rand.New(rand.NewPCG(1, 1)))
	require.ErrorContains(t, err, "no step 6")
	_, err = Levels()[Hard].DrawFamilies(testScene(), []Dose{{Family: "rain", Step: 1}}, rand.New(rand.NewPCG(1, 1)))
	require.ErrorContains(t, err, "rain")
}

func TestDrawDoses_AllButOne_LeavesItOutAndGoesTogether(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	seen := map[FamilyName]int{}
	for i := range 400 {
		doses := DrawDoses(FamiliesBut("stack"), 3, rng)
		require.Len(t, doses, 3)
		groups := map[string]bool{}
		for _, d := range doses {
			f, err := FamilyOf(d.Family)
			require.NoError(t, err)
			seen[d.Family]++
			assert.False(t, f.Group != "" && groups[f.Group], "%v", doses)
			groups[f.Group] = true
			assert.True(t, f.Beyond == 0 || d.Step < f.Beyond, "%v", d)
		}
		if i < 20 {
			_, err := Levels()[Hard].DrawFamilies(testScene(), doses, rng)
			require.NoError(t, err)
		}
	}
	assert.Zero(t, seen["stack"])
	assert.Zero(t, seen["one-sided"])
	assert.Len(t, seen, 32)
}

// stagedShot draws a family on an ordinary photo of 6 px/mm.
func stagedShot(t *testing.T, name FamilyName, step int, seed uint64) Shot {
	t.Helper()
	l := Levels()[Ordinary]
	l.PxPerMM = Span{Min: 6, Max: 6}
	s, err := l.DrawFamilies(testScene(), []Dose{{Family: name, Step: step}}, rand.New(rand.NewPCG(seed, 0x57a6)))
	require.NoError(t, err)
	return s
}

// takeAll photographs the shot with the same sheet on every card and behind it.
func takeAll(t *testing.T, s *Shot, sheet Sheet) *Photo {
	t.Helper()
	n, back := s.Needs()
	cards := make([]Pictures, n)
	for i := range cards {
		cards[i].Seen = sheet
	}
	if back {
		cards[0].Behind = &sheet
	}
	p, err := s.View().TakeCards(cards, 0)
	require.NoError(t, err)
	return p
}

// TestTakeCards_Dots_LieWhereTheTruthSays looks for printed dots on every card of photos of each family
// that moves or bends paper, picture or print.
func TestTakeCards_Dots_LieWhereTheTruthSays(t *testing.T) {
	sheet, dots := dotSheet(14)
	for _, name := range []FamilyName{
		"perspective", "turn", "several", "stack", "second-card", "corner-outside", "halves", "quarters", "curl", "crumple", "wet",
		"lens", "messenger", "print-scale", "cut", "hole", "photocopy",
	} {
		var errs []float64
		for _, step := range []int{4} {
			s := stagedShot(t, name, step, uint64(step))
			p := takeAll(t, &s, sheet)
			grey := func(x, y int) float64 {
				if !(image.Pt(x, y).In(p.Image.Rect)) {
					return 255
				}
				return float64(p.Image.Pix[p.Image.PixOffset(x, y)+1])
			}
			for _, v := range p.View.Cards() {
				shot := v.Shot()
				for _, d := range dots {
					if !v.RowInView(sheetmodel.Rect{X: d.X, Y: d.Y}.Grow(3)) {
						continue
					}
					at := v.PhotoFromSheet(d)
					// Blur of one mm would reach the next dot's surroundings: none of these families has it.
					x, y := darkCentre(grey, at, 1.4*shot.PxPerMM)
					errs = append(errs, math.Hypot(x-at.X, y-at.Y)/shot.PxPerMM)
				}
			}
		}
		sum, worst := 0.0, 0.0
		for _, e := range errs {
			sum, worst = sum+e, math.Max(worst, e)
		}
		t.Logf("%s: %d dots, mean %.3f mm, worst %.3f mm", name, len(errs), sum/float64(len(errs)), worst)
		require.Greater(t, len(errs), 30, name)
		assert.Less(t, sum/float64(len(errs)), 0.06, name)
		assert.Less(t, worst, 0.4, name)
	}
}

func TestSheetFromPhoto_StagedShots_ComeBack(t *testing.T) {
	for _, name := range []FamilyName{"quarters", "crumple", "curl", "print-scale", "perspective", "messenger"} {
		s := stagedShot(t, name, 4, 3)
		v := s.View()
		rng := rand.New(rand.NewPCG(1, 2))
		for range 200 {
			p := sheetmodel.SheetPoint{X: testW * sheetmodel.MM(rng.Float64()), Y: testH * sheetmodel.MM(rng.Float64())}
			q, ok := v.SheetFromPhoto(v.PhotoFromSheet(p))
			require.True(t, ok)
			assert.InDelta(t, 0, math.Hypot(float64(q.X-p.X), float64(q.Y-p.Y)), 0.02, name)
		}
	}
}

// TestSight_BehindItsOwnFolds_IsCovered compares Sight with which point of the sheet is really met first.
func TestSight_BehindItsOwnFolds_IsCovered(t *testing.T) {
	hidden, missed := 0, 0
	for seed := range uint64(12) {
		s := stagedShot(t, "crumple", 5, seed)
		s.TiltDeg = 58 // steeper than any level: to have something hidden
		s.place(testScene(), 0.05, 0.8, [2]float64{0.5, 0.5})
		v := s.View()
		for y := sheetmodel.MM(3); y < testH-2; y += 5 {
			for x := sheetmodel.MM(3); x < testW-2; x += 5 {
				p := sheetmodel.SheetPoint{X: x, Y: y}
				q, _ := v.SheetFromPhoto(v.PhotoFromSheet(p))
				// Two points of the sheet are seen at one place: the one farther from the camera is hidden.
				a, b := v.PhotoFromSheet(p), v.PhotoFromSheet(q)
				if math.Hypot(float64(q.X-p.X), float64(q.Y-p.Y)) < 3 || v.away(p) <= v.away(q) || math.Hypot(a.X-b.X, a.Y-b.Y) > 0.1 {
					continue
				}
				if s.inside(float64(q.X), float64(q.Y)) < 0 {
					continue // no paper there
				}
				hidden++
				missed += btoi(v.Sight(p) != CoveredUp)
			}
		}
	}
	t.Logf("%d points hidden, %d of them missed", hidden, missed)
	assert.Greater(t, hidden, 20)
	assert.LessOrEqual(t, missed, hidden/20, "only where a fold just touches the line of sight")
}

// away is the distance from the camera.
func (v *View) away(p sheetmodel.SheetPoint) float64 {
	x, y, h := v.surf.at(float64(p.X)-v.halfW, float64(p.Y)-v.halfH)
	r, c := &v.rot, &v.shot.CameraMM
	d := [3]float64{r[0]*x + r[1]*y - r[2]*h + c[0], r[3]*x + r[4]*y - r[5]*h + c[1], r[6]*x + r[7]*y - r[8]*h + c[2]}
	return math.Sqrt(dot(d, d))
}

// TestMesh_Crumpled_KeepsLengths measures what no paper does: stretch.
func TestMesh_Crumpled_KeepsLengths(t *testing.T) {
	for _, name := range []FamilyName{"halves", "quarters", "crumple", "wet"} {
		s := stagedShot(t, name, 5, 4)
		m := s.surface().mesh
		sum, n, worst := 0.0, 0.0, 0.0
		for j := range m.ny {
			for i := range m.nx - 1 {
				x, y := m.x0+float64(i)*meshStep, m.y0+float64(j)*meshStep
				if math.Abs(x) > float64(testW)/2-2 || math.Abs(y) > float64(testH)/2-2 {
					continue
				}
				d := sub(m.at3[j*m.nx+i+1], m.at3[j*m.nx+i])
				e := math.Abs(math.Sqrt(dot(d, d))/meshStep - 1)
				sum, n, worst = sum+e, n+1, math.Max(worst, e)
			}
		}
		t.Logf("%s: mean stretch %.4f, worst %.4f", name, sum/n, worst)
		most := 0.004
		if name == "crumple" {
			most = 0.01 // sharp facets can't be made of paper without some stretch
		}
		assert.Less(t, sum/n, most, name)
	}
}

func TestTakeCards_SameSeed_SameBytesOnAnyNumberOfCores(t *testing.T) {
	sheet := testSheet(8, nil, nil, nil)
	for _, name := range []FamilyName{"stack", "sleeve", "phone-look"} {
		a, b := stagedShot(t, name, 5, 9), stagedShot(t, name, 5, 9)
		assert.Equal(t, a, b, name)
		p := takeAll(t, &a, sheet)
		before := runtime.GOMAXPROCS(1)
		q := takeAll(t, &b, sheet)
		runtime.GOMAXPROCS(before)
		assert.True(t, bytes.Equal(p.JPEG, q.JPEG), name)
	}
}

// TestSight_CoveredPoints_AreThoseThatLookDifferent takes each photo with and without what covers the card.
func TestSight_CoveredPoints_AreThoseThatLookDifferent(t *testing.T) {
	white := testSheet(8, nil, nil, nil)
	for i := range white.Image.Pix {
		white.Image.Pix[i] = 255
	}
	for _, name := range []FamilyName{"thumb", "clip", "hole", "cut"} {
		s := stagedShot(t, name, 5, 2)
		s.NoiseShare, s.Sharpen, s.Ground, s.BlurSigmaMM = 0, 0, Glove, 0.03
		s.Staging.Bones = nil // shadows change more than what is covered
		bare := s
		stage := *s.Staging
		stage.Holes, stage.Trim = nil, Trim{}
		bare.Covers, bare.Staging = nil, &stage
		v := s.View()
		with, without := takeAll(t, &s, white), takeAll(t, &bare, white)
		counts := map[Sight]int{}
		wrong := 0
		for y := sheetmodel.MM(1); y < testH; y += 2 {
			for x := sheetmodel.MM(1); x < testW; x += 2 {
				p := sheetmodel.SheetPoint{X: x, Y: y}
				at := v.PhotoFromSheet(p)
				px, py := int(at.X+0.5), int(at.Y+0.5)
				if !(image.Pt(px, py).In(with.Image.Rect)) {
					continue
				}
				i := with.Image.PixOffset(px, py)
				differs := math.Abs(float64(with.Image.Pix[i+1])-float64(without.Image.Pix[i+1])) > 35
				sight := v.Sight(p)
				counts[sight]++
				if differs != (sight == CoveredUp || sight == CutAway) {
					wrong++
				}
			}
		}
		t.Logf("%s: %v, %d otherwise than the truth says", name, counts, wrong)
		assert.Positive(t, counts[CoveredUp]+counts[CutAway], name)
		assert.LessOrEqual(t, wrong, 12, "%s: only at outlines", name)
	}
}

// TestLight_SunOnTheOtherSide_TurnsTheShading photographs a white crumpled sheet twice.
func TestLight_SunOnTheOtherSide_TurnsTheShading(t *testing.T) {
	white := testSheet(6, nil, nil, nil)
	for i := range white.Image.Pix {
		white.Image.Pix[i] = 255
	}
	s := stagedShot(t, "crumple", 4, 6)
	s.NoiseShare, s.Light.Elevation, s.Light.Sky, s.Light.Fall = 0, 40, 0.3, 0
	other := s
	other.Light.Azimuth += 180
	a, b := takeAll(t, &s, white), takeAll(t, &other, white)
	v := s.View()
	var xs, ys []float64
	for y := sheetmodel.MM(10); y < testH-10; y += 3 {
		for x := sheetmodel.MM(10); x < testW-10; x += 3 {
			at := v.PhotoFromSheet(sheetmodel.SheetPoint{X: x, Y: y})
			i := a.Image.PixOffset(int(at.X), int(at.Y))
			xs, ys = append(xs, float64(a.Image.Pix[i+1])), append(ys, float64(b.Image.Pix[i+1]))
		}
	}
	assert.Less(t, correlation(xs, ys), -0.5)
}

func correlation(a, b []float64) float64 {
	var ma, mb, sab, saa, sbb float64
	for i := range a {
		ma, mb = ma+a[i]/float64(len(a)), mb+b[i]/float64(len(b))
	}
	for i := range a {
		sab += (a[i] - ma) * (b[i] - mb)
		saa += (a[i] - ma) * (a[i] - ma)
		sbb += (b[i] - mb) * (b[i] - mb)
	}
	return sab / math.Sqrt(saa*sbb)
}

// TestLight_Ball_CastsItsShadowAwayFromTheSun checks place and softness by geometry: 50 mm up under a sun
// at 45 degrees the shadow lies 50 mm aside, its edge as wide as the sun's disc of 0.53 degrees makes it.
func TestLight_Ball_CastsItsShadowAwayFromTheSun(t *testing.T) {
	s := Flat(testW, testH, 6)
	s.Staging = &Staging{Bones: []Bone{{A: [3]float64{0, 0, 50}, B: [3]float64{0, 0, 50}, R: 6}}}
	s.Light = Light{Sky: 0.4, Elevation: 45, Azimuth: 0}
	s.NoiseShare, s.Sharpen = 0, 0
	white := testSheet(6, nil, nil, nil)
	for i := range white.Image.Pix {
		white.Image.Pix[i] = 255
	}
	p := takeAll(t, &s, white)
	v := s.View()
	grey := func(x, y sheetmodel.MM) float64 {
		at := v.PhotoFromSheet(sheetmodel.SheetPoint{X: testW/2 + x, Y: testH/2 + y})
		return float64(p.Image.Pix[p.Image.PixOffset(int(at.X+0.5), int(at.Y+0.5))+1])
	}
	lit := grey(30, 0)
	assert.InDelta(t, lit*math.Pow(0.4, 1/gamma), grey(-50, 0), 0.06*lit, "the sky's share is left")
	assert.InDelta(t, lit, grey(0, 0), 3, "beneath the ball the sun shines")
	assert.InDelta(t, lit, grey(-50, 7.5), 3, "beside the shadow")
	// Along the sun the round shadow is drawn out by 1 / sin 45°.
	assert.Less(t, grey(-50+7.6, 0), 0.8*lit)
	assert.InDelta(t, lit, grey(-50+9.6, 0), 3)
	soft := 0.0
	for y := sheetmodel.MM(4); y < 8; y += 0.05 {
		if g := grey(-50, y); g > grey(-50, 0)+0.1*(lit-grey(-50, 0)) && g < lit-0.1*(lit-grey(-50, 0)) {
			soft += 0.05
		}
	}
	assert.InDelta(t, 0.75*0.0093*50*math.Sqrt2, soft, 0.35, "mm of half shadow")
}

func TestTakeCards_Messenger_LeavesALongSideOf1280(t *testing.T) {
	s := stagedShot(t, "messenger", 3, 1)
	p := takeAll(t, &s, testSheet(8, nil, nil, nil))
	assert.Equal(t, 1280, max(p.Image.Rect.Dx(), p.Image.Rect.Dy()))
	shot := p.View.Shot()
	assert.Equal(t, p.Image.Rect.Dx(), shot.W)
	assert.InEpsilon(t, shot.PxPerMM, p.View.pxPerMM(), 0.01)
}

func TestTakeCards_WrongNumberOfPictures_IsAnError(t *testing.T) {
	s := stagedShot(t, "several", 3, 1)
	_, err := s.View().TakeCards([]Pictures{{Seen: testSheet(6, nil, nil, nil)}}, 0)
	require.ErrorContains(t, err, "pictures given")
	_, err = s.View().TakePatch(testSheet(6, nil, nil, nil), testScene().Rows[0])
	require.ErrorContains(t, err, "staged")
}

func BenchmarkTakeCards8PxPerMM(b *testing.B) {
	sheet := testSheet(12, nil, nil, nil)
	l := Levels()[Ordinary]
	l.PxPerMM = Span{Min: 8, Max: 8}
	s, err := l.DrawFamilies(testScene(), []Dose{{Family: "crumple", Step: 4}}, rand.New(rand.NewPCG(2, 1)))
	require.NoError(b, err)
	b.Logf("%d x %d px", s.W, s.H)
	for range b.N {
		_, err := s.View().TakeCards([]Pictures{{Seen: sheet}}, 0)
		require.NoError(b, err)
	}
}
