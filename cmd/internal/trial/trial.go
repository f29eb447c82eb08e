// Package trial fills a layout with handwriting, photographs it with the simulated camera, and reads it again.
//
//	layout + blank picture --hand--> filled sheets --camera--> photos --scan, ocr--> what was read
//	           |                          |                                              |
//	           |                          +------------- what was meant -----------------+--> Report, field by field
//	           +--print.Trace--> the card's print, as a reader must know it
//
// It says how well a card of another make would be read before anybody trusts it. Nothing of it is kept, and nothing
// needs closing.
package trial

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"gatefold/scan/camera/fill"
	"gatefold/sheetmodel"
)

// Options of a trial.
type Options struct {
	Photos int    // of each side
	Level  string // of the camera: ordinary or hard
	Seed   uint64
	Hands  []fill.Digits // whose digits are written; one photo is of one hand
}

// Group is all fields of a side that are for one thing and filled in one way.
type Group struct {
	Side    sheetmodel.SideName
	Part    sheetmodel.Part
	Kind    sheetmodel.Kind
	Grammar sheetmodel.Grammar
	W, H    sheetmodel.MM // of one box, or of the cell
	Boxes   int
	Strip   bool // under a panel
	Fields  int

	Written int // in all photos that were read
	Right   int // read as meant, and certain
	Asked   int // left to a person
	Wrong   int // certain, and not what was meant
	Lost    int // taken for empty
	Empty   int // nothing written
	Noise   int // of those, not taken for empty: a person is asked, or a picture is kept
	Ghosts  int // of those, taken for something written for certain: nobody would be asked
	Unkept  int // read, and no reading of it is kept: a part that rows have no place for
	Likely  int // of those asked, how many were read as meant all the same
}

// Name says what a group is for, as a person would.
func (g *Group) Name() string {
	name := string(g.Part)
	if g.Strip {
		name += " under a panel"
	}
	return name
}

// Report is how a trial ended.
type Report struct {
	Photos  int // taken
	Refused int
	Reasons map[string]int // of refusals
	Upright bool           // the card looks alike upside down: photos must be taken upright
	Groups  []*Group
	Sizes   []*Size // how bibs would fare as this card has them, and in boxes of our own card's size; nil if that is the same
}

// Size is a way to write bibs, tried on a plain sheet with nothing else on it.
type Size struct {
	Group // of the one column it was tried in
	Own   bool
}

// groupsOf sorts a side's fields.
func groupsOf(side *sheetmodel.Side) ([]*Group, map[string]*Group) {
	var all []*Group
	of := map[string]*Group{}
	for _, f := range side.Fields {
		if f.Kind == sheetmodel.Printed {
			continue
		}
		g := Group{Side: side.Name, Part: f.Part, Kind: f.Kind, Grammar: f.Grammar, W: f.Rect.W, H: f.Rect.H, Boxes: f.Boxes, Strip: f.Panel != "" && f.Part == sheetmodel.PartBib}
		if f.Boxes > 0 {
			g.W /= sheetmodel.MM(f.Boxes)
		}
		if len(f.Options) > 0 {
			g.W, g.H, g.Boxes = f.Options[0].Rect.W, f.Options[0].Rect.H, len(f.Options)
		}
		i := slices.IndexFunc(all, func(o *Group) bool {
			return o.Part == g.Part && o.Kind == g.Kind && o.Boxes == g.Boxes && o.Strip == g.Strip && max(o.W-g.W, g.W-o.W, o.H-g.H, g.H-o.H) < 1
		})
		if i < 0 {
			i = len(all)
			all = append(all, &g)
		}
		all[i].Fields++
		of[f.Name] = all[i]
	}
	return all, of
}

// count adds how one field came out. meant is what was written, empty for nothing.
func (g *Group) count(meant string, r sheetmodel.Reading, kept bool) {
	state := cmp.Or(r.State, sheetmodel.Empty)
	if meant == "" {
		g.Empty++
		switch {
		case state == sheetmodel.Clear && !g.picture():
			g.Ghosts++
		case state != sheetmodel.Empty:
			g.Noise++
		}
		return
	}
	g.Written++
	if !kept {
		g.Unkept++
		return
	}
	same := canonical(g.Grammar, r.Text) == canonical(g.Grammar, meant)
	switch {
	case state == sheetmodel.Empty:
		g.Lost++
	case state == sheetmodel.Clear && (same || g.Kind == sheetmodel.Drawing):
		g.Right++
	case state == sheetmodel.Clear:
		g.Wrong++
	default:
		g.Asked++
		if same {
			g.Likely++
		}
	}
}

func canonical(g sheetmodel.Grammar, text string) string {
	if g == sheetmodel.GrammarGate {
		return sheetmodel.CanonicalGate(text)
	}
	return strings.ToUpper(strings.Join(strings.Fields(text), ""))
}

// picture reports whether a kind is kept as a picture, or as a help that is never certain.
func (g *Group) picture() bool {
	return g.Kind == sheetmodel.Drawing || g.Kind == sheetmodel.Text || g.Kind == sheetmodel.Cell && g.Grammar == sheetmodel.GrammarFree
}

// OfEmpty says what became of the fields that were left empty, where it wasn't all well; else nothing.
func (g *Group) OfEmpty() string {
	switch {
	case g.Noise == 0:
		return ""
	case g.picture():
		return fmt.Sprintf("of %d left empty, a picture is kept of %d", g.Empty, g.Noise)
	default:
		return fmt.Sprintf("of %d left empty, a person is asked about %d", g.Empty, g.Noise)
	}
}

// Advice says what a group's figures mean, in the words of a person who is to mend the card or to live with it.
func (g *Group) Advice() string {
	share := func(n int) float64 { return 100 * float64(n) / float64(max(1, g.Written)) }
	switch {
	case g.Ghosts > 0:
		return fmt.Sprintf("%d that were left empty were certainly taken for written: don't use this card so", g.Ghosts)
	case g.Written == 0:
		return "not tried"
	case g.Part == sheetmodel.PartUnnamed:
		return "nobody has said what it is for: give it a part in the layout file"
	case g.Unkept > 0:
		return fmt.Sprintf("a row has no place for a %s: nothing of it is kept", g.Part)
	case g.Wrong > 0:
		return fmt.Sprintf("%d were certain and wrong: don't use this card so", g.Wrong)
	case g.Lost > 0:
		return fmt.Sprintf("%d were taken for empty: the field may lie beside the place where it is written", g.Lost)
	case g.picture():
		return "kept as a picture for a person"
	case g.Asked == g.Written && g.Kind == sheetmodel.Cell && (g.Part == sheetmodel.PartCode || g.Part == sheetmodel.PartGate):
		return fmt.Sprintf("the judge is asked about every one: a %s written in a cell is never certain, and at the desk only its judge can settle it; boxes to tick, or one digit each, may need nobody; %.0f %% were read rightly all the same", g.Part, share(g.Likely))
	case g.Asked == g.Written && g.Kind == sheetmodel.Cell:
		return fmt.Sprintf("a person is asked about every one, for without boxes nothing written is certain; %.0f %% were read rightly all the same", share(g.Likely))
	case share(g.Asked) > 25:
		return fmt.Sprintf("a person is asked about %.0f in a hundred: larger boxes may help, or a plainer ground and more room between them", share(g.Asked))
	case share(g.Asked) > 0:
		return fmt.Sprintf("a person is asked about %.0f in a hundred", share(g.Asked))
	default:
		return "good"
	}
}
