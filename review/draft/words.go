package draft

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"gatefold/sheetmodel"
)

// bibWords is a row's bib as it may be printed: a doubtful one is never printed as if it stood.
func bibWords(r Row) string {
	if r.nothing {
		return "none"
	}
	switch sheetmodel.BibState(r.BibState) {
	case sheetmodel.BibTwoLooks, sheetmodel.BibOneLook:
		return r.Bib
	case sheetmodel.BibWaiting, sheetmodel.BibSetAside:
		if words := MayBe(r.Bib, r.Rivals); words != "" {
			return "doubtful: " + words
		}
	}
	// Covered, or ink that nobody can read: the ink beside it tells.
	return "not settled yet"
}

// BasisWords says what a finding or a line rests on: a bare article is one of the International Competition Rules.
func BasisWords(basis string) string {
	switch {
	case basis == "":
		return "no article given"
	case basis == "own logic":
		return "gatefold's own check, no article"
	case basis[0] >= '0' && basis[0] <= '9':
		return "ICR " + basis
	}
	return basis
}

// fewTexts is as many readings of one ink as help a person; more say only that it can't be read.
const fewTexts = 3

// MayBe names what a doubtful bib can be read as, empty if as nothing. Of many it names the first few and
// how many there are besides; the JSON holds them all.
func MayBe(bib string, rivals []string) string {
	all := append(nonEmpty(bib), rivals...)
	if more := len(all) - fewTexts; more > 1 {
		return fmt.Sprintf("%s or %d others", strings.Join(all[:fewTexts], " or "), more)
	}
	return strings.Join(all, " or ")
}

func nonEmpty(texts ...string) []string {
	var kept []string
	for _, t := range texts {
		if t != "" {
			kept = append(kept, t)
		}
	}
	return kept
}

func lookWords(l Look) string {
	switch l.Kind {
	case sheetmodel.LookWriting, sheetmodel.LookSecondBox, sheetmodel.LookStrip:
		return l.Words
	default:
		return l.Words + ", " + l.By + when(l)
	}
}

func when(l Look) string {
	if l.At == nil {
		return ""
	}
	return " " + l.At.Format("15:04")
}

func settledWords(s Settled) string {
	var b strings.Builder
	if s.Undone {
		b.WriteString("undone: ")
	}
	fmt.Fprintf(&b, "%s ", strings.ReplaceAll(s.Field, "-", " "))
	switch {
	case s.Basis == sheetmodel.BasisSetAside:
		b.WriteString("set aside")
	case s.Basis == sheetmodel.BasisNoWriting && s.Blind:
		b.WriteString("seen as no writing")
	case s.Basis == sheetmodel.BasisNoWriting:
		b.WriteString("seen as no writing, not unseen (does not count)")
	case s.Basis == sheetmodel.BasisJudgeAsked && s.ReadBack:
		fmt.Fprintf(&b, "%q named by the judge", s.Text)
	case s.Basis == sheetmodel.BasisJudgeAsked:
		fmt.Fprintf(&b, "%q shown to the judge, who agreed (no look)", s.Text)
	case s.ReadBack:
		fmt.Fprintf(&b, "%q read aloud by the judge", s.Text)
	case s.Blind:
		fmt.Fprintf(&b, "%q typed unseen", s.Text)
	default:
		fmt.Fprintf(&b, "%q typed, not unseen (no look)", s.Text)
	}
	fmt.Fprintf(&b, " by %s %s", s.By, s.At.Format("15:04"))
	if s.Note != "" {
		fmt.Fprintf(&b, " (%s)", s.Note)
	}
	return b.String()
}

// WaitingWords counts what waits: lines that would be proposed, and the rows beside them that are in no line.
func (s *Section) WaitingWords() string {
	if len(s.Waiting)+len(s.Rows) == 0 {
		return "0"
	}
	return counted(len(s.Waiting), "line", "lines") + " and " + counted(len(s.Rows), "other row", "other rows")
}

// StakeWords says what a waiting row may still change, empty where it waits for nothing.
func StakeWords(r Row) string {
	var words []string
	if r.CanAdd > 0 {
		words = append(words, "put "+counted(r.CanAdd, "line", "lines")+" on the list")
	}
	if r.CanHold > 0 {
		words = append(words, "take back "+counted(r.CanHold, "line that is proposed", "lines that are proposed")+" until more is known")
	}
	if len(words) == 0 {
		return ""
	}
	return "Once it is settled, this row can at most " + strings.Join(words, ", or ") + "."
}

// OtherStartList is said of a line that was made public by another start list than today's. The bib is the paper's and
// stays; whose it is may have changed.
const OtherStartList = "The start list was changed since this line was made public: make sure that the bib is still the same racer's."

// Words says what referee and jury did about a line, a sentence each.
func (j *Jury) Words() []string {
	if j == nil {
		return nil
	}
	var words []string
	if j.PostedAt != nil {
		words = append(words, "Made public at "+j.PostedAt.Format("15:04:05")+"; protests until "+j.ProtestTo.Format("15:04:05")+".")
		if j.posted != "" {
			words = append(words, "What was made public says "+j.posted+": this line, as it stands now, is not public.")
		}
		if j.OtherList {
			words = append(words, OtherStartList)
		}
		if j.PostedOpen != "" {
			words = append(words, "Made public on the referee's word while the list was incomplete: "+j.PostedOpen+".")
		}
	}
	protests := slices.Clone(j.OtherProtests)
	if j.ProtestAt != nil {
		protests = append(protests, Protest{*j.ProtestAt, j.ProtestFrom, j.ProtestLate})
		slices.SortStableFunc(protests, func(a, b Protest) int { return a.At.Compare(b.At) })
	}
	for _, p := range protests {
		t := "Protest at " + p.At.Format("15:04:05")
		if p.From != "" {
			t += " by " + p.From
		}
		if p.Late {
			t += ", after the protest period: the jury decides whether it is heard"
		}
		words = append(words, t+".")
	}
	for _, v := range j.Earlier {
		on := ""
		if v.ProtestAt != nil {
			on = v.ProtestAt.Format("15:04:05")
		}
		words = append(words, verdictWords(v.Verdict, v.DecidedAt, v.Present, v.Reason, "", on))
	}
	if j.Verdict != "" {
		words = append(words, verdictWords(j.Verdict, *j.DecidedAt, j.Present, j.Reason, j.DecidedOn, j.answered))
	}
	if len(j.Lacks) > 0 {
		words = append(words, "Look again: "+strings.Join(j.Lacks, "; ")+".")
	}
	return words
}

// verdictWords says what the jury decided; of is the line where it is another one, protest the time of the one that is answered where there
// are several.
func verdictWords(verdict string, at time.Time, present []string, reason, of, protest string) string {
	when := at.Format("15:04:05")
	if of != "" {
		verdict = of + " " + verdict
	}
	t := "Jury: " + verdict + " at " + when // whole sentences: another language may order them otherwise
	if protest != "" {
		t = "Jury on the protest of " + protest + ": " + verdict + " at " + when
	}
	if len(present) > 0 {
		t += ", present " + strings.Join(present, ", ")
	}
	if reason != "" {
		t += ". Reason: " + strings.TrimSuffix(reason, ".")
	}
	return t + "."
}

// cardWords names where a row stands.
func cardWords(r Row) string {
	words := fmt.Sprintf("card %d, row %d", r.Card, r.Row)
	if r.Spare {
		words = "spare " + words
	}
	if r.Place != "" {
		words += ", place " + r.Place
	}
	if r.Judge != "" {
		words += ", judge " + r.Judge
	}
	if r.Phone != "" {
		words += " (" + r.Phone + ")"
	}
	return words
}

func listWords(l List) string {
	if l.Given == sheetmodel.ListGiven {
		return fmt.Sprintf("given (%d)", l.Bibs)
	}
	return string(l.Given)
}

func sectionWords(s Section) string {
	if s.Run == 0 {
		return "Cards not bound to a run yet"
	}
	return fmt.Sprintf("%s · run %d", s.Course, s.Run)
}

// whatWords says what a row says: "F at gate 12", or "F, no gate settled".
func whatWords(r Row) string {
	if r.Gate == "" {
		return strings.Join(nonEmpty(r.Code, "no gate settled"), ", ")
	}
	return strings.Join(nonEmpty(r.Code, "gate "+r.Gate), " at ")
}
