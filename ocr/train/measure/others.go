package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"

	"gatefold/ocr/net"
	"gatefold/ocr/train/cells"
	"gatefold/scan/camera/hand"
)

// penned is one digit of uji-digits, drawn like MNIST's: 20 px high or wide, about its centre of mass.
type penned struct {
	writer string
	glyph  hand.Glyph
}

// readUJI draws the pen strokes of uji-digits. Each writer's first and second writing of a digit follow one another.
func readUJI(folder string) ([]penned, error) {
	text, err := hand.ReadGzip(filepath.Join(folder, "uji-digits", "uji-digits.jsonl.gz"))
	if err != nil {
		return nil, err
	}
	type line struct {
		Writer  string      `json:"w"`
		Class   string      `json:"c"`
		Repeat  int         `json:"n"`
		Strokes [][]float64 `json:"s"`
	}
	first := map[string]*line{}
	var out []penned
	lines := bufio.NewScanner(bytes.NewReader(text))
	lines.Buffer(nil, 1<<20)
	for lines.Scan() {
		l := &line{}
		if err := json.Unmarshal(lines.Bytes(), l); err != nil {
			return nil, fmt.Errorf("uji-digits: %w", err)
		}
		key := l.Writer + l.Class
		if first[key] == nil {
			first[key] = l
			continue
		}
		for _, l := range []*line{first[key], l} {
			out = append(out, penned{l.Writer, hand.Glyph{Pix: pen(l.Strokes), Label: l.Class[0] - '0'}})
		}
	}
	return out, lines.Err()
}

// pen draws strokes (flat lists of x and y, y downwards) with a round pen into 28 × 28, as MNIST has its digits.
func pen(strokes [][]float64) (pix [28 * 28]uint8) {
	const box, width = 20 - nib, nib
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, s := range strokes {
		for i := 0; i+1 < len(s); i += 2 {
			x0, x1 = min(x0, s[i]), max(x1, s[i])
			y0, y1 = min(y0, s[i+1]), max(y1, s[i+1])
		}
	}
	scale := box / max(x1-x0, y1-y0, 1)
	draw := func(dx, dy float64) (mx, my, sum float64) {
		for y := range 28 {
			for x := range 28 {
				near := math.Inf(1)
				for _, s := range strokes {
					for i := 0; i+1 < len(s); i += 2 {
						j := max(i-2, 0)
						near = min(near, distance(float64(x), float64(y),
							(s[j]-x0)*scale+dx, (s[j+1]-y0)*scale+dy, (s[i]-x0)*scale+dx, (s[i+1]-y0)*scale+dy))
					}
				}
				ink := min(max(width/2-near+0.5, 0), 1)
				pix[y*28+x] = uint8(255*ink + 0.5)
				mx, my, sum = mx+ink*float64(x), my+ink*float64(y), sum+ink
			}
		}
		return mx / sum, my / sum, sum
	}
	mx, my, _ := draw(4, 4)
	draw(4+13.5-mx, 4+13.5-my)
	return pix
}

// nib is a stroke's width in px of 28: MNIST's are two to three wide.
const nib = 2.4

// distance returns how far a point is from a stretch of line.
func distance(x, y, ax, ay, bx, by float64) float64 {
	dx, dy := bx-ax, by-ay
	t := 0.0
	if n := dx*dx + dy*dy; n > 0 {
		t = min(max(((x-ax)*dx+(y-ay)*dy)/n, 0), 1)
	}
	return math.Hypot(x-ax-t*dx, y-ay-t*dy)
}

// readOptdigits reads optdigits: 32 × 32, each stretched to fill its square. They are laid 20 px high and 14 wide, a usual
// shape of digits, a 1 as wide as an 8.
func readOptdigits(folder string) ([]hand.Glyph, error) {
	const side, headPix, headLabels = 32, 16, 8
	pix, err := hand.ReadGzip(filepath.Join(folder, "optdigits", "optdigits-tra-images-idx3-ubyte.gz"))
	if err != nil {
		return nil, err
	}
	labels, err := hand.ReadGzip(filepath.Join(folder, "optdigits", "optdigits-tra-labels-idx1-ubyte.gz"))
	if err != nil {
		return nil, err
	}
	var out []hand.Glyph
	for n, label := range labels[headLabels:] {
		g := hand.Glyph{Label: label - '0'}
		from := pix[headPix+n*side*side:]
		for y := range 20 {
			for x := range 14 {
				// The mean over what the px covers.
				var sum, all float64
				for v := range side {
					for u := range side {
						w := overlap(float64(v), float64(v+1), float64(y)*side/20, float64(y+1)*side/20) *
							overlap(float64(u), float64(u+1), float64(x)*side/14, float64(x+1)*side/14)
						sum, all = sum+w*float64(from[v*side+u]), all+w
					}
				}
				g.Pix[(y+4)*28+x+7] = uint8(sum/all + 0.5)
			}
		}
		out = append(out, g)
	}
	return out, nil
}

func overlap(a0, a1, b0, b1 float64) float64 { return max(min(a1, b1)-max(a0, b0), 0) }

// others measures on digits from other places, pens and schools than the nets have seen.
func others(nets *net.Nets, data string) error {
	uji, err := readUJI(data)
	if err != nil {
		return err
	}
	glyphs := make([]hand.Glyph, len(uji))
	for i := range uji {
		glyphs[i] = uji[i].glyph
	}
	pairs, err := four(nets, "uji-digits", glyphs)
	if err != nil {
		return err
	}
	opt, err := readOptdigits(data)
	if err != nil {
		return err
	}
	if _, err := four(nets, "optdigits", opt); err != nil {
		return err
	}
	fmt.Printf("\nTwo writings of one digit by one hand, read together:\n\n%s\n", head)
	for _, p := range pairs {
		p.print(p.name)
	}
	return nil
}

type pairTally struct {
	tally
	name string
}

// four reads glyphs as they are, redrawn, on ordinary and on hard photos; and together each two that follow one another.
func four(nets *net.Nets, name string, glyphs []hand.Glyph) ([]pairTally, error) {
	all := make([]int, len(glyphs))
	for i := range all {
		all[i] = i
	}
	src := cells.NewSource(glyphs, all, nil)
	const seed = 97
	var pairs []pairTally
	for _, set := range []struct {
		name string
		draw func(i int) cells.Sample
	}{
		{"original", func(i int) cells.Sample { return cells.Original(&glyphs[i]) }},
		{"redrawn", func(i int) cells.Sample { return src.Redrawn(i, rand.New(rand.NewPCG(seed, uint64(i)))) }},
		{"ordinary", func(i int) cells.Sample { return src.Digit(i, cells.Ordinary, rand.New(rand.NewPCG(seed, uint64(i)))) }},
		{"hard", func(i int) cells.Sample { return src.Digit(i, cells.Hard, rand.New(rand.NewPCG(seed, uint64(i)))) }},
	} {
		var one tally
		two := pairTally{name: name + ", " + set.name}
		var before net.Probs
		for i := range glyphs {
			s := set.draw(i)
			mean, err := one.read(nets, s.Label, &s.Crop)
			if err != nil {
				return nil, err
			}
			if i%2 == 1 {
				two.together(before, mean, s.Label)
			}
			before = mean
		}
		one.print(two.name)
		pairs = append(pairs, two)
	}
	return pairs, nil
}

// together counts what two writings say as one: the product of what each says, digits alone.
func (t *tally) together(a, b net.Probs, label uint8) {
	var sum float32
	var p net.Probs
	for c := range net.Empty {
		p[c] = a[c] * b[c]
		sum += p[c]
	}
	first, _ := p.Best()
	wrong := first != int(label)
	t.n++
	if wrong {
		t.both++
		t.digits++
	}
	t.claims = append(t.claims, claim{prob: p[first] / max(sum, math.SmallestNonzeroFloat32), wrong: wrong})
}
