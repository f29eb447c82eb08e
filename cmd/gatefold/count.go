package main

import (
	"fmt"
	"strings"
)

// count writes a number with its noun: 1 photo, 2 photos, 0 entries.
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	if stem, ok := strings.CutSuffix(noun, "y"); ok {
		return fmt.Sprintf("%d %sies", n, stem)
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
