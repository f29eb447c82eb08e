package sheetmodel

// BindRace binds the template to a race: its codes, groups and courses, the second box if the race
// asks for it, and four boxes a bib where a starter has four characters. paper is "a5" or "half-letter".
func (t *Template) BindRace(r *Race, paper string, spare bool) (*Layout, error) {
	o := BindOptions{
		Paper: paper, Codes: r.Codes, Courses: r.Courses, SecondWriting: r.Rules.SecondWriting, Spare: spare,
	}
	for _, g := range r.Groups {
		o.Groups = append(o.Groups, g.Name)
	}
	for _, s := range r.Starters {
		if len(s.Number) > 3 && !o.SecondWriting {
			o.BibBoxes = 4
		}
	}
	return t.Bind(o)
}
