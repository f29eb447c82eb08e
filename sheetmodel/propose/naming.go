package propose

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

var grammarOf = map[sheetmodel.Kind]sheetmodel.Grammar{
	sheetmodel.Comb: sheetmodel.GrammarCount, sheetmodel.Cell: sheetmodel.GrammarFree, sheetmodel.Text: sheetmodel.GrammarFree,
	sheetmodel.Tick: sheetmodel.GrammarMark, sheetmodel.Drawing: sheetmodel.GrammarDrawing, sheetmodel.Choice: sheetmodel.GrammarWord,
}

// column is units of one kind and size below each other.
type column struct {
	units []unit
	label string
}

func (c *column) left() sheetmodel.MM { return c.units[0].rect.X }

// twin reports whether two columns are drawn alike.
func (c *column) twin(o *column) bool {
	a, b := c.units[0], o.units[0]
	return a.kind == b.kind && a.boxes == b.boxes && len(a.options) == len(b.options) && near(a.rect.W, b.rect.W)
}

// name sorts units into tables and loose fields, numbers rows, and says what words say about them.
func (f *finder) name() error {
	slices.SortFunc(f.units, func(a, b unit) int { return cmp.Or(cmp.Compare(a.rect.X, b.rect.X), cmp.Compare(a.rect.Y, b.rect.Y)) })
	var columns []*column
	var loose []unit
	taken := make([]bool, len(f.units))
	for i, u := range f.units {
		if taken[i] {
			continue
		}
		var col []unit
		for j := i; j < len(f.units); j++ {
			v := f.units[j]
			if !taken[j] && v.kind == u.kind && v.boxes == u.boxes && len(v.options) == len(u.options) && v.line == u.line && v.panel == u.panel &&
				near(v.rect.X, u.rect.X) && near(v.rect.W, u.rect.W) && near(v.rect.H, u.rect.H) {
				col = append(col, v)
				taken[j] = true
			}
		}
		slices.SortFunc(col, func(a, b unit) int { return cmp.Compare(a.rect.Y, b.rect.Y) })
		if c := (&column{units: col}); len(col) >= tableRows && !u.line && !u.panel && !f.ownLabels(c) && !f.underPanels(c) {
			columns = append(columns, c)
			continue
		}
		loose = append(loose, col...)
	}
	row := 0
	tables := splitTables(columns)
	for _, c := range columns {
		if err := f.headOf(c); err != nil {
			return err
		}
	}
	shareHeads(tables)
	for _, table := range f.joinTables(tables) {
		row = f.table(table, row)
	}
	f.loose(loose)
	return nil
}

// ownLabels reports whether each of a column's units has a known word of its own before it: a form, no table.
func (f *finder) ownLabels(c *column) bool {
	parts := map[sheetmodel.Part]bool{}
	for _, u := range c.units {
		if s, ok := senseOf(f.leftOf(u.rect), false); ok {
			parts[s.part] = true
		}
	}
	return len(parts) >= 2
}

// underPanels reports whether each of a column's units stands under a panel: for the bibs drawn there, no row of a table.
func (f *finder) underPanels(c *column) bool {
	return !slices.ContainsFunc(c.units, func(u unit) bool { _, ok := panelOver(u, f.units); return !ok })
}

const gutter = 2.5 // mm of white between two tables side by side

// splitTables parts columns, from left to right, into tables that stand side by side or below each other.
func splitTables(columns []*column) [][]*column {
	var tables [][]*column
	// Columns that share no row are of tables below each other.
	var groups [][]*column
	for _, c := range columns {
		i := slices.IndexFunc(groups, func(g []*column) bool {
			return slices.ContainsFunc(g, func(o *column) bool { return sharedRows(o, c) })
		})
		if i < 0 {
			groups = append(groups, []*column{c})
			continue
		}
		groups[i] = append(groups[i], c)
	}
	slices.SortStableFunc(groups, func(a, b []*column) int { return cmp.Compare(a[0].units[0].rect.Y, b[0].units[0].rect.Y) })
	for _, g := range groups {
		slices.SortFunc(g, func(a, b *column) int { return cmp.Compare(a.left(), b.left()) })
		from := 0
		period := repeats(g)
		for i := 1; i < len(g); i++ {
			apart := g[i].units[0].table != g[i-1].units[0].table && g[i].units[0].parent.X-g[i-1].units[0].parent.X-g[i-1].units[0].parent.W > gutter
			if apart && period == 0 || period > 0 && i%period == 0 {
				tables = append(tables, g[from:i])
				from = i
			}
		}
		tables = append(tables, g[from:])
	}
	return tables
}

// joinTables puts a table to the one at its left where their rows lie side by side: columns that don't touch are still one table if no
// word comes twice, and nothing is drawn like the left one's bibs, or its first column where no word says which those are: a table that
// stands on the card twice begins anew with them. Rows of their own would name no racer.
func (f *finder) joinTables(tables [][]*column) [][]*column {
	var out [][]*column
	for _, t := range tables {
		if len(out) > 0 && f.goesWith(out[len(out)-1], t) {
			out[len(out)-1] = append(slices.Clone(out[len(out)-1]), t...)
			continue
		}
		out = append(out, t)
	}
	return out
}

func (f *finder) goesWith(left, t []*column) bool {
	parts := map[sheetmodel.Part]bool{}
	leads := left[0]
	for _, c := range left {
		if s, ok := f.columnSense(c); ok {
			parts[s.part] = true
			if s.part == sheetmodel.PartBib {
				leads = c
			}
		}
	}
	for _, c := range t {
		s, ok := f.columnSense(c)
		if ok && parts[s.part] || c.twin(leads) || !sharedRows(leads, c) || len(c.units) != len(leads.units) {
			return false
		}
	}
	return true
}

func sharedRows(a, b *column) bool {
	n := 0
	for _, u := range a.units {
		if slices.ContainsFunc(b.units, func(v unit) bool { return sameRow(u, v) }) {
			n++
		}
	}
	return 2*n > min(len(a.units), len(b.units))
}

func sameRow(a, b unit) bool {
	return math.Abs(float64(a.rect.Center().Y-b.rect.Center().Y)) < 1.5
}

// repeats returns after how many columns the same columns come again, 0 if they don't. Two columns that are alike are
// no table each: they must differ within, or hang apart.
func repeats(g []*column) int {
	for p := 1; 2*p <= len(g); p++ {
		if len(g)%p != 0 {
			continue
		}
		all, apart := true, true
		for i := p; i < len(g); i++ {
			all = all && g[i].twin(g[i-p])
		}
		for i := p; i < len(g); i += p {
			apart = apart && g[i].units[0].table != g[i-1].units[0].table
		}
		if all && (apart || p > 1 && !g[0].twin(g[1])) {
			return p
		}
	}
	return 0
}

// table adds the fields of one table, column by column, whose rows are numbered from after on. It returns the last row.
func (f *finder) table(columns []*column, after int) int {
	var tops []sheetmodel.MM
	for _, c := range columns {
		for _, u := range c.units {
			y := u.rect.Center().Y
			if !slices.ContainsFunc(tops, func(t sheetmodel.MM) bool { return math.Abs(float64(t-y)) < 1.5 }) {
				tops = append(tops, y)
			}
		}
	}
	slices.Sort(tops)
	used := map[sheetmodel.Part]bool{}
	came := f.cameBy(columns, tops)
	for k, c := range columns {
		s, known := f.columnSense(c)
		if k == came {
			s, known = sense{sheetmodel.PartPassed, sheetmodel.GrammarMark}, true
		}
		if known && used[s.part] {
			known = false // two columns for one thing: a person says which
		}
		first := c.units[0]
		var values []string
		if first.kind == sheetmodel.Choice {
			values = f.optionWords(c)
			c.label = ""
			if !known {
				s, known = sense{sheetmodel.PartCode, sheetmodel.GrammarWord}, !used[sheetmodel.PartCode] && len(first.options) > 1 && f.read != nil
			}
		}
		part, suffix := sheetmodel.PartUnnamed, fmt.Sprintf("column-%d", k+1)
		if known {
			part, suffix = s.part, string(s.part)
			used[part] = true
		}
		from := len(f.Fields) + 1
		for _, u := range c.units {
			y := u.rect.Center().Y
			row := after + 1 + slices.IndexFunc(tops, func(t sheetmodel.MM) bool { return math.Abs(float64(t-y)) < 1.5 })
			f.add(fmt.Sprintf("row-%02d.%s", row, suffix), u, row, part, s.grammar, values)
		}
		what := describeUnit(first)
		switch {
		case known && strings.TrimSpace(c.label) != "":
			f.unsure("%d to %d: column %d, %d rows, a %s: proposed as %s, because %q is printed over it. Is that right?", from, len(f.Fields), k+1, len(c.units), what, part, strings.TrimSpace(c.label))
		case k == came:
			f.unsure("%d to %d: column %d, %d rows, a %s: proposed as %s, as the first boxes to tick behind the bibs of all racers mostly are. Is that right?", from, len(f.Fields), k+1, len(c.units), what, part)
		case known:
			f.unsure("%d to %d: column %d, %d rows, a %s: proposed as %s, as a choice in each row mostly is. Is that right, and what does each box stand for?", from, len(f.Fields), k+1, len(c.units), what, part)
		default:
			said := "no word that is known is printed over it"
			if t := strings.TrimSpace(c.label); t != "" {
				said = fmt.Sprintf("%q is printed over it", t)
			}
			f.unsure("%d to %d: column %d, %d rows, taken for a %s, %s: what is it for?", from, len(f.Fields), k+1, len(c.units), what, said)
		}
		if first.kind == sheetmodel.Cell && combShaped(first.rect) && (part == sheetmodel.PartBib || part == sheetmodel.PartGate) {
			f.unsure("%d to %d: boxes as narrow as for one digit. If no more than one is written into each, fill them as comb: such boxes are read better", from, len(f.Fields))
		}
		if first.maybe {
			f.unsure("%d to %d: small boxes in a row: one digit each, or each to be ticked by itself?", from, len(f.Fields))
		}
	}
	if !used[sheetmodel.PartBib] {
		f.printedBibs(columns, tops, after, used[sheetmodel.PartPassed] && came < 0)
	}
	return after + len(tops)
}

// printedBibs proposes the numbers printed before the rows of a table with a mark for every racer as those rows' bibs. marks
// says that such a column was understood; else the word over the numbers must say that they are bibs, for rows have numbers too.
// Only a number that was read, and that its place among the others agrees with, is proposed: none is ever completed.
func (f *finder) printedBibs(columns []*column, tops []sheetmodel.MM, after int, marks bool) {
	read := make([]int, len(tops))
	at, in := f.before(columns, tops)
	if !marks && !f.underBibs(at, in) {
		return
	}
	offsets := map[int]int{}
	for row := range tops {
		if in[row] < 0 {
			continue
		}
		if read[row] = f.numberIn(f.boxes[in[row]]); read[row] > 0 {
			offsets[read[row]-row]++
		}
	}
	offset, votes := 0, 0
	for o, n := range offsets {
		if n > votes || n == votes && o < offset {
			offset, votes = o, n
		}
	}
	if 2*votes < len(tops) {
		f.unsure("rows %d to %d: the bibs printed before them were not read: say in the file which bib each row is for", after+1, after+len(tops))
		return
	}
	from := len(f.Fields) + 1
	var without []string
	for row := range tops {
		n := after + row + 1
		if in[row] < 0 {
			continue
		}
		if read[row] == 0 || read[row]-row != offset { // a place without its bib, which a person says
			without = append(without, strconv.Itoa(n))
			f.add(fmt.Sprintf("row-%02d.printed", n), unit{rect: at[row], kind: sheetmodel.Printed}, n, sheetmodel.PartUnnamed, sheetmodel.GrammarBib, nil)
			f.Fields[len(f.Fields)-1].Grammar = sheetmodel.GrammarBib
			continue
		}
		f.add(fmt.Sprintf("row-%02d.bib", n), unit{rect: at[row], kind: sheetmodel.Printed}, n, sheetmodel.PartBib, sheetmodel.GrammarBib, nil)
		last := &f.Fields[len(f.Fields)-1]
		bib := strconv.Itoa(read[row])
		last.Options = []sheetmodel.Option{{Value: bib, Label: bib, Rect: last.Rect}}
	}
	said := ""
	if len(without) > 0 {
		said = fmt.Sprintf(" No number was read in row %s: if the numbers of this column run on, press here and type the first of this column under Bibs printed from.", strings.Join(without, ", "))
	}
	f.unsure("%d to %d: bibs printed before the rows, proposed from %d on. Is each of them right?%s", from, len(f.Fields), offset, said)
}

// before finds, for each row, the box with print that stands nearest before the first column, and its index; -1 where there is none.
func (f *finder) before(columns []*column, tops []sheetmodel.MM) (at []sheetmodel.Rect, in []int) {
	first := columns[0].units[0]
	at, in = make([]sheetmodel.Rect, len(tops)), make([]int, len(tops))
	for row, y := range tops {
		in[row] = -1
		for i, b := range f.boxes {
			if b.printed && !b.holds && f.tables[i] == first.table && b.rect.X <= first.rect.X && math.Abs(float64(b.rect.Center().Y-y)) <= 1.5 && b.rect.X >= at[row].X {
				at[row], in[row] = b.rect, i
			}
		}
	}
	return at, in
}

// underBibs reports whether the word over what before found says that it is bibs.
func (f *finder) underBibs(at []sheetmodel.Rect, in []int) bool {
	if in[0] < 0 {
		return false
	}
	h := f.heading(at[0])
	if h < 0 {
		return false
	}
	s, ok := senseOf(f.textIn(f.boxes[h].rect), true)
	return ok && s.part == sheetmodel.PartBib
}

const narrow = 12.5 // mm: a wider column has room for more than a mark

// columnSense is what the word over a column says there. On a list of all racers "seen" over a column for one mark is said of the
// racer, who came by; over a wider one, and on a card for faults, of what was seen.
func (f *finder) columnSense(c *column) (sense, bool) {
	s, ok := senseOf(c.label, true)
	first := c.units[0]
	mark := first.kind == sheetmodel.Tick || first.kind == sheetmodel.Cell && !first.line && first.rect.W <= narrow
	if ok && s.part == sheetmodel.PartCode && f.style == sheetmodel.EveryRacer && mark && onlySeen(c.label) {
		return sense{sheetmodel.PartPassed, sheetmodel.GrammarMark}, true
	}
	return s, ok
}

// cameBy is the column of a list of all racers that is for who came by though no word says so, -1 if there is none: the first boxes to
// tick behind the bibs. A word that is printed over them says something else, though it isn't known.
func (f *finder) cameBy(columns []*column, tops []sheetmodel.MM) int {
	if f.style != sheetmodel.EveryRacer || f.read == nil {
		return -1
	}
	bibs, first := -1, -1
	for k, c := range columns {
		switch s, _ := f.columnSense(c); {
		case s.part == sheetmodel.PartPassed:
			return -1
		case s.part == sheetmodel.PartBib && bibs < 0:
			bibs = k
		}
	}
	if bibs < 0 && !f.underBibs(f.before(columns, tops)) {
		return -1
	}
	for k, c := range columns {
		if first < 0 && k > bibs && c.units[0].kind == sheetmodel.Tick {
			first = k
		}
	}
	if first >= 0 && strings.TrimSpace(columns[first].label) != "" {
		return -1
	}
	return first
}

func (f *finder) unsure(format string, args ...any) {
	f.Unsure = append(f.Unsure, fmt.Sprintf(format, args...))
}

func describeUnit(u unit) string {
	switch {
	case u.kind == sheetmodel.Comb && u.boxes == 1:
		return "comb of one box"
	case u.kind == sheetmodel.Comb:
		return fmt.Sprintf("comb of %d boxes", u.boxes)
	case u.kind == sheetmodel.Choice:
		return fmt.Sprintf("choice of %d boxes to tick", len(u.options))
	case u.line:
		return "line to write on"
	default:
		return string(u.kind)
	}
}

// shareHeads gives tables that are drawn alike the best of their headings: one of them may be misread.
func shareHeads(tables [][]*column) {
	worth := func(label string) int {
		s, known := senseOf(label, true)
		switch {
		case known && s.grammar == sheetmodel.GrammarCodeGate: // two words were read, not one
			return 2
		case known:
			return 1
		}
		return 0
	}
	for i, a := range tables {
		for _, b := range tables[i+1:] {
			alike := len(a) == len(b)
			for k := range min(len(a), len(b)) {
				alike = alike && a[k].twin(b[k])
			}
			if !alike {
				continue
			}
			for k := range a {
				if worth(b[k].label) > worth(a[k].label) {
					a[k].label = b[k].label
				} else {
					b[k].label = a[k].label
				}
			}
		}
	}
}

// numberIn is the number printed in a box, 0 where none is read.
func (f *finder) numberIn(b box) int {
	if f.read == nil || b.print.Empty() {
		return 0
	}
	text, err := f.read.Number(f.cut(b.print.Inset(-int(0.6 * f.PxPerMM))))
	if err != nil {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		return 0
	}
	return n
}

const (
	headNear = 8.0  // mm over a column's first row in which its heading stands
	headFar  = 16.0 // the same where nothing is nearer, neither word nor place to write
)

// farHead is a known word that stands by itself higher over a column, with nothing to fill between.
func (f *finder) farHead(over sheetmodel.Rect) string {
	best, low := "", over.Y-headFar
	for _, l := range f.labels {
		c := l.rect.Center()
		if c.X < over.X || c.X > over.X+over.W || c.Y > over.Y || c.Y < low {
			continue
		}
		if _, known := senseOf(l.text, true); !known {
			continue
		}
		if !slices.ContainsFunc(f.units, func(u unit) bool {
			return u.rect.X < over.X+over.W && u.rect.X+u.rect.W > over.X && u.rect.Y+u.rect.H > c.Y && u.rect.Y+alike < over.Y
		}) {
			best, low = l.text, c.Y
		}
	}
	return best
}

// headOf finds what is printed over a column: in its heading's box, or just above its first row.
func (f *finder) headOf(c *column) error {
	first := c.units[0]
	n := max(1, first.boxes, len(first.options))
	seen := map[int]bool{}
	for i := range n {
		h := f.heading(first.rect.Box(i, n))
		if h < 0 || seen[h] {
			continue
		}
		seen[h] = true
		text := f.textIn(f.boxes[h].rect)
		if _, known := senseOf(text, true); !known && f.read != nil && len(first.options) == 0 {
			again, err := f.block(f.boxes[h])
			if err != nil {
				return err
			}
			if _, known := senseOf(again, true); known || text == "" {
				text = again
			}
		}
		c.label += " " + text
	}
	if strings.TrimSpace(c.label) == "" {
		over := first.parent
		if n > 1 {
			over = first.rect
		}
		above := sheetmodel.Rect{X: over.X - 1, Y: over.Y - headNear, W: over.W + 2, H: headNear}
		for _, l := range f.labels {
			if above.Contains(l.rect.Center()) {
				c.label += " " + l.text
			}
		}
		if far := f.farHead(over); strings.TrimSpace(c.label) == "" && far != "" {
			c.label = far
			return nil
		}
		// By itself a word is often read better than among all others.
		if _, known := senseOf(c.label, true); !known && f.read != nil {
			px := f.words.bounds(f.px(above))
			if px.Empty() || f.mm(px.Dy()) < 1 {
				return nil
			}
			again, err := f.read.Block(f.cut(px.Inset(-int(0.5 * f.PxPerMM))))
			if err != nil {
				return err
			}
			if _, known := senseOf(again, true); known || c.label == "" {
				c.label = again
			}
		}
	}
	return nil
}

// block reads one heading by itself; one that is higher than wide also turned.
func (f *finder) block(b box) (string, error) {
	r := b.px.Inset(int(edgeMM * f.PxPerMM))
	piece := f.cut(r)
	text, err := f.read.Block(piece)
	if err != nil || piece.Rect.Dy() < piece.Rect.Dx() {
		return text, err
	}
	if _, known := senseOf(text, true); known {
		return text, nil
	}
	return f.read.Block(quarter(piece))
}

// optionWords reads what stands over each box of a choice, or in it; boxes of which nothing is read are numbered.
func (f *finder) optionWords(c *column) []string {
	first := c.units[0]
	words := make([]string, len(first.options))
	for i, r := range first.options {
		text := ""
		switch h := f.heading(r); {
		case i < len(first.printed):
			// The same letter in every row: what most rows say.
			votes := map[string]int{}
			for _, u := range c.units {
				if i < len(u.printed) && u.printed[i] != "" {
					votes[u.printed[i]]++
				}
			}
			for w, n := range votes {
				if n > votes[text] || n == votes[text] && w < text {
					text = w
				}
			}
		case h >= 0 && f.boxes[h].rect.W < r.W+2*alike:
			text = strings.TrimSpace(f.textIn(f.boxes[h].rect))
			if one := f.letterIn(f.boxes[h].print); len([]rune(text)) <= 1 && one != "" {
				text = one
			}
		default:
			strip := sheetmodel.Rect{X: r.X, Y: r.Y - 4, W: r.W, H: 3.8}
			if h >= 0 {
				strip.Y, strip.H = f.boxes[h].rect.Y, f.boxes[h].rect.H
			}
			if ink := f.words.bounds(f.px(strip)); !ink.Empty() {
				text = f.letterIn(ink)
			}
		}
		text = strings.Join(strings.Fields(text), "-")
		if text == "" || slices.Contains(words[:i], text) {
			text = fmt.Sprintf("box-%d", i+1)
		}
		words[i] = text
	}
	return words
}

const (
	labelReach = 14.0 // mm from a word to the place it stands before
	labelAbove = 5.0  // mm from a word to the place it stands over
)

// leftOf is what is printed before r on its line, with nothing else to fill between.
func (f *finder) leftOf(r sheetmodel.Rect) string {
	best, gap := "", sheetmodel.MM(labelReach)
	for _, l := range f.labels {
		c := l.rect.Center()
		d := r.X - l.rect.X - l.rect.W
		if c.Y < r.Y+min(r.H/2, 3) || c.Y > r.Y+r.H+1.5 || d < -1 || d > gap {
			continue
		}
		between := slices.ContainsFunc(f.units, func(u unit) bool {
			return u.rect.X > l.rect.X+l.rect.W-1 && u.rect.X+u.rect.W < r.X+1 && u.rect.Y < c.Y && u.rect.Y+u.rect.H > c.Y && u.rect != r
		})
		if !between {
			best, gap = l.text, d
		}
	}
	return best
}

// rightOf is what is printed close behind r.
func (f *finder) rightOf(r sheetmodel.Rect) string {
	best, gap := "", sheetmodel.MM(4)
	for _, l := range f.labels {
		c := l.rect.Center()
		if d := l.rect.X - r.X - r.W; c.Y > r.Y-0.5 && c.Y < r.Y+r.H+0.5 && d > -0.5 && d < gap {
			best, gap = l.text, d
		}
	}
	return best
}

// overOf is what is printed close over r.
func (f *finder) overOf(r sheetmodel.Rect) string {
	best, gap := "", sheetmodel.MM(labelAbove)
	for _, l := range f.labels {
		c := l.rect.Center()
		if d := r.Y - l.rect.Y - l.rect.H; c.X > r.X-1 && l.rect.X < r.X+r.W && d > -1 && d < gap {
			best, gap = l.text, d
		}
	}
	return best
}

// loose adds fields that are in no table, with the word beside each.
func (f *finder) loose(units []unit) {
	slices.SortStableFunc(units, func(a, b unit) int {
		if math.Abs(float64(a.rect.Y+a.rect.H-b.rect.Y-b.rect.H)) < 3 {
			return cmp.Compare(a.rect.X, b.rect.X)
		}
		return cmp.Compare(a.rect.Y+a.rect.H, b.rect.Y+b.rect.H)
	})
	used := map[string]int{}
	name := func(want string) string {
		used[want]++
		if used[want] > 1 {
			return fmt.Sprintf("%s-%d", want, used[want])
		}
		return want
	}
	hasBibs := slices.ContainsFunc(f.Fields, func(o sheetmodel.Field) bool { return o.Part == sheetmodel.PartBib })
	n := 0
	for i, u := range units {
		n++
		if u.panel {
			f.panel(u, n, name)
			continue
		}
		if letter, _ := panelOver(u, units); letter != "" {
			f.add(name("panel-"+letter+".bib"), unit{rect: u.rect, kind: u.kind, boxes: u.boxes}, 0, sheetmodel.PartBib, sheetmodel.GrammarBib, nil)
			last := &f.Fields[len(f.Fields)-1]
			last.Panel, last.Entry = letter, used["panel-"+letter+".bib"]
			f.unsure("%d: %s under panel %s, proposed for the bibs drawn there. Is that right?", len(f.Fields), describeUnit(u), letter)
			continue
		}
		label := cmp.Or(u.label, f.leftOf(u.rect), f.overOf(u.rect))
		if u.kind == sheetmodel.Tick {
			label = cmp.Or(f.rightOf(u.rect), f.leftOf(u.rect))
		}
		s, known := senseOf(label, false)
		if u.kind == sheetmodel.Tick && known {
			known = false // one of several words to tick: a person says of what
		}
		if known && s.part == sheetmodel.PartBib && hasBibs {
			known = false // bibs stand in the table: this is another number
		}
		if !known && i+1 < len(units) && f.opensRange(label, u, units[i+1]) {
			s, known = sense{sheetmodel.PartGateFrom, sheetmodel.GrammarGate}, true
		}
		part, field := sheetmodel.PartUnnamed, fmt.Sprintf("header.field-%d", n)
		if known {
			part, field = s.part, "header."+string(s.part)
			if part == sheetmodel.PartRemark {
				field = "remark-1.text"
			}
		}
		if u.kind == sheetmodel.Cell && part == sheetmodel.PartRun && combShaped(u.rect) {
			u.kind, u.boxes = sheetmodel.Comb, 1 // one digit, and in a box of its own it can be certain
		}
		if u.kind == sheetmodel.Cell && u.rect.W >= 15 && !known {
			u.kind = sheetmodel.Text
		}
		f.add(name(field), u, 0, part, s.grammar, nil)
		switch label = strings.TrimSpace(label); {
		case known:
			f.unsure("%d: %s, proposed as %s, because %q stands beside it. Is that right?", len(f.Fields), describeUnit(u), part, label)
		case label != "":
			f.unsure("%d: taken for a %s, with %q beside it: what is it for?", len(f.Fields), describeUnit(u), label)
		default:
			f.unsure("%d: %s, taken for a %s: what is it for?", len(f.Fields), field, describeUnit(u))
		}
	}
}

// opensRange reports whether the place u stands after a word for gates, and the next on its line after "to": gates [ ] to [ ].
func (f *finder) opensRange(label string, u, next unit) bool {
	s, ok := senseOf(label, true)
	to, known := senseOf(f.leftOf(next.rect), false)
	return ok && s.part == sheetmodel.PartGate && known && to.part == sheetmodel.PartGateTo && sameRow(u, next)
}

func (f *finder) panel(u unit, n int, name func(string) string) {
	field := fmt.Sprintf("panel-no-%d.drawing", n)
	if u.letter != "" {
		field = "panel-" + u.letter + ".drawing"
	}
	f.add(name(field), u, 0, sheetmodel.PartDrawing, sheetmodel.GrammarDrawing, nil)
	f.Fields[len(f.Fields)-1].Panel = u.letter
	if u.letter == "" {
		f.unsure("%d: a panel to draw into, its letter was not read: which is it?", len(f.Fields))
		return
	}
	f.unsure("%d: a panel to draw into, with the letter %s. Is that right?", len(f.Fields), u.letter)
}

// panelOver is the letter of the panel that u touches from below, and whether there is one; a second entry stands under
// the first.
func panelOver(u unit, units []unit) (letter string, ok bool) {
	if u.kind != sheetmodel.Cell && u.kind != sheetmodel.Comb || u.line {
		return "", false
	}
	for _, p := range units {
		c := u.rect.Center()
		gap := u.rect.Y - p.rect.Y - p.rect.H
		if p.panel && gap > 0 && gap < lineWidest+u.rect.H && c.X > p.rect.X && c.X < p.rect.X+p.rect.W {
			return p.letter, true
		}
	}
	return "", false
}

// add appends a field. A part that is written in words or digits makes a line or cell of the right kind.
func (f *finder) add(name string, u unit, row int, part sheetmodel.Part, g sheetmodel.Grammar, values []string) {
	round := func(r sheetmodel.Rect) sheetmodel.Rect {
		v := func(x sheetmodel.MM) sheetmodel.MM { return sheetmodel.MM(math.Round(float64(x)*10) / 10) }
		return sheetmodel.Rect{X: v(r.X), Y: v(r.Y), W: v(v(r.X+r.W) - v(r.X)), H: v(v(r.Y+r.H) - v(r.Y))} // differences of tenths are none, to the last digit
	}
	kind := u.kind
	if kind == sheetmodel.Cell || kind == sheetmodel.Text {
		if part != sheetmodel.PartUnnamed {
			kind = kindFor(part)
		}
		if kind == sheetmodel.Drawing {
			g = sheetmodel.GrammarDrawing
		}
	}
	if part == sheetmodel.PartUnnamed || g == "" || kind == sheetmodel.Drawing || kind == sheetmodel.Tick || kind == sheetmodel.Choice {
		g = grammarOf[kind]
	}
	field := sheetmodel.Field{Name: name, Part: part, Kind: kind, Rect: round(u.rect), Row: row, Boxes: u.boxes, Grammar: g}
	if kind == sheetmodel.Choice {
		for i, r := range u.options {
			value := fmt.Sprintf("box-%d", i+1)
			if i < len(values) {
				value = values[i]
			}
			field.Options = append(field.Options, sheetmodel.Option{Value: value, Label: value, Rect: round(r)})
		}
	}
	f.Fields = append(f.Fields, field)
}
