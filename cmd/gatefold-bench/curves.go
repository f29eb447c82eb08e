package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/color"
	_ "image/png" // crops
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/otiai10/gosseract/v2"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"

	"gatefold/cmd/internal/hands"
	"gatefold/ocr/crop"
	"gatefold/ocr/joint"
	"gatefold/ocr/net"
	"gatefold/ocr/train/cells"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

// judged is one bib as one reader sees it: how sure it is, on a scale of its own, and whether it is right.
type judged struct {
	sure  float64
	right bool
}

// voice is one way of reading the same bibs.
type voice struct {
	name   string
	levels map[string][]judged
}

// drawCurves draws how risk falls as more is asked, with and without paper and camera, beside other readers of
// the same crops, and how often a certainty is wrong; from what eye kept below -work, into -out.
func drawCurves(ctx context.Context, s settings) error {
	dir := filepath.Join(s.work, "eye")
	data, err := os.ReadFile(filepath.Join(dir, "sealed.json"))
	if err != nil {
		return err
	}
	var sealed eyeFile
	if err := json.Unmarshal(data, &sealed); err != nil {
		return fmt.Errorf("sealed.json: %w", err)
	}
	voices, err := voicesOf(ctx, dir, sealed.Items)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(s.out, 0o755); err != nil {
		return err
	}
	if err := coveragePlot(filepath.Join(s.out, "risk-coverage.svg"), voices); err != nil {
		return err
	}
	if err := reliabilityPlot(filepath.Join(s.out, "reliability.svg"), sealed.Items); err != nil {
		return err
	}
	if err := wrongAndClear(dir, filepath.Join(s.out, "wrong-and-clear.png"), sealed.Items); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(s.out, "curves.md"), []byte(curvesText(&sealed, voices)), 0o644)
}

// voicesOf lets every reader read every bib.
func voicesOf(ctx context.Context, dir string, items []eyeItem) (voices []*voice, err error) {
	folder, err := hand.FindMNIST(ctx)
	if err != nil {
		return nil, err
	}
	m, err := hand.ReadMNIST(folder)
	if err != nil {
		return nil, err
	}
	nets, err := net.Open()
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, nets.Close()) }()
	tess := gosseract.NewClient()
	defer func() { err = errors.Join(err, tess.Close()) }()
	if err := errors.Join(tess.SetWhitelist("0123456789"), tess.SetPageSegMode(gosseract.PSM_SINGLE_LINE)); err != nil {
		return nil, err
	}
	names := []string{"gatefold", "gatefold's nets, the same glyphs without paper and camera", "one net, box by box", "two nets, box by box", "Tesseract"}
	for _, n := range names {
		voices = append(voices, &voice{n, map[string][]judged{}})
	}
	for i, it := range items {
		add := func(v int, text string, sure float64) {
			voices[v].levels[it.Level] = append(voices[v].levels[it.Level], judged{sure, text == it.Truth})
		}
		add(0, it.Machine, it.Score)
		clean, err := cleanBelief(nets, m, it)
		if err != nil {
			return nil, err
		}
		text, _ := clean.Top()
		add(1, text, joint.ScoreOf(clean))
		a, b, err := plainBoxes(nets, filepath.Join(dir, it.Crop), it)
		if err != nil {
			return nil, err
		}
		text, sure := likeliest(a)
		add(2, text, sure)
		both := make([]net.Probs, len(a))
		for k := range both {
			both[k] = net.Mean(a[k], b[k])
		}
		text, sure = likeliest(both)
		add(3, text, sure)
		if text, sure, err = tesseract(tess, filepath.Join(dir, it.Crop)); err != nil {
			return nil, err
		}
		add(4, text, sure)
		if (i+1)%500 == 0 {
			fmt.Printf("%d of %d bibs by all readers\n", i+1, len(items))
		}
	}
	return voices, nil
}

// cleanBelief reads the glyphs that a bib was drawn from, each as MNIST has it, as one number.
func cleanBelief(nets *net.Nets, m *hand.MNIST, it eyeItem) (joint.Belief, error) {
	claims := map[string]float64{"": 1}
	truth := ""
	for _, g := range it.Glyphs {
		glyph := hands.GlyphOf(m, g)
		sample := cells.Original(glyph)
		truth += fmt.Sprint(glyph.Label)
		a, b, err := nets.Classify(&sample.Crop)
		if err != nil {
			return joint.Belief{}, err
		}
		next := map[string]float64{}
		for text, p := range claims {
			mean := net.Mean(a, b)
			for d, q := range mean[:10] {
				if c := p * float64(q); c > 1e-12 {
					next[text+fmt.Sprint(d)] = c
				}
			}
		}
		claims = next
	}
	if truth != it.Truth {
		return joint.Belief{}, fmt.Errorf("%d %s: drawn from %s, and is %s", it.Seed, it.Field, truth, it.Truth)
	}
	rest := 1.0
	var texts []sheetmodel.Rival
	for text, p := range claims {
		texts = append(texts, sheetmodel.Rival{Text: text, Prob: sheetmodel.Prob(p)})
		rest -= p
	}
	return joint.NewBelief(texts, sheetmodel.Prob(max(rest, 0))), nil
}

// plainBoxes lets both nets look at the printed boxes as they lie: no ink is followed, no trouble looked for.
func plainBoxes(nets *net.Nets, path string, it eyeItem) (a, b []net.Probs, err error) {
	img, err := readGray(path)
	if err != nil {
		return nil, nil, err
	}
	page := crop.Page{Pix: img.Pix, Stride: img.Stride, W: img.Bounds().Dx(), H: img.Bounds().Dy(), PxPerMM: it.PxPerMM}
	for k := range it.Boxes {
		w := it.Box[2] / float64(it.Boxes)
		box := sheetmodel.Rect{
			X: sheetmodel.MM((it.Box[0] + float64(k)*w + 0.5) / it.PxPerMM), Y: sheetmodel.MM((it.Box[1] + 0.5) / it.PxPerMM),
			W: sheetmodel.MM(w / it.PxPerMM), H: sheetmodel.MM(it.Box[3] / it.PxPerMM),
		}
		c := crop.Take(page, box)
		pa, pb, err := nets.Classify(&c)
		if err != nil {
			return nil, nil, err
		}
		a, b = append(a, pa), append(b, pb)
	}
	return a, b, nil
}

// likeliest strings the best class of each box together, empty ones left out; as sure as the product.
func likeliest(boxes []net.Probs) (string, float64) {
	var text strings.Builder
	sure := 1.0
	for _, p := range boxes {
		best, _ := p.Best()
		sure *= float64(p[best])
		switch best {
		case net.Empty:
		case net.Other:
			return "", 0
		default:
			fmt.Fprint(&text, best)
		}
	}
	return text.String(), sure
}

// tesseract reads a crop as one line of digits; as sure as its least sure word.
func tesseract(c *gosseract.Client, path string) (string, float64, error) {
	if err := c.SetImage(path); err != nil {
		return "", 0, err
	}
	words, err := c.GetBoundingBoxes(gosseract.RIL_WORD)
	if err != nil {
		return "", 0, err
	}
	text, sure := "", 100.0
	for _, w := range words {
		text += strings.TrimSpace(w.Word)
		sure = math.Min(sure, w.Confidence)
	}
	if text == "" {
		sure = 0
	}
	return text, sure / 100, nil
}

func readGray(path string) (*image.Gray, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	img, _, err := image.Decode(f)
	if err := errors.Join(err, f.Close()); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	gray, ok := img.(*image.Gray)
	if !ok {
		return nil, fmt.Errorf("%s: not grey", path)
	}
	return gray, nil
}

// riskAt is the share of all that is wrong and not asked when the least sure are asked, up to the share.
func riskAt(bibs []judged, share float64) float64 {
	s := slices.Clone(bibs)
	slices.SortStableFunc(s, func(a, b judged) int {
		switch {
		case a.sure < b.sure:
			return -1
		case a.sure > b.sure:
			return 1
		case a.right == b.right:
			return 0
		case a.right: // among equals the right ones are asked first: no reader gains by saying "sure" of all
			return -1
		}
		return 1
	})
	wrong := 0
	for _, b := range s[int(math.Ceil(share*float64(len(s)))):] {
		if !b.right {
			wrong++
		}
	}
	return float64(wrong) / float64(len(s))
}

const cm = 72 / 2.54 * vg.Length(1) // in points

var askedShares = []float64{0, 0.005, 0.01, 0.02, 0.03, 0.05, 0.1, 0.2}

func coveragePlot(path string, voices []*voice) error {
	p := plot.New()
	p.Title.Text = "Bibs written once: wrong and not asked, when the least sure are asked"
	p.X.Label.Text, p.Y.Label.Text = "asked", "wrong and not asked, in 10,000"
	p.Y.Scale, p.Y.Tick.Marker = plot.LogScale{}, plot.LogTicks{Prec: -1}
	p.Y.Min, p.Y.Max = 1, 10000
	p.X.Tick.Marker = plot.ConstantTicks{{Value: 0, Label: "0"}, {Value: 0.05, Label: "5 %"}, {Value: 0.1, Label: "10 %"}, {Value: 0.15, Label: "15 %"}, {Value: 0.2, Label: "20 %"}, {Value: 0.25, Label: "25 %"}, {Value: 0.3, Label: "30 %"}}
	p.Legend.Top, p.Legend.Left = true, true // on the left, names that come out wider than reckoned have room
	p.Legend.YOffs = -2.2 * cm
	for i, v := range voices {
		for _, level := range []string{camera.Ordinary, camera.Hard} {
			bibs := v.levels[level]
			if len(bibs) == 0 {
				continue
			}
			var at plotter.XYs
			for share := 0.0; share <= 0.3; share += 0.0025 {
				// A share of nought can't be drawn on this scale: the line ends there.
				if risk := riskAt(bibs, share); risk > 0 {
					at = append(at, plotter.XY{X: share, Y: 1e4 * risk})
				}
			}
			line, err := plotter.NewLine(at)
			if err != nil {
				return err
			}
			line.Width = vg.Points(1.4)
			line.Color = curveInks[i%len(curveInks)]
			if level == camera.Hard {
				line.Dashes = []vg.Length{vg.Points(5), vg.Points(3)}
			}
			p.Add(line)
			p.Legend.Add(v.name+", "+level, line)
		}
	}
	return p.Save(24*cm, 16*cm, path)
}

// curveInks can be told apart by their lightness, too.
var curveInks = []color.Color{color.Gray{0}, color.RGBA{0, 90, 160, 255}, color.RGBA{190, 90, 0, 255}, color.RGBA{0, 140, 110, 255}, color.Gray{150}}

func reliabilityPlot(path string, items []eyeItem) error {
	p := plot.New()
	p.Title.Text = "Bibs written once: what a certainty claims, and what is seen"
	p.X.Label.Text, p.Y.Label.Text = "claimed wrong", "seen wrong"
	p.X.Scale, p.Y.Scale = plot.LogScale{}, plot.LogScale{}
	p.X.Tick.Marker, p.Y.Tick.Marker = plot.LogTicks{Prec: -1}, plot.LogTicks{Prec: -1}
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 1e-4, 1, 1e-4, 1
	p.Legend.Top, p.Legend.Left = true, true
	for _, d := range []struct {
		factor float64
		name   string
	}{{1, "as claimed"}, {2, "twice"}, {0.5, "half"}} {
		line, err := plotter.NewLine(plotter.XYs{{X: 1e-4, Y: max(1e-4*d.factor, 1e-4)}, {X: min(1, 1/d.factor), Y: min(1, d.factor)}})
		if err != nil {
			return err
		}
		line.Color = color.Gray{170}
		p.Add(line)
	}
	for i, level := range []string{camera.Ordinary, camera.Hard} {
		var at plotter.XYs
		for _, b := range reliability(items, level) {
			if b.wrong > 0 {
				at = append(at, plotter.XY{X: b.claimed, Y: float64(b.wrong) / float64(b.n)})
			}
		}
		line, points, err := plotter.NewLinePoints(at)
		if err != nil {
			return err
		}
		line.Color, points.Color = curveInks[i], curveInks[i]
		if level == camera.Hard {
			line.Dashes = []vg.Length{vg.Points(5), vg.Points(3)}
		}
		p.Add(line, points)
		p.Legend.Add(level, line)
	}
	return p.Save(16*cm, 16*cm, path)
}

// decade holds the bibs whose claimed error lies in a part of the scale.
type decade struct {
	from, to, claimed float64
	n, wrong          int
}

func reliability(items []eyeItem, level string) []decade {
	var all []decade
	for e := -4.0; e < 0; e += 0.5 {
		d := decade{from: math.Pow(10, e), to: math.Pow(10, e+0.5)}
		if e == -4 {
			d.from = 0
		}
		for _, it := range items {
			if claim := 1 - it.Score; it.Level == level && it.Machine != "" && claim >= d.from && claim < d.to {
				d.n++
				d.claimed += claim
				if it.Machine != it.Truth {
					d.wrong++
				}
			}
		}
		if d.n > 0 {
			d.claimed /= float64(d.n)
			all = append(all, d)
		}
	}
	return all
}
