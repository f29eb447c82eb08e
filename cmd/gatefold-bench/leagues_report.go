package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"gatefold/ocr/calib"
	"gatefold/scan/camera"
)

// leaguesFile is leagues.json.
type leaguesFile struct {
	Format int         `json:"format"`
	Levels string      `json:"levels"` // hash of scan/camera/levels.yaml
	Seeds  [2]uint64   `json:"seeds"`  // first and last
	Cards  []leagueSum `json:"cards"`
	Notes  []string    `json:"notes"`
}

// leagueSum is what all photos of one card at one level gave.
type leagueSum struct {
	Card      string                 `json:"card"`
	Level     string                 `json:"level"`
	Reader    string                 `json:"reader"` // of all these photos
	Photos    int                    `json:"photos"`
	Read      int                    `json:"read"`
	Refused   map[string]int         `json:"refused"`
	TwoFit    int                    `json:"two_fit"`
	Wrong     map[string]int         `json:"wrong"`
	Kinds     map[string]*clearGroup `json:"kinds"`
	Accusing  int                    `json:"accusing"`
	Entries   int                    `json:"entries"`
	AskedElse int                    `json:"asked_else"`
	Rows      int                    `json:"rows"`
	RowsLost  int                    `json:"rows_lost"`
	RowsAdded int                    `json:"rows_added"`
	Alone     int                    `json:"alone"`
	AlonWrong int                    `json:"alone_wrong"`
	Marks     leagueMarks            `json:"marks"`

	samples map[string][]sample
}

func (g *leagueSum) add(p *leaguePhoto) {
	g.Photos++
	if p.Read {
		g.Read++
	}
	if p.Refused != "" {
		g.Refused[p.Refused]++
	}
	if p.TwoFit {
		g.TwoFit++
	}
	for _, w := range p.Wrong {
		if strings.HasPrefix(w, "straightened wrongly") {
			w = "straightened wrongly"
		}
		g.Wrong[w]++
	}
	for kind, samples := range p.Samples {
		g.samples[kind] = append(g.samples[kind], samples...)
	}
	g.Accusing, g.Entries, g.AskedElse = g.Accusing+p.Accusing, g.Entries+p.Entries, g.AskedElse+p.AskedElse
	g.Rows, g.RowsLost, g.RowsAdded = g.Rows+p.Rows, g.RowsLost+p.RowsLost, g.RowsAdded+p.RowsAdded
	g.Alone, g.AlonWrong = g.Alone+p.Alone, g.AlonWrong+p.AloneWrong
	g.Marks.plus(p.Marks)
}

// sinceFile holds what people write about what was measured after the report's photos; the report ends with it. Whoever
// measures all of it anew empties it.
const sinceFile = "leagues-since.md"

// leaguesReport puts the work files below -work together. Photos of one card and level by more than one reader are an error:
// figures of two readers mean nothing together. Cards may have different ones, where a change can't touch the others'; the
// report names them.
func leaguesReport(_ context.Context, s settings) error {
	paths, err := filepath.Glob(filepath.Join(s.work, "leagues-*.jsonl"))
	if err != nil {
		return err
	}
	out := leaguesFile{Format: 2, Levels: camera.LevelsHash(), Notes: []string{}}
	sums := map[string]*leagueSum{}
	seen := map[string]bool{}
	for _, path := range paths {
		photos, err := readLeagues(path)
		if err != nil {
			return fmt.Errorf("%s: %w", path, err)
		}
		for i := range photos {
			p := &photos[i]
			if key := fmt.Sprint(p.Level, p.Card, p.Seed); seen[key] {
				continue
			} else {
				seen[key] = true
			}
			if len(seen) == 1 {
				out.Seeds = [2]uint64{p.Seed, p.Seed}
			}
			out.Seeds = [2]uint64{min(out.Seeds[0], p.Seed), max(out.Seeds[1], p.Seed)}
			g := sums[p.Card+" "+p.Level]
			if g == nil {
				g = &leagueSum{Card: p.Card, Level: p.Level, Reader: p.Reader, Refused: map[string]int{}, Wrong: map[string]int{}, Kinds: map[string]*clearGroup{}, samples: map[string][]sample{}}
				sums[p.Card+" "+p.Level] = g
			}
			if g.Reader != p.Reader {
				return fmt.Errorf("%s: %s %s read by %s, others of it by %s; measure again with one reader, into another folder", path, p.Level, p.Card, p.Reader, g.Reader)
			}
			g.add(p)
			out.Notes = append(out.Notes, p.Notes...)
		}
	}
	if len(sums) == 0 {
		return errors.New("leagues-report: " + s.work + " holds no leagues-*.jsonl; run gatefold-bench leagues first")
	}
	for _, key := range slices.Sorted(maps.Keys(sums)) {
		g := sums[key]
		for kind, samples := range g.samples {
			g.Kinds[kind] = account(samples)
		}
		out.Cards = append(out.Cards, *g)
	}
	slices.Sort(out.Notes)
	data, err := json.MarshalIndent(out, "", "  ")
	if err != nil {
		return err
	}
	if err := os.MkdirAll(s.out, 0o755); err != nil {
		return err
	}
	if err := os.WriteFile(filepath.Join(s.out, "leagues.json"), append(data, '\n'), 0o644); err != nil {
		return err
	}
	since, err := os.ReadFile(filepath.Join(s.out, sinceFile))
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	text := out.markdown()
	if len(since) > 0 {
		text += "\n" + string(since)
	}
	return os.WriteFile(filepath.Join(s.out, "LEAGUES.md"), []byte(text), 0o644)
}

// ownCard is the name of the layout that others are compared with.
const ownCard = "gate-card"

const leaguesHead = `Five blank cards in no league's look (testdata/blank-cards), admitted to one race beside our own card, so that each
photo may be any of six. Each is filled in a report writer's hand, photographed by the simulated camera, and read as
collected photos are. Bibs are 1 to 120, three rows in four are written, nothing is spoilt on purpose.

No card here carries its number, so which one of a race's cards a photo shows is asked of a person each time; what can
be wrong is which make of card it is.
`

func (f *leaguesFile) markdown() string {
	var b strings.Builder
	fmt.Fprintf(&b, "# Cards of other makes\n\nMade by `gatefold-bench leagues` and `leagues-report`, seeds %d to %d. `leagues.json` holds the same.\n\n", f.Seeds[0], f.Seeds[1])
	f.readers(&b)
	b.WriteString(leaguesHead)
	b.WriteString("\n## Photos\n\n| card | level | photos | read | refused | fits two cards, asked | taken for another card or found elsewhere | straightened wrongly |\n|---|---|---|---|---|---|---|---|\n")
	photos, other := 0, 0
	for i := range f.Cards {
		g := &f.Cards[i]
		refused, wrong := 0, 0
		for _, n := range g.Refused {
			refused += n
		}
		for what, n := range g.Wrong {
			if what != "straightened wrongly" {
				wrong += n
			}
		}
		photos, other = photos+g.Photos, other+wrong
		fmt.Fprintf(&b, "| %s | %s | %d | %d | %d | %d | %d | %d |\n", g.Card, g.Level, g.Photos, g.Read, refused, g.TwoFit, wrong, g.Wrong["straightened wrongly"])
	}
	fmt.Fprintf(&b, "\nTaken for another card, or found where none lies: %d of %d photos, below %.2f %% with 95 %% confidence. A refusal and a wrong page count once each.\n", other, photos, 100*calib.Upper(other, photos, missed))
	f.curves(&b)
	f.rows(&b)
	f.marks(&b)
	if len(f.Notes) > 0 {
		b.WriteString("\n## What was told wrongly\n\n")
		for _, n := range f.Notes {
			b.WriteString("- " + n + "\n")
		}
	}
	return b.String()
}

// readers says who read what.
func (f *leaguesFile) readers(b *strings.Builder) {
	by := map[string][]string{}
	for i := range f.Cards {
		g := &f.Cards[i]
		by[g.Reader] = append(by[g.Reader], g.Card+" "+g.Level)
	}
	for _, reader := range slices.Sorted(maps.Keys(by)) {
		fmt.Fprintf(b, "Reader `%s`: %s.\n\n", reader, strings.Join(by[reader], ", "))
	}
}

// of finds what another card gave at a level.
func (f *leaguesFile) of(card, level string) *leagueSum {
	for i := range f.Cards {
		if f.Cards[i].Card == card && f.Cards[i].Level == level {
			return &f.Cards[i]
		}
	}
	return nil
}

// sharesShown are shares of bibs that a person is asked about.
var sharesShown = []float64{0, 0.01, 0.03, 0.06, 0.1, 0.2, 0.3}

func (f *leaguesFile) curves(b *strings.Builder) {
	b.WriteString("\n## Handwriting\n\n| card | what | level | written | clear | wrong but clear | 95 % bound | asked |\n|---|---|---|---|---|---|---|---|\n")
	for i := range f.Cards {
		g := &f.Cards[i]
		for _, kind := range []string{leagueBib, leagueTwice, leagueGate, leagueCode} {
			if k := g.Kinds[kind]; k != nil {
				bound := "nothing is clear"
				if k.Clear > 0 {
					bound = fmt.Sprintf("%.2g", k.Upper95)
				}
				fmt.Fprintf(b, "| %s | %s | %s | %d | %d | %d | %s | %.1f %% |\n", g.Card, leagueWords[kind], g.Level, k.Total, k.Clear, k.ClearWrong, bound, 100*k.AskedShare)
			}
		}
	}
	b.WriteString("\nBibs written once: how many of all would be wrong if a person were asked about the least certain share of them, and in\nbrackets how that compares with our own card at the same level. The aim is 1.5 at most.\n\n| card | level |")
	for _, share := range sharesShown {
		fmt.Fprintf(b, " %.0f %% asked |", 100*share)
	}
	b.WriteString("\n|---|---|" + strings.Repeat("---|", len(sharesShown)) + "\n")
	for i := range f.Cards {
		g := &f.Cards[i]
		k := g.Kinds[leagueBib]
		if k == nil {
			continue
		}
		fmt.Fprintf(b, "| %s | %s |", g.Card, g.Level)
		own := f.of(ownCard, g.Level)
		for _, share := range sharesShown {
			at := wrongAt(k, share)
			fmt.Fprintf(b, " %d", int(at*float64(k.Total)+0.5))
			if own != nil && own != g && own.Kinds[leagueBib] != nil {
				if mine := wrongAt(own.Kinds[leagueBib], share); mine > 0 {
					fmt.Fprintf(b, " (%.1f ×)", at/mine)
				} else {
					fmt.Fprintf(b, " (ours 0 of %d)", own.Kinds[leagueBib].Total)
				}
			}
			fmt.Fprintf(b, " |")
		}
		b.WriteString("\n")
	}
}

var leagueWords = map[string]string{leagueBib: "bib, written once", leagueTwice: "bib, written twice", leagueGate: "gate", leagueCode: "code"}

func wrongAt(g *clearGroup, share float64) float64 {
	for _, p := range g.Curve {
		if p[0] == share {
			return p[1]
		}
	}
	return 0
}

func (f *leaguesFile) rows(b *strings.Builder) {
	b.WriteString("\n## What people are asked\n\nAn accusing row has a bib and a gate or a code. Its bib needs two looks that agree: an entry counts each time somebody\ntypes it. Gates and codes are counted apart; one glance at the row answers them all.\n\n")
	b.WriteString("| card | level | accusing rows | entries of the bib, a row | gates and codes asked, a row | bibs one entry confirms | of these, read wrongly | rows written | lost | seen where nothing is |\n|---|---|---|---|---|---|---|---|---|---|\n")
	for i := range f.Cards {
		g := &f.Cards[i]
		if g.Accusing == 0 {
			continue
		}
		n := float64(g.Accusing)
		fmt.Fprintf(b, "| %s | %s | %d | %.2f | %.2f | %d | %d | %d | %d | %d |\n", g.Card, g.Level, g.Accusing, float64(g.Entries)/n, float64(g.AskedElse)/n, g.Alone, g.AlonWrong, g.Rows, g.RowsLost, g.RowsAdded)
	}
}

func (f *leaguesFile) marks(b *strings.Builder) {
	b.WriteString("\n## Lists of all racers\n\nA mark that is told wrongly is a racer who came by and is missed, or one who did not and is not. *Exact*: what the rules say of who is missing is\nwhat was written, but for those whose mark is asked about.\n\n| card | level | marks | told | asked | no mark, told as one | a mark, told as none | 95 % bound of both | missing racers named | exact |\n|---|---|---|---|---|---|---|---|---|---|\n")
	var all leagueMarks
	row := func(card, level string, m leagueMarks) {
		n := m.Told + m.Asked + m.Wrong + m.Missed
		fmt.Fprintf(b, "| %s | %s | %d | %d | %d (%.2f %%) | %d | %d | %.2g | %d | %d |\n", card, level, n, m.Told, m.Asked, percent(m.Asked, n), m.Wrong, m.Missed, calib.Upper(m.Wrong+m.Missed, n, missed), m.Findings, m.Exact)
	}
	for i := range f.Cards {
		if g := &f.Cards[i]; g.Marks != (leagueMarks{}) {
			row(g.Card, g.Level, g.Marks)
			all.plus(g.Marks)
		}
	}
	if all != (leagueMarks{}) {
		row("all", "both", all)
	}
}
