package reading

import (
	"cmp"

	"gatefold/sheetmodel"
)

// fieldsOf lists every Reading of a side in the order of the layout.
func fieldsOf(side *sheetmodel.Side, read sheetmodel.SheetReading) []Field {
	byName := map[string]sheetmodel.Reading{}
	for _, r := range read.Readings() {
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
