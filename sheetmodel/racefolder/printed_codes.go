package racefolder

import (
	"fmt"
	"io/fs"
	"path"
	"slices"

	"gatefold/sheetmodel"
)

// reusedCodes compares the code book with every layout that cards were printed with: a judge who ticked
// F meant the word that stood over the box. A layout that can't be read is passed over here; whoever reads
// cards with it is told by Layouts.
func reusedCodes(files *files, book sheetmodel.CodeBook) []sheetmodel.ReusedCode {
	entries, err := fs.ReadDir(files.fsys, LayoutsFolder)
	if err != nil {
		return nil // nothing printed yet
	}
	var all []sheetmodel.ReusedCode
	for _, e := range entries {
		name := LayoutsFolder + "/" + e.Name()
		if e.IsDir() || path.Ext(name) != ".yaml" || name == PrintedFile {
			continue
		}
		data, err := readPlain(files.fsys, name)
		if err != nil {
			continue
		}
		if l, err := sheetmodel.ParseLayout(name, data); err == nil {
			all = append(all, book.Reused(l)...)
		}
	}
	return all
}

// Reused says in a sentence for each code of the race that was given another meaning after cards were
// printed what the cards say, what the book says, and what to do.
func Reused(race *sheetmodel.Race) []string {
	var notes []string
	for _, r := range race.Reused {
		note := fmt.Sprintf("code %s: cards were printed with %s %q, and the code book now says %q; rows with %s on those cards wait and propose nothing: "+
			"write the old words back, and give what is new a letter of its own", r.Code, r.Code, r.Printed, r.Now, r.Code)
		if !slices.Contains(notes, note) {
			notes = append(notes, note)
		}
	}
	return notes
}
