package ocr

import (
	"fmt"
	"image"
	"os"
	"strings"

	"github.com/otiai10/gosseract/v2"
	"gocv.io/x/gocv"

	"gatefold/sheetmodel"
)

// recycleAfter is how many pictures one Tesseract client reads before it is replaced: it grows.
const recycleAfter = 300

// textReader reads print, and handwriting badly, with one Tesseract client.
type textReader struct {
	client *gosseract.Client
	used   int
}

// openText starts Tesseract. It must not start threads of its own: several of them on two cores fight.
// OMP reads its limit once, so it is set for the process, unless somebody has set it.
func openText() (*textReader, error) {
	if os.Getenv("OMP_THREAD_LIMIT") == "" {
		if err := os.Setenv("OMP_THREAD_LIMIT", "1"); err != nil {
			return nil, fmt.Errorf("tesseract: %w", err)
		}
	}
	t := &textReader{}
	if err := t.renew(); err != nil {
		return nil, err
	}
	return t, nil
}

func (t *textReader) renew() error {
	if t.client != nil {
		if err := t.client.Close(); err != nil {
			return fmt.Errorf("tesseract: %w", err)
		}
	}
	t.client, t.used = gosseract.NewClient(), 0
	if err := t.client.SetLanguage("eng"); err != nil {
		return fmt.Errorf("tesseract: %w; install tesseract-ocr-eng", err)
	}
	if err := t.client.SetPageSegMode(gosseract.PSM_SINGLE_LINE); err != nil {
		return fmt.Errorf("tesseract: %w", err)
	}
	return nil
}

// Close ends the client.
func (t *textReader) Close() error { return t.client.Close() }

// read returns what Tesseract makes of one line, and how sure it says it is, 0 to 1.
func (t *textReader) read(line gocv.Mat) (string, float64, error) {
	if t.used >= recycleAfter {
		if err := t.renew(); err != nil {
			return "", 0, err
		}
	}
	t.used++
	png, err := gocv.IMEncode(gocv.PNGFileExt, line)
	if err != nil {
		return "", 0, fmt.Errorf("tesseract: %w", err)
	}
	defer png.Close()
	if err := t.client.SetImageFromBytes(png.GetBytes()); err != nil {
		return "", 0, fmt.Errorf("tesseract: %w", err)
	}
	words, err := t.client.GetBoundingBoxes(gosseract.RIL_WORD)
	if err != nil {
		return "", 0, fmt.Errorf("tesseract: %w", err)
	}
	var texts []string
	least := 1.0
	for _, w := range words {
		if s := strings.TrimSpace(w.Word); s != "" {
			texts = append(texts, s)
			least = min(least, w.Confidence/100)
		}
	}
	if len(texts) == 0 {
		return "", 0, nil
	}
	return strings.Join(texts, " "), least, nil
}

// readText reads a line of free handwriting: name, phone, date. Its text is a hint beside the picture and never
// clear; where neither the cell net nor Tesseract is asked it is only ink.
func (r *Reader) readText(pg *page, f sheetmodel.Field) (sheetmodel.Reading, error) {
	out := pg.ink.readInk(f, pg.side.Name)
	if out.State == sheetmodel.Empty {
		return out, nil
	}
	if known, err := r.readLine(pg, f, &out); known || err != nil || r.text == nil {
		return out, err
	}
	c := f.Rect.Grow(-0.4)
	box := image.Rect(
		int(float64(c.X)*pg.pxPerMM), int(float64(c.Y)*pg.pxPerMM),
		int(float64(c.X+c.W)*pg.pxPerMM), int(float64(c.Y+c.H)*pg.pxPerMM),
	).Intersect(image.Rect(0, 0, pg.mat.Cols(), pg.mat.Rows()))
	if box.Empty() {
		return out, nil
	}
	line := pg.mat.Region(box)
	defer line.Close()
	text, sure, err := r.text.read(line)
	if err != nil {
		return out, fmt.Errorf("field %s: %w", f.Name, err)
	}
	out.Text = text
	if text != "" {
		out.Rivals = []sheetmodel.Rival{{Prob: sheetmodel.Prob(1 - 0.5*sure)}}
	}
	return out, nil
}
