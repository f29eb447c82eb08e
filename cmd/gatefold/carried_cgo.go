//go:build cgo

package main

import (
	"os"
	"path/filepath"
)

// useCarriedData points Tesseract to the language data that lies beside the program, as in the release that carries
// its libraries. Where there is none, or somebody named a folder, Tesseract looks where it always does.
func useCarriedData() {
	if os.Getenv("TESSDATA_PREFIX") != "" {
		return
	}
	self, err := os.Executable()
	if err != nil {
		return // Tesseract then looks where it always does, and the doctor says what it found
	}
	if self, err = filepath.EvalSymlinks(self); err != nil {
		return
	}
	if data := filepath.Join(filepath.Dir(self), "tessdata"); hasEnglish(data) {
		// cgo's Setenv reaches getenv of the C library too, and the processes that unpack photos.
		_ = os.Setenv("TESSDATA_PREFIX", data)
	}
}

func hasEnglish(data string) bool {
	info, err := os.Stat(filepath.Join(data, "eng.traineddata"))
	return err == nil && info.Mode().IsRegular()
}
