package rules

import (
	"fmt"
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
		// What was overruled first: another fault may make a line of its own then, and that one may be public or decided.
		for _, overruled := range []bool{true, false} {
			for _, j := range p.jury {
				if j.Run != p.cr.run || j.Course != p.cr.course || !p.cr.bound || j.Overruled != overruled {
					continue
				}
				at := p.callOf(j)
				if at < 0 && j.Decided && j.Overruled && p.askRenamed(j) {
					continue
				}
				if at < 0 && p.sayRenamed(j) {
					continue
				}
				if at < 0 {
					p.juryWithout(j)
					continue
				}
				p.juryOn(j, at)
			}
		}
		for _, j := range p.jury {
			p.askMoved(j)
		}
	},
}

// callOf is the index of the call that a decision, or else a posting, is about; -1: the racer has none.
func (p *pass) callOf(j JuryLine) int {
	gate, code := j.about()
	found := -1
	for i, c := range p.result.Calls {
		if c.Run != j.Run || c.Course != j.Course || c.Group != j.Group || c.Bib != j.Bib {
			continue
		}
		if c.Gate == gate && c.Code == code {
			return i
		}
		if found < 0 {
			found = i
		}
	}
	return found
}

// about is the gate and the code that a decision, or else a posting, is about.
func (j JuryLine) about() (gate, code string) {
	if j.Decided && (j.DecidedGate != "" || j.DecidedCode != "") {
		return j.DecidedGate, j.DecidedCode
	}
	if !j.Posted {
		return "", "" // what leads
	}
	return j.PostedGate, j.PostedCode
}

// juryOn puts what the jury did onto a call.
func (p *pass) juryOn(j JuryLine, at int) {
	c := &p.result.Calls[at]
	name := racerName(j.Group, j.Bib)
	f := sheetmodel.Finding{Severity: sheetmodel.Informs, Bib: j.Bib, Group: j.Group, Gate: c.Gate, Rows: c.Rows}
	c.Posted = j.Posted
	if j.Late && !j.Decided {
		f.Severity, f.Sentence = sheetmodel.Asks, "The protest on "+name+" came after the protest period: the jury decides whether it is heard."
		p.say(f)
	}
	// What the jury upheld is what was made public: where the line says something else by now, that is new to it.
	gate, code := j.about()
	if changed := gate != c.Gate || code != c.Code || c.Waiting; j.Posted && !j.Overruled && changed {
		f.Severity = sheetmodel.Asks
		now := "now says " + lineWords(c.Gate, c.Code)
		if c.Waiting {
			now = "now waits"
		}
		f.Sentence = "The line of " + name + " was made public with " + lineWords(gate, code) + ", and " + now + ": the jury decides whether it is posted anew."
		p.say(f)
	}
	if !j.Decided {
		return
	}
	of := ""
	if !j.Untold && (j.DecidedGate != "" || j.DecidedCode != "") && (j.DecidedGate != c.Gate || j.DecidedCode != c.Code) {
		of = " (" + lineWords(j.DecidedGate, j.DecidedCode) + ")" // another line of the racer
	}
	f.Severity, f.Sentence = sheetmodel.Informs, "The jury upheld the proposal on "+name+atTime(j.At)+of+"."
	if j.Overruled && j.DecidedGate != "" && !slices.ContainsFunc(p.cr.lines[racer{j.Group, j.Bib}], func(l line) bool { return l.gate == gate && l.code.Code == code }) {
		p.juryWithout(j)
		p.askOfAll(j, c)
		return
	}
	if j.Overruled {
		left := p.overrule(j, c)
		f.Severity, f.Gate, f.Rows = sheetmodel.Warns, c.Gate, c.Rows
		f.Sentence = "The jury overruled the proposal on " + name + atTime(j.At) + ": the rows stay, the line is struck"
		who := racer{j.Group, j.Bib}
		finished := !p.cr.dnf.holds(who) && !p.cr.dns.holds(who) // else run 1's own lists decide
		if j.Run == 1 && len(p.race.Runs) > 1 && !left && finished {
			f.Sentence += "; tell the start that " + name + " may start run 2"
		}
		f.Sentence += "."
	}
	p.say(f)
}

// overrule strikes the line that was decided on, and asks of each other fault of the racer whether the decision was
// about it too: what the jury has not seen it has not overruled. A fault that it left standing makes a line of its
// own. It reports whether something is left, open or standing; c is not to be used for anything but reading after it.
func (p *pass) overrule(j JuryLine, c *sheetmodel.Call) bool {
	c.Overruled = true
	who := racer{j.Group, j.Bib}
	decided, others := p.decidedOn(j, who, c)
	struck := slices.Clone(decided)
	var standing, open []line
	left := false // a fault that would propose, were it not for the question
	for _, l := range others {
		rows := l.without(decided)
		if len(rows) == 0 || slices.Contains(p.cr.decided[who], l.key()) {
			continue
		}
		firm := slices.ContainsFunc(rows, (*row).firm)
		answer := answerNotIt
		if !p.decidedApart(j, l) {
			answer = p.askFurther(j, decided, rows, l.code.Code)
		}
		switch answer {
		case answerToo:
			struck, firm = append(struck, rows...), false
		case answerNotIt:
			standing = append(standing, l)
		default:
			open = append(open, l)
		}
		left = left || firm
	}
	p.cr.proposed[who] = left
	for _, w := range struck {
		w.accuses, w.lineWaits, w.mayChange = false, false, false
		w.informed = "overruled by the jury" + atTime(j.At)
	}
	if len(standing) > 0 {
		p.proposeAgain(j, who, c, standing)
	}
	return len(standing)+len(open) > 0
}

// askOfAll asks of each line of a racer whether a decision was about it, where no row makes the line any more that was
// before the jury. Nothing stands meanwhile.
func (p *pass) askOfAll(j JuryLine, c *sheetmodel.Call) {
	who := racer{j.Group, j.Bib}
	var standing []line
	open := false
	for _, l := range p.cr.lines[who] {
		rows := l.without(nil)
		if gate, code := j.about(); j.moved != "" && (l.gate != gate || l.code.Code != code) {
			standing = append(standing, l)
			continue
		}
		switch p.askFurther(j, nil, rows, l.code.Code) {
		case answerToo:
			for _, w := range rows {
				w.accuses, w.lineWaits, w.mayChange = false, false, false
				w.informed = "overruled by the jury" + atTime(j.At)
			}
		case answerNotIt:
			standing = append(standing, l)
		default:
			open = true
		}
	}
	switch {
	case open:
		c.Waiting = true
		why := "the jury overruled another fault of " + racerName(j.Group, j.Bib) + ", perhaps not this one"
		if j.was != "" {
			why = "the jury overruled a fault of " + j.was + ", perhaps this one"
		}
		if j.moved != "" {
			why = "the jury overruled a fault of " + racerName(j.Group, j.Bib) + " in " + j.moved + ", perhaps this one"
		}
		c.WaitsFor = unique(append(c.WaitsFor, why))
	case len(standing) == 0:
		c.Overruled, p.cr.proposed[who] = true, false
	default:
		was := *c
		*c = p.call(who, standing[0])
		c.Posted = was.Posted
		c.Further = slices.DeleteFunc(slices.Concat(was.Rows, was.Further), func(ref sheetmodel.RowRef) bool { return slices.Contains(c.Rows, ref) })
		if c.Waiting {
			c.WaitsFor = p.lineWaits(standing[0], standing[0].rows())
		}
	}
}

// proposeAgain makes the call of the faults that a decision left standing.
func (p *pass) proposeAgain(j JuryLine, who racer, was *sheetmodel.Call, lines []line) {
	again := p.call(who, lines[0])
	again.Posted = j.Posted && j.PostedGate == again.Gate && j.PostedCode == again.Code
	if again.Waiting {
		if again.WaitsFor = p.lineWaits(lines[0], lines[0].rows()); len(again.WaitsFor) == 0 {
			again.WaitsFor = []string{"a row that it rests on was overruled by the jury"}
		}
	}
	for i, l := range lines {
		for _, w := range append(l.rows(), l.beside...) {
			if slices.Contains(was.Rows, w.Ref) {
				continue
			}
			w.lineWaits, w.mayChange = again.Waiting || !l.stands(), false
			if i > 0 && !slices.Contains(again.Further, w.Ref) && !slices.Contains(again.Rows, w.Ref) {
				again.Further = append(again.Further, w.Ref)
			}
		}
	}
	was.Further = slices.DeleteFunc(was.Further, func(ref sheetmodel.RowRef) bool {
		return slices.Contains(again.Rows, ref) || slices.Contains(again.Further, ref)
	})
	p.result.Calls = append(p.result.Calls, again)
}

// decidedApart reports whether another decision of the jury is about a line.
func (p *pass) decidedApart(j JuryLine, l line) bool {
	return slices.ContainsFunc(p.jury, func(o JuryLine) bool {
		gate, code := o.about()
		return o != j && o.Decided && o.Run == j.Run && o.Course == j.Course && o.Group == j.Group && o.Bib == j.Bib && gate == l.gate && code == l.code.Code
	})
}

// key tells a racer's lines apart.
func (l line) key() string { return l.gate + " " + l.code.Code }

// without returns the rows of a line, and those beside it, but for some.
func (l line) without(some []*row) []*row {
	return slices.DeleteFunc(append(l.rows(), l.beside...), func(w *row) bool { return slices.Contains(some, w) })
}

// decidedOn returns the rows of the line that was decided on, with what lies beside it, and the racer's other lines.
// The line is the one that was before the jury, or was made public, or, where that isn't known, the one that leads;
// the call is made to say it, whatever leads by now.
func (p *pass) decidedOn(j JuryLine, who racer, c *sheetmodel.Call) (decided []*row, others []line) {
	lines := p.cr.lines[who]
	gate, code := j.about()
	at := max(0, slices.IndexFunc(lines, func(l line) bool { return l.gate == gate && l.code.Code == code }))
	if lines[at].gate != c.Gate || lines[at].code.Code != c.Code {
		was := *c
		*c = p.call(who, lines[at])
		c.Posted, c.Overruled = was.Posted, was.Overruled
		if c.Waiting {
			c.WaitsFor = p.lineWaits(lines[at], lines[at].rows())
		}
		c.Further = slices.DeleteFunc(slices.Concat(was.Rows, was.Further), func(ref sheetmodel.RowRef) bool { return slices.Contains(c.Rows, ref) })
	}
	p.cr.decided[who] = append(p.cr.decided[who], lines[at].key())
	return append(lines[at].rows(), lines[at].beside...), slices.Concat(lines[:at], lines[at+1:])
}

// Answers to the question whether a decision was about another fault too.
const (
	answerToo   = "too"
	answerNotIt = "not"
)

// MayBeOf reports whether a racer whose line the jury decided on may be the one of a call: the bib is the same but for zeros in front, and the
// start list has nobody by the name that it was then. So it is where groups are mended, or come with a list that is handed in late.
func (j JuryLine) MayBeOf(race *sheetmodel.Race, c sheetmodel.Call) bool {
	return j.Decided && Renamed(race, j.Run, j.Course, j.Group, j.Bib, c)
}

// MayHaveMovedTo reports whether a line that the jury overruled may be that of a call in another run or on another course: the same racer, gate and code.
func (j JuryLine) MayHaveMovedTo(c sheetmodel.Call) bool {
	gate, code := j.about()
	return j.Decided && j.Overruled && (c.Run != j.Run || c.Course != j.Course) && c.Group == j.Group && c.Bib == j.Bib && c.Gate == gate && c.Code == code
}

// Renamed reports whether the racer of a call may be the one of a line that was made public or decided, under another name of the start list.
func Renamed(race *sheetmodel.Race, run int, course, group, bib string, c sheetmodel.Call) bool {
	gone := !slices.ContainsFunc(race.Starters, func(s sheetmodel.Starter) bool { return s.Number == bib && s.Group == group })
	return gone && (c.Group != group || c.Bib != bib) && c.Run == run && c.Course == course && bareNumber(c.Bib) == bareNumber(bib)
}

// sayRenamed says of a line that hangs on the board, or was upheld, that the racer may have another name in the start list now, and what to do:
// what was public was public under the old one, so a person carries it over. It reports whether there is such a racer.
func (p *pass) sayRenamed(j JuryLine) bool {
	found := false
	for _, c := range p.result.Calls {
		if !Renamed(p.race, j.Run, j.Course, j.Group, j.Bib, c) {
			continue
		}
		if found = true; j.TakenBack {
			continue // that was done
		}
		was, now := racerName(j.Group, j.Bib), racerName(c.Group, c.Bib)
		f := sheetmodel.Finding{Severity: sheetmodel.Asks, Bib: c.Bib, Group: c.Group, Gate: c.Gate, Rows: c.Rows}
		switch {
		case j.Decided:
			f.Sentence = "The jury upheld the proposal on " + was + atTime(j.At) + ". The start list has no " + was + " any more, and " + now +
				" has a line: if it is the same racer, make it public under that name, enter the jury's decision again there, and then withdraw the line of " + was + "."
		default:
			f.Sentence = "The line of " + was + " was made public. The start list has no " + was + " any more, and " + now +
				" has a line: if it is the same racer, make it public under that name, with the time at which it first hung there, and then withdraw the line of " + was + "."
		}
		p.say(f)
	}
	return found
}

// askRenamed asks of the lines of a racer who may be the one that the jury decided about, under another group, whether the decision was
// about them. Nothing of theirs stands meanwhile. It reports whether there is such a racer.
func (p *pass) askRenamed(j JuryLine) bool {
	found := false
	for i := range p.result.Calls {
		c := &p.result.Calls[i]
		if !c.Overruled && j.MayBeOf(p.race, *c) {
			found = true
			p.askOfAll(JuryLine{
				Run: j.Run, Course: j.Course, Group: c.Group, Bib: c.Bib, Posted: j.Posted, PostedGate: j.PostedGate, PostedCode: j.PostedCode,
				Decided: true, Overruled: true, DecidedGate: j.DecidedGate, DecidedCode: j.DecidedCode, At: j.At, was: racerName(j.Group, j.Bib),
			}, c)
		}
	}
	return found
}

// askMoved asks of a line like one that the jury overruled in another run or on another course, where no row makes that one any more, whether it is
// the same: a card that was taken for one of that run takes its rows along when somebody says where it was used, and the jury's word stays behind.
// Nobody is proposed a second time without a word for what the jury has struck.
func (p *pass) askMoved(j JuryLine) {
	gate, code := j.about()
	if !j.Decided || !j.Overruled || gate == "" || !p.cr.bound || j.Run == p.cr.run && j.Course == p.cr.course || p.mayBeMade(j) {
		return
	}
	who := racer{j.Group, j.Bib}
	for i := range p.result.Calls {
		c := &p.result.Calls[i]
		if c.Run != p.cr.run || c.Course != p.cr.course || c.Group != j.Group || c.Bib != j.Bib || c.Overruled ||
			!slices.ContainsFunc(p.cr.lines[who], func(l line) bool { return l.gate == gate && l.code.Code == code }) {
			continue
		}
		p.askOfAll(JuryLine{
			Run: p.cr.run, Course: p.cr.course, Group: j.Group, Bib: j.Bib, Decided: true, Overruled: true, DecidedGate: gate, DecidedCode: code, At: j.At,
			moved: fmt.Sprintf("run %d, %s", j.Run, j.Course),
		}, c)
		return
	}
}

// mayBeMade reports whether a row may make a line where the jury decided on it: one of its bib, or one whose bib isn't certain yet, and not for certain at
// another gate.
func (p *pass) mayBeMade(j JuryLine) bool {
	gate, _ := j.about()
	return slices.ContainsFunc(p.courseRuns, func(cr *courseRun) bool {
		return cr.run == j.Run && cr.course == j.Course && slices.ContainsFunc(cr.rows, func(w *row) bool {
			open := w.BibState != sheetmodel.BibTwoLooks && w.BibState != sheetmodel.BibSetAside
			there := !w.GateSure || len(w.gates) == 0 || slices.Contains(w.gates, gate)
			return there && (open || w.BibState == sheetmodel.BibTwoLooks && bareNumber(w.Bib) == bareNumber(j.Bib))
		})
	})
}

// askFurther asks whether a decision was also about another fault of the racer: the jury may not have seen it. It
// waits meanwhile, and makes no line.
func (p *pass) askFurther(j JuryLine, decided, others []*row, code string) string {
	name := racerName(j.Group, j.Bib)
	gates, on, key := gatesOf(p.cr, others), places(decided), p.cr.gateKey(decided)
	if len(decided) == 0 {
		gate, code := j.about()
		on, key = lineWords(gate, code), gate
	}
	if j.was != "" {
		return p.ask(question{
			finding: p.about(sheetmodel.Asks, "The jury overruled the proposal on "+j.was+atTime(j.At)+" ("+on+"). The start list has no "+j.was+" any more, and "+name+
				" is on "+places(others)+", "+p.cr.gateWords(gates)+".", others...),
			key: p.key(name, key, p.cr.gateKey(others), code, "was", j.was), ask: "Is it the same racer, and the fault that the jury decided on?",
			answers: []sheetmodel.Answer{
				{Value: answerToo, Label: "yes: this fault is overruled"},
				{Value: answerNotIt, Label: "no: this fault stands"},
			},
			hold: others, why: "the jury overruled a fault of " + j.was + ", perhaps this one",
		})
	}
	if j.moved != "" {
		return p.ask(question{
			finding: p.about(sheetmodel.Asks, "The jury overruled the proposal on "+name+atTime(j.At)+" in "+j.moved+" ("+on+"), which no row makes there any more. "+capital(name)+
				" is on "+places(others)+", "+p.cr.gateWords(gates)+".", others...),
			key: p.key(name, key, p.cr.gateKey(others), code, "moved", j.moved), ask: "Is it the same row, of a card that was first taken for one of " + j.moved + "?",
			answers: []sheetmodel.Answer{
				{Value: answerToo, Label: "yes: this fault is overruled"},
				{Value: answerNotIt, Label: "no: this fault stands"},
			},
			hold: others, why: "the jury overruled a fault of " + name + " in " + j.moved + ", perhaps this one",
		})
	}
	return p.ask(question{
		finding: p.about(sheetmodel.Asks, "The jury overruled the proposal on "+name+atTime(j.At)+" ("+on+"). "+capital(name)+" has more on "+
			places(others)+", "+p.cr.gateWords(gates)+".", others...),
		// What else happened there, or is said to have by now, is another question.
		key: p.key(name, key, p.cr.gateKey(others), code), ask: "Did the jury decide on that too? If it has not seen it, take it to the jury and leave this open.",
		answers: []sheetmodel.Answer{
			{Value: answerToo, Label: "yes: this fault is overruled too"},
			{Value: answerNotIt, Label: "no: this fault stands, as a line of its own"},
		},
		hold: others, why: "the jury overruled another fault of " + name + ", perhaps not this one",
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
		return firstOf(
			a.Run-b.Run, strings.Compare(a.Course, b.Course), compareLabels(a.Bib, b.Bib), strings.Compare(a.Group, b.Group), strings.Compare(a.At, b.At),
			compareLabels(a.DecidedGate, b.DecidedGate), strings.Compare(a.DecidedCode, b.DecidedCode), // a jury may decide two in one minute
		)
	})
	return sorted
}
