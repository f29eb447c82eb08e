//go:build !cgo

package main

import "gatefold/cmd/internal/reading"

// imagingSymptoms says what a program built without cgo lacks.
func imagingSymptoms() []symptom {
	return []symptom{{Part: "image library", Found: "left out of this program", Remedy: reading.ErrNoImaging.Error()}}
}
