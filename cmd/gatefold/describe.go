package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
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
	var says []string
	var open, openNone bool
	c := &cobra.Command{
		Use:   "describe PICTURE LAYOUT.yaml",
		Short: "Propose the layout of a blank card of another make from its picture",
		Long: `Looks for ruled boxes, rows, combs, boxes to tick, panels and lines to write on in a picture of a blank
card, and reads the printed words beside and over them. The picture is a PDF (its first two pages are the two
sides), a flat scan cut to the card's edges (150 dpi or more), or a photo of the card lying flat on something
dark, taken from above and held upright. What can't be straightened for sure is refused.

It writes a draft of a layout file that you may edit, and beside it a picture of each side with every proposed
field drawn and numbered. All of it is a proposal: what a word over a column says is written down as its part
(bib, code, gate, ...), and named for you to check. Where it is wrong, say it with --say: --say 1-12=bib for the
fields with those numbers, so that a table is said once and its rows follow; back:3=remark for the back. Then see how well it would be read with gatefold try.
Nothing is overwritten.

With --open you finish it on a page in your browser instead: say what each column is for, move, split, add and remove
places to write, and see at once what is still missing. Save writes LAYOUT.yaml. A layout file that is there already is
opened as it is, and what stood in it before is kept beside it.`,
		Example: "  gatefold describe league-card.pdf league.yaml --size 210x148 --open\n  gatefold describe scan.png league.yaml --say 13-18=remark",
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			w, h, ok := parseSize(size)
			if !ok {
				return usageErrorf("describe: --size %q: write width x height in mm as the card is held, such as 148x210", size)
			}
			if style != string(sheetmodel.FaultOnly) && style != string(sheetmodel.EveryRacer) {
				return usageErrorf("describe: --style %q: write %s or %s", style, sheetmodel.FaultOnly, sheetmodel.EveryRacer)
			}
			said, err := parseSays(says)
			if err != nil {
				return err
			}
			if open || openNone {
				return a.finishLayout(c.Context(), args[0], args[1], w, h, sheetmodel.Style(style), !openNone, said...)
			}
			_, err = a.describe(c.Context(), args[0], args[1], w, h, sheetmodel.Style(style), said...)
			return err
		},
	}
	c.Flags().StringVar(&size, "size", "148x210", "width x height of the card in mm, as it is held")
	c.Flags().StringArrayVar(&says, "say", nil, "what fields are for, by their numbers in the picture: 1-12=bib")
	c.Flags().BoolVar(&open, "open", false, "finish the layout on a page in the browser")
	c.Flags().BoolVar(&openNone, "open-none", false, "as --open, but only print the page's address")
	c.Flags().StringVar(&style, "style", string(sheetmodel.FaultOnly), "fault-only, or every-racer: a mark for each bib that passes")
	return c
}

// sayPart is what a person says some fields are for.
type sayPart struct {
	side     sheetmodel.SideName
	from, to int
	part     sheetmodel.Part
}

var sayForm = regexp.MustCompile(`^(?:(front|back):)?([0-9]{1,4})(?:-([0-9]{1,4}))?=([a-z-]+)$`)

func parseSays(texts []string) ([]sayPart, error) {
	var all []sayPart
	for _, t := range texts {
		m := sayForm.FindStringSubmatch(t)
		if m == nil {
			return nil, usageErrorf("describe: --say %q: write fields and part, such as 1-12=bib or back:3=remark", t)
		}
		s := sayPart{side: sheetmodel.SideName(cmp.Or(m[1], string(sheetmodel.Front))), part: sheetmodel.Part(m[4])}
		s.from, _ = strconv.Atoi(m[2]) // digits only
		s.to, _ = strconv.Atoi(cmp.Or(m[3], m[2]))
		all = append(all, s)
	}
	return all, nil
}

func parseSize(text string) (w, h sheetmodel.MM, ok bool) {
	left, right, ok := strings.Cut(text, "x")
	x, err1 := strconv.ParseFloat(left, 64)
	y, err2 := strconv.ParseFloat(right, 64)
	return sheetmodel.MM(x), sheetmodel.MM(y), ok && err1 == nil && err2 == nil && x >= 20 && x <= 450 && y >= 20 && y <= 450
}

func (a *app) describe(ctx context.Context, picture, out string, w, h sheetmodel.MM, style sheetmodel.Style, says ...sayPart) (*sheetmodel.Layout, error) {
	drawn := map[sheetmodel.SideName]string{
		sheetmodel.Front: strings.TrimSuffix(out, ".yaml") + ".png", sheetmodel.Back: strings.TrimSuffix(out, ".yaml") + "-back.png",
	}
	for _, path := range []string{out, drawn[sheetmodel.Front], drawn[sheetmodel.Back]} {
		if _, err := os.Lstat(path); !errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("%s: is there already and may hold somebody's work; give another name", path)
		}
	}
	l, proposals, head, err := proposeLayout(ctx, picture, w, h, style, says)
	if err != nil {
		return nil, err
	}
	l.Name = sheetmodel.Printable(strings.TrimSuffix(filepath.Base(out), ".yaml")) // the desk calls the card so
	text, err := sheetmodel.EncodeDraft(l, head...)
	if err != nil {
		return nil, err
	}
	for i, p := range proposals {
		if err := writeFile(drawn[l.Sides[i].Name], func(f io.Writer) error { return png.Encode(f, numbered(p)) }); err != nil {
			return nil, err
		}
	}
	if err := writeFile(out, func(f io.Writer) error { _, err := f.Write(text); return err }); err != nil {
		return nil, err
	}
	for i, p := range proposals {
		a.printf("%s: %s proposed in %s, numbered in %s. Look at these first:\n", l.Sides[i].Name, count(len(p.Fields), "field"), out, drawn[l.Sides[i].Name])
		for _, u := range p.Unsure {
			a.printf("  %s\n", u)
		}
	}
	if found := sheetmodel.Lint(l); len(found) > 0 {
		a.printf("Still to be mended:\n")
		for _, f := range found {
			a.printf("  %s\n", f)
		}
	}
	return l, nil
}

// proposeLayout proposes the layout of a blank card from its picture. head are lines to stand on top of its file.
func proposeLayout(ctx context.Context, picture string, w, h sheetmodel.MM, style sheetmodel.Style, says []sayPart) (l *sheetmodel.Layout, proposals []*propose.Proposal, head []string, err error) {
	data, err := readInput("picture", picture)
	if err != nil {
		return nil, nil, nil, err
	}
	greys, err := flatSides(ctx, picture, data, w, h)
	if err != nil {
		return nil, nil, nil, err
	}
	words, done, err := openLabels()
	if err != nil {
		return nil, nil, nil, err
	}
	defer done()
	l = &sheetmodel.Layout{Format: 1, Name: "draft", Version: 1, Style: style}
	head = []string{"A draft, in mm, for a person to finish: give every field its part (bib, code, gate, ...)."}
	for i, grey := range greys {
		p, err := propose.SideOf(style, grey, w, h, words)
		if err != nil {
			return nil, nil, nil, fmt.Errorf("%s: %w", picture, err)
		}
		if upsideDown(p, style, grey, w, h, words) {
			return nil, nil, nil, fmt.Errorf("%s: %w", picture, errUpsideDown)
		}
		if len(p.Fields) == 0 && i == 0 {
			return nil, nil, nil, fmt.Errorf("%s: no ruled box was found; scan the card flat and darker", picture)
		}
		name := []sheetmodel.SideName{sheetmodel.Front, sheetmodel.Back}[i]
		for _, s := range says {
			if s.side == name {
				if err := p.Say(s.from, s.to, s.part); err != nil {
					return nil, nil, nil, fmt.Errorf("--say, %s: %w", name, err)
				}
			}
		}
		l.Sides = append(l.Sides, sheetmodel.Side{Name: name, W: w, H: h, Marks: []sheetmodel.Mark{}, Identity: []sheetmodel.Rect{}, Fields: p.Fields})
		proposals = append(proposals, p)
		if len(p.Unsure) > 0 {
			head = append(head, fmt.Sprintf("Look at these first, on the %s:", name))
		}
		for _, u := range p.Unsure {
			head = append(head, "  "+u)
		}
	}
	return l, proposals, head, nil
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
