package racefolder

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

// Sample names what still stands in the files as WriteStarter wrote it, a sentence each with what to
// do. Such a race is no mistake, but its cards and its list would carry invented names.
func (f *Folder) Sample() []string {
	race := f.Race()
	var left []string
	if race.Name == sampleName {
		left = append(left, fmt.Sprintf("%s: name is still %q; write your race's name, it is printed on every card", RaceFile, sampleName))
	}
	if race.Zone == sampleZone {
		left = append(left, fmt.Sprintf("%s: time_zone is still %s; write continent and city of the hill, such as Europe/Vienna", RaceFile, sampleZone))
	}
	if n := sampleStarters(race.Starters); n > 0 {
		left = append(left, fmt.Sprintf("start list: %d of %d starters are the sample's invented ones; put your own start list in their place", n, len(race.Starters)))
	}
	if race.Rules.Name == sampleLeague {
		left = append(left, fmt.Sprintf("%s: rules, name is still %q; write your league and check each setting and its article, the draft prints them", RaceFile, sampleLeague))
	}
	// The invented league itself may use its book.
	if race.Codes.Name == sampleBook && !strings.HasPrefix(race.Rules.Name, sampleBook) {
		left = append(left, fmt.Sprintf("code book: still the one of %s; make it your league's: codes, meanings, articles and its name", sampleBook))
	}
	return left
}

// What WriteStarter fills in where nothing was given, and what the sample race.yaml says by itself.
const (
	sampleName   = "New race"
	sampleZone   = "UTC"
	sampleLeague = "our league"
	sampleBook   = "Three Valleys Youth League (invented)"
)

// sampleStarters counts the starters of the sample among those of a race.
func sampleStarters(all []sheetmodel.Starter) int {
	text, err := starterFiles.ReadFile("starter/" + StartListFile)
	if err != nil {
		return 0
	}
	var names []string
	for _, row := range readTable(&problems{}, text, startColumns) {
		names = append(names, row.value[columnName])
	}
	n := 0
	for _, s := range all {
		if slices.Contains(names, s.Name) {
			n++
		}
	}
	return n
}
