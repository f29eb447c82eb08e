package main

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

// markdown is RESULTS.md: the same figures for people.
func (r *results) markdown() string {
	var b strings.Builder
	b.WriteString("# What gatefold does, measured\n\n")
	fmt.Fprintf(&b, "%s; machine: %s.\n", r.Date, r.Machine)
	b.WriteString("Handwriting: " + r.Split + ". No training, calibration or threshold has seen these writers; LOOKS.md logs every run on them.\n")
	if r.Scan != nil {
		fmt.Fprintf(&b, "Photos and handwriting are of commit %s; the other groups name theirs in results.json.\n", r.Scan.Commit)
	}
	if r.Subset {
		b.WriteString("\n**This is a subset, not the full run of ten shards: the bounds are wide.**\n")
	}
	b.WriteString("\nMade by `make bench`; shards by `gatefold-bench draw`, put together by `gatefold-bench merge`. \"Not measured\" means just that.\n")
	b.WriteString("A card is drawn nearly full, in one report writer's hand, with one bib in eight spoilt on purpose (counted apart as *spoilt*).\n")

	b.WriteString("\n## Photos\n\n| level | photos | straightened rightly | of these, off where it says so | wrongly | refused |\n|---|---|---|---|---|---|\n")
	if r.Scan != nil {
		for _, l := range []struct {
			name string
			c    *scanCounts
		}{{"ordinary", r.Scan.Ordinary}, {"hard", r.Scan.Hard}, {"impossible", r.Scan.Impossible}} {
			fmt.Fprintf(&b, "| %s | %d | %d | %d | %d | %d |\n", l.name, l.c.Total, l.c.Found, l.c.Told, l.c.Wrong, l.c.Refused)
		}
		if p := r.Scan.FieldErrorMM; p != nil {
			fmt.Fprintf(&b, "\nWhere a field lands (largest error of its four corners): median %.3f mm, 99th percentile %.3f mm.\n", *p.P50, *p.P99)
		}
	}
	if r.Sheet != nil {
		fmt.Fprintf(&b, "\nWhich sheet it is: %d read, %d wrong, %d asked.\n", r.Sheet.Total, r.Sheet.Wrong, r.Sheet.Asked)
	}
	if r.Row != nil {
		fmt.Fprintf(&b, "Rows with ink: %d, %d lost, %d asked about where nothing was written, %d of these only because something lies on them.\n", r.Row.Total, r.Row.Lost, r.Row.Invented, r.Row.Covered)
	}
	if r.Tick != nil {
		fmt.Fprintf(&b, "Rows of tick boxes: %d, %d wrong or missed, %d asked.\n", r.Tick.Total, r.Tick.Wrong, r.Tick.Asked)
	}

	if r.Ticks != nil {
		b.WriteString(r.Ticks.line())
	}

	rivalsPart(&b, r.Rivals)
	b.WriteString("\n## Handwriting\n\n| what | level | written | clear | wrong but clear | 95 % bound | sharing no glyph | writers with one | asked | wrong at 3 % asked | at 10 % |\n|---|---|---|---|---|---|---|---|---|---|---|\n")
	for _, g := range []struct {
		name string
		g    *levelsGroup
	}{{"bib, written once", r.Bib1}, {"bib, written twice", r.Bib2}, {"code", r.Code}, {"gate", r.Gate}, {"spoilt bib", r.Spoilt}, {"spoilt bib, second box clean", r.Spoilt2}} {
		if g.g != nil {
			g.g.Ordinary.row(&b, g.name, "ordinary")
			g.g.Hard.row(&b, g.name, "hard")
		}
	}
	b.WriteString("\nThe bounds are Clopper-Pearson, one-sided. The first holds for these hands; the second for fields that share no glyph; \"writers with one\" counts writers with at least one wrong-but-clear field.\n")

	b.WriteString("A bib that is struck out, overwritten, questioned or outside its box and yet clear is a breach of the certainty policy even where it is right: its ink says that it must wait. One rubbed out and written anew may be clear; *spoilt* counts it too, and the list below tells them apart.\n")
	fmt.Fprintf(&b, "Of bibs written twice, %d are left out: their writer has so few glyphs that both writings share one, which is one writing copied and not two.\n", r.copied)
	lengths(&b, r.Bib1, r.Bib2)
	r.whys(&b)
	r.questions(&b)
	r.Bib1P.part(&b)
	b.WriteString("\n## Digits and speed\n\n")
	line(&b, "MNIST test digits wrong, of 10,000, through our own normalisation", r.Digit != nil, func() string { return fmt.Sprint(r.Digit.MNISTErrors) })
	sp := r.Speed
	line(&b, "One 12-megapixel photo, decode to readings, over its colour decode, one core", sp != nil && sp.PhotoVsDecode != nil, func() string { return fmt.Sprintf("%.2f ×", *sp.PhotoVsDecode) })
	line(&b, "A stack of 60 photos, two cores", sp != nil && sp.Stack60S != nil, func() string {
		return fmt.Sprintf("%.1f s, first photo read after %.1f s, at most %.0f MB in all its processes at once, program and libraries counted once", *sp.Stack60S, *sp.Stack60FirstS, *sp.Stack60PeakMB)
	})
	line(&b, "Rules, 300 racers and 60 cards", r.Rules != nil && r.Rules.MS300x60 != nil, func() string { return fmt.Sprintf("%.1f ms", *r.Rules.MS300x60) })
	line(&b, "Page, from key press to the next waiting entry, 95th percentile", r.Review != nil && r.Review.KeyToNextMSP95 != nil, func() string { return fmt.Sprintf("%.1f ms", *r.Review.KeyToNextMSP95) })

	if len(r.notes) > 0 {
		b.WriteString("\n## What went wrong, one by one\n\n")
		notes := slices.Clone(r.notes)
		slices.Sort(notes)
		const most = 200
		for i, n := range notes {
			if i == most {
				fmt.Fprintf(&b, "- and %d more\n", len(notes)-most)
				break
			}
			fmt.Fprintf(&b, "- %s\n", n)
		}
	}
	return b.String()
}

// lengths tells bibs apart by their number of digits.
func lengths(b *strings.Builder, once, twice *levelsGroup) {
	if once == nil || twice == nil || len(once.Lengths) == 0 {
		return
	}
	b.WriteString("\n### By number of digits\n\n| digits | once: clear of written, wrong | 95 % bound | twice: clear of written, wrong | 95 % bound |\n|---|---|---|---|---|\n")
	for n := 1; n <= 4; n++ {
		one, two := once.Lengths[n], twice.Lengths[n]
		if one == nil && two == nil {
			continue
		}
		fmt.Fprintf(b, "| %d |", n)
		for _, c := range []*lengthCount{one, two} {
			if c == nil {
				b.WriteString(" none | |")
				continue
			}
			fmt.Fprintf(b, " %d of %d, %d | %s |", c.Clear, c.Total, c.ClearWrong, permille(c.Upper95))
		}
		b.WriteString("\n")
	}
}

// whys lists why well-written bibs and gates are asked, the commonest reasons first.
func (r *results) whys(b *strings.Builder) {
	b.WriteString("\n### Why fields are asked\n\n| what | level | asked | for (of these, for nothing else) |\n|---|---|---|---|\n")
	for _, row := range []struct {
		name string
		g    *levelsGroup
	}{{"bib, written once", r.Bib1}, {"bib, written twice", r.Bib2}, {"gate", r.Gate}} {
		if row.g == nil {
			continue
		}
		for _, l := range []struct {
			name string
			c    *clearGroup
		}{{"ordinary", row.g.Ordinary}, {"hard", row.g.Hard}} {
			if l.c == nil || len(l.c.Reasons) == 0 {
				continue
			}
			kinds := slices.SortedFunc(maps.Keys(l.c.Reasons), func(x, y sheetmodel.DoubtKind) int {
				return cmp.Or(cmp.Compare(l.c.Reasons[y].Asked, l.c.Reasons[x].Asked), cmp.Compare(x, y))
			})
			var words []string
			for _, k := range kinds {
				words = append(words, fmt.Sprintf("%s %d (%d)", k, l.c.Reasons[k].Asked, l.c.Reasons[k].Alone))
			}
			fmt.Fprintf(b, "| %s | %s | %d of %d | %s |\n", row.name, l.name, l.c.Total-l.c.Clear, l.c.Total, strings.Join(words, ", "))
		}
	}
}

// questions reckons what a stack asks of people, from the shares measured above.
func (r *results) questions(b *strings.Builder) {
	if r.Bib2 == nil || r.Code == nil || r.Gate == nil {
		return
	}
	const rows = 25
	fmt.Fprintf(b, "\n### What a stack asks of people\n\nReckoned, not measured: entries typed for %d accusing rows, when this share of them has a second writing of the bib. A row without one costs one entry for its bib, a row with one as often as *written twice* is asked; doubtful codes and gates come on top.\n\n", rows)
	b.WriteString("| level | none | half | nine in ten | all |\n|---|---|---|---|---|\n")
	for _, l := range []struct {
		name            string
		bib, code, gate *clearGroup
	}{{"ordinary", r.Bib2.Ordinary, r.Code.Ordinary, r.Gate.Ordinary}, {"hard", r.Bib2.Hard, r.Code.Hard, r.Gate.Hard}} {
		if l.bib == nil || l.code == nil || l.gate == nil {
			continue
		}
		fmt.Fprintf(b, "| %s |", l.name)
		for _, twice := range []float64{0, 0.5, 0.9, 1} {
			fmt.Fprintf(b, " %.0f |", rows*(1-twice+twice*l.bib.AskedShare+l.code.AskedShare+l.gate.AskedShare))
		}
		b.WriteString("\n")
	}
}

// part tells how often what fools the machine fools an eye.
func (g *eyeGroup) part(b *strings.Builder) {
	b.WriteString("\n### Written once, and typed by a person\n\n")
	if g == nil {
		b.WriteString("Not measured.\n")
		return
	}
	fmt.Fprintf(b, "Who looked: %s. Each typed on their own, from pictures alone, every bib that the machine misread and others among them (eyes.csv; commit %s).\n", g.Eyes, g.Commit)
	b.WriteString("*Fooled*: no plausible rival, misread by the machine, and an eye typed the same: a wrong bib with two looks.\n\n")
	b.WriteString("| level | bibs | no plausible rival | of these misread | fooled: eye 1, eye 2, either | 95 % bound | eye typed what the machine misread, with or without a rival | of others: eye wrong, could not tell |\n|---|---|---|---|---|---|---|---|\n")
	for _, l := range []struct {
		name string
		c    *eyeCounts
	}{{"ordinary", g.Ordinary}, {"hard", g.Hard}} {
		c := l.c
		fmt.Fprintf(b, "| %s | %d | %d | %d | %d, %d, %d | %s | %d and %d of %d | %d and %d wrong, %d and %d untold, of %d |\n",
			l.name, c.Bibs, c.Alone, c.AloneMisread, c.Fooled[0], c.Fooled[1], c.EitherFooled, permille(c.Upper95),
			c.FooledAll[0], c.FooledAll[1], c.Misread, c.OthersWrong[0], c.OthersWrong[1], c.OthersUnread[0], c.OthersUnread[1], c.Others)
	}
}

func line(b *strings.Builder, what string, measured bool, value func() string) {
	v := "not measured"
	if measured {
		v = value()
	}
	fmt.Fprintf(b, "- %s: %s\n", what, v)
}

func (g *clearGroup) row(b *strings.Builder, name, level string) {
	if g == nil {
		fmt.Fprintf(b, "| %s | %s | not measured | | | | | | | | |\n", name, level)
		return
	}
	fmt.Fprintf(b, "| %s | %s | %d | %d | %d | %s | %d of %d, ≤ %s | %d of %d, ≤ %s | %.1f %% | %s | %s |\n",
		name, level, g.Total, g.Clear, g.ClearWrong, permille(g.Upper95), g.GlyphWrong, g.GlyphFree, permille(g.GlyphUpper),
		g.WritersBad, g.Writers, permille(g.WriterUpper), 100*g.AskedShare, permille(*g.WrongAt3pct), permille(*g.WrongAt10))
}

// permille shows a share in 10,000.
func permille(v float64) string { return fmt.Sprintf("%.1f in 10,000", 1e4*v) }
