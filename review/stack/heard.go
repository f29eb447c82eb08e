package stack

import (
	"slices"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// withHeard returns the race with what the log says was heard added to what its files say. The race itself
// is not changed. Lines that were struck, or that name no bib or no gate, are for people only.
func withHeard(race *sheetmodel.Race, log []store.HeardEntry) *sheetmodel.Race {
	struck := map[int64]bool{}
	for _, h := range log {
		struck[h.Strikes] = true
	}
	log = slices.DeleteFunc(slices.Clone(log), func(h store.HeardEntry) bool {
		return h.Strikes != 0 || struck[h.ID] || h.Bib.Number == "" || h.Gate == ""
	})
	if len(log) == 0 {
		return race
	}
	more := *race
	more.Runs = slices.Clone(race.Runs)
	for i := range more.Runs {
		run := &more.Runs[i]
		run.Heard = slices.Clone(run.Heard)
		for _, h := range log {
			heard := sheetmodel.Heard{Bib: h.Bib, Course: h.Course, Gate: h.Gate, At: h.Clock}
			// Two who heard one call write down the same time. What was said at another time is another call, of which the judge was
			// not asked yet, as of a re-run: the rules count them.
			if h.Run == run.Number && !slices.Contains(run.Heard, heard) {
				run.Heard = append(run.Heard, heard)
			}
		}
	}
	return &more
}
