package review

import (
	"net/http"
	"strings"

	"gatefold/review/draft"
	"gatefold/sheetmodel"
)

// whyView explains one bib, or asks for one.
type whyView struct {
	frame
	Bib, Group string
	Groups     []string
	Said       []draft.Explanation // one for each racer who wears the number; none: no bib was asked for
}

// showWhy says why a bib is on the list or isn't, from what may be shown like the draft, and so gives as much away.
func (d *Desk) showWhy(w http.ResponseWriter, r *http.Request, s *session) error {
	m, f, err := d.view(r.Context(), s, "Why a bib is on the list, or not", "draft")
	if err != nil {
		return err
	}
	v := whyView{frame: f, Bib: sheetmodel.CanonicalBib(strings.TrimSpace(r.FormValue("bib"))), Group: r.FormValue("group")}
	for _, g := range m.race.Groups {
		v.Groups = append(v.Groups, g.Name)
	}
	if v.Bib != "" {
		dr, err := d.draft(m)
		if err != nil {
			return err
		}
		v.Said = dr.ExplainAll(m.race, v.Bib, v.Group)
		if err := d.serveAll(r, s, m, "why"); err != nil {
			return err
		}
	}
	return d.render(w, "why", http.StatusOK, v)
}
