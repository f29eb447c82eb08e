// Package reading wires scan and ocr together: photo bytes in, readings or a refusal out.
//
//	photo --scan--> Page --ocr--> fields, each with text, rivals, certainty, state, reasons
//	   |              |
//	   +--Refusal <---+
//
// Its Output is what the program prints as JSON and what the store keeps. Only this package and
// the benches know both rooms. A Reader is closed by who opened it; each goroutine has its own.
package reading

import (
	"context"
	"errors"
	"runtime"
	"slices"

	"gatefold/ocr/joint"
	"gatefold/sheetmodel"
)

// ErrNoImaging is what image commands say in a program built without cgo.
var ErrNoImaging = errors.New(noImaging())

func noImaging() string {
	if runtime.GOOS != "linux" {
		return "this gatefold can't look at photos: collect them with gatefold on a Linux machine; its desk opens in any browser, " +
			"and the race folder can be copied back here"
	}
	return "this gatefold was built without image support: get the one that reads photos, or install libopencv-dev, libtesseract-dev, " +
		"tesseract-ocr and tesseract-ocr-eng and build again with cgo (make build does both)"
}

// Output is what `gatefold read --json` prints; its shape is stable, see cmd/gatefold/schema/read.schema.json.
type Output struct {
	Format int     `json:"format"`
	Reader string  `json:"reader"` // version of scan, reader, weights and thresholds
	Photos []Photo `json:"photos"`
}

// Photo is one photo: refused as a whole, or the cards found in it.
type Photo struct {
	File    string    `json:"file"`
	SHA256  string    `json:"sha256"`
	Reader  string    `json:"-"` // version that read it
	Width   int       `json:"width_px"`
	Height  int       `json:"height_px"`
	Refused *Refusal  `json:"refused,omitempty"`
	More    []Refusal `json:"more_refused,omitempty"` // further cards in the same photo that were refused
	Cards   []Card    `json:"cards"`
}

// Refusal says why a photo or a card in it can't be trusted, and what to do.
type Refusal struct {
	Fault  string `json:"fault"`
	Detail string `json:"detail"`
	Remedy string `json:"remedy"`
}

func (r Refusal) String() string { return r.Detail + "; " + r.Remedy }

// Card is one side of one card in a photo.
type Card struct {
	InFile   int                     `json:"page_of_file,omitempty"` // from 1, for files of several pages
	Side     sheetmodel.SideName     `json:"side"`
	Identity *sheetmodel.Identity    `json:"identity"` // null: not readable
	Layout   LayoutName              `json:"layout"`
	MayBe    []LayoutName            `json:"may_be,omitempty"` // layouts that fit about as well, where no identity tells
	Corners  []sheetmodel.PhotoPoint `json:"corners"`          // top left, top right, bottom right, bottom left of the card
	Grid     []PointPair             `json:"grid"`
	Quality  Quality                 `json:"quality"`
	Fields   []Field                 `json:"fields"`

	// Reading and Page are for callers inside the program; Page is the straightened page as PNG.
	Reading    sheetmodel.SheetReading `json:"-"`
	Page       []byte                  `json:"-"`
	PxPerMM    float64                 `json:"-"` // of Page
	LayoutHash string                  `json:"-"` // all of it
	// Map says where the photo shows a point of the sheet, as it was straightened.
	Map   func(sheetmodel.SheetPoint) sheetmodel.PhotoPoint `json:"-"`
	Alone []string                                          `json:"-"` // fields whose text has no plausible rival

	Plain    bool `json:"-"` // of another make: the paper carries no identity
	OneSided bool `json:"-"` // its layout has no other side on which there is anything to fill
	// Or are the places among Photo.Cards of the same paper read as other forms that fit about as well; one of them is it.
	Or []int `json:"-"`
}

// LayoutName names the layout a card was printed with.
type LayoutName struct {
	Name    string `json:"name"`
	Version int    `json:"version"`
	Paper   string `json:"paper"`
	Hash    string `json:"hash"` // start of its content hash, as the card carries it
}

// PointPair ties a point of the sheet to where it is in the photo.
type PointPair struct {
	Sheet sheetmodel.SheetPoint `json:"sheet_mm"`
	Photo sheetmodel.PhotoPoint `json:"photo_px"`
}

// Quality says what the straightening can be trusted for.
type Quality struct {
	MarksSeen  int     `json:"marks_seen"`
	MarksTotal int     `json:"marks_total"`
	ResidualMM float64 `json:"residual_mm"`
	BlurMM     float64 `json:"blur_mm"`
	PxPerMM    float64 `json:"px_per_mm"`
	Flaws      []Flaw  `json:"flaws,omitempty"`
}

// Flaw is what the photo lacks for some fields; their readings are doubtful.
type Flaw struct {
	Kind   string   `json:"kind"` // a scan.FlawKind
	Fields []string `json:"fields"`
	Detail string   `json:"detail"` // as in "glare over rows 3 and 4"
	Remedy string   `json:"remedy"`
}

// Flagged reports whether a flaw names the field: it is doubtful, whatever was read.
func (q Quality) Flagged(field string) bool {
	return slices.ContainsFunc(q.Flaws, func(f Flaw) bool { return slices.Contains(f.Fields, field) })
}

func (f Flaw) String() string { return f.Detail + "; " + f.Remedy }

// Field is one field of a side.
type Field struct {
	Name      string             `json:"name"`
	Part      sheetmodel.Part    `json:"part"`
	Kind      sheetmodel.Kind    `json:"kind"`
	Row       int                `json:"row,omitempty"`
	Panel     string             `json:"panel,omitempty"`
	Text      string             `json:"text"`
	Rivals    []sheetmodel.Rival `json:"rivals"`
	Certainty float64            `json:"certainty"` // calibrated, 0 to 1; 0 where nothing is claimed
	State     sheetmodel.State   `json:"state"`
	Reasons   []sheetmodel.Doubt `json:"reasons"`
	Region    sheetmodel.Rect    `json:"region_mm"`
}

// Reader turns one photo into readings. Each goroutine has its own.
type Reader interface {
	// Read never fails for what is wrong with a photo: that is a Refusal. It fails when the
	// reader itself is broken or ctx ends.
	Read(ctx context.Context, name string, data []byte) (Photo, error)
	Version() string
	// Judge turns the score of two writings into a certainty, for package joint.
	Judge() joint.Judge
	Close() error
}
