package calib

import (
	"crypto/sha256"
	_ "embed"
	"encoding/hex"
	"encoding/json"
	"fmt"

	"gatefold/sheetmodel"
)

//go:embed curves.json
var embedded []byte

//go:embed cells.json
var embeddedCells []byte

// Format is the format of curves.json that this package writes and the newest that it reads.
const Format = 1

// Judgement is the curve and the threshold of one kind.
type Judgement struct {
	Curve     Curve     `json:"curve"`
	Threshold Threshold `json:"threshold"`
}

// File is what curves.json holds.
type File struct {
	Format  int                `json:"format"`
	Weights string             `json:"weights"` // hash of the weights; empty: nothing is calibrated
	Levels  string             `json:"levels"`  // hash of the camera's levels
	Layout  string             `json:"layout"`  // name and version of the layout that was filled
	Data    string             `json:"data"`    // what was filled in, by whom, with which seeds
	Kinds   map[Kind]Judgement `json:"kinds"`
}

// Set judges scores. It is made by Default or Parse, is never changed, and is safe for concurrent use.
type Set struct {
	file File
	hash string
	on   bool
}

// Default returns the embedded set for the weights with the given hash. If the set was made with
// other weights, it judges nothing: see Calibrated.
func Default(weights string) (*Set, error) { return Parse(embedded, weights) }

// DefaultCells returns the embedded set of the cell kinds for the cell net with the given hash.
func DefaultCells(weights string) (*Set, error) { return Parse(embeddedCells, weights) }

// Parse reads a curves file. It refuses one of a newer format or with knots out of order.
func Parse(b []byte, weights string) (*Set, error) {
	sum := sha256.Sum256(b)
	s := &Set{hash: hex.EncodeToString(sum[:])}
	if err := json.Unmarshal(b, &s.file); err != nil {
		return nil, fmt.Errorf("curves: %w; make them again with ocr/calib/fit", err)
	}
	if s.file.Format > Format {
		return nil, fmt.Errorf("curves: format %d is newer than %d; use a newer gatefold", s.file.Format, Format)
	}
	for k, j := range s.file.Kinds {
		if err := j.Curve.check(); err != nil {
			return nil, fmt.Errorf("curves: %s: %w; make them again with ocr/calib/fit", k, err)
		}
	}
	s.on = s.file.Weights != "" && s.file.Weights == weights
	return s, nil
}

func (c Curve) check() error {
	if len(c.Score) != len(c.Log10Wrong) {
		return fmt.Errorf("%d scores but %d shares", len(c.Score), len(c.Log10Wrong))
	}
	for i := range c.Score {
		if c.Log10Wrong[i] > 0 {
			return fmt.Errorf("share above 1 at knot %d", i)
		}
		if i > 0 && (c.Score[i] <= c.Score[i-1] || c.Log10Wrong[i] > c.Log10Wrong[i-1]) {
			return fmt.Errorf("knots out of order at %d", i)
		}
	}
	return nil
}

// Hash returns the SHA-256 of the curves file in hex.
func (s *Set) Hash() string { return s.hash }

// Calibrated reports whether the set was made with the weights in use.
func (s *Set) Calibrated() bool { return s.on }

// File returns what the set was read from, for reports.
func (s *Set) File() File { return s.file }

// Judge returns the calibrated certainty of a text with the given score and whether it is clear.
// A kind without a curve, or a set made with other weights, gives the zero Certainty and false.
func (s *Set) Judge(kind Kind, score float64) (sheetmodel.Certainty, bool) {
	j, ok := s.file.Kinds[kind]
	if !s.on || !ok || len(j.Curve.Score) == 0 {
		return sheetmodel.Certainty{}, false
	}
	c, err := sheetmodel.NewCertainty(1-j.Curve.WrongAt(score), string(kind)+"-"+s.hash[:12])
	if err != nil {
		return sheetmodel.Certainty{}, false
	}
	return c, score >= j.Threshold.Score
}
