//go:build !cgo

package main

import (
	"runtime"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"gatefold/cmd/internal/reading"
)

// photoCommands are those that look at photos and so don't work in a program built without cgo.
var photoCommands = []string{"try", "read", "collect", "reread"}

// imagingSymptoms says what a program built without cgo lacks, and what it can do all the same.
func imagingSymptoms(root *cobra.Command) []symptom {
	var works []string
	for _, c := range documented(root) {
		if !slices.Contains(photoCommands, c.Name()) {
			works = append(works, c.Name())
		}
	}
	found := []symptom{
		{Part: "image library", Found: "left out of this program, so these do nothing: " + strings.Join(photoCommands, ", "), Remedy: reading.ErrNoImaging.Error()},
		{Part: "phones", Found: "photos from phones are kept but not read; settling, hearing and viewing work", trouble: "PARTLY"},
		{Part: "blank cards", Found: "describe takes flat pictures only and reads no words in them", trouble: "PARTLY"},
		{Part: "works here", OK: true, Found: strings.Join(works, ", ")},
	}
	if runtime.GOOS != "linux" {
		found = append(found, symptom{Part: "this system", trouble: "UNTRIED",
			Found:  "built for " + runtime.GOOS + " on another system and never run there by those who made it",
			Remedy: "try it before the race day, and keep copies of the race folder"})
	}
	return found
}
