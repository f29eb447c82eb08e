// Gatefold-bench measures gatefold on handwriting and photos it has never seen, and writes the scoreboard.
//
//	gatefold-bench draw -shard 3 -of 10   cards of shard 3, kept below -work; skips what is done
//	gatefold-bench speed                  speed, rules and page
//	gatefold-bench stacks -stacks 15,60   peak memory and time over the number of photos, printed as a table
//	gatefold-bench digits                 MNIST's test digits, once for a new reader
//	gatefold-bench rivals                 other methods on the same photos, into testdata/bench; needs python3-opencv
//	gatefold-bench eye -ordinary N -hard N   pictures of bibs for eyes, below -work
//	gatefold-bench eye-count -labels A,B  what two eyes typed, compared with what was sealed
//	gatefold-bench curves -out ocr/docs   risk, coverage and reliability of what eye kept, beside other readers
//	gatefold-bench ticks -marks 500000    tick boxes on dense sheets, into ocr/ticks.json and ocr/ticks.md
//	gatefold-bench leagues -race DIR -number N   cards of other makes that the race in DIR has admitted, below -work
//	gatefold-bench leagues-report         those photos into LEAGUES.md and leagues.json, in -out
//	gatefold-bench merge                  everything below -work into testdata/bench
//	gatefold-bench try                    a few cards by calibration writers, printed and not kept
//	gatefold-bench subset                 the short run of make bench: all of these, marked as a subset
//
// GATEFOLD_DATA names the folder with MNIST's writer ids. Report writers are used; every run is
// logged in testdata/bench/LOOKS.md. A shard stays under 20 minutes on two cores.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/signal"

	"gatefold/scan/camera"
)

// sizes of a run, in cards (both sides) and for impossible in photos.
type sizes struct{ ordinary, hard, impossible int }

var (
	subsetSizes = sizes{ordinary: 40, hard: 90, impossible: 60}
	shardSizes  = sizes{ordinary: 50, hard: 120, impossible: 60}
)

type settings struct {
	work  string // where shards are kept, ignored by git
	out   string // testdata/bench
	shard int
	of    int
	hands int // cards drawn and read at once
	note  string

	// Of the comparison with other methods.
	photos  string // where its photos are kept, ignored by git
	only    string // methods or cards whose name begins so, empty: all
	seed    uint64
	sizes   sizes
	command string

	stacks string // numbers of photos, with commas between
	labels string // what two eyes typed: two files
	// Of cards of other makes.
	race   string // folder of a race that has admitted them
	mnist  string // folder of MNIST's files, empty: where the go command has it
	level  string
	why    string // file for why bibs written twice are asked
	tries  sizes
	number int
	// Of dense sheets of ticks.
	marks    int
	crops    string // folder for pictures of what was read wrongly
	ticksOut string
}

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, os.Args[1:]); err != nil {
		fmt.Fprintln(os.Stderr, "gatefold-bench:", err)
		stop()
		os.Exit(1)
	}
}

func run(ctx context.Context, args []string) error {
	if len(args) == 0 {
		args = []string{"subset"}
	}
	var s settings
	f := flag.NewFlagSet(args[0], flag.ContinueOnError)
	f.StringVar(&s.work, "work", "out/bench", "folder for shards")
	f.StringVar(&s.out, "out", "testdata/bench", "folder of the scoreboard")
	f.IntVar(&s.shard, "shard", 1, "number of this shard, from 1")
	f.IntVar(&s.of, "of", 1, "number of shards")
	f.IntVar(&s.hands, "at-once", 2, "draw: cards drawn and read at once")
	f.StringVar(&s.note, "note", "", "why report writers are looked at, for LOOKS.md")
	f.StringVar(&s.photos, "photos", "out/rivals", "folder for photos of the comparison with other methods")
	f.StringVar(&s.only, "only", "", "compare only methods, or photograph only cards, whose name begins so")
	f.IntVar(&s.sizes.ordinary, "ordinary", 200, "ordinary photos to compare on, or to show eyes")
	f.IntVar(&s.sizes.hard, "hard", 400, "hard photos to compare on, or to show eyes")
	f.IntVar(&s.sizes.impossible, "impossible", 100, "impossible photos to compare on")
	f.StringVar(&s.labels, "labels", "", "two files of what eyes typed, lines of number,text, with a comma between")
	f.Uint64Var(&s.seed, "seed", rivalSeeds, "first seed of the comparison, or of dense sheets")
	f.StringVar(&s.stacks, "stacks", "15,60,250,500", "stacks: numbers of photos to collect")
	f.StringVar(&s.race, "race", "", "leagues: folder of a race that has admitted the cards")
	f.StringVar(&s.mnist, "mnist", "", "leagues: folder of MNIST's files, where there is no go command to find them")
	f.StringVar(&s.level, "level", camera.Ordinary, "leagues: level of the camera, ordinary or hard")
	f.StringVar(&s.why, "why", "", "try: file that tells why bibs written twice are asked")
	f.IntVar(&s.tries.ordinary, "try-ordinary", 0, "try: ordinary cards, in place of a few of each level")
	f.IntVar(&s.tries.hard, "try-hard", 0, "try: hard cards, likewise")
	f.IntVar(&s.number, "number", 0, "leagues: photos of each card, all shards together")
	f.IntVar(&s.marks, "marks", 0, "ticks: boxes to count on dense sheets")
	f.StringVar(&s.crops, "crops", "", "ticks: folder for pictures of what was read wrongly")
	f.StringVar(&s.ticksOut, "ticks-out", "ocr", "ticks: folder of its report")
	if err := f.Parse(args[1:]); err != nil {
		return err
	}
	if s.shard < 1 || s.shard > s.of {
		return fmt.Errorf("shard %d of %d: count from 1", s.shard, s.of)
	}
	switch args[0] {
	case "draw":
		return drawShard(ctx, s, shardSizes, false)
	case "try":
		return try(ctx, s)
	case "speed":
		return speed(ctx, s)
	case "stacks":
		return stacks(ctx, s)
	case "digits":
		return digits(ctx, s)
	case "rivals":
		s.command = fmt.Sprintf("gatefold-bench rivals -seed %d -ordinary %d -hard %d -impossible %d", s.seed, s.sizes.ordinary, s.sizes.hard, s.sizes.impossible)
		return compareRivals(ctx, s)
	case "eye":
		return eyeShow(ctx, s)
	case "eye-count":
		return eyeCount(ctx, s)
	case "curves":
		return drawCurves(ctx, s)
	case "ticks":
		return ticks(ctx, s)
	case "leagues":
		return leagues(ctx, s)
	case "leagues-report":
		return leaguesReport(ctx, s)
	case "merge":
		return merge(ctx, s)
	case "subset":
		return errors.Join(
			drawShard(ctx, s, subsetSizes, true), digits(ctx, s), speed(ctx, s), merge(ctx, s))
	default:
		return fmt.Errorf("%q: must be draw, try, speed, stacks, digits, rivals, eye, eye-count, curves, ticks, leagues, leagues-report, merge or subset", args[0])
	}
}
