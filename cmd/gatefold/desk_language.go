package main

import "gatefold/review/say"

// readLanguage reads the texts of the pages in another language; nil, English, if no file is named.
func readLanguage(file string) (*say.Catalogue, error) {
	if file == "" {
		return nil, nil
	}
	data, err := readInput("language file", file)
	if err != nil {
		return nil, err
	}
	return say.Parse(file, data)
}
