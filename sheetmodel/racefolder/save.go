package racefolder

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"

	"gatefold/sheetmodel"
)

// ListName names one of the optional lists, as race.yaml does.
type ListName string

// The optional lists. Forerunners belong to the race, the others to a run.
const (
	DidNotStart  ListName = "did_not_start"
	DidNotFinish ListName = "did_not_finish"
	Reruns       ListName = "re_runs"
	Forerunners  ListName = "forerunners"
)

// ErrNoSuchPart is returned for a run, course or list that the race doesn't have.
var ErrNoSuchPart = errors.New("the race has no such run, course or list")

// SavePlaces writes the placing list of one run and course into race.yaml; an empty list becomes
// "not known". Comments and all other lines stay as they are. The gates of a place must be gates of
// the course.
//
// race.yaml is read anew first, so that what a person changed in an editor is kept; mistakes in it are
// returned and nothing is written. When SavePlaces returns nil, the places survive a power cut.
func (f *Folder) SavePlaces(run int, course string, places []sheetmodel.Place) error {
	return f.save(func(r *sheetmodel.Race) (change, settle, error) {
		cr := courseRunOf(r, run, course)
		if cr == nil {
			return change{}, nil, fmt.Errorf("run %d, course %s: %w", run, course, ErrNoSuchPart)
		}
		var err error
		if cr.Places, err = cleanPlaces(places, cr.Gates); err != nil {
			return change{}, nil, fmt.Errorf("run %d, %s: %w", run, course, err)
		}
		return change{run: run, course: course, key: "places", value: placesValue(cr.Places, cr.Gates)}, nil, nil
	})
}

// SaveGates writes the gates of one run and course, from the start down, as SavePlaces does. Places that
// are there must fit the new gates; a range among them grows by an extra gate. No gates become "not known".
func (f *Folder) SaveGates(run int, course string, gates []string) error {
	return f.save(func(r *sheetmodel.Race) (change, settle, error) {
		cr := courseRunOf(r, run, course)
		if cr == nil {
			return change{}, nil, fmt.Errorf("run %d, course %s: %w", run, course, ErrNoSuchPart)
		}
		var err error
		if cr.Gates, err = courseGates(gates); err != nil {
			return change{}, nil, fmt.Errorf("run %d, %s: %w", run, course, err)
		}
		// A place written 11-13 gets 12a with the course: what its gates are, the file says.
		fromFile := func(got, want *sheetmodel.Race) {
			courseRunOf(want, run, course).Places = courseRunOf(got, run, course).Places
		}
		text := orDefault(SpellGates(cr.Gates, cr.Gates), string(sheetmodel.ListUnknown))
		return change{run: run, course: course, key: "gates", value: textValue(text)}, fromFile, nil
	})
}

// SaveList writes one of the optional lists, as SavePlaces does. Forerunners have run 0. A given list
// without bibs is "none". A list that was in a CSV file stands in race.yaml from then on; the file stays.
func (f *Folder) SaveList(run int, name ListName, list sheetmodel.BibList) error {
	return f.save(func(r *sheetmodel.Race) (change, settle, error) {
		at := listIn(r, run, name)
		if at == nil {
			return change{}, nil, fmt.Errorf("run %d, list %s: %w", run, name, ErrNoSuchPart)
		}
		switch {
		case list.Given == sheetmodel.ListGiven && len(list.Bibs) > 0:
			*at = sheetmodel.BibList{Given: sheetmodel.ListGiven, Bibs: slices.Clone(list.Bibs)}
		case list.Given == sheetmodel.ListGiven || list.Given == sheetmodel.ListNone:
			*at = sheetmodel.BibList{Given: sheetmodel.ListNone}
		default:
			*at = sheetmodel.BibList{Given: sheetmodel.ListUnknown}
		}
		fromList := func(got, want *sheetmodel.Race) { settleList(listIn(got, run, name), listIn(want, run, name)) }
		return change{run: run, key: string(name), value: listValue(*at)}, fromList, nil
	})
}

// settle takes over from got, what was read back, those parts of want that only the files decide.
type settle func(got, want *sheetmodel.Race)

// save reads the race anew, lets edit change a copy and say which value that is in race.yaml, and
// writes the file only if it reads back as exactly the changed race.
func (f *Folder) save(edit func(*sheetmodel.Race) (change, settle, error)) error {
	f.mu.Lock()
	defer f.mu.Unlock()
	path := filepath.Join(f.Dir, RaceFile)
	old, err := os.ReadFile(path)
	if err != nil {
		return fmt.Errorf("%s: not saved: %w", path, err)
	}
	st, err := os.Stat(path)
	if err != nil {
		return fmt.Errorf("%s: not saved: %w", path, err)
	}
	want, _, err := f.readWith(old)
	if err != nil {
		return err
	}
	c, settled, err := edit(want)
	if err != nil {
		return err
	}
	text, got, notes, err := f.tryOut(old, c, settled, want)
	if err != nil {
		return err
	}
	if err := writeAtomic(path, text, st.Mode().Perm(), f.step); err != nil {
		return err
	}
	f.race, f.notes = got, notes
	return nil
}

// tryOut makes the new text of race.yaml, by lines if that can be done, and reads it back.
func (f *Folder) tryOut(old []byte, c change, settled settle, want *sheetmodel.Race) ([]byte, *sheetmodel.Race, []string, error) {
	var last error
	for _, way := range []func([]byte, change) ([]byte, error){spliceLines, rewriteNodes} {
		text, err := way(old, c)
		if err != nil {
			last = errors.Join(err, last)
			continue
		}
		got, notes, err := f.readWith(text)
		if err != nil {
			last = err
			continue
		}
		if settled != nil {
			settled(got, want)
		}
		if reflect.DeepEqual(got, want) {
			return text, got, notes, nil
		}
		last = fmt.Errorf("%s: not saved: %s would not read back as it was meant; make the change in an editor",
			filepath.Join(f.Dir, RaceFile), c.key)
	}
	return nil, nil, nil, last
}

// readWith reads the race as it would be with another race.yaml.
func (f *Folder) readWith(raceYAML []byte) (*sheetmodel.Race, []string, error) {
	files := newFiles(f.Dir, f.fsys)
	files.instead = map[string][]byte{RaceFile: raceYAML}
	return readRace(files)
}

func courseRunOf(r *sheetmodel.Race, run int, course string) *sheetmodel.CourseRun {
	if rr := r.Run(run); rr != nil {
		return rr.Course(course)
	}
	return nil
}

func listIn(r *sheetmodel.Race, run int, name ListName) *sheetmodel.BibList {
	if name == Forerunners && run == 0 {
		return &r.Forerunners
	}
	rr := r.Run(run)
	if rr == nil {
		return nil
	}
	switch name {
	case DidNotStart:
		return &rr.DidNotStart
	case DidNotFinish:
		return &rr.DidNotEnd
	case Reruns:
		return &rr.Reruns
	default:
		return nil
	}
}

// cleanPlaces brings places into the form in which they are read back: gates in the order of the course.
func cleanPlaces(places []sheetmodel.Place, course []string) ([]sheetmodel.Place, error) {
	var clean []sheetmodel.Place
	for i, p := range places {
		gates, err := placeGates(p.Gates, course)
		if err != nil {
			return nil, fmt.Errorf("place %d: %w", i+1, err)
		}
		p.Gates = gates
		p.Name, p.Judge, p.Phone = oneLine(p.Name), oneLine(p.Judge), oneLine(p.Phone)
		clean = append(clean, p)
	}
	return clean, nil
}

// settleList gives bibs of want the group and the zeros that the start list knows them by.
func settleList(got, want *sheetmodel.BibList) {
	if len(got.Bibs) != len(want.Bibs) {
		return
	}
	for i, g := range got.Bibs {
		w := want.Bibs[i]
		if trimZeros(g.Number) == trimZeros(w.Number) && (w.Group == "" || w.Group == g.Group) {
			want.Bibs[i] = g
		}
	}
}
