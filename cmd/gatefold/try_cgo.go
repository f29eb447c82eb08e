//go:build cgo

package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"slices"

	"github.com/spf13/cobra"

	"gatefold/cmd/internal/hands"
	"gatefold/cmd/internal/trial"
	"gatefold/scan/byprint"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
)

func tryCommand(a *app) *cobra.Command {
	var blank, level string
	var photos int
	var seed uint64
	c := &cobra.Command{
		Use:   "try LAYOUT.yaml --blank PICTURE",
		Short: "Try how well a card of another make would be read, before you trust it",
		Long: `Fills the blank card with handwriting where the layout says, photographs it with a simulated camera, reads
the photos, and reports field by field: how many were read and certain, how many a person would be asked about, how
many were certain and wrong. Nothing is kept. The picture is what gatefold describe was given.

Where GATEFOLD_DATA names a folder of handwriting and the go command is there, people's digits are written;
else digits of our own drawing, which are neater than people's, so that the figures flatter the card.`,
		Args: cobra.ExactArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			if blank == "" {
				return usageErrorf("try: name the picture of the blank card with --blank")
			}
			if photos < 1 || photos > 500 {
				return usageErrorf("try: --photos %d: 1 to 500", photos)
			}
			if level != camera.Ordinary && level != camera.Hard {
				return usageErrorf("try: --level %q: write %s or %s", level, camera.Ordinary, camera.Hard)
			}
			if !c.Flags().Changed("seed") {
				seed = rand.Uint64()
			}
			return a.try(c.Context(), args[0], blank, trial.Options{Photos: photos, Level: level, Seed: seed})
		},
	}
	c.Flags().StringVar(&blank, "blank", "", "picture of the blank card, as for gatefold describe")
	c.Flags().IntVar(&photos, "photos", 6, "how many photos of each side")
	c.Flags().StringVar(&level, "level", camera.Ordinary, "ordinary, or hard: a cold hill and a hasty photo")
	c.Flags().Uint64Var(&seed, "seed", 0, "of all chance, to see the same trial again")
	return c
}

func (a *app) try(ctx context.Context, file, blank string, opt trial.Options) error {
	l, err := readLayout(file)
	if err != nil {
		return err
	}
	blanks, err := blanksOf(ctx, file, blank, l)
	if err != nil {
		return err
	}
	beside, err := besideNotes(l, blanks)
	if err != nil {
		return fmt.Errorf("%s: %w", blank, err)
	}
	for _, note := range beside {
		a.printf("%s\n", note)
	}
	whose := ""
	if opt.Hands, whose, err = trialHands(ctx, opt.Seed); err != nil {
		return err
	}
	done, all := 0, 0
	for _, s := range l.Sides {
		if blanks[s.Name] != nil {
			all += opt.Photos
		}
	}
	r, err := trial.Run(ctx, l, blanks, opt, func() {
		done++
		a.progress("%d of %d photos read", done, all)
	})
	a.progressDone()
	var few *byprint.FewFeaturesError
	if errors.As(err, &few) {
		return fmt.Errorf("%s: %w; a card with so little print can't be found in a photo", blank, err)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", blank, err)
	}
	a.printTrial(l, r, opt, whose)
	wrong := 0
	for _, g := range r.Groups {
		wrong += g.Wrong + g.Ghosts
	}
	if wrong > 0 {
		return refused(fmt.Errorf("%s: %d entries were certain and wrong; don't read this card as it is described", file, wrong))
	}
	return nil
}

// trialHands are whose digits a trial writes: people's of the part of the split that demos are drawn with, or our own.
func trialHands(ctx context.Context, seed uint64) ([]fill.Digits, string, error) {
	own := []fill.Digits{trial.OwnDigits{}}
	data := os.Getenv("GATEFOLD_DATA")
	if data == "" {
		return own, "digits of our own drawing, neater than people's", nil
	}
	mnist, none := hand.FindMNIST(ctx)
	if none != nil { // only where gatefold itself is built is there a collection
		return own, "digits of our own drawing, neater than people's, for no collection of handwriting is found from this folder", nil //nolint:nilerr // said in words
	}
	people, _, err := hands.Load(hands.Calibration, mnist, data)
	if err != nil {
		return nil, "", err
	}
	rng := rand.New(rand.NewPCG(seed, 3))
	rng.Shuffle(len(people), func(i, j int) { people[i], people[j] = people[j], people[i] })
	all := make([]fill.Digits, 0, len(people))
	for _, h := range people {
		all = append(all, h)
	}
	return all, fmt.Sprintf("digits of %d people; letters of our own drawing", len(people)), nil
}

func (a *app) printTrial(l *sheetmodel.Layout, r *trial.Report, opt trial.Options, whose string) {
	a.printf("%s: %s by the simulated camera, %s; %s; seed %d\n", l.Name, count(r.Photos, "photo"), opt.Level, whose, opt.Seed)
	if r.Refused > 0 {
		a.printf("%d refused:\n", r.Refused)
		for _, why := range sortedKeys(r.Reasons) {
			a.printf("  %d × %s\n", r.Reasons[why], why)
		}
	}
	if r.Upright {
		a.printf("The card looks alike upside down, so gatefold admit will refuse it: print a title or a number of its own on one side of it.\n" +
			"What follows is of photos that were all taken upright.\n")
	}
	a.printf("\n%-22s %-9s %-14s %7s %7s %6s %6s %6s   %s\n", "for", "kind", "size in mm", "written", "certain", "asked", "wrong", "empty", "")
	for _, g := range r.Groups {
		size := fmt.Sprintf("%.1f × %.1f", float64(g.W), float64(g.H))
		if g.Boxes > 1 {
			size = fmt.Sprintf("%d of %s", g.Boxes, size)
		}
		empty := g.OfEmpty()
		if empty != "" {
			empty = "; " + empty
		}
		a.printf("%-22s %-9s %-14s %7d %7d %6d %6d %6d   %s%s\n", g.Name(), g.Kind, size, g.Written, g.Right, g.Asked, g.Wrong+g.Ghosts, g.Lost, g.Advice(), empty)
	}
	if len(r.Sizes) == 2 {
		a.printf("\nBibs by themselves on a plain sheet, same hands and camera:\n")
		for _, z := range r.Sizes {
			what := fmt.Sprintf("%d boxes of %.1f × %.1f mm", z.Boxes, float64(z.W), float64(z.H))
			if z.Kind == sheetmodel.Cell {
				what = fmt.Sprintf("one cell of %.1f × %.1f mm", float64(z.W), float64(z.H))
			}
			whose := "larger boxes"
			if z.Own {
				whose = "as this card has them"
			}
			a.printf("  %-32s %-22s %4d written, %4d asked (%.0f in a hundred), %d wrong\n", what, whose, z.Written, z.Asked+z.Lost, 100*float64(z.Asked+z.Lost)/float64(max(1, z.Written)), z.Wrong)
		}
		if crowded(r) {
			a.printf("By themselves the card's boxes do much better. What is printed around them costs the rest, most likely: grey\nground, lines close together, boxes that don't touch. Plain boxes side by side are read best.\n")
		}
	}
	a.printf("\nA simulated camera and few hands: run a real card beside your usual routine before you rely on it.\n")
}

// crowded reports whether the bibs' boxes of a card are asked about much more often on it than by themselves.
func crowded(r *trial.Report) bool {
	i := slices.IndexFunc(r.Sizes, func(z *trial.Size) bool { return z.Own })
	k := slices.IndexFunc(r.Groups, func(g *trial.Group) bool { return g.Part == sheetmodel.PartBib && g.Kind == sheetmodel.Comb })
	if i < 0 || k < 0 || r.Sizes[i].Written == 0 || r.Groups[k].Written == 0 {
		return false
	}
	const much = 0.3
	alone := float64(r.Sizes[i].Asked+r.Sizes[i].Lost) / float64(r.Sizes[i].Written)
	return float64(r.Groups[k].Asked+r.Groups[k].Lost)/float64(r.Groups[k].Written)-alone > much
}

func sortedKeys(m map[string]int) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
