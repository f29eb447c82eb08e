// Package racefolder reads and keeps the files of one race on disk.
//
//	race.yaml ------.
//	startlist.csv --+--Open--> Folder{Race} --SavePlaces, SaveList--> race.yaml, comments kept
//	codes.yaml -----'             |
//	layouts/<hash12>.yaml <--SaveLayout, Layouts--'
//
// Open refuses bad files with file, line, what is wrong and what to do, all mistakes at once.
// It knows files and the words of race.yaml; it does not know cards, photos, pages or the store.
// Nothing in it needs closing. Every write is atomic: after a power cut the old or the new file is there.
package racefolder
