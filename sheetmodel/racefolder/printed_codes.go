package racefolder

import (
	"fmt"
	"io/fs"
	"path"
	"slices"

	"go.yaml.in/yaml/v3"

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
	return append(all, otherEffects(files, book)...)
}

// otherEffects compares what each code does with what it did when cards were last printed: somebody who
// exchanges two effects turns faults into lost skis, under the words that the cards have.
func otherEffects(files *files, book sheetmodel.CodeBook) []sheetmodel.ReusedCode {
	text, err := files.read(PrintedFile)
	if err != nil {
		return nil // nothing printed yet
	}
	var was printed
	if err := yaml.Unmarshal(text, &was); err != nil {
		return nil // opening the race says so
	}
	var all []sheetmodel.ReusedCode
	for _, c := range book.Codes {
		if old := was.Effects[c.Code]; old != "" && old != c.Effect {
			all = append(all, sheetmodel.ReusedCode{Code: c.Code, Printed: effectWord + string(old), Now: effectWord + string(c.Effect)})
		}
	}
	return all
}

// effectWord is how an effect stands in the code book.
const effectWord = "effect: "

func effectsOf(book sheetmodel.CodeBook) map[string]sheetmodel.Effect {
	effects := map[string]sheetmodel.Effect{}
	for _, c := range book.Codes {
		effects[c.Code] = c.Effect
	}
	return effects
}

// Reused says in a sentence for each code of the race that was given another meaning after cards were
// printed what the cards say, what the book says, and what to do.
func Reused(race *sheetmodel.Race) []string {
	var notes []string
	named := map[string]bool{} // a code that says another thing does another thing as well: once is enough
	for _, r := range race.Reused {
		if r.Layout == "" && named[r.Code] {
			continue
		}
		named[r.Code] = true
		note := fmt.Sprintf("code %s: cards were printed with %s %q, and the code book now says %q; rows with %s on those cards wait and propose nothing: "+
			"write the old words back, and give what is new a letter of its own", r.Code, r.Code, r.Printed, r.Now, r.Code)
		if r.Layout == "" {
			note = fmt.Sprintf("code %s: it had %q when cards were printed, and the code book now says %q; rows with %s wait and propose nothing: "+
				"write the old effect back, or, if the new one is meant, print cards again with gatefold cards", r.Code, r.Printed, r.Now, r.Code)
		}
		if !slices.Contains(notes, note) {
			notes = append(notes, note)
		}
	}
	return notes
}
