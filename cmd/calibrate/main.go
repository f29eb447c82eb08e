package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"slices"
	"sync"

	"gatefold/cmd/internal/hands"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
)

func main() {
	if err := run(context.Background(), os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "calibrate:", err)
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string) error {
	if len(args) == 0 {
		return fmt.Errorf("say render, read, fit, report, cells, header, header-weights, marks, voice, layouts, layouts-report or layouts-picture")
	}
	flags := flag.NewFlagSet(args[0], flag.ContinueOnError)
	var (
		folder      = flags.String("dir", "", "folder of rendered parts")
		which       = flags.String("part", "calibration", "part of the split: calibration, threshold or report")
		cards       = flags.Int("cards", 100, "cards for each level and form")
		first       = flags.Uint64("seed", 1, "seed of the first card")
		out         = flags.String("out", "", "file to write")
		curvesIn    = flags.String("curves", "ocr/calib/curves.json", "curves to report on")
		curves      = flags.String("calibration", "", "samples of calibration writers")
		limits      = flags.String("threshold", "", "samples of threshold writers")
		curvesTwice = flags.String("calibration-twice", "", "cells: strips of calibration writers who wrote each bib twice")
		limitsTwice = flags.String("threshold-twice", "", "cells: strips of threshold writers who wrote each bib twice")
		curvesHigh  = flags.String("calibration-high", "", "cells: strips of calibration writers in high rows, two looks at each")
		limitsHigh  = flags.String("threshold-high", "", "cells: strips of threshold writers in high rows, two looks at each")
		data        = flags.String("data", "", "what was filled in, for the record")
		cellsReport = flags.String("report", "", "report on cells to write")
		mute        = flags.Bool("mute", false, "read without the voice on combs and note what it would say, for the step voice")
		form        = flags.String("form", "", "render this form alone: one (writing of the bib) or two; empty: both")
		workers     = flags.Int("workers", 1, "goroutines")
		only        = flags.String("variants", "", "layout study: these variants alone, by name and comma, after the base; empty: all")
	)
	if err := flags.Parse(args[1:]); err != nil {
		return err
	}
	switch args[0] {
	case "render":
		jobs, err := plan(ctx, *which, *cards, *first)
		if err != nil {
			return err
		}
		jobs = slices.DeleteFunc(jobs, func(j job) bool { return *form != "" && j.form.name != *form })
		return render(*folder, jobs, *workers)
	case "read":
		return read(*folder, *out, *mute, *workers)
	case "report":
		return report(*limits, *curvesIn, *out)
	case "layouts":
		return layouts(ctx, *out, *only, *cards, *first)
	case "layouts-report":
		return layoutsReport(flags.Args(), *out)
	case "layouts-picture":
		return layoutsPicture(ctx, *out)
	case "marks":
		return marks(ctx, *which, *cards, *first, *out, *workers)
	case "voice":
		return voice(*curves)
	case "cells":
		return cells(cellFiles{*curves, *curvesTwice, *curvesHigh}, cellFiles{*limits, *limitsTwice, *limitsHigh}, *out, *cellsReport, *data)
	case "header-weights":
		return headerWeights(ctx, *cards, *first)
	case "header":
		return header(ctx, *cards, *first, *cellsReport)
	case "fit":
		return fit(*curves, *limits, *out, *data)
	}
	return fmt.Errorf("%s: no such step", args[0])
}

// plan spreads cards over writers, levels and forms.
func plan(ctx context.Context, which string, cards int, first uint64) ([]job, error) {
	mnist, err := hand.FindMNIST(ctx)
	if err != nil {
		return nil, err
	}
	all, ids, err := hands.Load(hands.Part(which), mnist, os.Getenv("GATEFOLD_DATA"))
	if err != nil {
		return nil, err
	}
	if !ids {
		return nil, fmt.Errorf("writer ids are needed: set GATEFOLD_DATA")
	}
	fs, err := forms()
	if err != nil {
		return nil, err
	}
	levels := camera.Levels()
	busy := make([]sync.Mutex, len(all))
	var jobs []job
	for i := range cards {
		for k, name := range []string{"one", "two"} {
			for n, level := range []string{"ordinary", "hard"} {
				at := i*4 + k*2 + n
				jobs = append(jobs, job{form: fs[name], level: levels[level], hand: all[at%len(all)], busy: &busy[at%len(all)], seed: first + uint64(at)})
			}
		}
	}
	return jobs, nil
}
