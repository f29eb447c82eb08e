package stack

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/rules"
	"gatefold/sheetmodel"
)

// holdReused lets a row wait whose code meant something else when its card was printed: nobody can say
// from the letter what its judge saw. layout is the card's, empty where there is only paper: then any
// layout may be its own. The row's words don't name the code, for it may still have to be typed unseen.
func (l *loader) holdReused(r *Row, layout string) {
	if !r.CodeSure || r.Row.Code == "" {
		return // it waits for its code as it is
	}
	if !slices.ContainsFunc(l.Race.Reused, func(u sheetmodel.ReusedCode) bool {
		return u.Code == r.Row.Code && concerns(u, layout)
	}) {
		return
	}
	r.CodeSure, r.reused = false, true
	r.hold("its code meant something else when its card was printed than it does in the code book now")
}

// concerns reports whether cards of a layout, empty for any, may carry the code with its old meaning.
func concerns(u sheetmodel.ReusedCode, layout string) bool {
	return layout == "" || u.Layout == "" || u.Layout == layout
}

func layoutOf(r *Row) string {
	if r.Sheet == nil {
		return ""
	}
	return r.Sheet.Layout
}

// reusedGaps says for each run and course that has such rows which cards they are on and what to do.
func (s *Stack) reusedGaps() []rules.Gap {
	type place struct {
		run    int
		course string
	}
	var at []place
	cards := map[place][]int{}
	codes := map[place][]sheetmodel.ReusedCode{}
	for i := range s.Rows {
		r := &s.Rows[i]
		if !r.reused || r.BibState == sheetmodel.BibSetAside || len(r.Nothing) > 0 {
			continue
		}
		p := place{r.Ref.Run, r.Ref.Course}
		if !slices.Contains(at, p) {
			at = append(at, p)
		}
		if !slices.Contains(cards[p], r.Ref.Card) {
			cards[p] = append(cards[p], r.Ref.Card)
		}
		for _, u := range s.Race.Reused {
			known := slices.ContainsFunc(codes[p], func(o sheetmodel.ReusedCode) bool {
				return o.Code == u.Code && (o.Printed == u.Printed || u.Layout == "")
			})
			if !known && concerns(u, layoutOf(r)) {
				codes[p] = append(codes[p], u)
			}
		}
	}
	var gaps []rules.Gap
	for _, p := range at {
		var said, names []string
		for _, c := range cards[p] {
			names = append(names, fmt.Sprint(c))
		}
		for _, u := range codes[p] {
			said = append(said, fmt.Sprintf("%s as %q, which the code book now calls %q", u.Code, u.Printed, u.Now))
		}
		noun := "Card"
		if len(names) > 1 {
			noun = "Cards"
		}
		gaps = append(gaps, rules.Gap{Run: p.run, Course: p.course, Why: fmt.Sprintf(
			"%s %s: printed with %s. Rows with such a code wait until the code book says again what it said then; gatefold race says more.",
			noun, strings.Join(names, ", "), strings.Join(said, ", and "))})
	}
	return gaps
}
