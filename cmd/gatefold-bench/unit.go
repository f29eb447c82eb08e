package main

import (
	"context"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"gatefold/cmd/internal/hands"
	"gatefold/cmd/internal/reading"
	"gatefold/ocr/joint"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
)

// tally is what some cards gave. Tallies add up.
type tally struct {
	Scan      map[string]*scanCounts `json:"scan"`
	FieldMM   []float64              `json:"field_mm"` // largest error of each field's corners
	Sheet     askedCounts            `json:"sheet"`
	Tick      askedCounts            `json:"tick"`
	Rows      int                    `json:"rows"`
	RowsLost  int                    `json:"rows_lost"`
	RowsAdded int                    `json:"rows_invented"`
	RowsUnder int                    `json:"rows_covered"` // of these, asked about only because they lie under something
	// By kind ("bib1", ...) and level.
	Samples map[string]map[string][]sample `json:"samples"`
	Copied  int                            `json:"copied"`          // pairs left out: both writings share a glyph
	Notes   []string                       `json:"notes,omitempty"` // wrong but clear, and wrongly straightened: to be looked at
}

type askedCounts struct {
	Total int `json:"total"`
	Wrong int `json:"wrong"`
	Asked int `json:"asked"`
}

func newTally() *tally {
	t := &tally{Scan: map[string]*scanCounts{}, Samples: map[string]map[string][]sample{}}
	for _, l := range []string{camera.Ordinary, camera.Hard, camera.Impossible} {
		t.Scan[l] = &scanCounts{}
	}
	return t
}

func (t *tally) add(kind, level string, s sample) {
	if t.Samples[kind] == nil {
		t.Samples[kind] = map[string][]sample{}
	}
	t.Samples[kind][level] = append(t.Samples[kind][level], s)
}

func (c *askedCounts) plus(o askedCounts) {
	c.Total, c.Wrong, c.Asked = c.Total+o.Total, c.Wrong+o.Wrong, c.Asked+o.Asked
}

// merge adds o to t.
func (t *tally) merge(o *tally) {
	for l, c := range o.Scan {
		mine := t.Scan[l]
		mine.Total, mine.Found = mine.Total+c.Total, mine.Found+c.Found
		mine.Wrong, mine.Told, mine.Refused = mine.Wrong+c.Wrong, mine.Told+c.Told, mine.Refused+c.Refused
	}
	t.FieldMM = append(t.FieldMM, o.FieldMM...)
	t.Sheet.plus(o.Sheet)
	t.Tick.plus(o.Tick)
	t.Rows, t.RowsLost, t.RowsAdded = t.Rows+o.Rows, t.RowsLost+o.RowsLost, t.RowsAdded+o.RowsAdded
	t.RowsUnder += o.RowsUnder
	for kind, levels := range o.Samples {
		for level, samples := range levels {
			for _, s := range samples {
				t.add(kind, level, s)
			}
		}
	}
	t.Copied += o.Copied
	t.Notes = append(t.Notes, o.Notes...)
}

// wrongMM is the error from which a field counts as wrongly straightened: a quarter of a row, far
// more than a comb's spare room and far less than would put ink into the next row.
const wrongMM = 2.5

// bencher draws cards, photographs and reads them.
type bencher struct {
	layouts [2]*sheetmodel.Layout // plain, with the second box
	hands   []*hands.Hand
	reader  reading.Reader
	explain func(string) // told of each bib written twice that is asked, why; may be nil
}

// card measures one card: both sides at one level. The seed is all that it depends on.
func (b *bencher) card(ctx context.Context, level string, seed uint64) (*tally, error) {
	t := newTally()
	rng := rand.New(rand.NewPCG(seed, 0x6761746566))
	layout := b.layouts[seed%2]
	front, back := layout.Side(sheetmodel.Front), layout.Side(sheetmodel.Back)
	h := b.hands[rng.IntN(len(b.hands))]
	lv := camera.Levels()[level]
	pens := lv
	if level == camera.Impossible {
		pens = camera.Levels()[lv.Like]
	}
	w := fill.Writer{Pen: hand.DrawWriter(pens.Pens(), rng), Digits: h}
	plan := drawPlan(front, back, seed%2 == 1, rng)
	id := sheetmodel.Identity{
		Run: 1 + rng.IntN(2), Course: 1 + rng.IntN(3), Card: 1 + rng.IntN(60),
		Race: sheetmodel.RaceHash("bench"), Layout: layout.HashStart(),
	}
	var reads [2]sheetmodel.SheetReading
	var truths [2]fill.Truth
	for i, side := range []*sheetmodel.Side{front, back} {
		if level == camera.Impossible && i != int(seed/2%2) {
			continue
		}
		id.Side = side.Name
		written, err := fill.Write(side, print.CardPrint{Race: "Bench", Date: "2027-01-23", Identity: id}, plan, w, rng)
		if err != nil {
			return nil, err
		}
		shot := lv.Draw(fill.SceneOf(side, image.Point{}), rng)
		view := shot.View()
		photo, err := view.Take(written.Sheet, 1)
		if err != nil {
			return nil, err
		}
		name := fmt.Sprintf("%s %d %s", level, seed, side.Name)
		got, err := b.reader.Read(ctx, name, photo.JPEG)
		if err != nil {
			return nil, err
		}
		card := t.scanned(level, name, side, view, id, got)
		if card == nil || level == camera.Impossible {
			continue
		}
		reads[i], truths[i] = card.Reading, written.Truth
		t.fields(level, name, side, plan, h.Writer, card, written.Truth, b.explain)
	}
	if level != camera.Impossible && truths[0] != nil {
		t.pairs(level, seed, plan, h.Writer, reads, truths, b.reader.Judge(), b.explain)
	}
	return t, nil
}

// scanned counts how a photo was straightened and returns the card if it was, rightly.
func (t *tally) scanned(level, name string, side *sheetmodel.Side, view *camera.View, id sheetmodel.Identity, got reading.Photo) *reading.Card {
	c := t.Scan[level]
	c.Total++
	var card *reading.Card
	for i := range got.Cards {
		// A second card in view may be found too; the one photographed is where the truth says.
		if near(inShot(&got.Cards[i], got, view)(sheetmodel.SheetPoint{X: side.W / 2, Y: side.H / 2}), view, side) {
			card = &got.Cards[i]
		}
	}
	if card == nil && len(got.Cards) > 0 && got.Cards[0].Side == side.Name && got.Refused == nil {
		card = &got.Cards[0] // straightened somewhere else altogether: counts as wrong below
	}
	if card == nil {
		c.Refused++
		return nil
	}
	worst, told := 0.0, 0.0
	var errs []float64
	for _, f := range side.Fields {
		e := fieldError(f.Rect, inShot(card, got, view), view)
		errs = append(errs, e)
		if card.Quality.Flagged(f.Name) {
			told = math.Max(told, e)
		} else {
			worst = math.Max(worst, e)
		}
	}
	if card.Side != side.Name || worst > wrongMM {
		c.Wrong++
		t.Notes = append(t.Notes, fmt.Sprintf("%s: straightened wrongly by %.2f mm", name, worst))
		return nil
	}
	c.Found++
	if told > wrongMM {
		c.Told++
		t.Notes = append(t.Notes, fmt.Sprintf("%s: straightened wrongly by %.2f mm where it says so", name, told))
	}
	if level == camera.Impossible {
		t.Notes = append(t.Notes, name+": an impossible photo was accepted")
		return card
	}
	t.FieldMM = append(t.FieldMM, errs...)
	t.Sheet.Total++
	switch {
	case card.Identity == nil:
		t.Sheet.Asked++
	case *card.Identity != id:
		t.Sheet.Wrong++
		t.Notes = append(t.Notes, fmt.Sprintf("%s: identity %+v read as %+v", name, id, *card.Identity))
	}
	return card
}

// inShot returns where the shot shows a point of the sheet. What was read of a photo is measured in px of the photo as it
// was unpacked: a very large one at half its width.
func inShot(card *reading.Card, got reading.Photo, view *camera.View) func(sheetmodel.SheetPoint) sheetmodel.PhotoPoint {
	k := 1.0
	if got.Width > 0 {
		k = float64(view.Shot().W) / float64(got.Width)
	}
	return func(p sheetmodel.SheetPoint) sheetmodel.PhotoPoint {
		at := card.Map(p)
		return sheetmodel.PhotoPoint{X: (at.X+0.5)*k - 0.5, Y: (at.Y+0.5)*k - 0.5} // a pixel's centre is a whole number
	}
}

// near reports whether a photo point shows the middle of the sheet, give or take a fifth of it.
func near(p sheetmodel.PhotoPoint, view *camera.View, side *sheetmodel.Side) bool {
	at, ok := view.SheetFromPhoto(p)
	return ok && math.Abs(float64(at.X-side.W/2)) < 0.2*float64(side.W) && math.Abs(float64(at.Y-side.H/2)) < 0.2*float64(side.H)
}

// fieldError is the largest distance, in mm on the sheet, between where a corner of the field is and
// where the straightened page has it.
func fieldError(r sheetmodel.Rect, m func(sheetmodel.SheetPoint) sheetmodel.PhotoPoint, view *camera.View) float64 {
	worst := 0.0
	for _, p := range []sheetmodel.SheetPoint{{X: r.X, Y: r.Y}, {X: r.X + r.W, Y: r.Y}, {X: r.X + r.W, Y: r.Y + r.H}, {X: r.X, Y: r.Y + r.H}} {
		at, ok := view.SheetFromPhoto(m(p))
		if !ok {
			return math.Inf(1)
		}
		worst = math.Max(worst, math.Hypot(float64(at.X-p.X), float64(at.Y-p.Y)))
	}
	return worst
}

// fields compares all readings of a side with the truth.
func (t *tally) fields(level, name string, side *sheetmodel.Side, plan fill.Plan, writer int, card *reading.Card, truth fill.Truth, explain func(string)) {
	struck := map[int]bool{}
	for _, r := range plan.Rows {
		struck[r.Number] = r.Struck
	}
	for _, f := range card.Fields {
		want := truth[f.Name]
		field := side.Field(f.Name)
		s := sample{Certainty: f.Certainty, Clear: f.State == sheetmodel.Clear, Right: f.Text == want.Text, Writer: writer, Digits: len(want.Text), Glyphs: want.Glyphs}
		if !s.Clear {
			s.Why = whyOf(f.Reasons)
		}
		kind := ""
		switch {
		case f.Part == sheetmodel.PartBib && want.Text != "" && (want.Spoil != fill.Clean || struck[f.Row]):
			kind = "spoilt"
		case f.Part == sheetmodel.PartBib && f.Row > 0 && want.Text != "":
			kind = "bib1"
		case f.Part == sheetmodel.PartGate && want.Text != "" && !struck[f.Row]:
			kind = "gate"
		case f.Part == sheetmodel.PartCode && want.Text != "" && !struck[f.Row]:
			kind = "code"
		}
		if kind != "" {
			t.add(kind, level, s)
			if s.Clear && !s.Right {
				t.Notes = append(t.Notes, fmt.Sprintf("%s %s: %q read as %q, clear", name, f.Name, want.Text, f.Text))
			}
		}
		if field.Kind == sheetmodel.Tick || (field.Kind == sheetmodel.Choice && !field.Rings) {
			wrong := t.Tick.Wrong
			t.tick(name, f, want, struck[f.Row])
			if explain != nil && t.Tick.Wrong > wrong {
				explain(fmt.Sprintf("%s %s: mark %q read as %q", name, f.Name, want.Text, f.Text))
			}
		}
	}
	if side.Name != sheetmodel.Front {
		return
	}
	written := map[int]bool{}
	for _, r := range plan.Rows {
		written[r.Number] = true
	}
	t.Rows += len(written)
	for _, r := range card.Reading.Rows {
		switch {
		case written[r.Number] && !r.HasInk:
			t.RowsLost++
			t.Notes = append(t.Notes, fmt.Sprintf("%s: row %d is lost", name, r.Number))
		case !written[r.Number] && r.HasInk:
			t.RowsAdded++
			if onlyUnder(r) {
				t.RowsUnder++
			}
			if explain != nil {
				explain(fmt.Sprintf("%s row %d is added:%s", name, r.Number, whatIsThere(r)))
			}
		}
		delete(written, r.Number)
	}
	t.RowsLost += len(written)
}

// onlyUnder reports whether nothing is seen in a row but that something lies on it.
func onlyUnder(r sheetmodel.Row) bool {
	under := false
	for _, x := range []sheetmodel.Reading{r.Bib, r.BibAgain, r.Code, r.CodeOther, r.Gate, r.Panel, r.Rerun} {
		if x.State == sheetmodel.Empty || x.State == "" {
			continue
		}
		if !x.OnlyCovered() {
			return false
		}
		under = true
	}
	return under
}

// whatIsThere lists what a row was read as, field by field, with the doubts.
func whatIsThere(r sheetmodel.Row) string {
	var b strings.Builder
	if r.Struck {
		b.WriteString(" struck")
	}
	for _, x := range []sheetmodel.Reading{r.Bib, r.BibAgain, r.Code, r.CodeOther, r.Gate, r.Panel, r.Rerun, r.Passed} {
		if x.Field == "" || x.State == sheetmodel.Empty {
			continue
		}
		fmt.Fprintf(&b, " %s %q %v", x.Field, x.Text, x.State)
		for _, d := range x.Doubts {
			fmt.Fprintf(&b, " %s (%s)", d.Kind, d.Detail)
		}
	}
	return b.String()
}

// tick counts one tick box or one row of boxes; in a row struck out as a whole, asking is right.
func (t *tally) tick(name string, f reading.Field, want fill.Wrote, struck bool) {
	t.Tick.Total++
	switch {
	case f.State == sheetmodel.Doubtful:
		t.Tick.Asked++
	case f.Text != want.Text && !struck:
		t.Tick.Wrong++
		t.Notes = append(t.Notes, fmt.Sprintf("%s %s: mark %q read as %q", name, f.Name, want.Text, f.Text))
	}
}

// noSecond is the reason of a bib whose second writing, or the row itself, was not found.
const noSecond sheetmodel.DoubtKind = "no-second-writing"

// pairs compares bibs read from two writings: the second box, or the panel's strip.
func (t *tally) pairs(level string, seed uint64, plan fill.Plan, writer int, reads [2]sheetmodel.SheetReading, truths [2]fill.Truth, judge joint.Judge, explain func(string)) {
	front, back := reads[0], reads[1]
	best := map[int]joint.Pair{}
	for _, p := range joint.Card(front, back, judge) {
		if old, ok := best[p.Row]; !ok || p.Both.Certainty.Value() > old.Both.Certainty.Value() {
			best[p.Row] = p
		}
	}
	// A spoilt entry rightly unties its whole strip: its neighbours are no clean pairs.
	spoilt := map[string]bool{}
	for _, r := range plan.Rows {
		spoilt[r.Panel] = spoilt[r.Panel] || r.BibSpoil != fill.Clean || r.Struck
	}
	for _, r := range plan.Rows {
		twice := r.BibAgain != "" || (r.Panel != "" && !spoilt[r.Panel] && back.Side != "")
		if r.BibSpoil != fill.Clean && r.BibAgain != "" && !r.Struck {
			t.spoiltTwice(level, seed, r, writer, best)
		}
		if !twice || r.BibSpoil != fill.Clean || r.Struck {
			continue
		}
		first := truths[0][fmt.Sprintf("row-%02d.bib", r.Number)].Glyphs
		second := secondGlyphs(r, plan, truths)
		if slices.ContainsFunc(first, func(g int) bool { return slices.Contains(second, g) }) {
			// The writer's few glyphs made both writings alike: that is one writing, copied.
			t.Copied++
			continue
		}
		p, ok := best[r.Number]
		s := sample{Writer: writer, Digits: len(r.Bib), Glyphs: append(slices.Clone(first), second...)}
		if ok {
			s.Certainty = p.Both.Certainty.Value()
			s.Clear = p.Fault == "" && p.Both.State == sheetmodel.Clear
			s.Right = p.Both.Text == r.Bib
			if !s.Clear {
				s.Why = whyOf(p.Both.Doubts)
			}
		} else {
			s.Why = []sheetmodel.DoubtKind{noSecond}
		}
		if explain != nil && !s.Clear {
			explain(fmt.Sprintf("%s %d row %d: %v; %s", level, seed, r.Number, s.Why, whyUntied(r, p, front, back)))
		}
		t.add("bib2", level, s)
		if s.Clear && !s.Right {
			t.Notes = append(t.Notes, fmt.Sprintf("%s %d row %d: twice %q read as %q, clear", level, seed, r.Number, r.Bib, p.Both.Text))
		}
	}
}

// spoiltTwice counts a bib whose row is spoilt and whose second box is clean. The ink of the row says
// that it must wait: whatever stands by two writings here is a breach, right or wrong.
func (t *tally) spoiltTwice(level string, seed uint64, r fill.Row, writer int, best map[int]joint.Pair) {
	s := sample{Writer: writer}
	if p, ok := best[r.Number]; ok {
		s.Certainty = p.Both.Certainty.Value()
		s.Clear = p.Fault == "" && p.Both.State == sheetmodel.Clear
		s.Right = p.Both.Text == r.Bib
	}
	t.add("spoilt2", level, s)
	if s.Clear {
		t.Notes = append(t.Notes, fmt.Sprintf("%s %d row %d: %q is %s, yet clear by two writings", level, seed, r.Number, r.Bib, r.BibSpoil))
	}
}

// secondGlyphs returns the glyphs of all further writings of a row's bib: second box and strip.
func secondGlyphs(r fill.Row, plan fill.Plan, truths [2]fill.Truth) []int {
	all := slices.Clone(truths[0][fmt.Sprintf("row-%02d.bib-again", r.Number)].Glyphs)
	if r.Panel == "" {
		return all
	}
	entry := 0
	for _, other := range plan.Rows {
		if other.Panel == r.Panel {
			entry++
		}
		if other.Number == r.Number {
			break
		}
	}
	name := fmt.Sprintf("panel-%s.entry-%d.bib", strings.ToLower(r.Panel), entry)
	return append(all, truths[1][name].Glyphs...)
}

// whyUntied says what the paper's ties of a row were read from.
func whyUntied(r fill.Row, p joint.Pair, front, back sheetmodel.SheetReading) string {
	var b strings.Builder
	fmt.Fprintf(&b, "meant %s on panel %q, tie %s %s", r.Bib, r.Panel, p.Kind, p.Detail)
	show := func(name string, x sheetmodel.Reading) {
		fmt.Fprintf(&b, "; %s %q %s", name, x.Text, x.State)
		for _, d := range x.Doubts {
			fmt.Fprintf(&b, " (%s %s)", d.Kind, d.Detail)
		}
	}
	for _, o := range front.Rows {
		if o.Number == r.Number {
			show("bib", o.Bib)
			show("panel", o.Panel)
		}
	}
	if back.Side == "" {
		b.WriteString("; no back")
	}
	for _, e := range back.Strips {
		if e.Panel == r.Panel && e.Bib.State != sheetmodel.Empty {
			show(fmt.Sprintf("strip %s%d", e.Panel, e.Entry), e.Bib)
		}
	}
	return b.String()
}
