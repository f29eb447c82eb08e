package main

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"runtime"
	"slices"
	"strings"

	"gatefold/ocr"
	"gatefold/ocr/calib"
	"gatefold/ocr/crop"
	"gatefold/ocr/joint"
	"gatefold/ocr/train/strips"
	"gatefold/ocr/weights"
	"gatefold/scan/camera"
)

// cellGoals are what the thresholds of cells are chosen for. Cells are clear only where the target is met.
var cellGoals = map[calib.Kind]goal{
	calib.CellBib:  {1e-3, 0.30},
	calib.CellGate: {1e-3, 0.30},
	calib.CellCode: {1e-3, 0.30},
	// One is judged by its own curve; clear by itself it is where that of one look would be.
	calib.CellBibHigh:  {1e-3, 0.30},
	calib.CellGateHigh: {1e-3, 0.30},
	// A panel read wrongly for certain shows a row's fault beside another drawing; it lends no bib, for then the strip's has
	// to agree. Two writings are two looks: their goal is that of combs.
	calib.CellPanel: {1e-3, 0.30},
	calib.CellBib2:  {1e-4, 0.30},
}

// kindsOfCells are all kinds that a curve may be made for.
var kindsOfCells = append(slices.Clone(calib.CellKinds), calib.CellPanel, calib.CellBib2, calib.CellBibHigh, calib.CellGateHigh)

// cellRead is one strip as the cell net and the field's grammar read it.
type cellRead struct {
	strips.Record
	more   []*crop.Strip // what further looks at it saw
	kind   calib.Kind
	belief joint.Belief
	read   string // the likeliest text of the grammar, even where "none of these" is likelier
	text   string // as shown: empty where "none of these" is likelier
	score  float64
	doubt  bool // a question mark, or ink that is no sign
}

// right reports whether the text is what the ink says.
func (c *cellRead) right() bool { return c.text == c.Text }

// readCells reads strips that makestrips drew, on all cores; files are separated by commas. Combs among them are left out. Of
// each cell there are so many looks, one after the other.
func readCells(files string, looks int) (out []cellRead, err error) {
	if files == "" {
		return nil, nil
	}
	for file := range strings.SplitSeq(files, ",") {
		recs, err := strips.ReadRecords(file)
		if err != nil {
			return nil, err
		}
		if len(recs)%looks != 0 {
			return nil, fmt.Errorf("%s: %d strips, not %d of each cell; make them with makestrips -high", file, len(recs), looks)
		}
		for all := range slices.Chunk(recs, looks) {
			c := cellRead{Record: all[0]}
			for i := range all[1:] {
				r := &all[1+i]
				if r.Text != c.Text || r.Type != c.Type || r.Writer != c.Writer || r.Spoil != c.Spoil {
					return nil, fmt.Errorf("%s: %d strips in turn are not of one cell; make them with makestrips -high", file, looks)
				}
				c.more = append(c.more, &r.Strip)
			}
			if c.Type == strips.Comb || c.Spoil == strips.Empty {
				continue // combs have a reader of their own; what is empty is seen by its ink
			}
			out = append(out, c)
		}
	}
	nets := make([]*ocr.CellReader, runtime.GOMAXPROCS(0))
	defer func() {
		for _, n := range nets {
			if n != nil {
				err = errors.Join(err, n.Close())
			}
		}
	}()
	for i := range nets {
		if nets[i], err = ocr.OpenCellReader(); err != nil {
			return nil, err
		}
	}
	all := make([]*cellRead, len(out))
	for i := range out {
		all[i] = &out[i]
	}
	return out, share(all, len(nets), func(worker int, c *cellRead) error { return c.look(nets[worker]) })
}

// look reads the strip.
func (c *cellRead) look(n *ocr.CellReader) error {
	g := strips.GrammarOf(c.Type)
	looks := append([]*crop.Strip{&c.Strip}, c.more...)
	b, query, junk, err := n.Read(looks, g)
	if err != nil {
		return err
	}
	c.kind, c.belief, c.score, c.doubt = ocr.CellKind(g, len(looks)), b, joint.ScoreOf(b), ocr.CellDoubt(query, junk)
	c.text, _ = b.Top()
	if len(b.Texts) > 0 {
		c.read = b.Texts[0].Text
	}
	// On a card a letter of no panel is asked about, however sure the net is.
	c.doubt = c.doubt || c.Type == strips.Panel && c.text != "" && !strings.Contains(strips.Panels, c.text)
	return nil
}

// cellSamples keeps what the score alone decides about, and a quarter of the spoilt ones, as people make them.
func cellSamples(all []cellRead, kind calib.Kind) []calib.Sample {
	var out []calib.Sample
	for i, c := range all {
		if c.kind != kind || c.text == "" || c.doubt || c.spoilt() && i%troubleKept != 0 {
			continue
		}
		out = append(out, calib.Sample{Score: c.score, Right: c.right(), Writer: c.Writer})
	}
	return out
}

func (c *cellRead) spoilt() bool { return c.Spoil != strips.Clean && c.Spoil != strips.Outside }

// pairsOf reads strips that makestrips -twice drew, two of one writing side by side, together. Those in which the reader
// doubts the ink itself are left out, as they are on a card; the bib is not told from the pair's own kind otherwise.
func pairsOf(files string) (out []cellRead, err error) {
	all, err := readCells(files, 1)
	if err != nil || len(all)%2 != 0 {
		return nil, errors.Join(err, fmt.Errorf("%s: %d strips that can be read are no pairs; make them with makestrips -twice", files, len(all)))
	}
	for i := 0; i < len(all); i += 2 {
		a, b := all[i], all[i+1]
		if a.Text != b.Text || a.Writer != b.Writer {
			return nil, fmt.Errorf("%s: strips %d and %d are no pair; make them with makestrips -twice", files, i, i+1)
		}
		c := cellRead{Record: a.Record, kind: calib.CellBib2, doubt: a.doubt || b.doubt}
		x, y := ocr.CellShown(a.belief), ocr.CellShown(b.belief)
		if a.text == "" || b.text == "" || joint.Overlap(x, y) < joint.LeastOverlap {
			c.doubt = true // the two differ, and the paper's tie doesn't hold
		}
		c.belief = joint.Combine(x, y, joint.DefaultPrior)
		c.score = joint.ScoreOf(c.belief)
		c.text, _ = c.belief.Top()
		out = append(out, c)
	}
	return out, nil
}

// cellFiles are what cells reads: strips of single writings, files with commas between, of bibs written twice, and of high
// cells, which are looked at twice.
type cellFiles struct{ singles, twice, high string }

// read reads all three.
func (f cellFiles) read() (singles, twice, high []cellRead, err error) {
	singles, err1 := readCells(f.singles, 1)
	twice, err2 := pairsOf(f.twice)
	high, err3 := readCells(f.high, 2)
	return singles, twice, high, errors.Join(err1, err2, err3)
}

// cells makes cells.json and its report from strips of calibration and threshold writers. A kind of which no strips
// are given has no curve, and nothing of it is clear.
func cells(calibration, threshold cellFiles, out, reportFile, data string) error {
	cal, calTwice, calHigh, err := calibration.read()
	if err != nil {
		return err
	}
	limits, limitsTwice, limitsHigh, err := threshold.read()
	if err != nil {
		return err
	}
	file := calib.File{
		Format: calib.Format, Weights: weights.Cells(), Levels: camera.LevelsHash(), Layout: "bench card 0", Data: data,
		Kinds: map[calib.Kind]calib.Judgement{},
	}
	calMore, limitsMore := slices.Concat(calTwice, calHigh), slices.Concat(limitsTwice, limitsHigh)
	for _, kind := range kindsOfCells {
		g := cellGoals[kind]
		fit, choose := cellSamples(slices.Concat(cal, calMore), kind), cellSamples(slices.Concat(limits, limitsMore), kind)
		if len(fit) == 0 || len(choose) == 0 {
			continue
		}
		file.Kinds[kind] = calib.Judgement{Curve: calib.Fit(fit), Threshold: calib.Choose(choose, g.target, g.maxAsk)}
	}
	b, err := json.MarshalIndent(file, "", " ")
	if err != nil {
		return err
	}
	if err := os.WriteFile(out, append(b, '\n'), 0o644); err != nil {
		return err
	}
	var w strings.Builder
	cellReport(&w, cal, limits, calMore, limitsMore, file)
	return os.WriteFile(reportFile, []byte(w.String()), 0o644)
}

// writersOf counts writers.
func writersOf(all []cellRead) int {
	seen := map[int]bool{}
	for _, c := range all {
		seen[c.Writer] = true
	}
	return len(seen)
}

// crossed judges each writer's samples by a curve from the other half of the writers.
func crossed(all []calib.Sample) (claimed []float64, wrong []bool) {
	var writers []int
	for _, s := range all {
		if !slices.Contains(writers, s.Writer) {
			writers = append(writers, s.Writer)
		}
	}
	slices.Sort(writers)
	half := func(s calib.Sample) bool { return slices.Index(writers, s.Writer)%2 == 0 }
	for _, first := range []bool{true, false} {
		var fit []calib.Sample
		for _, s := range all {
			if half(s) == first {
				fit = append(fit, s)
			}
		}
		curve := calib.Fit(fit)
		for _, s := range all {
			if half(s) != first {
				claimed, wrong = append(claimed, curve.WrongAt(s.Score)), append(wrong, !s.Right)
			}
		}
	}
	return claimed, wrong
}

func cellReport(w *strings.Builder, cal, limits, calMore, limitsMore []cellRead, file calib.File) {
	p := func(format string, args ...any) { fmt.Fprintf(w, format, args...) }
	p("# Free cells: what the cell net reads\n\n")
	p("Written by `calibrate cells` (`cmd/calibrate/cells.sh` makes it again), for the cell net with the digit nets beside it,\n")
	p("together `%.12s`. Cells of a bench card, its fields as large as the gate card's, each written by one hand (MNIST digits of one\n", file.Weights)
	p("writer, redrawn), photographed by `scan/camera`, half at the ordinary and half at the hard level, straightened a little off.\n")
	p("Report writers were not touched.\n")
	p("%s.\n\n", file.Data)
	p("**Letters have no writer ids.** They are split by their index in the file, *not by writer*: figures of fields with\n")
	p("letters (code, code and gate, suffixes of gates) flatter.\n\n")
	p("**No free cell is clear with these curves** unless the column *met* says so: the goal was not proven for\n")
	p("the others. The reading is a help to a person, with an honest certainty.\n\n")

	p("## Texts wrong, before anything is asked\n\n%d cells of %d calibration writers, %d of %d threshold writers; plain writing only.\n", len(cal), writersOf(cal), len(limits), writersOf(limits))
	p("*None* is the share where \"none of these\" is likelier than any text; *wrong* counts these too.\n\n")
	p("| field | signs | ordinary: cells | wrong %% | none %% | hard: cells | wrong %% | none %% |\n|---|---|---|---|---|---|---|---|\n")
	both := append(slices.Clone(cal), limits...)
	// What is told of kinds below is told of two writings and of high cells too.
	cal, limits = slices.Concat(cal, calMore), slices.Concat(limits, limitsMore)
	kinds := slices.DeleteFunc(slices.Clone(kindsOfCells), func(k calib.Kind) bool { _, has := file.Kinds[k]; return !has })
	for _, t := range append(slices.Clone(strips.Types), strips.Panel) {
		for _, signs := range [][2]int{{1, 1}, {2, 2}, {3, 3}, {4, 5}, {6, 16}} {
			var row [2]struct{ n, wrong, none int }
			for i := range both {
				c := &both[i]
				if c.Type != t || c.spoilt() || len(c.Text) < signs[0] || len(c.Text) > signs[1] {
					continue
				}
				r := &row[btoi(c.Hard)]
				r.n++
				r.wrong += btoi(!c.right())
				r.none += btoi(c.text == "")
			}
			if row[0].n+row[1].n < 20 {
				continue
			}
			name := fmt.Sprint(signs[0])
			if signs[0] != signs[1] {
				name = fmt.Sprintf("%d or more", signs[0])
				if signs[1] < 16 {
					name = fmt.Sprintf("%d to %d", signs[0], signs[1])
				}
			}
			p("| %s | %s |", t, name)
			for _, r := range row {
				p(" %d | %s | %s |", r.n, percent(r.wrong, r.n), percent(r.none, r.n))
			}
			p("\n")
		}
	}

	p("\n## Spoilt cells\n\nOf both parts' writers. *Shown as a text* is what the score alone would judge; the rest is \"none of these\", or a\nquestion mark or ink that is no sign was seen. *Wrong and sure*: such a text with a score of 2 or more (1 wrong in 100 by its own claim).\n\n")
	p("| what | cells | shown as a text | of these wrong | wrong and sure |\n|---|---|---|---|---|\n")
	for _, s := range []strips.Spoil{strips.Dash, strips.Scribble, strips.Word, strips.Struck, strips.StruckThen, strips.Question, strips.Overwritten, strips.Outside} {
		n, shown, wrong, sure := 0, 0, 0, 0
		for i := range both {
			c := &both[i]
			if c.Spoil != s {
				continue
			}
			n++
			if c.text == "" || c.doubt {
				continue
			}
			shown++
			if !c.right() {
				wrong++
				sure += btoi(c.score >= 2)
			}
		}
		p("| %s | %d | %d | %d | %d |\n", s, n, shown, wrong, sure)
	}

	p("\n## Risk and coverage\n\nWrong among what is left when the least certain share is asked; undoubted cells with a quarter of the spoilt, all levels.\n\n")
	p("| kind | writers | cells |")
	asks := []float64{0, 0.01, 0.02, 0.05, 0.1, 0.2, 0.3}
	for _, a := range asks {
		p(" %g %% asked |", 100*a)
	}
	p("\n|---|---|---|%s\n", strings.Repeat("---|", len(asks)))
	for _, kind := range kinds {
		for _, part := range []struct {
			name string
			all  []cellRead
		}{{"calibration", cal}, {"threshold", limits}} {
			s := cellSamples(part.all, kind)
			slices.SortFunc(s, func(a, b calib.Sample) int { return cmpFloat(a.Score, b.Score) })
			p("| %s | %s | %d |", kind, part.name, len(s))
			for _, a := range asks {
				wrong := 0
				for _, x := range s[int(a*float64(len(s))):] {
					wrong += btoi(!x.Right)
				}
				p(" %d |", wrong)
			}
			p("\n")
		}
	}

	p("\n## Is the certainty honest?\n\nCalibration writers in two halves, each judged by a curve from the other half; and threshold writers judged by the\ncurves of the file. Observed over claimed share of wrong texts, by decade of the claim.\n\n")
	p("| kind | judged | claim | cells | claimed wrong | wrong | observed / claimed |\n|---|---|---|---|---|---|---|\n")
	for _, kind := range kinds {
		claimed, wrong := crossed(cellSamples(cal, kind))
		decades(p, string(kind), "calibration, crossed", claimed, wrong)
		claimed, wrong = nil, nil
		for _, s := range cellSamples(limits, kind) {
			claimed, wrong = append(claimed, file.Kinds[kind].Curve.WrongAt(s.Score)), append(wrong, !s.Right)
		}
		decades(p, string(kind), "threshold", claimed, wrong)
	}

	p("\n## Thresholds\n\n| kind | target | score | asked %% | clear | wrong of these | 95 %% bound, corrected | met |\n|---|---|---|---|---|---|---|---|\n")
	for _, kind := range kinds {
		t := file.Kinds[kind].Threshold
		p("| %s | %g | %.2f | %.1f | %d | %d | %.4f | %t |\n", kind, t.Target, t.Score, 100*t.Asked, t.Clear, t.Wrong, t.Upper95, t.Met)
	}

	glyphs(p, limits, file)

	p("\n## Letters, *not split by writer*\n\nCapitals in plain codes and codes with gates, where as many signs were read as written; read is the likeliest text of the\nfield's grammar, asked or not. Both parts' writers.\n\n| letter | written | read otherwise | as |\n|---|---|---|---|\n")
	letters(p, both)
}

// glyphs says how many different writers, and for panels how few different letters, stand behind a threshold: strips of
// one hand, and of one glyph, are wrong together.
func glyphs(p func(string, ...any), limits []cellRead, file calib.File) {
	p("\nA bound over cells is one for these hands and letters: each writer wrote many cells, and the letters of a part are few, each drawn\n")
	p("many times. Writers with any cell that is wrong and clear, of all who wrote one, and its 95 %% bound:\n\n| kind | writers | with one wrong and clear | 95 %% bound |\n|---|---|---|---|\n")
	for _, kind := range kindsOfCells {
		j, has := file.Kinds[kind]
		if !has {
			continue
		}
		wrong := map[int]bool{}
		for _, s := range cellSamples(limits, kind) {
			if s.Score >= j.Threshold.Score {
				wrong[s.Writer] = wrong[s.Writer] || !s.Right
			}
		}
		n := 0
		for _, is := range wrong {
			n += btoi(is)
		}
		p("| %s | %d | %d | %.3f |\n", kind, len(wrong), n, calib.Upper(n, len(wrong), 0.05))
	}
}

func decades(p func(string, ...any), kind, judged string, claimed []float64, wrong []bool) {
	for _, d := range [][2]float64{{0.1, 1}, {0.01, 0.1}, {0.001, 0.01}, {0, 0.001}} {
		n, sum, k := 0, 0.0, 0
		for i, c := range claimed {
			if c >= d[0] && c < d[1] {
				n, sum, k = n+1, sum+c, k+btoi(wrong[i])
			}
		}
		if n == 0 {
			continue
		}
		p("| %s | %s | %g to %g | %d | %.1f | %d | %.2f |\n", kind, judged, d[0], d[1], n, sum, k, float64(k)/sum)
	}
}

// letters tables the capitals and what each is taken for.
func letters(p func(string, ...any), all []cellRead) {
	written, as := map[byte]int{}, map[byte]map[byte]int{}
	for i := range all {
		c := &all[i]
		if c.kind != calib.CellCode || c.spoilt() || len(c.read) != len(c.Text) {
			continue
		}
		for k := range len(c.Text) {
			if a := c.Text[k]; a >= 'A' && a <= 'Z' {
				written[a]++
				if b := c.read[k]; b != a {
					if as[a] == nil {
						as[a] = map[byte]int{}
					}
					as[a][b]++
				}
			}
		}
	}
	for c := byte('A'); c <= 'Z'; c++ {
		if written[c] == 0 {
			continue
		}
		n, list := 0, ""
		for b := byte('0'); b <= 'z'; b++ {
			if k := as[c][b]; k > 0 {
				n += k
				list += fmt.Sprintf("%c %d, ", b, k)
			}
		}
		p("| %c | %d | %d | %s |\n", c, written[c], n, strings.TrimSuffix(list, ", "))
	}
}

func percent(k, n int) string {
	if n == 0 {
		return "–"
	}
	return fmt.Sprintf("%.1f", 100*float64(k)/float64(n))
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

func cmpFloat(a, b float64) int { return cmp.Compare(a, b) }
