//go:build cgo

package main

import (
	"fmt"
	"os/exec"
	"slices"
	"strings"

	"github.com/otiai10/gosseract/v2"
	"github.com/spf13/cobra"
	"gocv.io/x/gocv"

	"gatefold/cmd/internal/reading"
	photofile "gatefold/scan/intake"
)

// imagingSymptoms looks at what only a program built with cgo has.
func imagingSymptoms(*cobra.Command) []symptom {
	out := []symptom{{Part: "image library", OK: true, Found: "OpenCV " + gocv.OpenCVVersion()}}
	text := symptom{Part: "text recognition", OK: true, Found: "Tesseract " + gosseract.Version()}
	languages, err := gosseract.GetAvailableLanguages()
	switch {
	case err != nil:
		text.OK, text.Found = false, fmt.Sprintf("%s, languages not known: %v", text.Found, err)
		text.Remedy = "install tesseract-ocr-eng"
	case !slices.Contains(languages, "eng"):
		text.OK, text.Found, text.Remedy = false, text.Found+", no English data", "install tesseract-ocr-eng"
	default:
		text.Found += " with English data"
	}
	return append(out, text, heicSymptom(), pdfSymptom(), readerSymptom())
}

func heicSymptom() symptom {
	if !photofile.HasHEIC() {
		return symptom{Part: "HEIC photos", Found: "no libheif", Remedy: "install " + photofile.HEICPackage + "; JPEG is read without it"}
	}
	return symptom{Part: "HEIC photos", OK: true, Found: "libheif " + photofile.HEICVersion()}
}

func pdfSymptom() symptom {
	for _, tool := range photofile.PDFTools {
		if _, err := exec.LookPath(tool); err != nil {
			return symptom{Part: "PDF scans", Found: "no " + tool, Remedy: "install " + photofile.PDFPackage + "; photos are read without it"}
		}
	}
	return symptom{Part: "PDF scans", OK: true, Found: strings.Join(photofile.PDFTools, ", ")}
}

// readerSymptom opens the reader as every command that reads photos does.
func readerSymptom() symptom {
	r, err := reading.Open(nil, reading.Options{})
	if err != nil {
		return symptom{Part: "reader", Found: err.Error(), Remedy: "get the program again, whole"}
	}
	s := symptom{Part: "reader", OK: true, Found: r.Version()}
	if err := r.Close(); err != nil {
		s.OK, s.Found, s.Remedy = false, err.Error(), "get the program again, whole"
	}
	return s
}
