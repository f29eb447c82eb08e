package reading

import (
	"cmp"

	"gatefold/sheetmodel"
)

// fieldsOf lists every Reading of a side in the order of the layout.
func fieldsOf(side *sheetmodel.Side, read sheetmodel.SheetReading) []Field {
	byName := map[string]sheetmodel.Reading{}
	for _, r := range All(read) {
		byName[r.Field] = r
	}
	out := []Field{}
	for _, f := range side.Fields {
		r, ok := byName[f.Name]
		if !ok {
			continue
		}
		out = append(out, Field{
			Name: f.Name, Part: f.Part, Kind: f.Kind, Row: f.Row, Panel: f.Panel,
			Text: r.Text, Rivals: append([]sheetmodel.Rival{}, r.Rivals...), Certainty: r.Certainty.Value(),
			State: cmp.Or(r.State, sheetmodel.Empty), Reasons: append([]sheetmodel.Doubt{}, r.Doubts...), Region: r.Region,
		})
	}
	return out
}

// All lists every Reading of a side that has a field.
func All(read sheetmodel.SheetReading) []sheetmodel.Reading {
	all := append([]sheetmodel.Reading{}, read.Header...)
	for _, row := range read.Rows {
		all = append(all, row.Bib, row.BibAgain, row.Code, row.CodeOther, row.Gate, row.Panel, row.Rerun)
	}
	for _, s := range read.Strips {
		all = append(all, s.Bib)
	}
	all = append(all, read.Ink...)
	out := all[:0]
	for _, r := range all {
		if r.Field != "" {
			out = append(out, r)
		}
	}
	return out
}
