package main

import (
	"fmt"
	"image"
	"path/filepath"
	"strings"

	"gatefold/ocr/calib"
	"gatefold/scan/camera"
)

func curvesText(sealed *eyeFile, voices []*voice) string {
	var b strings.Builder
	b.WriteString("# Bibs written once: risk, coverage and reliability\n\n")
	fmt.Fprintf(&b, "Made by `gatefold-bench eye` and `gatefold-bench curves`; commit %s, reader %s, seeds %d to %d.\n", sealed.Made.Commit, sealed.Reader, sealed.Made.Seeds[0], sealed.Made.Seeds[1])
	b.WriteString("Report writers (MNIST's test part), drawn anew on cards; fronts only; well-written bibs only. Nothing was chosen on them.\n\n")
	b.WriteString("## Wrong and not asked, in 10,000, when the least sure are asked\n\n")
	b.WriteString("Each reader by its own certainty and nothing else: doubts of other kinds (outside its box, struck out, ...) are left aside, so that all readers are asked in the same way.\n\n")
	b.WriteString("| reader | level | bibs |")
	for _, s := range askedShares {
		fmt.Fprintf(&b, " %.1f %% |", 100*s)
	}
	b.WriteString("\n|---|---|---|" + strings.Repeat("---|", len(askedShares)) + "\n")
	for _, v := range voices {
		for _, level := range []string{camera.Ordinary, camera.Hard} {
			bibs := v.levels[level]
			if len(bibs) == 0 {
				continue
			}
			fmt.Fprintf(&b, "| %s | %s | %d |", v.name, level, len(bibs))
			for _, s := range askedShares {
				risk := riskAt(bibs, s)
				fmt.Fprintf(&b, " %.1f (%.0f) |", 1e4*risk, risk*float64(len(bibs)))
			}
			b.WriteString("\n")
		}
	}
	b.WriteString("\n*Without paper and camera*: the MNIST glyphs that each bib was drawn from, pasted into clean boxes. *Box by box*: the nets' best class in each printed box of the straightened crop, no doubt but the product of their claims. *Tesseract*: the crop as one line of digits.\n")
	b.WriteString("\n![Risk and coverage](risk-coverage.svg)\n")
	b.WriteString("\n## What a certainty claims, and what is seen\n\n| claimed wrong | level | bibs | claimed | seen | 95 % interval |\n|---|---|---|---|---|---|\n")
	for _, level := range []string{camera.Ordinary, camera.Hard} {
		for _, d := range reliability(sealed.Items, level) {
			lo, hi := 1-calib.Upper(d.n-d.wrong, d.n, missed/2), calib.Upper(d.wrong, d.n, missed/2)
			fmt.Fprintf(&b, "| %.2g to %.2g | %s | %d | %.5f | %.5f | %.5f to %.5f |\n", d.from, d.to, level, d.n, d.claimed, float64(d.wrong)/float64(d.n), lo, hi)
		}
	}
	b.WriteString("\n![Reliability](reliability.svg)\n")
	b.WriteString("\n## Every bib that was wrong and clear\n\n")
	wrong := 0
	for _, it := range sealed.Items {
		if it.Clear && it.Machine != it.Truth {
			wrong++
			fmt.Fprintf(&b, "%d. %s %d %s: %s read as %s, certainty %.5f\n", wrong, it.Level, it.Seed, it.Field, it.Truth, it.Machine, it.Score)
		}
	}
	if wrong == 0 {
		b.WriteString("None.\n")
		return b.String()
	}
	b.WriteString("\nTheir pictures, in this order:\n\n![Wrong and clear](wrong-and-clear.png)\n")
	return b.String()
}

// wrongAndClear draws the bibs that were wrong and clear, numbered as in the text.
func wrongAndClear(dir, path string, items []eyeItem) error {
	var bad []eyeItem
	for _, it := range items {
		if it.Clear && it.Machine != it.Truth {
			it.No = len(bad) + 1
			img, err := readGray(filepath.Join(dir, it.Crop))
			if err != nil {
				return err
			}
			it.crop = img
			bad = append(bad, it)
		}
	}
	if len(bad) == 0 {
		return nil
	}
	rows := (len(bad) + eyeCols - 1) / eyeCols
	sheet := image.NewGray(image.Rect(0, 0, eyeCols*tileW, rows*tileH))
	drawTiles(sheet, bad)
	return writePNG(path, sheet)
}
