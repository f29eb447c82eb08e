package main

import (
	"path/filepath"

	"gatefold/review/say"
	"gatefold/sheetmodel"
)

// readLanguage reads the texts of the pages in another language: from the file that was named for this desk, else from that which
// the race in dir names; nil, English, if neither is.
func readLanguage(file, dir string, race *sheetmodel.Race) (*say.Catalogue, error) {
	if file == "" && race.Language != "" {
		file = filepath.Join(dir, filepath.FromSlash(race.Language))
	}
	if file == "" {
		return nil, nil
	}
	data, err := readInput("language file", file)
	if err != nil {
		return nil, err
	}
	return say.Parse(file, data)
}
