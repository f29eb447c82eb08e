package racefolder

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"gatefold/sheetmodel"
)

// A card of another make has a layout like any other, and beside it what nobody can draw from the layout: how its blank
// sides look. They stand as layouts/<12 hex digits>-front.png, flat, upright and cut to the card.

// BlankFile names the picture of one blank side of a layout, relative to the race folder.
func BlankFile(l *sheetmodel.Layout, side sheetmodel.SideName) string {
	return LayoutsFolder + "/" + strings.TrimSuffix(l.FileName(), ".yaml") + "-" + string(side) + ".png"
}

// mostBlankPx bounds a kept picture: A3 at 600 dpi.
const mostBlankPx = 70_000_000

// Blanks returns the pictures of all sides of a layout that this folder keeps. The error names one that is missing or
// damaged.
func (f *Folder) Blanks(l *sheetmodel.Layout) (map[sheetmodel.SideName]*image.Gray, error) {
	all := map[sheetmodel.SideName]*image.Gray{}
	for _, s := range l.Sides {
		name := BlankFile(l, s.Name)
		path := filepath.Join(f.Dir, filepath.FromSlash(name))
		data, err := readPlain(f.fsys, name)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, fmt.Errorf("%s: missing, and card %s can't be found in photos without it; bring it back from a copy of the race's folder", path, l.Name)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", path, err)
		}
		c, err := png.DecodeConfig(bytes.NewReader(data))
		if err == nil && c.Width*c.Height > mostBlankPx {
			err = fmt.Errorf("%d × %d px", c.Width, c.Height)
		}
		var m image.Image
		if err == nil {
			m, err = png.Decode(bytes.NewReader(data))
		}
		if err != nil {
			return nil, fmt.Errorf("%s: is not the picture that was kept: %w; bring it back from a copy of the race's folder", path, err)
		}
		g := image.NewGray(image.Rect(0, 0, m.Bounds().Dx(), m.Bounds().Dy()))
		draw.Draw(g, g.Rect, m, m.Bounds().Min, draw.Src)
		all[s.Name] = g
	}
	return all, nil
}

// SaveForeign keeps a card of another make: the pictures of its blank sides, and then its layout as SaveLayout does,
// whose path it returns.
func (f *Folder) SaveForeign(l *sheetmodel.Layout, blanks map[sheetmodel.SideName]*image.Gray) (string, error) {
	if err := os.MkdirAll(filepath.Join(f.Dir, LayoutsFolder), 0o755); err != nil {
		return "", fmt.Errorf("%s: %w", f.Dir, err)
	}
	for _, s := range l.Sides {
		if blanks[s.Name] == nil {
			return "", fmt.Errorf("layout %s: no picture of its %s", l.Name, s.Name)
		}
		var text bytes.Buffer
		if err := png.Encode(&text, blanks[s.Name]); err != nil {
			return "", fmt.Errorf("layout %s: %w", l.Name, err)
		}
		if err := writeAtomic(filepath.Join(f.Dir, filepath.FromSlash(BlankFile(l, s.Name))), text.Bytes(), 0o644, f.step); err != nil {
			return "", err
		}
	}
	return f.SaveLayout(l)
}
