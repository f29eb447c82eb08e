package racefolder

import (
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

var ruleKeys = []string{
	"name", "lost_ski", "lost_ski_from", "lost_ski_basis", "run2_after_dsq", "run2_basis",
	"fault_then_dnf", "fault_then_dnf_basis", "protest_minutes", "protest_basis",
	"drawing_demanded", "drawing_basis", "second_writing", "notes",
}

// The words of fault_then_dnf.
const (
	faultInforms  = "inform"
	faultProposes = "propose"
)

// DefaultRules are the settings of a race whose file has no rules: those of the international rules
// where they say something, else common practice. A league that differs names its own basis.
func DefaultRules() sheetmodel.RuleSettings {
	return sheetmodel.RuleSettings{
		Name:           "international rules",
		LostSki:        sheetmodel.LostSkiNever,
		LostSkiBasis:   "ICR 661.4.1; no article counts lost skis",
		Run2AfterDSQ:   false,
		Run2Basis:      "ICR 627",
		FaultThenDNF:   faultInforms,
		FaultDNFBasis:  "common practice",
		ProtestMinutes: 15,
		ProtestBasis:   "ICR 643.4",
		DrawingBasis:   "ICR 661.2",
	}
}

// readRules reads the rules of a race. A setting that is written needs its basis beside it: the
// draft prints it, and a referee must be able to look it up.
func readRules(p *problems, top *mapping) sheetmodel.RuleSettings {
	r := DefaultRules()
	n := top.vals["rules"]
	if isNull(n) {
		return r
	}
	m := mappingOf(p, n, "rules", ruleKeys...)
	if m == nil {
		return r
	}
	if m.has("name") {
		r.Name = m.text("name")
	}
	m.lostSki(&r)
	r.Run2AfterDSQ = m.yes("run2_after_dsq", r.Run2AfterDSQ)
	r.Run2Basis = m.basis("run2_after_dsq", "run2_basis", r.Run2Basis)
	if m.has("fault_then_dnf") {
		r.FaultThenDNF = strings.ToLower(m.text("fault_then_dnf"))
		if r.FaultThenDNF != faultInforms && r.FaultThenDNF != faultProposes {
			m.fail("fault_then_dnf", "fault_then_dnf %q is not known; write inform (a racer who then did not finish is only noted) or propose", shorten(m.text("fault_then_dnf")))
		}
	}
	r.FaultDNFBasis = m.basis("fault_then_dnf", "fault_then_dnf_basis", r.FaultDNFBasis)
	if m.has("protest_minutes") {
		minutes, err := strconv.Atoi(m.text("protest_minutes"))
		if err != nil || minutes < 1 || minutes > 24*60 {
			m.fail("protest_minutes", "protest_minutes %q is not a number of minutes; write 15", shorten(m.text("protest_minutes")))
		} else {
			r.ProtestMinutes = minutes
		}
	}
	r.ProtestBasis = m.basis("protest_minutes", "protest_basis", r.ProtestBasis)
	r.DrawingDemanded = m.yes("drawing_demanded", false)
	r.DrawingBasis = m.basis("drawing_demanded", "drawing_basis", r.DrawingBasis)
	r.SecondWriting = m.yes("second_writing", false)
	r.Notes = m.notes()
	return r
}

// lostSki reads "never-counts", "out-at-once", "out-from 2", or "out-from" with lost_ski_from beside it.
func (m *mapping) lostSki(r *sheetmodel.RuleSettings) {
	const ways = "write never-counts, out-at-once, or out-from 2 (out from the second)"
	words := strings.Fields(strings.ToLower(strings.ReplaceAll(m.text("lost_ski"), "_", "-")))
	nth := m.text("lost_ski_from")
	switch {
	case len(words) == 0:
		if nth != "" {
			m.fail("lost_ski_from", "lost_ski_from has no lost_ski beside it; write lost_ski: out-from %s", nth)
		}
		return
	case len(words) == 2 && words[0] == string(sheetmodel.LostSkiFrom) && nth == "":
		nth = words[1]
	case len(words) != 1:
		m.fail("lost_ski", "lost_ski %q is not known; %s", shorten(m.text("lost_ski")), ways)
		return
	}
	r.LostSki = sheetmodel.LostSki(words[0])
	switch r.LostSki {
	case sheetmodel.LostSkiNever, sheetmodel.LostSkiOut:
		if nth != "" {
			m.fail("lost_ski_from", "lost_ski_from belongs to out-from only; remove it")
		}
	case sheetmodel.LostSkiFrom:
		n, err := strconv.Atoi(nth)
		if err != nil || n < 2 || n > 9 {
			m.fail("lost_ski", "out-from needs the number of the lost ski, 2 to 9; write lost_ski: out-from 2")
			return
		}
		r.LostSkiFrom = n
	default:
		m.fail("lost_ski", "lost_ski %q is not known; %s", shorten(words[0]), ways)
		return
	}
	r.LostSkiBasis = m.basis("lost_ski", "lost_ski_basis", r.LostSkiBasis)
}

// basis returns the text a setting rests on.
func (m *mapping) basis(setting, key, fallback string) string {
	switch {
	case m.has(key):
		return m.text(key)
	case m.has(setting):
		m.fail(setting, "%s is set without its basis; add %s: with the article or local rule it rests on", setting, key)
	}
	return fallback
}

// notes are sentences, so a comma doesn't part them.
func (m *mapping) notes() []string {
	if t := scalarOf(m, "notes"); t != "" {
		return []string{strings.TrimSpace(t)}
	}
	var notes []string
	for _, n := range m.nodes("notes") {
		if kindWord(n) == "nothing" || n.Value == "" {
			m.p.at(n.Line, "%snotes must be sentences, found %s", m.where, kindWord(n))
			continue
		}
		notes = append(notes, strings.TrimSpace(n.Value))
	}
	return notes
}
