package rules

import "gatefold/sheetmodel"

// stakes says of every waiting row how many proposals it may still add or hold back. A row names one
// racer, so in its own run that is one line at most; and as a line of run 1 decides who is asked about in
// run 2, one more there. It looks at no candidate bib: what a row may read is not asked here.
func (d *desk) stakes() {
	standing := map[*courseRun]int{} // calls that stand
	waiting := map[*courseRun]int{}  // rows that wait
	byKey := map[courseKey]*courseRun{}
	for _, cr := range d.courseRuns {
		byKey[courseKey{cr.run, cr.course}] = cr
	}
	for _, c := range d.result.Calls {
		if !c.Waiting {
			standing[byKey[courseKey{c.Run, c.Course}]]++
		}
	}
	for _, s := range d.result.Standings {
		if s.Standing == sheetmodel.StandsWaiting {
			waiting[byKey[courseKey{s.Ref.Run, s.Ref.Course}]]++
		}
	}
	for i := range d.result.Standings {
		s := &d.result.Standings[i]
		if s.Standing != sheetmodel.StandsWaiting {
			continue
		}
		cr := byKey[courseKey{s.Ref.Run, s.Ref.Course}]
		if !cr.bound {
			s.CanAdd, s.CanHold = 1, 1 // where it belongs isn't known either
			continue
		}
		s.CanAdd = 1
		s.CanHold = min(1, standing[cr])
		for _, later := range d.courseRuns {
			if later.run > cr.run && d.race.Rules.Run2AfterDSQ != sheetmodel.Run2Yes {
				s.CanAdd = max(s.CanAdd, 1+min(1, waiting[later]))
				s.CanHold = max(s.CanHold, min(1, standing[cr])+min(1, standing[later]))
			}
		}
	}
}
