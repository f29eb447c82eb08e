package main

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
)

// Names of what the study writes into its folder.
const (
	studyText  = "layout-study.md"
	studyTable = "layout-study.csv"
	madeFrom   = "<!-- from here on made by calibrate layouts-report -->"
)

// layoutsReport sums the readings of the study up: its table as CSV, and the tables at the end of its text.
func layoutsReport(files []string, folder string) error {
	if len(files) == 0 {
		return errors.New("layouts-report: name the files that layouts wrote, after the flags")
	}
	all, err := readStudied(files)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	if err := writeTable(filepath.Join(folder, studyTable), all); err != nil {
		return err
	}
	path := filepath.Join(folder, studyText)
	text, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	head, _, _ := bytes.Cut(text, []byte(madeFrom))
	return os.WriteFile(path, append(head, []byte(madeFrom+"\n\n"+studyTables(all))...), 0o644)
}

func readStudied(files []string) ([]studied, error) {
	var all []studied
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			return nil, err
		}
		lines := bufio.NewScanner(f)
		for lines.Scan() {
			var s studied
			if err := json.Unmarshal(lines.Bytes(), &s); err != nil {
				return nil, errors.Join(fmt.Errorf("%s: %w", name, err), f.Close())
			}
			all = append(all, s)
		}
		if err := errors.Join(lines.Err(), f.Close()); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
	}
	return wholeCards(all), nil
}

// wholeCards leaves out the cards that a run was stopped in: each counts in all variants of its run or in none.
func wholeCards(all []studied) []studied {
	type photo struct {
		level string
		seed  uint64
	}
	seen := map[photo]map[string]bool{}
	most := map[uint64]int{}
	for _, s := range all {
		p := photo{s.Level, s.Seed}
		if seen[p] == nil {
			seen[p] = map[string]bool{}
		}
		seen[p][s.Variant] = true
		run := s.Seed / 1000
		most[run] = max(most[run], len(seen[p]))
	}
	return slices.DeleteFunc(all, func(s studied) bool {
		for _, level := range []string{camera.Ordinary, camera.Hard} {
			if len(seen[photo{level, s.Seed}]) < most[s.Seed/1000] {
				return true
			}
		}
		return false
	})
}

// clean reports whether a field counts as a well written one.
func (s studied) clean() bool { return s.Spoil == fill.Clean && !s.Copied }

func (s studied) wrong() bool { return s.Text != s.Truth }

// levels of the tables; the last is both together.
var studyLevels = []string{camera.Ordinary, camera.Hard, "both"}

// writeTable writes one line for each variant, level and kind.
func writeTable(path string, all []studied) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	w := csv.NewWriter(f)
	lines := [][]string{{
		"variant", "level", "kind", "cards", "writers", "fields", "asked", "asked_base", "asked_diff", "asked_low95", "asked_high95", "certain",
		"clear_wrong", "clear_wrong_base", "wrong_unasked", "wrong_unasked_base", "wrong_at_base_asked", "asked_for_1_in_1000", "asked_for_1_in_1000_base",
		"outside_box", "outside_box_base",
	}}
	for _, v := range variants {
		for _, kind := range []string{"bib1", "gate", "bib1+gate", "bib2", "code"} {
			for _, level := range studyLevels {
				c := compare(all, v, kind, level)
				if c.n == 0 {
					continue
				}
				n := func(v int) string { return strconv.Itoa(v) }
				p := func(v float64) string { return strconv.FormatFloat(v, 'f', 5, 64) }
				lines = append(lines, []string{
					v.Name, level, kind, n(c.cards), n(c.writers), n(c.n), n(c.asked[1]), n(c.asked[0]), p(c.diff.mean), p(c.diff.low), p(c.diff.high),
					strconv.FormatBool(c.diff.certain),
					n(c.clearWrong[1]), n(c.clearWrong[0]), n(c.wrong[1]), n(c.wrong[0]), n(c.wrongAtSame), n(c.needed[1]), n(c.needed[0]), n(c.outside[1]), n(c.outside[0]),
				})
			}
		}
	}
	if err := w.WriteAll(lines); err != nil {
		return errors.Join(err, f.Close())
	}
	return f.Close()
}

// studyTables are the tables of the study in Markdown.
func studyTables(all []studied) string {
	var b strings.Builder
	cards, writers := map[uint64]bool{}, map[int]bool{}
	for _, s := range all {
		cards[s.Seed], writers[s.Writer] = true, true
	}
	fmt.Fprintf(&b, "## Tables\n\n%d cards in %d hands, each on an ordinary and a hard photo. Shares are per cent of well written entries; *Δ* is the variant less "+
		"the base on the same entries, with its 95 %% interval over cards. **Bold**: beyond chance also after allowing for %d variants.\n\n",
		len(cards), len(writers), len(variants))
	fmt.Fprint(&b, "| variant | what differs | what the card would pay | cards |\n|---|---|---|---|\n")
	for _, v := range variants {
		fmt.Fprintf(&b, "| %s | %s | %s | %d |\n", v.Name, v.What, v.Cost, cardsOf(all, v))
	}
	fmt.Fprintln(&b)
	for _, t := range []struct{ title, kind string }{
		{"Bib once", "bib1"}, {"Gate", "gate"}, {"Bib once and gate together", "bib1+gate"},
		{"Bib twice (the base of the second box is the shipped strip)", "bib2"}, {"Code", "code"},
	} {
		comparison(&b, all, t.title, t.kind)
	}
	sameAsked(&b, all)
	troubleAndRows(&b, all)
	reasons(&b, all)
	return b.String()
}

func cardsOf(all []studied, v variant) int {
	seen := map[uint64]bool{}
	for _, s := range all {
		if s.Variant == v.Name {
			seen[s.Seed] = true
		}
	}
	return len(seen)
}

func comparison(b *strings.Builder, all []studied, title, kind string) {
	fmt.Fprintf(b, "### %s\n\n| variant | entries | asked, ordinary | Δ | asked, hard | Δ | asked, both | Δ | clear and wrong (base) | wrong if none were asked (base) |\n|---|---|---|---|---|---|---|---|---|---|\n", title)
	for _, v := range variants {
		both := compare(all, v, kind, "both")
		if both.n == 0 {
			continue
		}
		fmt.Fprintf(b, "| %s | %d |", v.Name, both.n)
		for _, level := range studyLevels {
			c := compare(all, v, kind, level)
			fmt.Fprintf(b, " %s | %s |", percent(c.asked[1], c.n), c.diff)
		}
		fmt.Fprintf(b, " %d (%d) | %d (%d) |\n", both.clearWrong[1], both.clearWrong[0], both.wrong[1], both.wrong[0])
	}
	fmt.Fprintln(b)
}

// sameAsked compares without thresholds: they were chosen for the shipped card.
func sameAsked(b *strings.Builder, all []studied) {
	fmt.Fprint(b, "### Without the shipped thresholds\n\nBib once and gate together, both levels. *Left wrong*: what is still wrong when as many entries are asked as of the "+
		"base, those with a doubt of the ink first, then the lowest scores. *Asked for 1 in 1,000*: how many must be asked, in that order, until no more than 1 in 1,000 of all is "+
		"left wrong. *Outside*: well written entries said to stand outside their boxes.\n\n"+
		"| variant | entries | left wrong (base) | asked for 1 in 1,000, % | base, % | outside, % | base, % |\n|---|---|---|---|---|---|---|\n")
	for _, v := range variants {
		c := compare(all, v, "bib1+gate", "both")
		if c.n == 0 {
			continue
		}
		fmt.Fprintf(b, "| %s | %d | %d (%d) | %s | %s | %s | %s |\n", v.Name, c.n, c.wrongAtSame, c.clearWrong[0],
			percent(c.needed[1], c.n), percent(c.needed[0], c.n), percent(c.outside[1], c.n), percent(c.outside[0], c.n))
	}
	fmt.Fprintln(b)
}

// troubleAndRows counts what must not happen: spoilt bibs that count as clear, rows lost and rows invented.
func troubleAndRows(b *strings.Builder, all []studied) {
	fmt.Fprint(b, "### Trouble and rows\n\nBoth levels.\n\n| variant | spoilt bibs | of them clear | rows written | lost | rows empty | invented |\n|---|---|---|---|---|---|---|\n")
	for _, v := range variants {
		var spoilt, stood, rows, lost, empty, invented int
		for _, s := range all {
			if s.Variant != v.Name {
				continue
			}
			switch {
			case s.Kind == "bib1" && s.Spoil != fill.Clean:
				spoilt++
				stood += count(s.Clear)
			case s.Kind == "row" && s.Truth == "true":
				rows++
				lost += count(s.wrong())
			case s.Kind == "row":
				empty++
				invented += count(s.wrong())
			}
		}
		if rows > 0 {
			fmt.Fprintf(b, "| %s | %d | %d | %d | %d | %d | %d |\n", v.Name, spoilt, stood, rows, lost, empty, invented)
		}
	}
	fmt.Fprintln(b)
}

// reasons says why entries of the shipped card wait.
func reasons(b *strings.Builder, all []studied) {
	fmt.Fprint(b, "### Why well written entries of the shipped card wait\n\nAn entry with several reasons counts at each. *Alone*: entries that wait for this reason only; "+
		"*right*: of these, how many were read right. `hidden` and `photo` don't occur: parts of cards have no thumb over them.\n\n"+
		"| entry | photos | entries | asked | reason | with it | alone | alone and right |\n|---|---|---|---|---|---|---|---|\n")
	for _, of := range []struct{ name, kind, variant string }{
		{"bib once", "bib1", "base"}, {"gate", "gate", "base"}, {"code", "code", "base"}, {"bib and strip", "bib2", "strip"}, {"bib and second box", "bib2", "second-box"},
	} {
		for _, level := range []string{camera.Ordinary, camera.Hard} {
			reasonsOf(b, all, of.name, of.kind, of.variant, level)
		}
	}
	fmt.Fprintln(b)
}

func reasonsOf(b *strings.Builder, all []studied, name, kind, of, level string) {
	n, asked := 0, 0
	with, alone, right := map[string]int{}, map[string]int{}, map[string]int{}
	for _, s := range all {
		if s.Variant != of || s.Kind != kind || s.Level != level || !s.clean() {
			continue
		}
		n++
		if s.Clear {
			continue
		}
		asked++
		why := s.reasons()
		for _, w := range why {
			with[w]++
		}
		if len(why) == 1 {
			alone[why[0]]++
			right[why[0]] += count(!s.wrong())
		}
	}
	var words []string
	for w := range with {
		words = append(words, w)
	}
	slices.SortFunc(words, func(a, b string) int {
		if with[a] != with[b] {
			return with[b] - with[a]
		}
		return strings.Compare(a, b)
	})
	for i, w := range words {
		if i == 0 {
			fmt.Fprintf(b, "| %s | %s | %d | %d, %s %% |", name, level, n, asked, percent(asked, n))
		} else {
			fmt.Fprint(b, "| | | | |")
		}
		fmt.Fprintf(b, " %s | %d, %s %% | %d, %s %% | %d |\n", w, with[w], percent(with[w], asked), alone[w], percent(alone[w], asked), right[w])
	}
}

// reasons are the doubts of an entry that isn't clear; one without any was not seen.
func (s studied) reasons() []string {
	var all []string
	for _, d := range s.Doubts {
		if !slices.Contains(all, string(d)) {
			all = append(all, string(d))
		}
	}
	if len(all) == 0 {
		all = []string{"nothing seen"}
	}
	return all
}

func count(yes bool) int {
	if yes {
		return 1
	}
	return 0
}
