package main

import (
	"slices"
	"strings"

	"gatefold/scan/camera/hand"
)

// noDigit are the letters that no hand makes look like a digit; the others (O, I, S, Z, B, g, q and so
// on) are left out, for a net must not learn to call a sloppy digit a letter.
const noDigit = "ACEFHKMNPRTVWXkmnvwx"

// readLetters reads EMNIST's letters from an IDX file of images and the file of labels beside it.
func readLetters(images string) ([]hand.Glyph, error) {
	all, err := hand.ReadImages(images, strings.Replace(images, "images-idx3", "labels-idx1", 1))
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(all, func(g hand.Glyph) bool { return strings.IndexByte(noDigit, g.Label) < 0 }), nil
}
