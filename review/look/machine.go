package look

import (
	"slices"

	"gatefold/sheetmodel"
)

// machine is what the ink alone gives.
type machine struct {
	text    string
	rivals  []string
	seconds []string // what second writings of the same bib show
	clear   bool
	alone   bool
	// specks: hardly darker than paper, and nothing can be made of it that a person must have written.
	specks bool
	// mayBeNothing: people who look at it can say that it isn't writing.
	mayBeNothing bool
	onlyJudge    string // why a person who sees the same ink can't settle it
	looks        []sheetmodel.Look
	reader       string
	bib          bool // else the field is one of those that one look settles
}

func machineOf(ink Ink, reader string) machine {
	m := machine{text: Canonical(ink.Grammar, ink.Reading.Text), alone: ink.Alone, reader: reader, bib: ink.Grammar == sheetmodel.GrammarBib}
	for _, r := range ink.Reading.Rivals {
		if r.Text != m.text {
			m.rivals = insert(m.rivals, Canonical(ink.Grammar, r.Text))
		}
	}
	var stays bool // a doubt that no second writing can answer
	for _, d := range ink.Reading.Doubts {
		if why, ok := onlyJudge[d.Kind]; ok {
			m.onlyJudge = why
		}
		stays = stays || !answered[d.Kind]
	}
	var tied *Tied
	for i, t := range ink.Ties {
		m.seconds = insert(m.seconds, Canonical(ink.Grammar, t.Second))
		switch {
		case t.Differs:
			m.onlyJudge = onlyJudge[sheetmodel.DoubtWritings]
		case !t.Clear || t.Text == "":
		case tied != nil && tied.Text != t.Text:
			m.onlyJudge = onlyJudge[sheetmodel.DoubtWritings]
		default:
			tied = &ink.Ties[i]
		}
	}
	m.clear = ink.Reading.State == sheetmodel.Clear && m.text != "" && m.onlyJudge == ""
	m.specks = Specks(ink)
	m.mayBeNothing = !m.clear && len(ink.Ties) == 0 && !ink.Reading.HasDoubt(sheetmodel.DoubtHidden)
	if m.clear {
		m.looks = []sheetmodel.Look{m.writing()}
	}
	if tied != nil && !stays && m.onlyJudge == "" && ink.Reading.State != sheetmodel.Empty {
		joint := Canonical(ink.Grammar, tied.Text)
		if m.clear && joint != m.text {
			// A clear row and a clear pair that show different bibs: one of them is wrong.
			m.clear, m.looks, m.onlyJudge = false, nil, onlyJudge[sheetmodel.DoubtWritings]
			m.rivals = insert(m.rivals, joint)
			return m
		}
		if m.text != joint {
			m.rivals = insert(m.rivals, m.text)
			m.rivals = slices.DeleteFunc(m.rivals, func(r string) bool { return r == joint })
		}
		m.text, m.clear = joint, true
		m.looks = []sheetmodel.Look{m.writing(), {Kind: tied.Kind(), Text: joint, By: reader}}
	}
	return m
}

// Specks reports whether the ink is grain of the paper as far as a machine can say: none at all, or
// faint ink that gives no number, or a box that is a little darker than its neighbours. Strong ink
// that can't be read is no speck, and neither is a number, however faint.
func Specks(ink Ink) bool {
	r := ink.Reading
	if len(ink.Ties) > 0 {
		return false
	}
	if r.State == sheetmodel.Empty {
		return true
	}
	if r.State == sheetmodel.Clear || !r.HasDoubt(sheetmodel.DoubtFaintInk) {
		return false
	}
	for _, d := range r.Doubts {
		if !ofSpecks[d.Kind] {
			return false
		}
	}
	box := ink.Grammar != sheetmodel.GrammarBib && ink.Grammar != sheetmodel.GrammarGate
	return r.Text == "" || box && slices.ContainsFunc(r.Rivals, func(o sheetmodel.Rival) bool { return o.Text == "" })
}

// ofSpecks holds the doubts that grain of the paper raises; any other tells of ink.
var ofSpecks = map[sheetmodel.DoubtKind]bool{
	sheetmodel.DoubtFaintInk:     true,
	sheetmodel.DoubtNotInGrammar: true,
	sheetmodel.DoubtLowCertainty: true,
	sheetmodel.DoubtReaders:      true,
}

// texts lists everything that the ink can be read as.
func (m machine) texts() []string {
	return append(insert(nil, m.text), m.others(nil, nil)...)
}

// onlyJudge holds the doubts that another pair of eyes on the same ink can't end. Each is the machine's
// impression, and so the words that the page shows say no more than that.
var onlyJudge = map[sheetmodel.DoubtKind]string{
	sheetmodel.DoubtQuestionMark: "there seems to be a question mark beside it",
	sheetmodel.DoubtStruckOut:    "it looks struck out",
	sheetmodel.DoubtDitto:        "it looks like ditto marks",
	sheetmodel.DoubtHidden:       "part of it seems covered or outside the picture",
	sheetmodel.DoubtOnPrint:      "a stroke may lie on a printed line, which hides it",
	sheetmodel.DoubtWritings:     "the second writing looks like another bib",
}

// answered holds the doubts of one writing that mean no more than "not certain by itself"; joint
// certainty answers them. All others stay, also those added later.
var answered = map[sheetmodel.DoubtKind]bool{
	sheetmodel.DoubtLowCertainty: true,
	sheetmodel.DoubtReaders:      true,
	sheetmodel.DoubtFaintInk:     true,
	sheetmodel.DoubtTie:          true, // of another second writing; this one has its own statement
}

func (m machine) writing() sheetmodel.Look {
	return sheetmodel.Look{Kind: sheetmodel.LookWriting, Text: m.text, By: m.reader}
}

// shows reports whether the ink can be read as text. Clear ink shows one text only.
func (m machine) shows(text string) bool {
	if text == "" {
		return false
	}
	return text == m.text || !m.clear && (slices.Contains(m.rivals, text) || slices.Contains(m.seconds, text))
}

// others lists every text but the machine's that ink or people show.
func (m machine) others(against []sheetmodel.Look, judge *sheetmodel.Look) []string {
	all := slices.Clone(m.rivals)
	for _, t := range m.seconds {
		if t != m.text {
			all = insert(all, t)
		}
	}
	for _, l := range against {
		all = insert(all, l.Text)
	}
	if judge != nil && judge.Text != m.text {
		all = insert(all, judge.Text)
	}
	return all
}
