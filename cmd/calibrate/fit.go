package main

import (
	"bufio"
	"encoding/json"
	"errors"
	"fmt"
	"hash/fnv"
	"io"
	"os"

	"gatefold/ocr/calib"
	"gatefold/ocr/weights"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/sheetmodel"
)

// goal is what a kind's threshold is chosen for.
type goal struct {
	target float64 // share of clear texts that may be wrong
	maxAsk float64 // share of undoubted texts that may be asked for it
}

// goals come from the project's targets, on ordinary and hard photos half and half. How much may be asked where
// a target is out of reach is seen on calibration writers, undoubted and well written: of 13,878 single bibs 68 are
// wrong when none is asked, 24 at 2 %, 22 at 3 %, 18 at 5 %, 15 at 10 %; of 3,671 gates 22, 11 at 2 %, 9 at 3 and 4 %,
// 8 at 5 to 10 %; of 3,794 bibs written twice 1 is wrong, among the least certain 0.5 %. Some 28 % of single bibs stand
// at the voice's cap or below; beside a person only those above it do.
var goals = map[calib.Kind]goal{
	calib.Bib1:  {1e-3, 0.03},
	calib.Bib1P: {3e-4, 0.30},
	calib.Bib2:  {1e-4, 0.015},
	calib.Gate:  {3e-4, 0.045},
	calib.Count: {1e-3, 0.03},
	calib.Tick:  {1e-4, 0.01},
	calib.Ring:  {1e-3, 0.02},
}

// troubleKept is the share of spoiled writings that is kept: rendered cards have four times as many as
// people make, so that there is enough to look at.
const troubleKept = 4

// fit makes the curves from calibration's samples and the thresholds from threshold's.
func fit(calibration, threshold, out string, data string) error {
	curves, err := load(calibration)
	if err != nil {
		return err
	}
	limits, err := load(threshold)
	if err != nil {
		return err
	}
	layout, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{})
	if err != nil {
		return err
	}
	file := calib.File{
		Format: calib.Format, Weights: weights.Combs(), Levels: camera.LevelsHash(), Layout: fmt.Sprintf("%s %d", layout.Name, layout.Version), Data: data,
		Kinds: map[calib.Kind]calib.Judgement{},
	}
	for _, kind := range calib.Kinds {
		g := goals[kind]
		from := kind
		if kind == calib.Bib1P {
			from = calib.Bib1
		}
		file.Kinds[kind] = calib.Judgement{
			Curve:     calib.Fit(usable(curves, from)),
			Threshold: calib.Choose(usable(limits, from), g.target, g.maxAsk),
		}
	}
	b, err := json.MarshalIndent(file, "", " ")
	if err != nil {
		return err
	}
	return os.WriteFile(out, append(b, '\n'), 0o644)
}

func load(file string) ([]sample, error) {
	f, err := os.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // only read
	var all []sample
	d := json.NewDecoder(bufio.NewReader(f))
	for {
		var s sample
		switch err := d.Decode(&s); {
		case errors.Is(err, io.EOF):
			return all, nil
		case err != nil:
			return nil, fmt.Errorf("%s: %w", file, err)
		}
		all = append(all, s)
	}
}

// usable keeps what the score alone decides about: a text was read and nothing else makes it doubtful.
func usable(all []sample, kind calib.Kind) []calib.Sample {
	var out []calib.Sample
	for _, s := range all {
		if s.Kind != kind || s.Empty || s.Text == "" || len(s.Doubts) > 0 || !kept(s) {
			continue
		}
		out = append(out, calib.Sample{Score: s.Score, Right: s.right(), Writer: s.Writer})
	}
	return out
}

// right reports whether the text is what its writer meant. A dash means no bib, whatever was planned.
func (s sample) right() bool { return s.Text == s.Truth && s.Spoil != fill.Dash }

// kept drops most of the spoiled writings, always the same ones.
func kept(s sample) bool {
	if s.Spoil == fill.Clean {
		return true
	}
	h := fnv.New32a()
	_, _ = io.WriteString(h, s.Card+s.Field)
	return h.Sum32()%troubleKept == 0
}
