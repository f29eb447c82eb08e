package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gatefold/ocr"
	"gatefold/ocr/joint"
	"gatefold/ocr/net"
	"gatefold/ocr/train/strips"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/testdata/split"
)

// headerForm is one way of writing a line of the header.
type headerForm struct {
	typ   strips.Type
	name  string
	shape string // # is a digit; or an example, for dates and names
	draw  func(rng *rand.Rand) (text, means string)
}

// inDigits writes a digit for each #.
func inDigits(shape string) func(rng *rand.Rand) (string, string) {
	return func(rng *rand.Rand) (string, string) {
		b := []byte(shape)
		for i := range b {
			if b[i] == '#' {
				b[i] = byte('0' + rng.IntN(10))
			}
		}
		return string(b), strings.Map(func(c rune) rune {
			if c >= '0' && c <= '9' {
				return c
			}
			return -1
		}, string(b))
	}
}

var shortMonths = []string{"Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}

// inDays writes a day of a winter. How is given day, month and year.
func inDays(how func(d, m, y int) string, year bool) func(rng *rand.Rand) (string, string) {
	return func(rng *rand.Rand) (string, string) {
		d, m, y := 1+rng.IntN(28), []int{11, 12, 1, 2, 3, 4}[rng.IntN(6)], 2025+rng.IntN(8)
		if year {
			return how(d, m, y), fmt.Sprintf("%d-%02d-%02d", y, m, d)
		}
		return how(d, m, y), fmt.Sprintf("%02d-%02d", m, d)
	}
}

// A race's judges, invented.
var inventedJudges = []string{
	"Olli Fernbucket", "Petra Mossladle", "Quirin Snowbasket", "Runa Hazelspoon", "Sepp Otterhammer", "Trude Larchbroom",
	"Ulla Copperpail", "Volker Birch", "Wim Thistle", "Ada Fir", "Jon Kettle", "Ina Rowan",
}

func inNames(how func(first, last string) string) func(rng *rand.Rand) (string, string) {
	return func(rng *rand.Rand) (string, string) {
		n := inventedJudges[rng.IntN(len(inventedJudges))]
		first, last, _ := strings.Cut(n, " ")
		return how(first, last), n
	}
}

var headerForms = []headerForm{
	{strips.Phone, "7 digits, a dash", "555-0123", inDigits("###-####")},
	{strips.Phone, "7 digits, a space", "555 0123", inDigits("### ####")},
	{strips.Phone, "8 digits, spaces", "12 34 56 78", inDigits("## ## ## ##")},
	{strips.Phone, "10 digits, dashes", "555-555-0123", inDigits("###-###-####")},
	{strips.Phone, "11 digits, a slash", "0123/4567890", inDigits("0###/#######")},
	{strips.Phone, "11 digits, a space", "0123 4567890", inDigits("0### #######")},
	{strips.Phone, "12 digits, a plus", "+12 345 6789012", inDigits("+## ### #######")},
	{strips.Date, "day and month, dots", "7.2.", inDays(func(d, m, _ int) string { return fmt.Sprintf("%d.%d.", d, m) }, false)},
	{strips.Date, "day, month, year, dots", "7.2.2026", inDays(func(d, m, y int) string { return fmt.Sprintf("%d.%d.%d", d, m, y) }, true)},
	{strips.Date, "two digits each, slashes", "07/02/26", inDays(func(d, m, y int) string { return fmt.Sprintf("%02d/%02d/%02d", d, m, y%100) }, true)},
	{strips.Date, "year first, dashes", "2026-02-07", inDays(func(d, m, y int) string { return fmt.Sprintf("%d-%02d-%02d", y, m, d) }, true)},
	{strips.Date, "month in capitals", "7 FEB", inDays(func(d, m, _ int) string { return fmt.Sprintf("%d %s", d, strings.ToUpper(shortMonths[m-1])) }, false)},
	{strips.Date, "month in small letters", "7 Feb", inDays(func(d, m, _ int) string { return fmt.Sprintf("%d %s", d, shortMonths[m-1]) }, false)},
	{strips.Name, "capitals, both names", "ADA FIR", inNames(func(f, l string) string { return strings.ToUpper(f + " " + l) })},
	{strips.Name, "capitals, last name", "FIR", inNames(func(_, l string) string { return strings.ToUpper(l) })},
	{strips.Name, "capitals, first name", "ADA", inNames(func(f, _ string) string { return strings.ToUpper(f) })},
	{strips.Name, "small letters", "Ada Fir", inNames(func(f, l string) string { return f + " " + l })},
	{strips.Name, "capitals, nobody's", "EVA STONE", func(rng *rand.Rand) (string, string) {
		return []string{"EVA STONE", "KARL MEADOW", "NILS PINECONE", "BEA LAKE", "TOM", "RIVERS"}[rng.IntN(6)], ""
	}},
}

// headerRead is one line as drawn and read.
type headerRead struct {
	form   int
	hard   bool
	means  string
	writer int
	belief joint.Belief
	likest string // names: the likeliest of all judges, none of these left aside
	over   float64
}

// right reports whether the belief's text, or one of the days it names, is meant.
func (h *headerRead) right() bool {
	text, _ := h.belief.Top()
	return text != "" && slices.Contains(strings.Split(text, " or "), h.means)
}

func readHeaders(ctx context.Context, n int, seed uint64) (all []headerRead, err error) {
	dir, err := hand.FindMNIST(ctx)
	if err != nil {
		return nil, err
	}
	m, err := hand.ReadMNIST(dir)
	if err != nil {
		return nil, err
	}
	data := os.Getenv("GATEFOLD_DATA")
	ids, err := strips.ReadWriters(filepath.Join(data, "mnist-writers", "mnist-train-writers.csv.gz"))
	if err != nil {
		return nil, err
	}
	letters, err := strips.ReadLetters(filepath.Join(data, "emnist-letters", "emnist-letters-images-idx3-ubyte.gz"), strips.CalibrationLetters)
	if err != nil {
		return nil, err
	}
	src := strips.NewSource(m.Train, split.Calibration(), func(i int) int { return ids[i] }, letters)
	bench, err := strips.NewHeaderBench()
	if err != nil {
		return nil, err
	}
	cell, err := net.OpenCell()
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, cell.Close()) }()
	levels, writers := camera.Levels(), src.Writers()
	for i := range n * len(headerForms) {
		rng := rand.New(rand.NewPCG(seed, uint64(i)))
		h := headerRead{form: i % len(headerForms), hard: rng.IntN(2) == 0, writer: writers[rng.IntN(len(writers))]}
		f := headerForms[h.form]
		o := strips.Options{Level: levels[camera.Ordinary], Writer: h.writer}
		if h.hard {
			o.Level = levels[camera.Hard]
		}
		o.Text, h.means = f.draw(rng)
		fields, err := src.Draw(bench, []strips.Type{f.typ}, o, rng)
		if err != nil {
			return nil, err
		}
		strip := fields[0].Strip()
		line, err := cell.Look(&strip)
		if err != nil {
			return nil, err
		}
		switch f.typ {
		case strips.Phone:
			h.belief = ocr.PhoneBelief(line)
		case strips.Date:
			h.belief = ocr.DateBelief(line)
		default:
			h.belief = ocr.NameBelief(line, inventedJudges)
			h.judge(func(name string) float64 { return ocr.NameEvidence(line, name) })
		}
		if os.Getenv("SHOW") != "" && i < 8*len(headerForms) {
			any := line.Best(1, nil)
			s := ""
			for _, k := range any[0].Symbols {
				s += string(net.CellSymbols[k])
			}
			top, p := h.belief.Top()
			fmt.Printf("%-18s %-18s hard %-5v any %-18s %.3f  top %s %.3f likest %s %.1f\n", o.Text, h.means, h.hard, s, any[0].Prob, top, p, h.likest, h.over)
		}
		all = append(all, h)
	}
	return all, nil
}

// judge notes the likeliest name and how far it is above the next.
func (h *headerRead) judge(evidence func(string) float64) {
	best := map[string]float64{}
	names := slices.Clone(inventedJudges)
	for _, n := range names {
		best[n] = evidence(n)
	}
	slices.SortFunc(names, func(a, b string) int { return cmpFloat(best[b], best[a]) })
	h.likest, h.over = names[0], best[names[0]]-best[names[1]]
}

// header writes what the cell net reads of lines as a header has them.
func header(ctx context.Context, n int, seed uint64, file string) error {
	all, err := readHeaders(ctx, n, seed)
	if err != nil {
		return err
	}
	for k, f := range headerForms {
		var row [2]struct{ n, right, none, top int }
		for i := range all {
			h := &all[i]
			if h.form != k {
				continue
			}
			r := &row[btoi(h.hard)]
			r.n++
			r.right += btoi(h.right())
			t, _ := h.belief.Top()
			r.none += btoi(t == "")
			r.top += btoi(h.likest == h.means && h.means != "")
		}
		fmt.Println(f.typ, f.name, row)
	}
	return nil
}
