package main

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gatefold/ocr"
	"gatefold/ocr/joint"
	"gatefold/ocr/net"
	"gatefold/ocr/train/strips"
	"gatefold/ocr/weights"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
	"gatefold/testdata/split"
)

// headerForm is one way of writing a line of the header.
type headerForm struct {
	typ   strips.Type
	name  string
	shape string // # is a digit; or an example, for dates and names
	draw  func(judges []string, rng *rand.Rand) (text, means string)
}

// inDigits writes a digit for each #.
func inDigits(shape string) func(_ []string, rng *rand.Rand) (string, string) {
	return func(_ []string, rng *rand.Rand) (string, string) {
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
func inDays(how func(d, m, y int) string, year bool) func(_ []string, rng *rand.Rand) (string, string) {
	return func(_ []string, rng *rand.Rand) (string, string) {
		d, m, y := 1+rng.IntN(28), []int{11, 12, 1, 2, 3, 4}[rng.IntN(6)], 2025+rng.IntN(8)
		if year {
			return how(d, m, y), fmt.Sprintf("%d-%02d-%02d", y, m, d)
		}
		return how(d, m, y), fmt.Sprintf("%02d-%02d", m, d)
	}
}

// headerPart is whose hands write, and the judges of their race: invented, and other ones where weights are fitted.
type headerPart struct {
	digits  []int
	letters strips.Share
	judges  []string
}

var (
	fitHeaders = headerPart{split.Select(), strips.SelectLetters, []string{
		"Bert Applecart", "Cleo Windmill", "Dora Pebblebrook", "Emil Haystack", "Fritz Tannenboom", "Gerda Sleigh",
		"Hugo Cloudberry", "Iris Bell", "Kurt Marmot", "Lea Gorse", "Max Puddle", "Nora Willowbank",
	}}
	showHeaders = headerPart{split.Calibration(), strips.CalibrationLetters, []string{
		"Olli Fernbucket", "Petra Mossladle", "Quirin Snowbasket", "Runa Hazelspoon", "Sepp Otterhammer", "Trude Larchbroom",
		"Ulla Copperpail", "Volker Birch", "Wim Thistle", "Ada Fir", "Jon Kettle", "Ina Rowan",
	}}
)

func inNames(how func(first, last string) string) func(_ []string, rng *rand.Rand) (string, string) {
	return func(judges []string, rng *rand.Rand) (string, string) {
		n := judges[rng.IntN(len(judges))]
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
	{strips.Name, "capitals, nobody's", "EVA STONE", func(_ []string, rng *rand.Rand) (string, string) {
		return []string{"EVA STONE", "OLGA FERN", "PAUL KETTLEBOW", "KARL MEADOW", "NILS PINECONE", "BEA LAKE", "TOM", "RIVERS"}[rng.IntN(8)], ""
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
	under  float64
}

// right reports whether the belief's text, or one of the days it names, is meant.
func (h *headerRead) right() bool {
	text := ocr.Help(h.belief)
	return text != "" && slices.Contains(strings.Split(text, " or "), h.means)
}

// readHeaders draws n lines of each form by writers of a part, and reads them.
func readHeaders(ctx context.Context, part headerPart, only strips.Type, n int, seed uint64) (all []headerRead, err error) {
	dir, err := hand.FindMNIST(ctx)
	if err != nil {
		return nil, err
	}
	m, err := hand.ReadMNIST(dir)
	if err != nil {
		return nil, err
	}
	data := os.Getenv("GATEFOLD_DATA")
	ids, err := hand.ReadWriters(filepath.Join(data, "mnist-writers", "mnist-train-writers.csv.gz"))
	if err != nil {
		return nil, err
	}
	letters, err := strips.ReadLetters(filepath.Join(data, "emnist-letters", "emnist-letters-images-idx3-ubyte.gz"), part.letters)
	if err != nil {
		return nil, err
	}
	src := strips.NewSource(m.Train, part.digits, func(i int) int { return ids[i] }, letters)
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
		if only != "" && f.typ != only {
			continue
		}
		o := strips.Options{Level: levels[camera.Ordinary], Writer: h.writer}
		if h.hard {
			o.Level = levels[camera.Hard]
		}
		o.Text, h.means = f.draw(part.judges, rng)
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
			h.belief = ocr.NameBelief(line, part.judges)
			h.likest, h.over, h.under = ocr.NameSigns(line, part.judges)
		}
		all = append(all, h)
	}
	return all, nil
}

// headerWeights prints the weights of the name's certainty, fitted on n lines of each form by selection writers.
func headerWeights(ctx context.Context, n int, seed uint64) error {
	fit, err := readHeaders(ctx, fitHeaders, strips.Name, n, seed)
	if err != nil {
		return err
	}
	w := fitNames(fit)
	fmt.Printf("nameWeights: %.2f, %.3f, %.3f\n", w[0], w[1], w[2])
	return nil
}

// header writes what the cell net reads of lines as a header has them, n of each form.
func header(ctx context.Context, n int, seed uint64, file string) error {
	all, err := readHeaders(ctx, showHeaders, "", n, seed)
	if err != nil {
		return err
	}
	var w strings.Builder
	p := func(format string, args ...any) { fmt.Fprintf(&w, format, args...) }
	p("# Lines of the header: what the cell net reads\n\n")
	p("Written by `GATEFOLD_DATA=… go run ./cmd/calibrate header -cards %d -seed %d -report ocr/calib/header.md`, for cell net\n`%.12s`, which never learned from such lines. ", n, seed, weights.CellHash())
	p("%d lines of each form, 7 mm high, the phone's 32.6, the date's 28, the judge's 48 mm\nwide, written by %d calibration writers and photographed at the ordinary or the hard level. ", n, headerWriters(all))
	p("Report writers were not\ntouched. Letters have no writer ids and are split by index; names are invented, twelve judges a race.\n\n")
	p("**Nothing here is ever clear.** A reading is shown as *may be* beside its picture, and makes no bib surer.\n\n")
	p("## What is read\n\n*Right*: the text shown is what was meant (for dates, one of the days that it may mean). *None*: nothing is shown,\nfor no text has a claim of %g. *Best*: the likeliest of the judges was the writer's, whatever its certainty.\n\n", ocr.LeastHelp)
	p("| line | form | as in | ordinary: lines | right %% | wrong %% | none %% | best %% | hard: lines | right %% | wrong %% | none %% | best %% |\n|---|---|---|---|---|---|---|---|---|---|---|---|---|\n")
	for k, f := range headerForms {
		var row [2]struct{ n, right, none, best int }
		for i := range all {
			h := &all[i]
			if h.form != k {
				continue
			}
			r := &row[btoi(h.hard)]
			text := ocr.Help(h.belief)
			r.n++
			r.right += btoi(h.right())
			r.none += btoi(text == "")
			r.best += btoi(h.likest != "" && h.likest == h.means)
		}
		p("| %s | %s | %s |", f.typ, f.name, f.shape)
		for _, r := range row {
			best := "–"
			if f.typ == strips.Name {
				best = percent(r.best, r.n)
			}
			p(" %d | %s | %s | %s | %s |", r.n, percent(r.right, r.n), percent(r.n-r.right-r.none, r.n), percent(r.none, r.n), best)
		}
		p("\n")
	}
	p("\n## Is the claim honest?\n\nTexts shown, by the share of wrong ones that their claim leaves.\n\n| line | claimed wrong | shown | claimed wrong, sum | wrong |\n|---|---|---|---|---|\n")
	for _, t := range []strips.Type{strips.Phone, strips.Date, strips.Name} {
		for _, edge := range [][2]float64{{0.1, 0.21}, {0.05, 0.1}, {0.01, 0.05}, {0, 0.01}} {
			shown, wrong, claimed := 0, 0, 0.0
			for i := range all {
				h := &all[i]
				text, prob := ocr.Help(h.belief), h.belief.Prob(ocr.Help(h.belief))
				if miss := 1 - float64(prob); headerForms[h.form].typ == t && text != "" && miss >= edge[0] && miss < edge[1] {
					shown, wrong, claimed = shown+1, wrong+btoi(!h.right()), claimed+miss
				}
			}
			p("| %s | %g to %g | %d | %.1f | %d |\n", t, edge[0], edge[1], shown, claimed, wrong)
		}
	}
	p("\nThe name's certainty is a logistic regression on two signs (`ocr/header.go`), fitted on the names of other judges by\nselection writers: `calibrate header-weights -cards 150 -seed 5201`.\n")
	if file == "" {
		fmt.Print(w.String())
		return nil
	}
	return os.WriteFile(file, []byte(w.String()), 0o644)
}

func headerWriters(all []headerRead) int {
	seen := map[int]bool{}
	for _, h := range all {
		seen[h.writer] = true
	}
	return len(seen)
}

// fitNames fits the log-odds that the best name is the right one: logistic regression by plain descent.
func fitNames(all []headerRead) [3]float64 {
	var w [3]float64
	const rounds, step = 20000, 0.05
	for range rounds {
		var g [3]float64
		for _, h := range all {
			x := [3]float64{1, min(h.over, 15), min(h.under, 8)}
			d := -1 / (1 + math.Exp(-(w[0] + w[1]*x[1] + w[2]*x[2])))
			if h.likest == h.means {
				d++
			}
			for i := range g {
				g[i] += d * x[i] / float64(len(all))
			}
		}
		for i := range w {
			w[i] += step * g[i]
		}
	}
	return w
}
