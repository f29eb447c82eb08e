package main

import (
	"slices"
	"sync"

	"gatefold/review"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// savePlaceIn writes places into race.yaml, one at a time: two people may place judges at once, and somebody
// may have the file open in an editor.
func savePlaceIn(dir string) review.SavePlace {
	var mu sync.Mutex
	return func(run int, course string, place sheetmodel.Place, gone bool) error {
		mu.Lock()
		defer mu.Unlock()
		folder, err := racefolder.Open(dir) // as it is now
		if err != nil {
			return err
		}
		var places []sheetmodel.Place
		if r := folder.Race().Run(run); r != nil {
			if c := r.Course(course); c != nil {
				places = slices.Clone(c.Places)
			}
		}
		at := slices.IndexFunc(places, func(p sheetmodel.Place) bool { return p.Card == place.Card })
		switch {
		case gone && at >= 0:
			places = slices.Delete(places, at, at+1)
		case gone:
		case at >= 0:
			place.Relief = places[at].Relief // who took over stands in the file only
			places[at] = place
		default:
			places = append(places, place)
			slices.SortStableFunc(places, func(a, b sheetmodel.Place) int { return a.Card - b.Card })
		}
		return folder.SavePlaces(run, course, places)
	}
}
