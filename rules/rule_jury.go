package rules

import (
	"slices"
	"strings"

	"gatefold/sheetmodel"
)

var ruleJury = Rule{
	Doc: Doc{
		Name: "jury", Basis: "646.4",
		Help:     "What the jury decides changes the list: a line that it overrules is struck, its rows stay, and the racer may start run 2. A line that was made public and has changed since is shown to the jury; a protest that came after its period too.",
		Settings: []string{"protest_minutes", "protest_from", "jury"},
	},
	check: func(p *pass) {
		for _, j := range p.jury {
			if j.Run != p.cr.run || j.Course != p.cr.course || !p.cr.bound {
				continue
			}
			at := slices.IndexFunc(p.result.Calls, func(c sheetmodel.Call) bool {
				return c.Run == j.Run && c.Course == j.Course && c.Group == j.Group && c.Bib == j.Bib
			})
			if at < 0 {
				p.juryWithout(j)
				continue
			}
			p.juryOn(j, &p.result.Calls[at])
		}
	},
}

// juryOn puts what the jury did onto a call.
func (p *pass) juryOn(j JuryLine, c *sheetmodel.Call) {
	name := racerName(j.Group, j.Bib)
	f := sheetmodel.Finding{Severity: sheetmodel.Informs, Bib: j.Bib, Group: j.Group, Gate: c.Gate, Rows: c.Rows}
	c.Posted = j.Posted
	if j.Late && !j.Decided {
		f.Severity, f.Sentence = sheetmodel.Asks, "The protest on "+name+" came after the protest period: the jury decides whether it is heard."
		p.say(f)
	}
	// What the jury upheld is what was made public: where the line says something else by now, that is new to it.
	if changed := j.PostedGate != c.Gate || j.PostedCode != c.Code || c.Waiting; j.Posted && !j.Overruled && changed {
		f.Severity = sheetmodel.Asks
		now := "now says " + lineWords(c.Gate, c.Code)
		if c.Waiting {
			now = "now waits"
		}
		f.Sentence = "The line of " + name + " was made public with " + lineWords(j.PostedGate, j.PostedCode) + ", and " + now + ": the jury decides whether it is posted anew."
		p.say(f)
	}
	if !j.Decided {
		return
	}
	f.Severity, f.Sentence = sheetmodel.Informs, "The jury upheld the proposal on "+name+atTime(j.At)+"."
	if j.Overruled {
		c.Overruled = true
		who := racer{j.Group, j.Bib}
		decided, others := p.decidedOn(j, who, c)
		p.cr.proposed[who] = slices.ContainsFunc(others, (*row).firm)
		open := len(others) > 0 && p.askFurther(j, name, decided, others) == ""
		if !open {
			p.cr.proposed[who] = false
			decided = append(decided, others...)
		}
		for _, w := range decided {
			w.accuses, w.lineWaits, w.mayChange = false, false, false
			w.informed = "overruled by the jury" + atTime(j.At)
		}
		f.Severity, f.Gate, f.Rows = sheetmodel.Warns, c.Gate, c.Rows
		f.Sentence = "The jury overruled the proposal on " + name + atTime(j.At) + ": the rows stay, the line is struck"
		if j.Run == 1 && len(p.race.Runs) > 1 && !open {
			f.Sentence += "; tell the start that " + name + " may start run 2"
		}
		f.Sentence += "."
	}
	p.say(f)
}

// decidedOn splits the rows of a racer's lines into those of the line that was decided, with what lies beside
// it, and the others. The line is the one that was made public, or, where none was, the one that leads; the call
// is made to say it, whatever leads by now.
func (p *pass) decidedOn(j JuryLine, who racer, c *sheetmodel.Call) (decided, others []*row) {
	lines := p.cr.lines[who]
	at := max(0, slices.IndexFunc(lines, func(l line) bool { return j.Posted && l.gate == j.PostedGate && l.code.Code == j.PostedCode }))
	if at > 0 {
		was := *c
		*c = p.call(who, lines[at])
		c.Posted, c.Overruled = was.Posted, was.Overruled
		c.Further = slices.DeleteFunc(slices.Concat(was.Rows, was.Further), func(ref sheetmodel.RowRef) bool { return slices.Contains(c.Rows, ref) })
	}
	decided = append(lines[at].rows(), lines[at].beside...)
	for _, l := range lines {
		for _, w := range append(l.rows(), l.beside...) {
			if !slices.Contains(decided, w) && !slices.Contains(others, w) {
				others = append(others, w)
			}
		}
	}
	return decided, others
}

// askFurther asks whether a decision was also about the racer's other faults: the jury may not have seen them,
// and what it has not seen it has not overruled. They wait meanwhile, and make no line.
func (p *pass) askFurther(j JuryLine, name string, decided, others []*row) string {
	gates := gatesOf(p.cr, others)
	return p.ask(question{
		finding: p.about(sheetmodel.Asks, "The jury overruled the proposal on "+name+atTime(j.At)+" ("+places(decided)+"). "+capital(name)+" has more on "+
			places(others)+", "+p.cr.gateWords(gates)+".", others...),
		key: p.key(name, p.cr.gateKey(decided), p.cr.gateKey(others)), ask: "Did the jury decide on that too? If not, take it to the jury and leave this open.",
		answers: []sheetmodel.Answer{{Value: "too", Label: "yes: it decided on all of it"}},
		hold:    others, why: "the jury overruled another fault of " + name + ", perhaps not this one",
	})
}

// juryWithout says of a line that was made public or decided that the rows no longer make it.
func (p *pass) juryWithout(j JuryLine) {
	name := racerName(j.Group, j.Bib)
	did := "was made public"
	if j.Decided {
		did = "was decided" + atTime(j.At)
	}
	p.say(sheetmodel.Finding{
		Severity: sheetmodel.Asks, Bib: j.Bib, Group: j.Group,
		Sentence: capital(name) + ": a line that " + did + " is no longer made by any row. Tell the jury.",
	})
}

func lineWords(gate, code string) string {
	if gate == "" {
		return code
	}
	return "gate " + gate + ", " + code
}

func atTime(clock string) string {
	if clock == "" {
		return ""
	}
	return " at " + clock
}

// sortedJury puts what the jury did in an order of its own.
func sortedJury(all []JuryLine) []JuryLine {
	sorted := slices.Clone(all)
	slices.SortFunc(sorted, func(a, b JuryLine) int {
		return firstOf(a.Run-b.Run, strings.Compare(a.Course, b.Course), compareLabels(a.Bib, b.Bib), strings.Compare(a.Group, b.Group), strings.Compare(a.At, b.At))
	})
	return sorted
}
