package sheetmodel

import (
	"encoding/json"
	"errors"
	"fmt"
)

// Prob is one reader's own claim that a text is right, 0 to 1. It is never compared with a threshold.
type Prob float64

// Certainty is the calibrated probability that a text is what its writer meant.
//
// It remembers the curve that made it. Only ocr/calib makes one and only the store decodes one;
// everywhere else a Certainty is passed on or dropped. The zero value means "nothing is known".
type Certainty struct {
	value float64
	curve string
}

// NewCertainty is for ocr/calib, which owns the curves, and for decoding what it made.
// curve names the curve by its content hash.
func NewCertainty(value float64, curve string) (Certainty, error) {
	if !(value >= 0 && value <= 1) {
		return Certainty{}, fmt.Errorf("certainty %v: must lie between 0 and 1", value)
	}
	if curve == "" {
		return Certainty{}, errors.New("certainty without a curve: only a calibrated value counts")
	}
	return Certainty{value: value, curve: curve}, nil
}

// Value returns the probability, 0 to 1.
func (c Certainty) Value() float64 { return c.value }

// Curve returns the hash of the calibration curve, empty for the zero value.
func (c Certainty) Curve() string { return c.curve }

type certaintyJSON struct {
	Value float64 `json:"value"`
	Curve string  `json:"curve"`
}

// MarshalJSON writes the value with the curve it came from.
func (c Certainty) MarshalJSON() ([]byte, error) {
	return json.Marshal(certaintyJSON{Value: c.value, Curve: c.curve})
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (c *Certainty) UnmarshalJSON(b []byte) error {
	var j certaintyJSON
	if err := json.Unmarshal(b, &j); err != nil {
		return err
	}
	if !(j.Value >= 0 && j.Value <= 1) {
		return fmt.Errorf("certainty %v: must lie between 0 and 1", j.Value)
	}
	c.value, c.curve = j.Value, j.Curve
	return nil
}
