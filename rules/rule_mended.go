package rules

import (
	"slices"

	"gatefold/sheetmodel"
)

var ruleMended = Rule{
	Doc: Doc{
		Name: "mended", Basis: "614.2.3",
		Help:     "A racer who climbed back and passed the gate after all has no fault there, where climbing back is allowed; where it isn't, or only without a full stop, a person is asked. A fault with a drawing, one of passing the gate, that another row names there waits for the answer.",
		Settings: []string{"climb_back", "climb_back_basis", "discipline"},
	},
	check: func(p *pass) {
		p.basis = p.race.Rules.ClimbBackBasis
		for _, rows := range p.cr.racerRows() {
			mended := keep(rows, (*row).live, func(w *row) bool { return w.code.Effect == sheetmodel.EffectMended })
			for _, e := range p.cr.weigh(mended) {
				against := keep(rows, (*row).live, p.accusing, func(w *row) bool {
					// A fault that is drawn is one of passing the gate; help taken there is no less so for climbing back.
					return w.code.Drawing && w.attempt == e.attempt && meet(w.gates, e.gates)
				})
				if len(against) > 0 {
					p.askMended(e, against)
					continue
				}
				p.mended(e)
			}
		}
	},
}

// mended says what climbing back does in this race.
func (p *pass) mended(e event) {
	who := e.all()[0].racer
	name := racerName(who.group, who.number)
	sentence := capital(name) + " climbed back" + atGate(e.gate()) + " and passed it (" + places(e.all()) + ")"
	q := question{key: p.key(e.about(name, p.cr.gateKey(e.all()))...), aside: []*row{}, jury: answerTold}
	switch p.race.Rules.EffectiveClimbBack(p.race.Discipline) {
	case sheetmodel.ClimbNever:
		sentence += "; climbing back is not allowed in this race."
		q.ask = "What does the jury make of it?"
		q.answers = []sheetmodel.Answer{{Value: answerTold, Label: "put it before the jury: the draft lists it there"}, {Value: "slip", Label: "asked the judge: the racer did not climb back"}}
	case sheetmodel.ClimbNoStop:
		sentence += "; that is allowed only without a full stop."
		q.ask = "Did " + name + " come to a full stop?"
		q.answers = []sheetmodel.Answer{{Value: "no-stop", Label: "no: it counts as passed"}, {Value: answerTold, Label: "yes: put it before the jury, the draft lists it there"}}
	default:
		p.say(p.about(sheetmodel.Informs, sentence+": no fault there.", e.all()...))
		return
	}
	q.finding = p.about(sheetmodel.Asks, sentence, e.all()...)
	p.ask(q)
}

// askMended asks about a fault that another row says was mended.
func (p *pass) askMended(e event, faults []*row) {
	who := faults[0].racer
	name := racerName(who.group, who.number)
	both := slices.Concat(e.all(), faults)
	p.ask(question{
		finding: p.about(sheetmodel.Asks, capital(name)+" has a fault"+atGate(e.gate())+" ("+places(faults)+"), but is also written as climbed back and passed there ("+
			places(e.all())+").", both...),
		// What another judge saw of it was not asked about yet.
		key: p.key(e.about(name, p.cr.gateKey(faults), "fault", "card-"+cardsOf(e.rows))...), ask: "Did " + name + " pass the gate after all?",
		answers: []sheetmodel.Answer{
			{Value: answerCounts, Label: "no, or not as this race allows: the fault counts"},
			{Value: answerSetAside, Label: "yes: set the fault aside"},
		},
		hold: faults, why: name + " may have climbed back and passed" + atGate(e.gate()),
	})
}
