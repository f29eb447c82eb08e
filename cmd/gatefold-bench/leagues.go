package main

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"

	"golang.org/x/image/draw"

	"gatefold/cmd/internal/hands"
	"gatefold/cmd/internal/reading"
	"gatefold/cmd/internal/trial"
	"gatefold/ocr/joint"
	"gatefold/rules"
	"gatefold/scan"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
	"gatefold/sheetmodel/racefolder"
)

// leaguePxPerMM is what a filled sheet is drawn at: a pencil's grain still shows.
const leaguePxPerMM = 16.0

// leagueKinds of fields that are written and read, each with its curve.
const (
	leagueBib   = "bib1" // one writing
	leagueTwice = "bib2" // two writings
	leagueGate  = "gate"
	leagueCode  = "code"
)

// leaguePhoto is what one photo of a card gave: one line of the work file.
type leaguePhoto struct {
	Seed    uint64   `json:"seed"`
	Level   string   `json:"level"`
	Card    string   `json:"card"` // name of its layout
	Reader  string   `json:"reader"`
	Refused string   `json:"refused,omitempty"` // the fault
	TwoFit  bool     `json:"two_fit,omitempty"` // it fits another card of this race about as well: asked
	Wrong   []string `json:"wrong,omitempty"`   // taken for another card, or straightened wrongly
	Read    bool     `json:"read,omitempty"`

	Samples map[string][]sample `json:"samples,omitempty"`
	// A row accuses if it has a bib and a gate or a code.
	Accusing  int `json:"accusing,omitempty"`
	Entries   int `json:"entries,omitempty"`    // of bibs that people must make for them, each blind
	AskedElse int `json:"asked_else,omitempty"` // gates and codes of them that a person is asked about
	Rows      int `json:"rows,omitempty"`       // with a written bib
	RowsLost  int `json:"rows_lost,omitempty"`
	RowsAdded int `json:"rows_added,omitempty"`
	// AloneWrong counts bibs that one entry of a person would confirm, and that say something else than was written.
	Alone      int `json:"alone,omitempty"`
	AloneWrong int `json:"alone_wrong,omitempty"`

	Marks leagueMarks `json:"marks,omitzero"`
	Notes []string    `json:"notes,omitempty"`
}

// leagueMarks are the marks of a list of all racers.
type leagueMarks struct {
	Told     int `json:"told"`
	Asked    int `json:"asked"`
	Wrong    int `json:"wrong"`  // no mark, and told as one
	Missed   int `json:"missed"` // a mark, and told as none
	Findings int `json:"findings"`
	Exact    int `json:"exact"` // of findings: they name whom they should and nobody else
}

func (m *leagueMarks) plus(o leagueMarks) {
	m.Told, m.Asked, m.Wrong, m.Missed = m.Told+o.Told, m.Asked+o.Asked, m.Wrong+o.Wrong, m.Missed+o.Missed
	m.Findings, m.Exact = m.Findings+o.Findings, m.Exact+o.Exact
}

// leagueCard is one card that is filled and photographed.
type leagueCard struct {
	layout *sheetmodel.Layout
	side   *sheetmodel.Side
	own    bool        // ours: with marks, drawn anew for each photo
	paper  *image.Gray // else the blank card as its league sent it, at leaguePxPerMM
}

// leaguer is what one worker needs.
type leaguer struct {
	cards  []leagueCard
	hands  []*hands.Hand
	reader reading.Reader
	raceID string
}

// leagueForms opens a race's folder and prepares its cards: all that it has are looked for in every photo, as when
// photos are collected. Only cards whose name begins with only are photographed.
func leagueForms(dir, only string) (cards []leagueCard, forms *reading.Forms, raceID string, err error) {
	folder, err := racefolder.Open(dir)
	if err != nil {
		return nil, nil, "", err
	}
	layouts, err := folder.Layouts()
	if err != nil {
		return nil, nil, "", err
	}
	slices.SortFunc(layouts, func(a, b *sheetmodel.Layout) int { return strings.Compare(a.Name+a.Hash(), b.Name+b.Hash()) })
	var own []*sheetmodel.Layout
	forms = &reading.Forms{}
	for _, l := range layouts {
		side := &l.Sides[0]
		if len(side.Marks) > 0 {
			own = append(own, l)
			cards = append(cards, leagueCard{layout: l, side: side, own: true})
			continue
		}
		blanks, err := folder.Blanks(l)
		if err != nil {
			return nil, nil, "", err
		}
		one, err := reading.PrepareBlank(l, blanks)
		if err != nil {
			return nil, nil, "", fmt.Errorf("layout %s: %w", l.FileName(), err)
		}
		forms = forms.And(one)
		paper := image.NewGray(image.Rect(0, 0, int(float64(side.W)*leaguePxPerMM), int(float64(side.H)*leaguePxPerMM)))
		draw.BiLinear.Scale(paper, paper.Rect, blanks[side.Name], blanks[side.Name].Rect, draw.Src, nil)
		cards = append(cards, leagueCard{layout: l, side: side, paper: paper})
	}
	if len(cards) == len(own) {
		return nil, nil, "", fmt.Errorf("%s: has admitted no card of another make: gatefold admit %s LAYOUT --blank PICTURE", dir, dir)
	}
	if cards = slices.DeleteFunc(cards, func(c leagueCard) bool { return !strings.HasPrefix(c.layout.Name, only) }); len(cards) == 0 {
		return nil, nil, "", fmt.Errorf("%s: no card's name begins with %q", dir, only)
	}
	if len(own) > 0 {
		ours, err := reading.Prepare(own)
		if err != nil {
			return nil, nil, "", err
		}
		forms = ours.And(forms)
	}
	return cards, forms, folder.Race().ID, nil
}

// photo fills, photographs and reads one card. All of it but which of a writer's glyphs were longest unused follows from
// the seed and the level.
func (k *leaguer) photo(ctx context.Context, level string, seed uint64) (*leaguePhoto, error) {
	rng := rand.New(rand.NewPCG(seed, 0x6c6561677565))
	c := k.cards[seed%uint64(len(k.cards))]
	side := c.side
	out := &leaguePhoto{Seed: seed, Level: level, Card: c.layout.Name, Reader: k.reader.Version(), Samples: map[string][]sample{}}
	h := k.hands[rng.IntN(len(k.hands))]
	lv := camera.Levels()[level]
	w := fill.Writer{Pen: hand.DrawWriter(lv.Pens(), rng), Digits: h}
	var paper *image.Gray
	if c.own {
		id := sheetmodel.Identity{
			Run: 1, Course: 1, Card: 1 + rng.IntN(60), Side: side.Name,
			Race: sheetmodel.RaceHash(k.raceID), Layout: c.layout.HashStart(),
		}
		var err error
		if paper, err = print.Raster(side, print.CardPrint{Race: "Bench", Date: "2027-01-23", Identity: id}, leaguePxPerMM); err != nil {
			return nil, err
		}
	} else {
		paper = &image.Gray{Pix: slices.Clone(c.paper.Pix), Stride: c.paper.Stride, Rect: c.paper.Rect}
	}
	ink := hand.NewInk(sheetmodel.Rect{W: side.W, H: side.H}, leaguePxPerMM)
	truth := trial.Write(ink, side, trial.Letters(c.layout), w, said(side, rng), rng)
	ink.Over(paper)
	shot := lv.Draw(fill.SceneOf(side, image.Point{}), rng)
	view := shot.View()
	photo, err := view.Take(camera.Sheet{Image: paper, PxPerMM: leaguePxPerMM}, 1)
	if err != nil {
		return nil, err
	}
	got, err := k.reader.Read(ctx, fmt.Sprintf("%s %d", level, seed), photo.JPEG)
	if err != nil {
		return nil, err
	}
	card := out.found(&c, view, got, shot.Second != nil)
	if card == nil {
		return out, nil
	}
	out.Read = true
	out.fields(side, card, truth, h.Writer, k.reader.Judge())
	if slices.ContainsFunc(side.Fields, func(f sheetmodel.Field) bool { return f.Part == sheetmodel.PartPassed }) {
		out.passages(side, card, truth)
	}
	return out, nil
}

// said draws what must fit together on a card with drawings beside its rows: a row that names a panel, and the strip
// below that panel with the same bib. Bibs are as long as those of a race for children.
func said(side *sheetmodel.Side, rng *rand.Rand) map[string]string {
	out := map[string]string{}
	bibs := map[int]string{}
	for _, f := range side.Fields {
		if f.Part == sheetmodel.PartBib && f.Row > 0 && f.Kind != sheetmodel.Printed && rng.Float64() < 0.75 {
			bibs[f.Row] = strconv.Itoa(1 + rng.IntN(topBib))
		}
	}
	for _, f := range side.Fields {
		switch f.Part {
		case sheetmodel.PartBib:
			if f.Row > 0 && f.Kind != sheetmodel.Printed {
				out[f.Name] = bibs[f.Row]
			}
		case sheetmodel.PartGate:
			if f.Row > 0 {
				out[f.Name] = ""
				if bibs[f.Row] != "" {
					out[f.Name] = strconv.Itoa(1 + rng.IntN(topGate))
				}
			}
		case sheetmodel.PartCode, sheetmodel.PartCodeOther, sheetmodel.PartPanel, sheetmodel.PartRerun, sheetmodel.PartRemark:
			if f.Row > 0 && bibs[f.Row] == "" && !hasPrintedBib(side, f.Row) {
				out[f.Name] = ""
			}
		default:
		}
		if f.Part == sheetmodel.PartPanel || f.Panel != "" || f.Part == sheetmodel.PartBibAgain {
			out[f.Name] = ""
		}
	}
	rows := rng.Perm(side.Rows())
	for _, f := range side.Fields {
		if f.Part != sheetmodel.PartBib || f.Panel == "" || f.Entry > 1 || len(rows) == 0 {
			continue
		}
		row := rows[0] + 1
		rows = rows[1:]
		panel := slices.IndexFunc(side.Fields, func(o sheetmodel.Field) bool { return o.Row == row && o.Part == sheetmodel.PartPanel })
		if bibs[row] == "" || panel < 0 {
			continue
		}
		out[side.Fields[panel].Name] = f.Panel
		out[f.Name] = bibs[row]
	}
	return out
}

func hasPrintedBib(side *sheetmodel.Side, row int) bool {
	return slices.ContainsFunc(side.RowFields(row), func(f sheetmodel.Field) bool { _, ok := f.PrintedBib(); return ok })
}

// found returns the card that was photographed if it was found as what it is; anything else is counted. second: another
// card of the same make lies beside it, and may be found too.
func (p *leaguePhoto) found(c *leagueCard, view *camera.View, got reading.Photo, second bool) *reading.Card {
	var card *reading.Card
	for i := range got.Cards {
		o := &got.Cards[i]
		p.TwoFit = p.TwoFit || len(o.MayBe) > 0
		switch {
		case o.LayoutHash != c.layout.Hash():
			p.Wrong = append(p.Wrong, "taken for "+o.Layout.Name)
		case near(inShot(o, got, view)(sheetmodel.SheetPoint{X: c.side.W / 2, Y: c.side.H / 2}), view, c.side):
			card = o
		case second:
		default:
			p.Wrong = append(p.Wrong, "found where it does not lie")
		}
	}
	if card == nil {
		p.Refused = "not found"
		if got.Refused != nil {
			p.Refused = got.Refused.Fault
		}
		if p.Refused == string(scan.FaultForms) { // where a person can be asked, as at the desk, it is
			p.Refused, p.TwoFit = "", true
		}
		return nil
	}
	worst := 0.0
	for _, f := range c.side.Fields {
		if !card.Quality.Flagged(f.Name) {
			worst = max(worst, fieldError(f.Rect, inShot(card, got, view), view))
		}
	}
	if worst > wrongMM {
		p.Wrong = append(p.Wrong, fmt.Sprintf("straightened wrongly by %.2f mm", worst))
		return nil
	}
	return card
}

// fields compares what was read with what was meant.
func (p *leaguePhoto) fields(side *sheetmodel.Side, card *reading.Card, truth fill.Truth, writer int, judge joint.Judge) {
	state := map[string]reading.Field{}
	for _, f := range card.Fields {
		state[f.Name] = f
		want := truth[f.Name]
		kind := ""
		switch {
		case want.Text == "" || f.Kind == sheetmodel.Printed || f.Row == 0:
		case f.Part == sheetmodel.PartBib:
			kind = leagueBib
		case f.Part == sheetmodel.PartGate:
			kind = leagueGate
		case f.Part == sheetmodel.PartCode:
			kind = leagueCode
		default:
		}
		if kind == "" {
			continue
		}
		s := sample{Certainty: f.Certainty, Clear: f.State == sheetmodel.Clear, Right: f.Text == want.Text, Writer: writer, Digits: len(want.Text), Glyphs: want.Glyphs}
		if !s.Clear {
			s.Why = whyOf(f.Reasons)
		} else if !s.Right {
			p.note("%s: %q read as %q, clear", f.Name, want.Text, f.Text)
		}
		p.Samples[kind] = append(p.Samples[kind], s)
	}
	twice := p.pairs(side, card, truth, writer, judge)
	for _, row := range card.Reading.Rows {
		bib, printed := "", row.Printed
		accuses := false
		asked := 0
		for _, f := range side.RowFields(row.Number) {
			wrote := truth[f.Name].Text != ""
			switch f.Part {
			case sheetmodel.PartBib:
				bib = truth[f.Name].Text
			case sheetmodel.PartGate, sheetmodel.PartCode:
				accuses = accuses || wrote
				if wrote && state[f.Name].State != sheetmodel.Clear {
					asked++
				}
			default:
			}
		}
		switch {
		case printed != "":
		case bib != "":
			p.Rows++
			if !row.HasInk {
				p.RowsLost++
				p.note("row %d is lost", row.Number)
			}
		case row.HasInk && !accuses:
			p.RowsAdded++
		}
		if !accuses || bib == "" && printed == "" {
			continue
		}
		p.Accusing++
		p.AskedElse += asked
		if printed == "" {
			p.Entries += p.entries(row.Bib, bib, twice[row.Number], card.Alone)
		} else {
			p.Entries++ // print is one look, and somebody says which row is meant
		}
	}
}

// entries is how many people must type the bib of a row, blind, before it has two looks that agree: none where two
// writings are certain, one where the ink has no plausible rival and says what is written, else two.
func (p *leaguePhoto) entries(seen sheetmodel.Reading, bib string, twice bool, alone []string) int {
	confirms := slices.Contains(alone, seen.Field)
	if confirms {
		p.Alone++
		if seen.Text != bib {
			p.AloneWrong++
			p.note("%s: %q read as %q, and no plausible rival is seen", seen.Field, bib, seen.Text)
		}
	}
	switch {
	case twice:
		return 0
	case confirms && seen.Text == bib:
		return 1
	default:
		return 2
	}
}

// pairs counts bibs of rows whose second writing stands under a panel of the same side or in a second box, and returns
// which rows are certain by both.
func (p *leaguePhoto) pairs(side *sheetmodel.Side, card *reading.Card, truth fill.Truth, writer int, judge joint.Judge) map[int]bool {
	sure := map[int]bool{}
	best := map[int]joint.Pair{}
	for _, pair := range joint.Card(card.Reading, card.Reading, judge) {
		if old, ok := best[pair.Row]; !ok || pair.Both.Certainty.Value() > old.Both.Certainty.Value() {
			best[pair.Row] = pair
		}
	}
	for n := 1; n <= side.Rows(); n++ {
		var first, second fill.Wrote
		for _, f := range side.RowFields(n) {
			switch f.Part {
			case sheetmodel.PartBib:
				first = truth[f.Name]
			case sheetmodel.PartBibAgain:
				second = truth[f.Name]
			case sheetmodel.PartPanel:
				for _, o := range side.Fields {
					if o.Part == sheetmodel.PartBib && o.Panel != "" && o.Panel == truth[f.Name].Text && truth[o.Name].Text != "" {
						second = truth[o.Name]
					}
				}
			default:
			}
		}
		if first.Text == "" || second.Text == "" || slices.ContainsFunc(first.Glyphs, func(g int) bool { return slices.Contains(second.Glyphs, g) }) {
			continue // one writing, or the same glyph copied
		}
		s := sample{Writer: writer, Digits: len(first.Text), Glyphs: slices.Concat(first.Glyphs, second.Glyphs)}
		if pair, ok := best[n]; ok {
			s.Certainty = pair.Both.Certainty.Value()
			s.Clear = pair.Fault == "" && pair.Both.State == sheetmodel.Clear
			s.Right = pair.Both.Text == first.Text
			if !s.Clear {
				s.Why = whyOf(pair.Both.Doubts)
			}
		} else {
			s.Why = []sheetmodel.DoubtKind{noSecond}
		}
		sure[n] = s.Clear
		if s.Clear && !s.Right {
			p.note("row %d: %q twice read as %q, clear", n, first.Text, best[n].Both.Text)
		}
		p.Samples[leagueTwice] = append(p.Samples[leagueTwice], s)
	}
	return sure
}

// passages counts the marks of a list of all racers, and asks the rules who is missing on it: by what was read they must
// say what follows from what was written, but for those whose mark is asked about.
func (p *leaguePhoto) passages(side *sheetmodel.Side, card *reading.Card, truth fill.Truth) {
	course := "Blue"
	key := sheetmodel.CardKey{Run: 1, Course: course, Card: 1}
	none := sheetmodel.BibList{Given: sheetmodel.ListNone}
	race := sheetmodel.Race{
		Format: 1, ID: "bench", Name: "Bench", Courses: []string{course},
		Runs: []sheetmodel.Run{{Number: 1, Reruns: none, DidNotStart: none, DidNotEnd: none, Courses: []sheetmodel.CourseRun{{Course: course, Gates: []string{"1", "2"}}}}},
	}
	c := rules.Card{Key: key, In: true, Gates: []string{"1", "2"}, Passed: []sheetmodel.Bib{}}
	var rows []rules.Row
	var missing []string // by what was written
	for _, row := range card.Reading.Rows {
		marked, noted := false, false
		for _, f := range side.RowFields(row.Number) {
			if truth[f.Name].Text != "" {
				marked, noted = marked || f.Part == sheetmodel.PartPassed, noted || f.Part != sheetmodel.PartPassed
			}
		}
		bib := sheetmodel.Bib{Number: row.Printed}
		race.Starters = append(race.Starters, sheetmodel.Starter{Bib: bib, Course: course})
		c.Listed = append(c.Listed, bib)
		asked := row.Passed.State == sheetmodel.Doubtful
		switch {
		case asked:
			p.Marks.Asked++
			c.Untold = append(c.Untold, bib)
		case row.Passed.State == sheetmodel.Clear && !marked:
			p.Marks.Wrong++
			p.note("bib %s: no mark, told as one", row.Printed)
		case row.Passed.State != sheetmodel.Clear && marked:
			p.Marks.Missed++
			p.note("bib %s: a mark, told as none", row.Printed)
		default:
			p.Marks.Told++
		}
		if row.Passed.State == sheetmodel.Clear {
			c.Passed = append(c.Passed, bib)
		}
		if row.HasInk {
			rows = append(rows, rules.Row{Ref: sheetmodel.RowRef{CardKey: key, Row: row.Number}, Bib: row.Printed, BibState: sheetmodel.BibTwoLooks})
		}
		// Ink where nothing was written makes a row that is asked about.
		if !marked && !noted && !asked && !row.HasInk {
			missing = append(missing, row.Printed)
		}
	}
	for _, f := range rules.Check(rules.Facts{Race: &race, Cards: []rules.Card{c}, Rows: rows}).Findings {
		_, rest, ok := strings.Cut(f.Sentence, " has neither mark nor row for ")
		if !ok {
			continue
		}
		p.Marks.Findings++
		want := strings.Join(missing, ", ")
		switch n := len(missing); {
		case n > 5:
			want = fmt.Sprintf("%d racers, the first of them %s", n, missing[0])
		case n > 1:
			want = strings.Join(missing[:n-1], ", ") + " and " + missing[n-1]
		}
		if rest == want+"." {
			p.Marks.Exact++
		} else {
			p.note("said %q, written %q", rest, want)
		}
		missing = nil
	}
	if len(missing) > 0 {
		p.Marks.Findings++
		p.note("nobody said that %d racers have no mark", len(missing))
	}
}

func (p *leaguePhoto) note(format string, args ...any) {
	p.Notes = append(p.Notes, fmt.Sprintf("%s %s %d: ", p.Level, p.Card, p.Seed)+fmt.Sprintf(format, args...))
}

// leagues measures cards that a race has admitted, and ours beside them, from s.seed on: s.number photos of each card.
// What a work file has by the same reader is not done again.
func leagues(ctx context.Context, s settings) error {
	if s.race == "" || s.number < 1 {
		return errors.New("leagues: -race DIR, a race's folder that has admitted the cards, and -number N, photos of each card")
	}
	if s.level != camera.Ordinary && s.level != camera.Hard {
		return fmt.Errorf("leagues: -level %q: write %s or %s", s.level, camera.Ordinary, camera.Hard)
	}
	data := os.Getenv("GATEFOLD_DATA")
	if data == "" {
		return errors.New("GATEFOLD_DATA is not set: it names the folder with MNIST's writer ids")
	}
	cards, forms, raceID, err := leagueForms(s.race, s.only)
	if err != nil {
		return err
	}
	if s.mnist == "" {
		if s.mnist, err = hand.FindMNIST(ctx); err != nil {
			return err
		}
	}
	if err := os.MkdirAll(s.work, 0o755); err != nil {
		return err
	}
	run := &leagueRun{
		path: filepath.Join(s.work, fmt.Sprintf("leagues-%s-%d-%d-of-%d.jsonl", s.level, s.seed, s.shard, s.of)),
		done: map[uint64]bool{}, next: s.seed + uint64(s.shard-1), step: uint64(s.of), end: s.seed + uint64(s.number*len(cards)), level: s.level,
	}
	var group sync.WaitGroup
	errs := make([]error, max(1, runtime.GOMAXPROCS(0)))
	for i := range errs {
		var r reading.Reader
		if r, errs[i] = reading.Open(forms, reading.Options{}); errs[i] != nil {
			break
		}
		if i == 0 {
			if err := run.load(r.Version()); err != nil {
				return errors.Join(err, r.Close())
			}
			// A larger machine may have the program without its repository: then whoever carries it there logs it.
			what := fmt.Sprintf("leagues %s, seed %d, %d photos of each card, shard %d of %d", s.level, s.seed, s.number, s.shard, s.of)
			if err := logLook(ctx, s, what, r.Version()); err != nil {
				fmt.Printf("not logged here (%v): add a line to testdata/bench/LOOKS.md: %s, %s\n", err, what, r.Version())
			}
		}
		// Each worker has its own hands: a hand remembers which glyphs it gave.
		writers, _, err := hands.Load(hands.Report, s.mnist, data)
		if err != nil {
			errs[i] = errors.Join(err, r.Close())
			break
		}
		group.Go(func() {
			errs[i] = errors.Join(run.work(ctx, &leaguer{cards: cards, hands: writers, reader: r, raceID: raceID}), r.Close())
		})
	}
	group.Wait()
	return errors.Join(errs...)
}

// leagueRun hands out seeds in order.
type leagueRun struct {
	mu              sync.Mutex
	path, level     string
	done            map[uint64]bool
	next, step, end uint64
}

func (r *leagueRun) load(reader string) error {
	photos, err := readLeagues(r.path)
	for _, p := range photos {
		if p.Reader == reader {
			r.done[p.Seed] = true
		}
	}
	return err
}

// readLeagues reads a work file; none is no photos.
func readLeagues(path string) (all []leaguePhoto, err error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // only read
	lines := bufio.NewScanner(f)
	lines.Buffer(nil, 1<<22)
	for lines.Scan() {
		var p leaguePhoto
		if json.Unmarshal(lines.Bytes(), &p) == nil { // else the line at which a run was cut off
			all = append(all, p)
		}
	}
	return all, lines.Err()
}

func (r *leagueRun) work(ctx context.Context, k *leaguer) error {
	for {
		r.mu.Lock()
		for r.done[r.next] {
			r.next += r.step
		}
		seed := r.next
		r.next += r.step
		r.mu.Unlock()
		if seed >= r.end {
			return nil
		}
		p, err := k.photo(ctx, r.level, seed)
		if err != nil {
			return fmt.Errorf("leagues %s %d: %w", r.level, seed, err)
		}
		line, err := json.Marshal(p)
		if err != nil {
			return err
		}
		r.mu.Lock()
		r.done[seed] = true
		err = appendTo(r.path, append(line, '\n'))
		if len(r.done)%20 == 0 || len(p.Notes)+len(p.Wrong) > 0 {
			fmt.Printf("leagues: %d photos  %s %s\n", len(r.done), strings.Join(p.Wrong, " | "), strings.Join(p.Notes, " | "))
		}
		r.mu.Unlock()
		if err != nil {
			return err
		}
	}
}
