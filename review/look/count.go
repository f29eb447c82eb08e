package look

import (
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

// Ink is what is on the paper for one field, as far as a machine can say.
type Ink struct {
	// Pictured is false for a card typed from the paper; the rest is then ignored.
	Pictured bool
	Reading  sheetmodel.Reading
	// Alone: the reader sees no plausible rival to the text.
	Alone bool
	// Ties are the second writings of this row, none for anything but a bib.
	Ties []Tied
	// Grammar says how typed text is brought into its written form.
	Grammar sheetmodel.Grammar
	// Judge is who wrote it, if that is known: typed by themselves and named when asked, it is one person's word twice.
	Judge string
	// Relief are further people who may have written it: those who took over from the judge, or from whom the judge did.
	Relief []string
}

// Need is what could give a field another look.
type Need string

// The needs.
const (
	NeedNothing      Need = ""
	NeedEntry        Need = "blind-entry"
	NeedSecondPerson Need = "second-person" // someone who has not typed it yet
	NeedJudge        Need = "judge"         // only the judge can settle it; or set it aside
)

// Seen is how a field stands.
type Seen struct {
	State sheetmodel.BibState `json:"state"`
	// Text is what the looks agree on; while waiting it is the machine's best text, which must not be
	// shown to anyone who may still type it.
	Text   string            `json:"text"`
	Looks  []sheetmodel.Look `json:"looks,omitempty"`
	Next   Need              `json:"next,omitempty"`
	Reason string            `json:"reason,omitempty"` // why it waits or is set aside
	// Rivals are the other texts that ink or people show. As secret as Text.
	Rivals []string `json:"rivals,omitempty"`
	// Typed are the people who have typed it and can't be its second person.
	Typed []string `json:"typed,omitempty"`
	// Nothing are the people on whose word nothing is written there; empty: it isn't settled so. The
	// state is then set-aside and the text empty.
	Nothing []string `json:"nothing,omitempty"`
}

// notProven is why only the judge settles ink that the reader doesn't prove alone: it may have a plausible rival, or stand in a free
// cell, where no code or gate is proven by one writing. People read it who may still type the ink unseen, so it doesn't
// tell which of these it is, nor whether somebody has read the ink as the machine did.
const notProven = "what is written is not certain enough for one person's word"

// NoWriting stands for a text where a person sees none. No ink is read so.
const NoWriting = "no writing"

// Count applies the table of the package comment. decisions are those about this field that were not
// undone, in the order in which they were taken. reader is who read the ink, for the log of looks.
func Count(ink Ink, reader string, decisions []sheetmodel.Decision) Seen {
	return dissented(ink, reader, decisions, counted(ink, reader, decisions))
}

// counted applies all of the table but its first remark: what somebody says after two looks agreed.
func counted(ink Ink, reader string, decisions []sheetmodel.Decision) Seen {
	p := peopleOf(ink.Grammar, decisions)
	if p.setAside != nil {
		m := machineOf(ink, reader)
		_, against := p.split(m.text)
		return Seen{State: sheetmodel.BibSetAside, Text: m.text, Reason: p.setAside.Note, Rivals: m.others(against, p.judge), Typed: p.typed}
	}
	s := Seen{}
	p.writers = map[string]bool{Person(ink.Judge): true}
	for _, name := range ink.Relief {
		p.writers[Person(name)] = true
	}
	delete(p.writers, "") // not known
	if ink.Pictured {
		s = pictured(machineOf(ink, reader), p)
	} else {
		s = unpictured(p)
	}
	s.Typed = p.typed
	if s.Text == NoWriting { // two people say so of a paper, or one
		if s.State == sheetmodel.BibTwoLooks {
			s = nothing(p, nil)
		} else {
			s = Seen{State: sheetmodel.BibWaiting, Next: s.Next, Reason: "not certain enough", Typed: p.typed}
		}
	}
	if s.State == sheetmodel.BibTwoLooks {
		s.Next, s.Reason = NeedNothing, ""
	} else if p.sighted && s.Next != NeedNothing {
		s.Reason = strings.TrimPrefix(s.Reason+"; an entry typed after a text was shown is no look", "; ")
	}
	return s
}

// dissented lowers a field that stands on two looks, one of them a person's, if somebody has read it otherwise since.
// Nothing is raised by it.
func dissented(ink Ink, reader string, decisions []sheetmodel.Decision, s Seen) Seen {
	if s.State != sheetmodel.BibTwoLooks {
		return s
	}
	last := -1
	for i := range decisions {
		d := &decisions[i]
		if !isWord(d) || wordOf(ink.Grammar, d) == s.Text {
			continue
		}
		before := counted(ink, reader, standing(decisions[:i]))
		if before.State == sheetmodel.BibTwoLooks && before.Text == s.Text && slices.ContainsFunc(before.Looks, byPerson) {
			last = i
		}
	}
	if last < 0 {
		return s
	}
	// The judge's newer word settles it, or the entry of a further person: as where the one who differs came first.
	for _, l := range s.Looks {
		newer := slices.ContainsFunc(decisions[last+1:], func(d sheetmodel.Decision) bool {
			return Person(d.By) == Person(l.By) && d.At.Equal(l.At) && wordOf(ink.Grammar, &d) == s.Text
		})
		if newer && byPerson(l) {
			return s
		}
	}
	return Seen{State: sheetmodel.BibWaiting, Text: s.Text, Next: NeedSecondPerson, Reason: "somebody read it otherwise after two looks had agreed", Rivals: s.Rivals, Typed: s.Typed}
}

// standing leaves out that a field was set aside: what had been said of it before stands again with the next entry.
func standing(decisions []sheetmodel.Decision) []sheetmodel.Decision {
	return slices.DeleteFunc(slices.Clone(decisions), func(d sheetmodel.Decision) bool { return d.Basis == sheetmodel.BasisSetAside })
}

// isWord reports whether a decision is what a person read off the ink themselves.
func isWord(d *sheetmodel.Decision) bool {
	return d.Basis == sheetmodel.BasisNoWriting || d.Basis == sheetmodel.BasisOnPaper && !d.ReadBack
}

func wordOf(g sheetmodel.Grammar, d *sheetmodel.Decision) string {
	if d.Basis == sheetmodel.BasisNoWriting {
		return NoWriting
	}
	return Canonical(g, d.Text)
}

func byPerson(l sheetmodel.Look) bool {
	return l.Kind == sheetmodel.LookBlind || l.Kind == sheetmodel.LookPaper || byJudge(l)
}

func byJudge(l sheetmodel.Look) bool {
	return l.Kind == sheetmodel.LookReadBack || l.Kind == sheetmodel.LookJudgeAsked
}

func pictured(m machine, p people) Seen {
	with, against := p.split(m.text)
	blank, written := p.split(NoWriting)
	s := Seen{State: sheetmodel.BibWaiting, Text: m.text, Rivals: m.others(against, p.judge)}
	switch {
	case p.judge != nil:
		return withJudge(m, p, s)
	case len(blank) > 0 && len(written) == 0 && p.nod == "" && (m.specks || len(blank) > 1 && m.mayBeNothing):
		return nothing(p, m.texts())
	case len(blank) == 1 && len(written) == 0 && p.nod == "" && m.mayBeNothing:
		s.Next, s.Reason = NeedSecondPerson, "the first person read the ink otherwise than the machine"
	case m.onlyJudge != "":
		s.Next, s.Reason = NeedJudge, m.onlyJudge
	case p.wavers || p.nod != "" && p.nod != m.text:
		s.Next, s.Reason = NeedJudge, "the judge only agreed to what was shown, and it is another bib"
	case len(against) > 1:
		s.Next, s.Reason = NeedJudge, "two people read the ink otherwise than the machine"
	case len(against) == 1 && !m.alone && len(m.looks) < 2:
		// A second person who agrees with the machine would settle nothing here.
		s.Next, s.Reason = NeedJudge, notProven
	case len(against) == 1 && len(with) == 0:
		s.Next, s.Reason = NeedSecondPerson, "the first person read the ink otherwise than the machine"
	case len(m.looks) > 1:
		s.State, s.Looks = sheetmodel.BibTwoLooks, append(m.looks, with...)
	case len(with) > 0 && m.alone && m.text != "":
		s.State, s.Looks = sheetmodel.BibTwoLooks, append([]sheetmodel.Look{m.writing()}, with...)
	case m.clear && !m.alone:
		s.State, s.Looks, s.Next, s.Reason = sheetmodel.BibOneLook, m.looks, NeedJudge, notProven
	case m.clear:
		s.State, s.Looks, s.Next = sheetmodel.BibOneLook, m.looks, NeedEntry
	case m.text == "":
		s.Next, s.Reason = NeedJudge, "the ink could not be read"
	case !m.alone:
		s.Next, s.Reason = NeedJudge, notProven
	default:
		s.Next, s.Reason = NeedEntry, "not certain enough"
	}
	return s
}

// nothing is how a field stands on which no writing is. texts are what a machine made of the specks.
func nothing(p people, texts []string) Seen {
	s := Seen{State: sheetmodel.BibSetAside, Rivals: texts, Typed: p.typed}
	blank, _ := p.split(NoWriting)
	for _, l := range blank {
		s.Nothing = append(s.Nothing, l.By)
	}
	s.Reason = SaidNothing(s.Nothing)
	return s
}

// SaidNothing says on whose word nothing is written in a place.
func SaidNothing(by []string) string { return "no writing, said by " + strings.Join(by, " and ") }

// withJudge settles by the witness. The judge's word is one look; the other is the ink, if it can be
// read so, or a person who read it so.
func withJudge(m machine, p people, s Seen) Seen {
	said := p.judge.Text
	with, _ := p.split(said)
	// Whoever typed the judge's word is no second person beside it.
	with = slices.DeleteFunc(with, p.saysTheJudge)
	var looks []sheetmodel.Look
	if m.shows(said) {
		looks = append(looks, sheetmodel.Look{Kind: sheetmodel.LookWriting, Text: said, By: m.reader})
		if m.text == said && len(m.looks) > 1 {
			looks = slices.Clone(m.looks)
		}
	}
	looks = append(append(looks, *p.judge), with...)
	if len(looks) < 2 {
		if m.bib && p.unopposed() && len(m.texts()) == 0 {
			// As without a picture: one look, which doesn't make the row stand, and holds what it speaks against.
			return Seen{State: sheetmodel.BibOneLook, Text: said, Looks: looks, Next: NeedSecondPerson}
		}
		s.Next, s.Reason = NeedSecondPerson, "the judge names another bib than the ink shows"
		return s
	}
	rivals := slices.DeleteFunc(s.Rivals, func(r string) bool { return r == said })
	if m.text != said {
		rivals = insert(rivals, m.text)
	}
	return Seen{State: sheetmodel.BibTwoLooks, Text: said, Looks: looks, Rivals: rivals}
}

func unpictured(p people) Seen {
	entries := slices.Clone(p.entries)
	for i := range entries {
		entries[i].Kind = sheetmodel.LookPaper
	}
	var against []sheetmodel.Look
	if p.judge != nil {
		if with, words := p.split(p.judge.Text); len(with) == 0 && len(words) > 0 {
			return Seen{
				State: sheetmodel.BibWaiting, Next: NeedSecondPerson, Reason: "the judge names another bib than was typed",
				Rivals: []string{p.judge.Text, words[0].Text},
			}
		}
		entries = slices.DeleteFunc(entries, func(l sheetmodel.Look) bool {
			return l.Text != p.judge.Text || p.saysTheJudge(l)
		})
		entries = append(entries, *p.judge)
	} else if len(entries) > 0 {
		_, against = p.split(entries[0].Text)
		if p.nod != "" && p.nod != entries[0].Text {
			against = append(against, sheetmodel.Look{Text: p.nod})
		}
	}
	switch {
	case len(entries) == 0:
		return Seen{State: sheetmodel.BibWaiting, Next: NeedEntry, Reason: "not typed yet"}
	case len(against) > 0 || p.wavers:
		s := Seen{State: sheetmodel.BibWaiting, Next: NeedJudge, Reason: "the paper was read in two ways", Rivals: []string{entries[0].Text}}
		for _, l := range against {
			s.Rivals = insert(s.Rivals, l.Text)
		}
		return s
	case len(entries) == 1:
		return Seen{State: sheetmodel.BibOneLook, Text: entries[0].Text, Looks: entries, Next: NeedSecondPerson}
	default:
		return Seen{State: sheetmodel.BibTwoLooks, Text: entries[0].Text, Looks: entries}
	}
}

// people is what persons said about a field.
type people struct {
	entries  []sheetmodel.Look    // blind entries whose writer never said otherwise, one a person, oldest first
	words    []sheetmodel.Look    // everything typed from the ink, blind or not, oldest first
	judge    *sheetmodel.Look     // the judge's newest unprompted word
	nod      string               // what the judge last agreed to when it was shown; never a look
	wavers   bool                 // that nod contradicts an unprompted word, or an older nod
	setAside *sheetmodel.Decision // set when that is the newest decision
	typed    []string
	sighted  bool            // somebody typed after a text was shown
	writers  map[string]bool // who may have written it, as Person gives them
}

// unopposed reports whether all that anybody typed or nodded at is what the judge says.
func (p people) unopposed() bool {
	return !p.wavers && (p.nod == "" || p.nod == p.judge.Text) &&
		!slices.ContainsFunc(p.words, func(l sheetmodel.Look) bool { return l.Text != p.judge.Text })
}

// saysTheJudge reports whether an entry is no second person's beside the judge's word: its typist wrote that down, or is the
// judge.
func (p people) saysTheJudge(l sheetmodel.Look) bool {
	by := Person(l.By)
	return by == Person(p.judge.By) || p.writers[by]
}

func peopleOf(g sheetmodel.Grammar, decisions []sheetmodel.Decision) people {
	var p people
	for i := range decisions {
		d := &decisions[i]
		p.setAside = nil
		l := sheetmodel.Look{Text: Canonical(g, d.Text), By: d.By, At: d.At}
		if d.Basis != sheetmodel.BasisSetAside {
			p.typed = insert(p.typed, d.By)
		}
		switch {
		case d.Basis == sheetmodel.BasisSetAside:
			p.setAside = d
		case d.Basis == sheetmodel.BasisNoWriting:
			l.Kind, l.Text = sheetmodel.LookBlind, NoWriting
			p.words = append(p.words, l)
			p.sighted = p.sighted || !d.Blind
			if d.Blind {
				p.entries = append(p.entries, l)
			}
		case d.Basis == sheetmodel.BasisJudgeAsked && d.ReadBack:
			l.Kind = sheetmodel.LookJudgeAsked
			p.judge, p.nod, p.wavers = &l, "", false
		case d.ReadBack && d.Blind:
			l.Kind = sheetmodel.LookReadBack
			p.judge, p.nod, p.wavers = &l, "", false
		case d.Basis == sheetmodel.BasisJudgeAsked || d.ReadBack:
			p.wavers = p.wavers || p.nod != "" && p.nod != l.Text // the older one may have been unprompted, of ink that was mended since
			p.nod = l.Text
			if p.judge != nil && p.judge.Text != l.Text {
				p.judge, p.wavers = nil, true
			}
		default:
			l.Kind = sheetmodel.LookBlind
			p.words = append(p.words, l)
			p.sighted = p.sighted || !d.Blind
			if d.Blind {
				p.entries = append(p.entries, l)
			}
		}
	}
	// A person whose words differ supports none of them; each still speaks against the others.
	p.entries = slices.DeleteFunc(p.entries, func(l sheetmodel.Look) bool {
		return slices.ContainsFunc(p.words, func(o sheetmodel.Look) bool { return Person(o.By) == Person(l.By) && o.Text != l.Text })
	})
	seen := map[string]bool{}
	p.entries = slices.DeleteFunc(p.entries, func(l sheetmodel.Look) bool {
		again := seen[Person(l.By)]
		seen[Person(l.By)] = true
		return again
	})
	return p
}

// split returns the blind entries that show text, and one word of each person who typed another.
func (p people) split(text string) (with, against []sheetmodel.Look) {
	for _, l := range p.entries {
		if l.Text == text {
			with = append(with, l)
		}
	}
	for _, l := range p.words {
		if l.Text != text && !slices.ContainsFunc(against, func(o sheetmodel.Look) bool { return Person(o.By) == Person(l.By) }) {
			against = append(against, l)
		}
	}
	return with, against
}

// Canonical brings a text into the written form in which texts of a grammar are compared.
func Canonical(g sheetmodel.Grammar, text string) string {
	switch g {
	case sheetmodel.GrammarBib:
		return sheetmodel.CanonicalBib(text)
	case sheetmodel.GrammarGate:
		return sheetmodel.CanonicalGate(text)
	case sheetmodel.GrammarPanel:
		return strings.ToUpper(strings.TrimSpace(text))
	default:
		return strings.TrimSpace(text)
	}
}

func insert(set []string, text string) []string {
	if text == "" || slices.Contains(set, text) {
		return set
	}
	return append(set, text)
}
