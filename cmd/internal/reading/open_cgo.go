//go:build cgo

package reading

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"image"
	"image/color"
	"slices"
	"strings"

	"gocv.io/x/gocv"

	"gatefold/ocr"
	"gatefold/ocr/calib"
	"gatefold/ocr/joint"
	"gatefold/scan"
	"gatefold/scan/byprint"
	"gatefold/scan/cmem"
	"gatefold/scan/intake"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// scanVersion counts changes of how photos are found and straightened.
const scanVersion = 9

// Options of a Reader.
type Options struct {
	KeepPages bool // fill Card.Page
	Tesseract bool // read the free text of the header as a hint
	Header    bool // let the cell net read the header's phone number and date, and match its judge
	Judges    func() []string
	// AskForm is for callers that can ask a person which of several forms a card without marks is: it is read as each of
	// them, see Card.Or. Without it such a card is refused.
	AskForm bool
}

// Forms are the blank forms of all layouts, prepared once and shared by all Readers.
type Forms = scan.Forms

// Prepare prepares the blank forms of layouts.
func Prepare(layouts []*sheetmodel.Layout) (*Forms, error) { return scan.Prepare(layouts...) }

// PrepareBlank prepares the sides of one layout of another make by the print of its blank card: pictures of its sides, each
// upright and cut to the card. Only what it returns is looked for in photos.
//
// The error is a *scan.AlikeFormError or a *byprint.FewFeaturesError of a card that can't be told by its print, also of one
// that looks alike upside down: a photo taken so would be read in the wrong rows.
func PrepareBlank(l *sheetmodel.Layout, blanks map[sheetmodel.SideName]*image.Gray) (*Forms, error) {
	forms := &scan.Forms{}
	for i := range l.Sides {
		side := &l.Sides[i]
		blank := blanks[side.Name]
		if blank == nil {
			continue
		}
		one, err := prepareSide(l, side, blank)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", side.Name, err)
		}
		forms = forms.And(one)
	}
	return forms, nil
}

// tracePxPerMM is how finely the reader looks at print.
const tracePxPerMM = 6.0

func prepareSide(l *sheetmodel.Layout, side *sheetmodel.Side, blank *image.Gray) (*Forms, error) {
	m, err := matOf(blank)
	if err != nil {
		return nil, err
	}
	defer m.Close()
	// The reader must know what is printed: the layout of a card of another make says only where one writes.
	printed, err := printedOn(m, side)
	if err != nil {
		return nil, err
	}
	return scan.PrepareBlank(m, l, side.Name, scan.BlankOptions{Print: printed})
}

// printedOn returns what a picture of a blank side shows as print; blank stays the caller's.
func printedOn(blank gocv.Mat, side *sheetmodel.Side) ([]sheetmodel.PrintItem, error) {
	page, err := byprint.Flatten(blank, nil, side.W, side.H, tracePxPerMM)
	if err != nil {
		return nil, err
	}
	defer page.Close()
	pix, err := page.DataPtrUint8()
	if err != nil {
		return nil, err
	}
	seen := &image.Gray{Pix: slices.Clone(pix), Stride: page.Cols(), Rect: image.Rect(0, 0, page.Cols(), page.Rows())}
	return print.Trace(seen, tracePxPerMM), nil
}

// matOf copies a picture; the caller closes it.
func matOf(img *image.Gray) (gocv.Mat, error) {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	packed := make([]byte, 0, w*h)
	for y := range h {
		packed = append(packed, img.Pix[y*img.Stride:y*img.Stride+w]...)
	}
	return gocv.NewMatFromBytes(h, w, gocv.MatTypeCV8U, packed)
}

// Alike returns the layout in forms that a picture of a blank card, upright and cut to the card, is taken for as well,
// nil if for none: photos could not be told apart. It takes some seconds.
func Alike(forms *Forms, blank *image.Gray) (*sheetmodel.Layout, error) {
	m, err := matOf(blank)
	if err != nil {
		return nil, err
	}
	defer m.Close()
	around := gocv.NewMat() // as a photo of it shows it
	defer around.Close()
	edge := max(m.Cols(), m.Rows()) / 12
	gocv.CopyMakeBorder(m, &around, edge, edge, edge, edge, gocv.BorderConstant, color.RGBA{R: 90, G: 90, B: 90})
	pages, err := scan.Pages(around, forms, scan.Options{})
	defer func() {
		for _, p := range pages {
			p.Close()
		}
	}()
	if len(pages) > 0 {
		return pages[0].Layout, nil
	}
	_, err = refusalsOf(err)
	return nil, err
}

// photoReader is a Reader over scan and ocr.
type photoReader struct {
	forms   *Forms
	ocr     *ocr.Reader
	decoder *intake.Decoder
	keep    bool
	askForm bool
}

// Open returns a Reader; the caller closes it. Forms are shared, a Reader is not.
func Open(forms *Forms, opt Options) (Reader, error) {
	// First, so that its process gets ready while the nets are loaded.
	decoder, err := intake.Open(intake.Options{})
	if err != nil {
		return nil, err
	}
	r, err := ocr.Open(ocr.Options{Tesseract: opt.Tesseract, Header: opt.Header, Judges: opt.Judges})
	if err != nil {
		return nil, errors.Join(err, decoder.Close())
	}
	return &photoReader{forms: forms, ocr: r, decoder: decoder, keep: opt.KeepPages, askForm: opt.AskForm}, nil
}

func (r *photoReader) Version() string { return fmt.Sprintf("scan%d %s", scanVersion, r.ocr.Version()) }

func (r *photoReader) Judge() joint.Judge { return r.ocr.Judge() }

func (r *photoReader) Close() error { return errors.Join(r.ocr.Close(), r.decoder.Close()) }

func (r *photoReader) Read(ctx context.Context, name string, data []byte) (Photo, error) {
	sum := sha256.Sum256(data)
	p := Photo{File: name, SHA256: hex.EncodeToString(sum[:]), Reader: r.Version(), Cards: []Card{}}
	if err := ctx.Err(); err != nil {
		return p, err
	}
	defer cmem.AfterPhoto()
	var refusals []Refusal
	for picture, err := range r.decoder.Pictures(ctx, name, data) {
		var file *scan.FileError
		switch {
		case errors.As(err, &file):
			refusals = append(refusals, Refusal{Fault: "file", Detail: file.Detail, Remedy: file.Remedy})
			continue
		case err != nil:
			return p, err
		}
		if p.Width == 0 {
			p.Width, p.Height = picture.Meta.Width, picture.Meta.Height
		}
		cards, more, err := r.picture(picture)
		if err != nil {
			return p, fmt.Errorf("photo %s: %w", name, err)
		}
		for i := range cards {
			for k := range cards[i].Or {
				cards[i].Or[k] += len(p.Cards)
			}
		}
		p.Cards = append(p.Cards, cards...)
		refusals = append(refusals, more...)
	}
	if len(refusals) > 0 {
		p.Refused = &refusals[0]
		p.More = refusals[1:]
	}
	return p, nil
}

// picture reads the cards in one picture of a file, and closes it.
func (r *photoReader) picture(picture intake.Picture) (cards []Card, refusals []Refusal, err error) {
	defer picture.Grey.Close()
	pages, err := scan.Pages(picture.Grey, r.forms, scan.Options{})
	defer func() {
		for _, page := range pages {
			page.Close()
		}
	}()
	if refusals, err = refusalsOf(err); err != nil {
		return nil, nil, err
	}
	for _, page := range pages {
		if why := page.TwoForms(); why != nil && !r.askForm {
			refusals = append(refusals, Refusal{Fault: string(why.Fault), Detail: why.Detail, Remedy: why.Remedy})
			continue
		}
		first := len(cards)
		for _, as := range append([]*scan.Page{page}, page.Or...) {
			c, err := r.card(as)
			if err != nil {
				return nil, nil, err
			}
			if picture.Pages > 1 {
				c.InFile = picture.Page
			}
			for k := range len(page.Or) + 1 {
				if first+k != len(cards) {
					c.Or = append(c.Or, first+k)
				}
			}
			cards = append(cards, c)
		}
	}
	if picture.Pages > 1 {
		for i := range refusals {
			refusals[i].Detail = fmt.Sprintf("page %d: %s", picture.Page, refusals[i].Detail)
		}
	}
	return cards, refusals, nil
}

// refusalsOf takes the refusals out of what scan.Pages joined; anything else is a failure.
func refusalsOf(err error) ([]Refusal, error) {
	if err == nil {
		return nil, nil
	}
	errs := []error{err}
	var joined interface{ Unwrap() []error }
	if errors.As(err, &joined) {
		errs = joined.Unwrap()
	}
	var all []Refusal
	for _, e := range errs {
		var refused *scan.RefusedError
		var unknown *scan.UnknownLayoutError
		switch {
		case errors.As(e, &refused):
			all = append(all, Refusal{Fault: string(refused.Fault), Detail: refused.Detail, Remedy: refused.Remedy})
		case errors.As(e, &unknown):
			all = append(all, Refusal{
				Fault:  "unknown-layout",
				Detail: fmt.Sprintf("card %d was printed with layout %s, which is not known here", unknown.Card, unknown.Layout),
				Remedy: "give the race's folder with --race, or the layout's file with --layout",
			})
		default:
			return nil, e
		}
	}
	return all, nil
}

func (r *photoReader) card(page *scan.Page) (Card, error) {
	corners := page.Corners()
	c := Card{
		Side: page.Side.Name, Identity: page.Identity,
		Layout:     nameOf(page.Layout),
		LayoutHash: page.Layout.Hash(), PxPerMM: page.PxPerMM,
		Corners: corners[:], Map: page.PhotoFromSheet,
		Plain: page.Identity == nil && len(page.Side.Marks) == 0, OneSided: oneSided(page.Layout, page.Side.Name),
		Quality: Quality{
			MarksSeen: page.Quality.Marks, MarksTotal: page.Quality.MarksOf,
			ResidualMM: page.Quality.ResidualMM, BlurMM: page.Quality.SigmaMM, PxPerMM: page.Quality.PxPerMM,
		},
	}
	for _, l := range page.MayBe {
		c.MayBe = append(c.MayBe, nameOf(l))
	}
	for _, f := range page.Quality.Flaws {
		c.Quality.Flaws = append(c.Quality.Flaws, Flaw{Kind: string(f.Kind), Fields: f.Fields, Detail: f.Detail, Remedy: f.Remedy})
	}
	for _, pair := range page.Grid() {
		c.Grid = append(c.Grid, PointPair{Sheet: pair.Sheet, Photo: pair.Photo})
	}
	read, err := r.ocr.Read(page.Mat, page.PxPerMM, page.Side, hiddenOf(page))
	if err != nil {
		return c, err
	}
	read.Reader = r.Version()
	c.Reading = read
	c.Fields = fieldsOf(page.Side, read)
	c.Alone = aloneIn(page.Side, read, r.ocr.Curves())
	if r.keep {
		buf, err := gocv.IMEncode(gocv.PNGFileExt, page.Mat)
		if err != nil {
			return c, fmt.Errorf("straightened page: %w", err)
		}
		defer buf.Close()
		c.Page = slices.Clone(buf.GetBytes())
	}
	return c, nil
}

func nameOf(l *sheetmodel.Layout) LayoutName {
	return LayoutName{Name: l.Name, Version: l.Version, Paper: l.Paper, Hash: l.HashStart()}
}

// aloneInCell is how certain a bib in a free cell has to be, for no rival to be plausible. Of such bibs by threshold writers 3 in
// 3,736 and, where cells are looked at twice, 4 in 6,063 are wrong (ocr/calib/cells.md); of those in combs that pass the threshold
// 9 in 9,726 (ocr/calib/report.md). The certainty that the threshold itself stands for, 0.997, would let three times as many through:
// few combs are near it, and many cells.
const aloneInCell = 0.999

// aloneIn lists the fields whose text has no plausible rival: beside such a text a person's blind entry
// is a second look. Bibs have a threshold of their own for that; elsewhere clear is what it takes.
//
// That threshold is a score of the digit nets, and says nothing of the cell net's. So a bib in a cell needs aloneInCell by a
// curve of its own, too.
func aloneIn(side *sheetmodel.Side, read sheetmodel.SheetReading, curves *calib.Set) []string {
	bibs := map[string]bool{}
	var fields []string
	for _, row := range read.Rows {
		if row.Printed != "" {
			if row.Bib.Field != "" { // print has no rival
				fields = append(fields, row.Bib.Field)
			}
			continue
		}
		bibs[row.Bib.Field], bibs[row.BibAgain.Field] = true, true
	}
	for _, s := range read.Strips {
		bibs[s.Bib.Field] = true
	}
	for _, one := range read.Readings() {
		ok := one.State == sheetmodel.Clear
		if bibs[one.Field] && one.Text != "" {
			_, ok = curves.Judge(calib.Bib1P, joint.ScoreOf(joint.FromReading(one)))
			// Nobody writes a zero in front unless the bib has one: a digit before it may be gone, for a person too.
			if strings.HasPrefix(one.Text, "0") {
				ok = false
			}
			if f := side.Field(one.Field); ok && f != nil && f.Kind == sheetmodel.Cell {
				ok = one.Certainty.Value() >= aloneInCell
			}
		}
		if ok && one.Text != "" && !one.HasDoubt(sheetmodel.DoubtOnPrint) { // what a line hides, it hides from a person too
			fields = append(fields, one.Field)
		}
	}
	return fields
}

// hiddenOf says which parts of a side the photo doesn't show.
func hiddenOf(page *scan.Page) func(sheetmodel.Rect) bool {
	var gone []sheetmodel.Rect
	for _, name := range slices.Concat(page.Quality.Outside, page.Quality.Hidden) {
		if f := page.Side.Field(name); f != nil {
			gone = append(gone, f.Rect)
		}
	}
	return func(r sheetmodel.Rect) bool {
		return slices.ContainsFunc(gone, r.Overlaps)
	}
}

// oneSided reports whether a card has nothing to fill on any other side than this: who photographs this one has all of it.
func oneSided(l *sheetmodel.Layout, side sheetmodel.SideName) bool {
	return !slices.ContainsFunc(l.Sides, func(s sheetmodel.Side) bool { return s.Name != side && len(s.Fields) > 0 })
}
