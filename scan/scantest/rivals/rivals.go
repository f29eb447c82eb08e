package rivals

import (
	"bufio"
	"context"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os/exec"
	"slices"

	"gatefold/scan/scantest"
	"gatefold/sheetmodel"
)

//go:embed rivals.py
var script string

// Debian's own Python, for Debian's python3-opencv is seen by no other.
const python = "/usr/bin/python3"

// The methods that look for the card's edge, plainly and by convex hulls; the others are named for their tags.
const (
	Contour     = "contour"
	ContourHull = "contour-hull"
)

// Map takes mm on the sheet to px of the photo: 3 × 3, row by row.
type Map [9]float64

// PhotoFromSheet returns where m has a point of the sheet.
func (m *Map) PhotoFromSheet(p sheetmodel.SheetPoint) sheetmodel.PhotoPoint {
	x, y := float64(p.X), float64(p.Y)
	w := m[6]*x + m[7]*y + m[8]
	return sheetmodel.PhotoPoint{X: (m[0]*x + m[1]*y + m[2]) / w, Y: (m[3]*x + m[4]*y + m[5]) / w}
}

// Answer is what a method made of one photo. No map: it found nothing.
type Answer struct {
	Maps []Map `json:"maps"`
	Tags int   `json:"tags"` // how many tags it rests on
}

// Runner is a running Python process. It answers one photo at a time, and is not safe for concurrent use.
type Runner struct {
	cmd *exec.Cmd
	in  io.WriteCloser
	out *bufio.Reader
}

// Open starts the process; Close must be called. It is an error if python3-opencv is not there.
func Open(ctx context.Context) (*Runner, error) {
	if text, err := exec.CommandContext(ctx, python, "-c", "import cv2.aruco").CombinedOutput(); err != nil {
		return nil, fmt.Errorf("rival methods: no OpenCV for %s: run `.ci/packages bench`: %w: %s", python, err, text)
	}
	r := &Runner{cmd: exec.CommandContext(ctx, python, "-c", script)}
	var err error
	if r.in, err = r.cmd.StdinPipe(); err != nil {
		return nil, err
	}
	out, err := r.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	r.out = bufio.NewReader(out)
	if err := r.cmd.Start(); err != nil {
		return nil, fmt.Errorf("rival methods: %w", err)
	}
	return r, nil
}

// Close ends the process.
func (r *Runner) Close() error { return errors.Join(r.in.Close(), r.cmd.Wait()) }

// Ask has a photo of the side straightened by method: Contour, ContourHull, or a family of tags.
func (r *Runner) Ask(method string, side *sheetmodel.Side, jpeg []byte) (Answer, error) {
	job := struct {
		Method string              `json:"method"`
		Bytes  int                 `json:"bytes"`
		W      sheetmodel.MM       `json:"w"`
		H      sheetmodel.MM       `json:"h"`
		Tags   [4][4]sheetmodel.MM `json:"tags"`
	}{Method: method, Bytes: len(jpeg), W: side.W, H: side.H}
	for i, p := range scantest.TagPlaces(side) {
		job.Tags[i] = [4]sheetmodel.MM{p.X, p.Y, p.W, p.H}
	}
	var a Answer
	line, err := json.Marshal(job)
	if err != nil {
		return a, err
	}
	for _, part := range [][]byte{append(line, '\n'), jpeg} {
		if _, err := r.in.Write(part); err != nil {
			return a, fmt.Errorf("rival methods: %s: %w", method, err)
		}
	}
	answer, err := r.out.ReadBytes('\n')
	if err != nil {
		return a, fmt.Errorf("rival methods: %s: no answer: %w", method, err)
	}
	if err := json.Unmarshal(answer, &a); err != nil {
		return a, fmt.Errorf("rival methods: %s: %w", method, err)
	}
	return a, nil
}

// Judge compares an answer that rests on at least so many tags with the truth. Where the method can't know
// which way round the card lies, the truth tells it.
func Judge(s *scantest.Sample, a Answer, leastTags int) scantest.Outcome {
	if len(a.Maps) == 0 || a.Tags < leastTags {
		return scantest.Outcome{Verdict: scantest.Refused, Why: fmt.Sprintf("%d tags seen", a.Tags)}
	}
	var best scantest.Outcome
	for i, m := range a.Maps {
		o := scantest.JudgeMap(s, m.PhotoFromSheet)
		if i == 0 || typical(o) < typical(best) {
			best = o
		}
	}
	return best
}

// typical is the middle of an outcome's errors, to tell turns from each other; 0 without any.
func typical(o scantest.Outcome) float64 {
	if len(o.Errors) == 0 {
		return 0
	}
	e := slices.Sorted(slices.Values(o.Errors))
	return e[len(e)/2]
}
