package main

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	_ "image/jpeg" // scans come as either
	"image/png"
	"io"
	"io/fs"
	"os"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/image/font"
	"golang.org/x/image/font/basicfont"
	"golang.org/x/image/math/fixed"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/propose"
)

func describeCommand(a *app) *cobra.Command {
	var size, style string
	c := &cobra.Command{
		Use:   "describe SCAN LAYOUT.yaml",
		Short: "Propose where a blank card of another make may be written on",
		Long: `Looks for ruled boxes, rows, combs and tick boxes in a flat scan of a blank card, cut to the card's
edges (PNG or JPEG, 150 dpi or more). It writes a draft of a layout file, and beside it a picture with every
proposed field drawn and numbered. No word on the card is read: say in the file, part by part, what each
column is for (bib, code, gate, ...), then look it over with gatefold layout. Nothing is overwritten.

Cards without this program's marks can't be read by gatefold read or collect so far: the draft describes one.`,
		Args: cobra.ExactArgs(2),
		RunE: func(_ *cobra.Command, args []string) error {
			w, h, ok := parseSize(size)
			if !ok {
				return usageErrorf("describe: --size %q: write width x height in mm as the card is held, such as 148x210", size)
			}
			if style != string(sheetmodel.FaultOnly) && style != string(sheetmodel.EveryRacer) {
				return usageErrorf("describe: --style %q: write %s or %s", style, sheetmodel.FaultOnly, sheetmodel.EveryRacer)
			}
			return a.describe(args[0], args[1], w, h, sheetmodel.Style(style))
		},
	}
	c.Flags().StringVar(&size, "size", "148x210", "width x height of the card in mm, as it is held")
	c.Flags().StringVar(&style, "style", string(sheetmodel.FaultOnly), "fault-only, or every-racer: a mark for each bib that passes")
	return c
}

func parseSize(text string) (w, h sheetmodel.MM, ok bool) {
	left, right, ok := strings.Cut(text, "x")
	x, err1 := strconv.ParseFloat(left, 64)
	y, err2 := strconv.ParseFloat(right, 64)
	return sheetmodel.MM(x), sheetmodel.MM(y), ok && err1 == nil && err2 == nil && x >= 20 && x <= 450 && y >= 20 && y <= 450
}

func (a *app) describe(scan, out string, w, h sheetmodel.MM, style sheetmodel.Style) error {
	drawn := strings.TrimSuffix(out, ".yaml") + ".png"
	for _, path := range []string{out, drawn} {
		if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("%s: is there already and may hold somebody's work; give another name", path)
		}
	}
	data, err := readInput("scan", scan)
	if err != nil {
		return err
	}
	grey, err := greyOf(scan, data)
	if err != nil {
		return err
	}
	p, err := propose.Side(grey, w, h)
	if err != nil {
		return fmt.Errorf("%s: %w", scan, err)
	}
	if len(p.Fields) == 0 {
		return fmt.Errorf("%s: no ruled box was found; scan the card flat and darker", scan)
	}
	l := &sheetmodel.Layout{Format: 1, Name: "draft", Version: 1, Style: style, Sides: []sheetmodel.Side{{Name: sheetmodel.Front, W: w, H: h, Fields: p.Fields}}}
	text, err := draftText(l, p.Unsure)
	if err != nil {
		return err
	}
	if err := writeFile(drawn, func(f io.Writer) error { return png.Encode(f, numbered(p)) }); err != nil {
		return err
	}
	if err := writeFile(out, func(f io.Writer) error { _, err := f.Write(text); return err }); err != nil {
		return err
	}
	a.printf("%s proposed in %s, numbered in %s.\nNot sure of:\n", count(len(p.Fields), "field"), out, drawn)
	for _, u := range p.Unsure {
		a.printf("  %s\n", u)
	}
	for _, f := range sheetmodel.Lint(l) {
		a.printf("  %s\n", f)
	}
	return nil
}

// largestScan is A3 at 600 dpi, in px.
const largestScan = 70_000_000

func greyOf(name string, data []byte) (*image.Gray, error) {
	c, _, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("%s: not a PNG or JPEG picture; save the page as one of them", name)
	}
	if c.Width*c.Height > largestScan {
		return nil, fmt.Errorf("%s: %d × %d px is too large; scan it with 200 dpi", name, c.Width, c.Height)
	}
	m, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return nil, fmt.Errorf("%s: the picture is damaged: %w; scan it again", name, err)
	}
	g := image.NewGray(image.Rect(0, 0, m.Bounds().Dx(), m.Bounds().Dy()))
	draw.Draw(g, g.Rect, m, m.Bounds().Min, draw.Src)
	return g, nil
}

// draftText is the layout as a person edits it: without the hash by which printed cards name a layout.
func draftText(l *sheetmodel.Layout, unsure []string) ([]byte, error) {
	text, err := sheetmodel.EncodeLayout(l)
	if err != nil {
		return nil, err
	}
	for len(text) > 0 && text[0] == '#' {
		_, text, _ = bytes.Cut(text, []byte("\n"))
	}
	head := "# A draft, in mm, for a person to finish: give every field its part (bib, code, gate, ...).\n# Not sure of:\n"
	for _, u := range unsure {
		head += "#   " + u + "\n"
	}
	return append([]byte(head), text...), nil
}

// numbered draws the proposed fields over the picture, with their numbers.
func numbered(p *propose.Proposal) *image.RGBA {
	m := image.NewRGBA(p.Picture.Rect)
	draw.Draw(m, m.Rect, p.Picture, image.Point{}, draw.Src)
	ink := image.NewUniform(color.RGBA{R: 170, G: 0, B: 110, A: 255})
	px := func(v sheetmodel.MM) int { return int(float64(v) * p.PxPerMM) }
	for i, f := range p.Fields {
		r := image.Rect(px(f.Rect.X), px(f.Rect.Y), px(f.Rect.X+f.Rect.W), px(f.Rect.Y+f.Rect.H))
		const pen = 2
		for _, side := range []image.Rectangle{
			{r.Min, image.Pt(r.Max.X, r.Min.Y+pen)}, {image.Pt(r.Min.X, r.Max.Y-pen), r.Max},
			{r.Min, image.Pt(r.Min.X+pen, r.Max.Y)}, {image.Pt(r.Max.X-pen, r.Min.Y), r.Max},
		} {
			draw.Draw(m, side, ink, image.Point{}, draw.Src)
		}
		d := font.Drawer{Dst: m, Src: ink, Face: basicfont.Face7x13, Dot: fixed.P(r.Min.X+4, r.Min.Y+14)}
		d.DrawString(strconv.Itoa(i + 1))
	}
	return m
}
