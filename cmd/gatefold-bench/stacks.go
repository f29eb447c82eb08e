package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
)

// stackPictures is how many pictures the stacks consist of, in other bytes each time: two sides of thirty cards. With
// fewer, each card comes so often that laying each front beside each back of its card takes longer than reading.
const stackPictures = 60

// stacks collects stacks of several sizes, each into a race of its own, and prints what they took as a table.
func stacks(ctx context.Context, s settings) error {
	if os.Getenv(oneThread) != "1" {
		return fmt.Errorf("say %s=1 before it: OpenCV's threads would be measured with it", oneThread)
	}
	dir, err := os.MkdirTemp("", "gatefold-stacks-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir) //nolint:errcheck // a temporary folder
	photos, err := phonePhotos(ctx, dir, stackPictures)
	if err != nil {
		return err
	}
	fmt.Printf("%d cores, photos of 12 megapixels, %d pictures in turns\n\n| photos | peak, MB | s | s a photo |\n|---|---|---|---|\n", runtime.NumCPU(), stackPictures)
	for text := range strings.SplitSeq(s.stacks, ",") {
		n, err := strconv.Atoi(strings.TrimSpace(text))
		if err != nil || n < 1 {
			return fmt.Errorf("-stacks %s: write numbers of photos, as in 15,60", s.stacks)
		}
		here := filepath.Join(dir, "of-"+strconv.Itoa(n))
		if err := os.Mkdir(here, 0o755); err != nil {
			return err
		}
		c, err := collectStack(ctx, here, photos, n)
		if err != nil {
			return err
		}
		fmt.Printf("| %d | %.0f | %.0f | %.2f |\n", n, c.peakMB, c.seconds, c.seconds/float64(n))
		if err := os.RemoveAll(here); err != nil {
			return err
		}
	}
	return nil
}
