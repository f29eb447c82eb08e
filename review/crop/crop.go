package crop

import (
	"bytes"
	"errors"
	"fmt"
	"image"
	"image/color"
	_ "image/jpeg" // pages are JPEG or PNG
	"image/png"
	"io"
	"math"
	"sync"

	"gatefold/sheetmodel"
)

// Crop is a rectangle of a straightened page, in sheet mm.
type Crop struct {
	Sheet   int64               `json:"sheet"`
	Side    sheetmodel.SideName `json:"side"`
	Page    string              `json:"page"` // stored file name
	SHA256  string              `json:"page_sha256"`
	PxPerMM float64             `json:"page_px_per_mm"`
	Rect    sheetmodel.Rect     `json:"rect_mm"`
	// Show, where set, are the only parts that are shown, in sheet mm: all else is black before anything is encoded.
	Show []sheetmodel.Rect `json:"show_mm,omitempty"`
}

// maxPagePx bounds what is decoded: a card at 40 px/mm is 50 megapixels.
const maxPagePx = 64 << 20

// keep is how many decoded pages a Cutter holds: front and back of the card at hand and the next one.
const keep = 4

// keepBytes is how much of encoded crops a Cutter holds: the rows of a large stack. People look at the same rows,
// and decoding a page for each is the dearest thing that a page of the desk can do.
const keepBytes = 24 << 20

// Cutter cuts crops. Open opens a stored page by its file name. Safe for concurrent use.
type Cutter struct {
	Open func(file string) (io.ReadCloser, error)

	mu    sync.Mutex
	pages []page // newest last
	files map[string][]byte
	names []string // of files, oldest first
	bytes int      // of all files
}

type page struct {
	file string
	img  *image.Gray
}

// Cut returns the part of the page inside the rectangle, 8-bit grey, its top left pixel at (0, 0).
// What lies outside the page is left out; a rectangle wholly outside is an error. The image is the
// caller's own.
func (c *Cutter) Cut(k Crop) (*image.Gray, error) {
	if k.Page == "" || !(k.PxPerMM > 0) {
		return nil, fmt.Errorf("crop of sheet %d: no page was kept", k.Sheet)
	}
	img, err := c.page(k.Page)
	if err != nil {
		return nil, fmt.Errorf("crop of sheet %d: %w", k.Sheet, err)
	}
	r := pixels(k.Rect, k.PxPerMM).Intersect(img.Bounds())
	if r.Empty() {
		return nil, fmt.Errorf("crop of sheet %d: %.1f × %.1f mm at %.1f, %.1f lie outside the page", k.Sheet, k.Rect.W, k.Rect.H, k.Rect.X, k.Rect.Y)
	}
	out := image.NewGray(image.Rect(0, 0, r.Dx(), r.Dy()))
	for y := range r.Dy() {
		at := img.PixOffset(r.Min.X, r.Min.Y+y)
		copy(out.Pix[y*out.Stride:], img.Pix[at:at+r.Dx()])
	}
	if len(k.Show) == 0 {
		return out, nil
	}
	// The shown parts are put on black, so that what nobody thought of is black too.
	shown := image.NewGray(out.Rect)
	for _, part := range k.Show {
		at := pixels(part, k.PxPerMM).Sub(r.Min).Intersect(out.Rect)
		for y := at.Min.Y; y < at.Max.Y; y++ {
			from := out.PixOffset(at.Min.X, y)
			copy(shown.Pix[shown.PixOffset(at.Min.X, y):], out.Pix[from:from+at.Dx()])
		}
	}
	return shown, nil
}

// pixels covers a rectangle of the sheet. Pixel centres are whole numbers, so the edges of pixel n lie at n ± 0.5.
func pixels(rect sheetmodel.Rect, pxPerMM float64) image.Rectangle {
	a := sheetmodel.PageFromSheet(sheetmodel.SheetPoint{X: rect.X, Y: rect.Y}, pxPerMM)
	b := sheetmodel.PageFromSheet(sheetmodel.SheetPoint{X: rect.X + rect.W, Y: rect.Y + rect.H}, pxPerMM)
	return image.Rect(int(math.Floor(a.X+0.5)), int(math.Floor(a.Y+0.5)), int(math.Ceil(b.X+0.5)), int(math.Ceil(b.Y+0.5)))
}

// PNG returns a crop as a PNG file, which must not be changed. The same page gives the same bytes.
func (c *Cutter) PNG(k Crop) ([]byte, error) {
	name := fmt.Sprint(k.Page, "|", k.SHA256, "|", k.PxPerMM, "|", k.Rect, "|", k.Show)
	c.mu.Lock()
	file, known := c.files[name]
	c.mu.Unlock()
	if known {
		return file, nil
	}
	img, err := c.Cut(k)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err = png.Encode(&b, img); err != nil {
		return nil, fmt.Errorf("crop of sheet %d: %w", k.Sheet, err)
	}
	c.hold(name, b.Bytes())
	return b.Bytes(), nil
}

// hold keeps a file, and lets go of the oldest ones when there are too many.
func (c *Cutter) hold(name string, file []byte) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if _, known := c.files[name]; known || len(file) > keepBytes/8 {
		return
	}
	if c.files == nil {
		c.files = map[string][]byte{}
	}
	c.files[name] = file
	c.names = append(c.names, name)
	c.bytes += len(file)
	for c.bytes > keepBytes {
		c.bytes -= len(c.files[c.names[0]])
		delete(c.files, c.names[0])
		c.names = c.names[1:]
	}
}

func (c *Cutter) page(file string) (*image.Gray, error) {
	c.mu.Lock()
	for i, p := range c.pages {
		if p.file == file {
			c.pages = append(append(c.pages[:i:i], c.pages[i+1:]...), p)
			c.mu.Unlock()
			return p.img, nil
		}
	}
	c.mu.Unlock()
	img, err := c.decode(file)
	if err != nil {
		return nil, fmt.Errorf("page %s: %w", file, err)
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.pages = append(c.pages, page{file, img})
	if len(c.pages) > keep {
		c.pages = c.pages[1:]
	}
	return img, nil
}

func (c *Cutter) decode(file string) (*image.Gray, error) {
	f, err := c.Open(file)
	if err != nil {
		return nil, err
	}
	all, err := io.ReadAll(f)
	if err = errors.Join(err, f.Close()); err != nil {
		return nil, err
	}
	// The declared size first: a small file can ask for gigabytes.
	size, _, err := image.DecodeConfig(bytes.NewReader(all))
	if err != nil {
		return nil, err
	}
	if size.Width*size.Height > maxPagePx {
		return nil, fmt.Errorf("%d × %d px is more than a page has", size.Width, size.Height)
	}
	img, _, err := image.Decode(bytes.NewReader(all))
	if err != nil {
		return nil, err
	}
	return grey(img), nil
}

func grey(img image.Image) *image.Gray {
	b := img.Bounds()
	out := image.NewGray(image.Rect(0, 0, b.Dx(), b.Dy()))
	switch src := img.(type) {
	case *image.Gray:
		for y := range b.Dy() {
			copy(out.Pix[y*out.Stride:][:b.Dx()], src.Pix[src.PixOffset(b.Min.X, b.Min.Y+y):])
		}
	case *image.YCbCr:
		for y := range b.Dy() {
			copy(out.Pix[y*out.Stride:][:b.Dx()], src.Y[src.YOffset(b.Min.X, b.Min.Y+y):])
		}
	default:
		for y := range b.Dy() {
			for x := range b.Dx() {
				out.SetGray(x, y, color.GrayModel.Convert(img.At(b.Min.X+x, b.Min.Y+y)).(color.Gray))
			}
		}
	}
	return out
}
