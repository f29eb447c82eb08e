package draft

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"gatefold/review/crop"
	"gatefold/review/jury"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// Coach is the sheet to show a coach before a protest: one bib, its rows and drawings, the article and the
// time left. Everything else on the pictures is black before they are encoded, and nobody is named.
type Coach struct {
	Race    RaceHead
	At      time.Time
	Bib     string
	Group   string
	Run     int
	Course  string
	Gate    string
	Code    string
	Meaning string
	Article string
	Jury    *Jury
	Rows    []CoachRow

	overruled bool // perhaps by a decision on another fault, which went for this one too
}

// CoachRow is one row without its judge.
type CoachRow struct {
	Row, Drawing *crop.Crop
}

// ErrNotAllowed says that the referee has not allowed that a coach is shown this line.
var ErrNotAllowed = errors.New("the referee has not allowed a coach to see this line")

// ErrNoLine says that no line of the draft is about the bib.
var ErrNoLine = errors.New("no line of the draft is about this bib")

// CoachLine is the line that a coach may be shown: one that stands goes before one that was overruled. It is false if there is neither.
func CoachLine(result rules.Result, at jury.Line) (line sheetmodel.Call, ok bool) {
	for _, c := range result.Calls {
		if c.Run == at.Run && c.Course == at.Course && c.Group == at.Group && c.Bib == at.Bib && (!c.Waiting || c.Overruled) && (!ok || line.Overruled) {
			line, ok = c, true
		}
	}
	return line, ok
}

// NewCoach makes the sheet for the line that at names. Only a line that stands, or that the jury has
// decided on, is shown, and only with the referee's leave: else the error is ErrNoLine or ErrNotAllowed.
// Without the layout of a card nobody can say what on it is another's, and its picture is left out.
func NewCoach(s *stack.Stack, result rules.Result, opt Options, at jury.Line) (*Coach, error) {
	d, err := New(s, result, opt)
	if err != nil {
		return nil, err
	}
	b := newBuilder(s, result, opt)
	c, ok := CoachLine(result, at)
	if !ok {
		return nil, ErrNoLine
	}
	if !b.jury[at].MayShow(c.Gate, c.Code) {
		return nil, ErrNotAllowed
	}
	k := &Coach{
		Race: d.Race, At: d.At, Bib: c.Bib, Group: c.Group, Run: c.Run, Course: c.Course, Gate: c.Gate, Code: c.Code, Meaning: c.Meaning,
		Article: BasisWords(c.Basis), Jury: b.juryOn(c), overruled: c.Overruled,
	}
	for _, ref := range c.Rows {
		r := b.Row(ref)
		if r == nil || r.Sheet == nil {
			k.Rows = append(k.Rows, CoachRow{})
			continue
		}
		own := func(f sheetmodel.Field) bool {
			return f.Row == ref.Row && f.Kind != sheetmodel.Drawing && f.Part != sheetmodel.PartCodeOther && f.Part != sheetmodel.PartRemark
		}
		row := CoachRow{Row: b.only(r.Sheet, own)}
		if back := b.Cards[r.Card].PanelSheet(); back != nil && r.Row.Panel != "" && r.PanelSure {
			row.Drawing = b.only(back, func(f sheetmodel.Field) bool { return f.Panel == r.Row.Panel && f.Kind == sheetmodel.Drawing })
		}
		k.Rows = append(k.Rows, row)
	}
	return k, nil
}

// only shows the fields that want picks and nothing else of the side. It is nil without the layout.
func (b *builder) only(s *store.Sheet, want func(sheetmodel.Field) bool) *crop.Crop {
	side := b.layoutSide(s)
	if side == nil || s.Page == "" {
		return nil
	}
	k := &crop.Crop{Sheet: s.ID, Side: s.Side, Page: s.Page, SHA256: s.PageSHA256, PxPerMM: s.PagePxPerMM}
	for _, f := range side.Fields {
		if !want(f) {
			continue
		}
		if len(k.Show) == 0 {
			k.Rect = f.Rect
		}
		k.Rect, k.Show = k.Rect.Union(f.Rect), append(k.Show, f.Rect)
	}
	if len(k.Show) == 0 {
		return nil
	}
	return k
}

// Cautions say what is to be known of the line before it is believed: whether it is only proposed, and whose bib it may be by now.
func (k *Coach) Cautions() []string {
	words := []string{"Proposed, not decided."}
	if k.overruled {
		words[0] = "Overruled by the jury."
	}
	if k.Jury == nil {
		return words
	}
	if k.Jury.Verdict != "" && k.Jury.DecidedOn == "" {
		words[0] = "Decided by the jury: " + k.Jury.Verdict + " at " + k.Jury.DecidedAt.Format("15:04:05") + "."
		if k.Jury.open {
			words[0] += " A further protest is open."
		}
	}
	if k.Jury.OtherList {
		words = append(words, OtherStartList)
	}
	return words
}

// Left says how long a protest is still in time.
func (k *Coach) Left() string {
	switch {
	case k.Jury == nil || k.Jury.ProtestTo == nil:
		return "Not made public yet: the protest period has not begun."
	case k.Jury.posted != "":
		return "Not made public as it stands now: the protest period of what was made public, " + k.Jury.posted + ", is not this line's."
	case k.At.After(*k.Jury.ProtestTo):
		return "The protest period ended at " + k.Jury.ProtestTo.Format("15:04:05") + "."
	case k.At.In(k.Jury.ProtestTo.Location()).Format(time.DateOnly) != k.Jury.ProtestTo.Format(time.DateOnly):
		// Minutes from another day would only mislead.
		return "Protests until " + k.Jury.ProtestTo.Format("2006-01-02, 15:04:05") + "."
	}
	left := k.Jury.ProtestTo.Sub(k.At).Round(time.Second)
	return fmt.Sprintf("Protests until %s: %d min %02d s left, as of %s.", k.Jury.ProtestTo.Format("15:04:05"), int(left.Minutes()), int(left.Seconds())%60, k.At.Format("15:04:05"))
}

// WritePDF writes the sheet, one page as a rule.
func (k *Coach) WritePDF(w io.Writer, cutter *crop.Cutter) error {
	p := newPaper(sheetHead{race: k.Race, at: k.At, title: "TO SHOW A COACH"}, cutter)
	p.y += 2
	p.text(marginX, p.y+8, bold, 22, 0, "Bib "+strings.TrimSpace(k.Group+" "+k.Bib))
	p.y += 12
	p.paragraph(marginX, textW, regular, 11, 0, fmt.Sprintf("%s · run %d. Gate %s, %s.", k.Course, k.Run, orDash(k.Gate), strings.Join(nonEmpty(k.Code, k.Meaning), ", ")))
	p.paragraph(marginX, textW, bold, 11, 0, strings.Join(k.Cautions(), " "))
	p.paragraph(marginX, textW, regular, 11, 0, "Article: "+orDash(k.Article)+".")
	p.paragraph(marginX, textW, bold, 11, 0, k.Left())
	for i, r := range k.Rows {
		p.heading(fmt.Sprintf("What a gate judge wrote (%d of %d)", i+1, len(k.Rows)), 1, "")
		p.room(60)
		if h := p.picture(marginX, p.y+1, textW, 24, r.Row); h > 0 {
			p.y += h + 3
		} else {
			p.paragraph(marginX, textW, bold, 9, 0, "No picture that could be shown: the referee shows the paper.")
		}
		if h := p.picture(marginX, p.y+1, 70, 80, r.Drawing); h > 0 {
			p.y += h + 3
		}
	}
	p.y += 4
	p.paragraph(marginX, textW, regular, 9, 60, "Shown with the referee's leave, which is logged. What belongs to other racers, the judge's name and remarks are blacked out. The bib is as written by the judge. Look at the pictures before you show them: what a judge wrote inside a drawing can't be told apart from it.")
	return p.finish(w, "sheet to show a coach")
}
