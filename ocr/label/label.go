// Package label reads what is printed on a blank card, for sheetmodel/propose.
//
//	page, heading, letter (8-bit grey) --larger--> Tesseract --> words, each with its place
//
// It reads print, never handwriting, and nothing that it says is more than a proposal for a person. A Reader is closed
// by who opened it and serves one goroutine.
package label

import (
	"bytes"
	"fmt"
	"image"
	"image/png"
	"os"
	"strings"
	"unicode"

	"github.com/otiai10/gosseract/v2"
	"golang.org/x/image/draw"

	"gatefold/sheetmodel/propose"
)

// Reader is a propose.Reader over one Tesseract client for each way of looking.
type Reader struct {
	page, block, letter, number *gosseract.Client
}

var _ propose.Reader = (*Reader)(nil)

// letters are what panels, codes and groups are named by.
const letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"

// Open starts Tesseract with English, which knows all plain letters; the caller closes the Reader. Tesseract must not
// start threads of its own: several of them on two cores fight.
func Open() (*Reader, error) {
	if os.Getenv("OMP_THREAD_LIMIT") == "" {
		if err := os.Setenv("OMP_THREAD_LIMIT", "1"); err != nil {
			return nil, fmt.Errorf("tesseract: %w", err)
		}
	}
	r := &Reader{}
	for _, c := range []struct {
		client **gosseract.Client
		mode   gosseract.PageSegMode
		only   string
	}{{&r.page, gosseract.PSM_SPARSE_TEXT, ""}, {&r.block, gosseract.PSM_SINGLE_BLOCK, ""}, {&r.letter, gosseract.PSM_SINGLE_CHAR, letters}, {&r.number, gosseract.PSM_SINGLE_WORD, "0123456789"}} {
		*c.client = gosseract.NewClient()
		err := (*c.client).SetLanguage("eng")
		if err == nil {
			err = (*c.client).SetPageSegMode(c.mode)
		}
		if err == nil && c.only != "" {
			err = (*c.client).SetWhitelist(c.only)
		}
		if err != nil {
			_ = r.Close()
			return nil, fmt.Errorf("tesseract: %w; install tesseract-ocr-eng", err)
		}
	}
	return r, nil
}

// Close ends Tesseract.
func (r *Reader) Close() error {
	var first error
	for _, c := range []*gosseract.Client{r.page, r.block, r.letter, r.number} {
		if c == nil {
			continue
		}
		if err := c.Close(); err != nil && first == nil {
			first = fmt.Errorf("tesseract: %w", err)
		}
	}
	return first
}

// larger is by how much pictures grow before they are read: small print has capitals of 12 px in a scan of 200 dpi,
// and Tesseract likes 20 to 40.
const larger = 2

// Page returns the words of a page, in px of the page.
func (r *Reader) Page(page *image.Gray) ([]propose.Word, error) {
	boxes, err := look(r.page, page, 0)
	if err != nil {
		return nil, err
	}
	var words []propose.Word
	for _, b := range boxes {
		if text := strings.TrimSpace(b.Word); text != "" {
			words = append(words, propose.Word{
				Text: text, Sure: b.Confidence / 100,
				Box: image.Rect(b.Box.Min.X/larger, b.Box.Min.Y/larger, (b.Box.Max.X+larger-1)/larger, (b.Box.Max.Y+larger-1)/larger),
			})
		}
	}
	return words, nil
}

const marginPx = 12 // of paper about a piece: Tesseract loses letters at an edge

// leastSure is for a block or a letter; less is a smudge.
const leastSure = 40

// Block returns the words of a piece of a page.
func (r *Reader) Block(piece *image.Gray) (string, error) {
	boxes, err := look(r.block, piece, marginPx)
	if err != nil {
		return "", err
	}
	var words []string
	for _, b := range boxes {
		if b.Confidence >= leastSure && strings.ContainsFunc(b.Word, unicode.IsLetter) {
			words = append(words, strings.TrimSpace(b.Word))
		}
	}
	return strings.Join(words, " "), nil
}

// Letter returns the capital letter or digit that a piece shows, or nothing.
func (r *Reader) Letter(piece *image.Gray) (string, error) {
	boxes, err := look(r.letter, piece, marginPx)
	if err != nil || len(boxes) == 0 || boxes[0].Confidence < leastSure {
		return "", err
	}
	text := []rune(strings.TrimSpace(boxes[0].Word))
	if len(text) != 1 {
		return "", nil
	}
	return string(text), nil
}

// Number returns the digits of the one number that a piece shows, or nothing.
func (r *Reader) Number(piece *image.Gray) (string, error) {
	boxes, err := look(r.number, piece, marginPx)
	if err != nil || len(boxes) != 1 || boxes[0].Confidence < leastSure {
		return "", err
	}
	return strings.TrimSpace(boxes[0].Word), nil
}

func look(c *gosseract.Client, g *image.Gray, margin int) ([]gosseract.BoundingBox, error) {
	if g.Rect.Empty() {
		return nil, nil
	}
	big := image.NewGray(image.Rect(0, 0, larger*(g.Rect.Dx()+2*margin), larger*(g.Rect.Dy()+2*margin)))
	for i := range big.Pix {
		big.Pix[i] = 255
	}
	inner := image.Rect(larger*margin, larger*margin, big.Rect.Dx()-larger*margin, big.Rect.Dy()-larger*margin)
	draw.CatmullRom.Scale(big, inner, g, g.Rect, draw.Src, nil)
	stretch(big)
	var out bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.NoCompression}).Encode(&out, big); err != nil {
		return nil, fmt.Errorf("tesseract: %w", err)
	}
	if err := c.SetImageFromBytes(out.Bytes()); err != nil {
		return nil, fmt.Errorf("tesseract: %w", err)
	}
	boxes, err := c.GetBoundingBoxes(gosseract.RIL_WORD)
	if err != nil {
		return nil, fmt.Errorf("tesseract: %w", err)
	}
	return boxes, nil
}

// stretch makes paper white and the darkest print black: a pale copy is read as well as a print.
func stretch(g *image.Gray) {
	var counts [256]int
	for _, v := range g.Pix {
		counts[v]++
	}
	low, n := 0, 0
	for v, c := range counts {
		if n += c; n*200 > len(g.Pix) {
			low = v
			break
		}
	}
	high, most := 255, 0
	for v := 254; v > low; v-- {
		if counts[v] > most {
			high, most = v, counts[v]
		}
	}
	if high-low < 20 {
		return
	}
	white := float64(high) - 0.15*float64(high-low) // grain of the paper
	for i, v := range g.Pix {
		g.Pix[i] = uint8(min(255, max(0, 255*(float64(v)-float64(low))/(white-float64(low)))))
	}
}
