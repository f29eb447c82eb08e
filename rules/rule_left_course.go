package rules

import (
	"strings"

	"gatefold/sheetmodel"
)

var ruleLeftCourse = Rule{
	Doc: Doc{
		Name: "left-course", Basis: "own logic",
		Help: "Where one judge saw a racer leave the course and a judge further down wrote a row on the same bib, both are held: a wrong bib, a racer who went on, or a re-run.",
	},
	check: func(p *pass) {
		for _, rows := range p.cr.racerRows() {
			for _, e := range p.cr.weigh(leavings(rows)) {
				if e.gate() == "" {
					continue
				}
				last := e.gates[len(e.gates)-1]
				below := keep(rows, (*row).live, p.weighs, func(w *row) bool {
					return w.code.Effect != sheetmodel.EffectLeft && w.attempt == e.attempt && p.cr.below(w, last)
				})
				if len(below) > 0 {
					p.askBelow(e, below)
				}
			}
		}
	},
}

func (p *pass) askBelow(e event, below []*row) {
	who := e.rows[0].racer
	name := racerName(who.group, who.number)
	both := append(e.all(), below...)
	p.ask(question{
		finding: p.about(sheetmodel.Asks, capital(name)+" left the course at gate "+e.gate()+" ("+places(e.all())+"), but is also written at "+
			p.cr.gateWords(gatesOf(p.cr, below))+" ("+places(below)+"): a wrong bib, a racer who went on, or a re-run?", both...),
		key: p.key(name, e.gate(), p.cr.gateKey(below)), ask: "Was " + name + " at " + p.cr.gateWords(gatesOf(p.cr, below)) + " too?",
		answers: []sheetmodel.Answer{
			{Value: answerCounts, Label: "yes: the rows below count"},
			{Value: answerSetAside, Label: "no: set the rows below aside"},
		},
		hold: both, aside: below, why: name + " left the course at gate " + e.gate() + ", yet is written below it",
	})
}

// leavings returns the rows that tell of a racer leaving the course.
func leavings(rows []*row) []*row {
	return keep(rows, (*row).live, func(w *row) bool { return w.code.Effect == sheetmodel.EffectLeft })
}

// below reports whether the row begins below a gate.
func (cr *courseRun) below(w *row, gate string) bool {
	return len(w.gates) > 0 && cr.compareGates(w.gates[0], gate) > 0
}

// gateKey names the gates of rows in a question's key: a row at another gate is a new question.
func (cr *courseRun) gateKey(rows []*row) string {
	var labels []string
	for _, g := range gatesOf(cr, rows) {
		labels = append(labels, orElse(g, "-"))
	}
	return strings.Join(labels, ",")
}

// gatesOf returns the first gates of the rows, each once.
func gatesOf(cr *courseRun, rows []*row) []string {
	var labels []string
	for _, w := range rows {
		labels = append(labels, w.gate())
	}
	return cr.sortGates(labels)
}
