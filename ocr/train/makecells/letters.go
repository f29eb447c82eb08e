package main

import (
	"compress/gzip"
	"encoding/binary"
	"fmt"
	"io"
	"os"
	"strings"

	"gatefold/scan/camera/hand"
)

// noDigit are the letters that no hand makes look like a digit; the others (O, I, S, Z, B, g, q and so
// on) are left out, for a net must not learn to call a sloppy digit a letter.
const noDigit = "ACEFHKMNPRTVWXkmnvwx"

// readLetters reads EMNIST's letters from an IDX file of images and the file of labels beside it.
func readLetters(images string) ([]hand.Glyph, error) {
	pix, err := unzip(images)
	if err != nil {
		return nil, err
	}
	labels, err := unzip(strings.Replace(images, "images-idx3", "labels-idx1", 1))
	if err != nil {
		return nil, err
	}
	const imagesHead, labelsHead, px = 16, 8, 28 * 28
	n := len(labels) - labelsHead
	if n <= 0 || len(pix) != imagesHead+n*px || binary.BigEndian.Uint32(pix) != 0x803 {
		return nil, fmt.Errorf("%s: not images of 28 x 28 with their labels", images)
	}
	var out []hand.Glyph
	for i := range n {
		if strings.IndexByte(noDigit, labels[labelsHead+i]) >= 0 {
			g := hand.Glyph{Label: labels[labelsHead+i]}
			copy(g.Pix[:], pix[imagesHead+i*px:])
			out = append(out, g)
		}
	}
	return out, nil
}

func unzip(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // only read
	z, err := gzip.NewReader(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return io.ReadAll(z)
}
