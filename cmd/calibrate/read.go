package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gocv.io/x/gocv"

	"gatefold/ocr"
	"gatefold/ocr/calib"
	"gatefold/ocr/joint"
	"gatefold/ocr/weights"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/sheetmodel"
)

// sample is one reading, or one pair of writings, whose truth is known.
type sample struct {
	Kind      calib.Kind             `json:"kind"`
	Card      string                 `json:"card"`
	Field     string                 `json:"field"`
	Level     string                 `json:"level"`
	Writer    int                    `json:"writer"`
	Truth     string                 `json:"truth"`
	Spoil     fill.Spoil             `json:"spoil,omitempty"`
	Text      string                 `json:"text"`
	Score     float64                `json:"score"`
	Doubts    []sheetmodel.DoubtKind `json:"doubts,omitempty"` // but for low certainty
	Why       []string               `json:"why,omitempty"`
	Empty     bool                   `json:"empty,omitempty"` // nothing seen
	Glyphs    []int                  `json:"glyphs,omitempty"`
	Free      string                 `json:"free,omitempty"`
	FreeScore float64                `json:"free_score,omitempty"`
	Voice     string                 `json:"voice,omitempty"`      // what the cell net reads in a comb, as a line
	VoiceProb float64                `json:"voice_prob,omitempty"` // its claim for Text
	Differs   bool                   `json:"differs,omitempty"`    // the other writing was meant to be another bib
}

// reading wraps what samples are made of.
type reading struct {
	reader *ocr.Reader
	line   ocr.Sequencer
	pix    []byte // of the part being read
	width  int
	out    *json.Encoder
	parts  map[string]*part   // by form and part
	scores map[string]float64 // by field, of the part being read
}

// read reads every rendered part in folder and writes samples to file, card by card in the order of their names.
func read(folder, file string, mute bool, workers int) (err error) {
	metas, err := filepath.Glob(filepath.Join(folder, "*.json"))
	if err != nil {
		return err
	}
	slices.Sort(metas)
	var cards [][]string // the parts of one card come one after the other
	for i, m := range metas {
		if i == 0 || cardOf(m) != cardOf(metas[i-1]) {
			cards = append(cards, nil)
		}
		cards[len(cards)-1] = append(cards[len(cards)-1], m)
	}
	readers := make([]*reading, workers)
	for i := range readers {
		if readers[i], err = openReading(mute); err != nil {
			return err
		}
		defer func() { err = errors.Join(err, readers[i].close()) }()
	}
	numbers := make([]int, len(cards))
	for i := range numbers {
		numbers[i] = i
	}
	samples := make([][]byte, len(cards))
	if err := share(numbers, workers, func(worker, i int) error {
		var err error
		samples[i], err = readers[worker].card(cards[i])
		return err
	}); err != nil {
		return err
	}
	return os.WriteFile(file, bytes.Join(samples, nil), 0o644) //nolint:gosec // samples of drawn cards
}

// cardOf is what the files of one card's parts have in common.
func cardOf(meta string) string { return meta[:strings.LastIndexByte(meta, '-')] }

func openReading(mute bool) (r *reading, err error) {
	fs, err := forms()
	if err != nil {
		return nil, err
	}
	r = &reading{parts: map[string]*part{}}
	for name, f := range fs {
		for _, p := range f.parts {
			r.parts[name+"/"+p.Name] = p
		}
	}
	curves, err := openCurves()
	if err != nil {
		return nil, err
	}
	if r.reader, err = ocr.Open(ocr.Options{Mute: mute, Curves: curves, Scores: func(field string, _ calib.Kind, score float64) {
		r.scores[field] = score
	}}); err != nil {
		return nil, err
	}
	if mute {
		if r.line, err = ocr.OpenCellNet(); err != nil {
			return nil, errors.Join(err, r.close())
		}
	}
	return r, nil
}

func (r *reading) close() error {
	err := r.reader.Close()
	if r.line != nil {
		err = errors.Join(err, r.line.Close())
	}
	return err
}

// card reads the parts of one card and returns its samples, one a line.
func (r *reading) card(metas []string) ([]byte, error) {
	var b bytes.Buffer
	r.out = json.NewEncoder(&b)
	var all []seen
	for _, m := range metas {
		s, err := r.part(m)
		if err != nil {
			return nil, err
		}
		if s.read.Reader != "" { // else not read
			all = append(all, s)
		}
	}
	err := r.pairs(all)
	return b.Bytes(), err
}

// openCurves lets every score pass, for the weights in use: with thresholds, a doubtful panel letter
// would hide the pairs that it ties.
func openCurves() (*calib.Set, error) {
	file := calib.File{Format: calib.Format, Weights: weights.Combs(), Kinds: map[calib.Kind]calib.Judgement{}}
	for _, k := range calib.Kinds {
		file.Kinds[k] = calib.Judgement{
			Curve:     calib.Curve{Score: []float64{0}, Log10Wrong: []float64{-1}},
			Threshold: calib.Threshold{Score: -99},
		}
	}
	b, err := json.Marshal(file)
	if err != nil {
		return nil, err
	}
	return calib.Parse(b, weights.Combs())
}

// seen is one part as read.
type seen struct {
	meta shot
	read sheetmodel.SheetReading
}

// loadGrey reads a picture as render stores it, without a codec of OpenCV's: those pull in 300 MB of libraries, and
// reading is carried to larger computers that don't have them.
func loadGrey(name string) (gocv.Mat, error) {
	f, err := os.Open(name)
	if err != nil {
		return gocv.Mat{}, err
	}
	defer f.Close() //nolint:errcheck // only read
	decoded, err := png.Decode(f)
	if err != nil {
		return gocv.Mat{}, fmt.Errorf("%s: %w", name, err)
	}
	grey, ok := decoded.(*image.Gray)
	if !ok {
		return gocv.Mat{}, fmt.Errorf("%s: not a grey picture; render it again", name)
	}
	return gocv.ImageGrayToMatGray(grey)
}

func (r *reading) part(meta string) (seen, error) {
	var s seen
	b, err := os.ReadFile(meta)
	if err != nil {
		return s, err
	}
	if err := json.Unmarshal(b, &s.meta); err != nil {
		return s, fmt.Errorf("%s: %w", meta, err)
	}
	img, err := loadGrey(meta[:len(meta)-len("json")] + "png")
	if err != nil {
		return s, err
	}
	defer img.Close()
	if slices.Contains(s.meta.Faults, string(camera.Fold)) {
		return s, nil // the reader knows folds by their ends in the margins, which a part doesn't show
	}
	p := r.parts[s.meta.Form+"/"+s.meta.Part]
	r.scores = map[string]float64{}
	if r.pix, err = img.DataPtrUint8(); err != nil {
		return s, fmt.Errorf("%s: %w", meta, err)
	}
	r.width = img.Cols()
	if s.read, err = r.reader.Read(img, pagePxPerMM, p.local, nil); err != nil {
		return s, fmt.Errorf("%s: %w", meta, err)
	}
	for _, x := range readings(s.read) {
		if !p.holds(x.Field) {
			continue
		}
		if err := r.one(s.meta, p.local.Field(x.Field), x); err != nil {
			return s, err
		}
	}
	return s, nil
}

// readings lists all readings of a side.
func readings(s sheetmodel.SheetReading) []sheetmodel.Reading {
	all := slices.Clone(s.Header)
	for _, row := range s.Rows {
		all = append(all, row.Bib, row.BibAgain, row.Code, row.CodeOther, row.Gate, row.Panel, row.Rerun)
	}
	for _, e := range s.Strips {
		all = append(all, e.Bib)
	}
	return slices.DeleteFunc(all, func(x sheetmodel.Reading) bool { return x.Field == "" })
}

// one writes a single reading.
func (r *reading) one(meta shot, f *sheetmodel.Field, x sheetmodel.Reading) error {
	var kind calib.Kind
	switch {
	case f.Kind == sheetmodel.Comb && f.Grammar == sheetmodel.GrammarBib:
		kind = calib.Bib1
	case f.Kind == sheetmodel.Comb && f.Grammar == sheetmodel.GrammarGate:
		kind = calib.Gate
	case f.Kind == sheetmodel.Comb:
		kind = calib.Count
	case f.Kind == sheetmodel.Choice && f.Rings:
		kind = calib.Ring
	case f.Kind == sheetmodel.Tick, f.Kind == sheetmodel.Choice:
		kind = calib.Tick
	default:
		return nil
	}
	truth := meta.Truth[f.Name]
	s := sample{
		Kind: kind, Card: meta.Card, Field: f.Name, Level: meta.Level, Writer: meta.Writer,
		Truth: truth.Text, Spoil: truth.Spoil, Text: x.Text, Doubts: doubts(x), Why: why(x), Empty: x.State == sheetmodel.Empty, Glyphs: truth.Glyphs,
	}
	s.Score = r.scores[f.Name]
	if r.line != nil && f.Kind == sheetmodel.Comb && x.Text != "" {
		// The cell net as a further voice: it sees the comb whole, uncut.
		line, err := r.line.Line(r.pix, r.width, pagePxPerMM, f.Rect)
		if err != nil {
			return err
		}
		b, _, _, _ := ocr.CellBelief(line, sheetmodel.GrammarBib)
		s.Voice, _ = b.Top()
		s.VoiceProb = float64(b.Prob(x.Text))
	}
	return r.out.Encode(s)
}

// doubts lists the kinds but for low certainty, which is what is being made here.
func doubts(x sheetmodel.Reading) []sheetmodel.DoubtKind {
	var kinds []sheetmodel.DoubtKind
	for _, d := range x.Doubts {
		if d.Kind != sheetmodel.DoubtLowCertainty && !slices.Contains(kinds, d.Kind) {
			kinds = append(kinds, d.Kind)
		}
	}
	return kinds
}

// why lists the reasons as a person reads them.
func why(x sheetmodel.Reading) []string {
	var out []string
	for _, d := range x.Doubts {
		if d.Kind != sheetmodel.DoubtLowCertainty {
			out = append(out, d.Detail)
		}
	}
	return out
}

// anyScore lets every pair pass: thresholds are chosen from what comes out.
type anyScore struct{}

// Judge calls everything clear.
func (anyScore) Judge(calib.Kind, float64) (sheetmodel.Certainty, bool) {
	return sheetmodel.Certainty{}, true
}

// pairs writes the two writings of each row that has them, as the paper ties them.
func (r *reading) pairs(card []seen) error {
	var front, back sheetmodel.SheetReading
	var meta shot
	truth := fill.Truth{}
	for _, s := range card {
		for name, w := range s.meta.Truth {
			truth[name] = w
		}
		switch s.meta.Part {
		case "left":
			front, meta = s.read, s.meta
		case "strips":
			back = s.read
		}
	}
	// The panel letters lie in another part of the front: put them into the rows.
	for _, s := range card {
		if s.meta.Part != "right" {
			continue
		}
		for i := range front.Rows {
			for _, row := range s.read.Rows {
				if row.Number == front.Rows[i].Number {
					front.Rows[i].Panel = row.Panel
				}
			}
		}
	}
	meant := map[int]fill.Row{}
	for _, row := range meta.Plan.Rows {
		meant[row.Number] = row
	}
	for _, p := range joint.Card(front, back, anyScore{}) {
		row := meant[p.Row]
		s := sample{
			Kind: calib.Bib2, Card: meta.Card, Field: string(p.Kind), Level: meta.Level, Writer: meta.Writer,
			Truth: row.Bib, Spoil: row.BibSpoil, Text: p.Both.Text, Score: joint.ScoreOf(joint.FromReading(p.Both)),
			Doubts: doubts(p.Both), Differs: p.Kind == sheetmodel.LookSecondBox && row.BibAgain != row.Bib,
			Glyphs: truth[p.Both.Field].Glyphs,
		}
		// What both would say together if their likeliest texts need not be the same.
		second := meantSecond(front, back, p)
		free := joint.Combine(joint.FromReading(rowOf(front, p.Row).Bib), joint.FromReading(second), joint.DefaultPrior)
		s.Free, _ = free.Top()
		s.FreeScore = joint.ScoreOf(free)
		if err := r.out.Encode(s); err != nil {
			return err
		}
	}
	return nil
}

func rowOf(s sheetmodel.SheetReading, n int) sheetmodel.Row {
	for _, r := range s.Rows {
		if r.Number == n {
			return r
		}
	}
	return sheetmodel.Row{}
}

func meantSecond(front, back sheetmodel.SheetReading, p joint.Pair) sheetmodel.Reading {
	if p.Kind == sheetmodel.LookSecondBox {
		return rowOf(front, p.Row).BibAgain
	}
	for _, e := range back.Strips {
		if e.Panel == p.Panel && e.Entry == p.Entry {
			return e.Bib
		}
	}
	return sheetmodel.Reading{State: sheetmodel.Empty}
}
