package scan

import (
	"fmt"
	"slices"
	"sort"
	"strings"

	"gatefold/sheetmodel"
)

// FlawKind is the fixed word of a Flaw.
type FlawKind string

// What can be wrong with some fields of a page that is otherwise good.
const (
	FlawGlare   FlawKind = "glare"   // print is as bright as paper, at the end of the scale
	FlawCovered FlawKind = "covered" // print can't be seen, and it is not too bright for that
	FlawShadow  FlawKind = "shadow"  // a shadow's edge runs through the print
	FlawFaint   FlawKind = "faint"   // print is there, but smeared, wet or written over
	FlawNumber  FlawKind = "number"  // a row's bib in print isn't seen as it was printed
	FlawOutside FlawKind = "outside" // not wholly in the picture
	FlawAdrift  FlawKind = "adrift"  // may lie farther off than its box allows
)

// A Flaw is what a photo lacks for some fields, in words that a person can act on. Their readings are doubtful.
type Flaw struct {
	Kind   FlawKind `json:"kind"`
	Fields []string `json:"fields"`
	Detail string   `json:"detail"` // "glare over rows 3 and 4"
	Remedy string   `json:"remedy"`
}

// String returns detail and remedy in one sentence.
func (f Flaw) String() string { return f.Detail + "; " + f.Remedy }

// gravity orders reasons: a row that something lies over isn't also smeared.
var gravity = [...]FlawKind{FlawOutside, FlawCovered, FlawGlare, FlawShadow, FlawFaint, FlawNumber, FlawAdrift}

// judgeFields sets what is said of single fields: their errors, which of them are not to be trusted, and why.
func (q *Quality) judgeFields(side *sheetmodel.Side, places []place, paper *sheetMap, v *view) {
	_, bent := paper.bend.(*spline)
	r := newRemaining(places, paper, q.PxPerMM)
	if len(side.Marks) == 0 {
		r.holds = newHeld(places)
	}
	unseen := newUnseen(places, paper, v, r)
	q.Hidden, q.ErrorMM, q.ErrorSigns = nil, map[string]float64{}, map[string][]float64{}
	why := map[string]int{} // index into gravity, by field
	for i := range side.Fields {
		f := &side.Fields[i]
		hidden, kind := unseen.over(f)
		if bent {
			e, signs := r.of(f.Rect)
			q.ErrorMM[f.Name], q.ErrorSigns[f.Name] = e, signs
			if !hidden && (e > room(f) || e > unheldRoom*room(f) && (r.unheld(f.Rect) || f.Kind != sheetmodel.Text && r.far(f.Rect) > farReach)) {
				hidden, kind = true, FlawAdrift
			}
		}
		if hidden {
			q.Hidden = append(q.Hidden, f.Name)
		}
		if slices.Contains(q.Outside, f.Name) {
			hidden, kind = true, FlawOutside
		}
		if hidden {
			why[f.Name] = slices.Index(gravity[:], kind)
		}
	}
	q.setFlaws(side, why)
}

// hide adds fields that can't be seen for a reason.
func (q *Quality) hide(side *sheetmodel.Side, kind FlawKind, names []string) {
	if len(names) == 0 {
		return
	}
	why := map[string]int{}
	for _, f := range q.Flaws {
		for _, name := range f.Fields {
			why[name] = slices.Index(gravity[:], f.Kind)
		}
	}
	reason := slices.Index(gravity[:], kind)
	for _, name := range names {
		if k, ok := why[name]; !ok || reason < k {
			why[name] = reason
		}
	}
	hidden := q.Hidden
	q.Hidden = nil
	for i := range side.Fields {
		if name := side.Fields[i].Name; slices.Contains(hidden, name) || slices.Contains(names, name) {
			q.Hidden = append(q.Hidden, name)
		}
	}
	q.setFlaws(side, why)
}

// setFlaws puts reasons, as indices into gravity by field, into words: one row, or panel, has the gravest only.
func (q *Quality) setFlaws(side *sheetmodel.Side, why map[string]int) {
	q.Flaws = nil
	byKind := [len(gravity)][]string{}
	for i := range side.Fields {
		if k, ok := why[side.Fields[i].Name]; ok {
			for _, o := range side.Fields {
				if other, ok := why[o.Name]; ok && together(&o, &side.Fields[i]) {
					k = min(k, other)
				}
			}
			byKind[k] = append(byKind[k], side.Fields[i].Name)
		}
	}
	for k, fields := range byKind {
		if len(fields) > 0 {
			q.Flaws = append(q.Flaws, q.flaw(gravity[k], side, fields))
		}
	}
}

// together reports whether two fields have one name in words.
func together(a, b *sheetmodel.Field) bool {
	return a.Row > 0 && a.Row == b.Row || a.Panel != "" && a.Panel == b.Panel
}

func (q *Quality) flaw(kind FlawKind, side *sheetmodel.Side, fields []string) Flaw {
	f := Flaw{Kind: kind, Fields: fields}
	parts, many := partsOf(side, fields)
	switch kind {
	case FlawGlare:
		f.Detail, f.Remedy = "glare over "+parts, "tilt the card until the reflection is off it and take it again"
	case FlawCovered:
		f.Detail, f.Remedy = fmt.Sprintf("%s is covered", parts), "take away what lies over it and take it again"
		if many {
			f.Detail = fmt.Sprintf("%s are covered", parts)
		}
	case FlawShadow:
		f.Detail, f.Remedy = "a shadow's edge over "+parts, "turn so that no shadow falls on the card and take it again"
	case FlawFaint:
		f.Detail, f.Remedy = "the print is smeared or too pale in "+parts, "take it again in better light, or look at the paper"
	case FlawNumber:
		f.Detail, f.Remedy = "the bib in print isn't seen as it was printed in "+parts, "look at the paper: it may be struck out or written over"
	case FlawOutside:
		f.Detail, f.Remedy = fmt.Sprintf("%s is outside the picture", parts), "step back and take it again with the whole card in the picture"
		if many {
			f.Detail = fmt.Sprintf("%s are outside the picture", parts)
		}
	case FlawAdrift:
		worst := 0.0
		for _, name := range fields {
			worst = max(worst, q.ErrorMM[name])
		}
		f.Detail = fmt.Sprintf("%s may lie up to %.1f mm from where the page shows it", parts, worst)
		f.Remedy = "press the card flat and take it again"
	}
	return f
}

// partsOf says in words where fields lie: "rows 3 and 4, panel B and the header". many is false for one part.
func partsOf(side *sheetmodel.Side, fields []string) (words string, many bool) {
	rows, panels, other := map[int]bool{}, map[string]bool{}, map[string]bool{}
	for _, name := range fields {
		f := side.Field(name)
		switch group, _, _ := strings.Cut(name, "."); {
		case f.Row > 0:
			rows[f.Row] = true
		case f.Panel != "":
			panels[f.Panel] = true
		case strings.HasPrefix(group, "remark"):
			other["the remarks"] = true
		case group == "printed":
			other["the printed line"] = true
		default:
			other["the "+group] = true
		}
	}
	var numbers []int
	for r := range rows {
		numbers = append(numbers, r)
	}
	sort.Ints(numbers)
	var list []string
	if len(numbers) > 0 {
		var each []string
		for _, r := range numbers {
			each = append(each, fmt.Sprint(r))
		}
		list = append(list, counted("row", each))
	}
	if len(panels) > 0 {
		list = append(list, counted("panel", sorted(panels)))
	}
	list = append(list, sorted(other)...)
	return inWords(list), len(list) > 1 || len(numbers) > 1 || len(panels) > 1 || other["the remarks"]
}

func sorted(set map[string]bool) []string {
	var out []string
	for s := range set {
		out = append(out, s)
	}
	sort.Strings(out)
	return out
}

// counted returns "row 3" or "rows 3 and 4".
func counted(noun string, words []string) string {
	if len(words) > 1 {
		noun += "s"
	}
	return noun + " " + inWords(words)
}

func inWords(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}
