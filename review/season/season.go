// Package season looks across the archives of many races.
//
//	archive, archive, ... --Read--> Race --Add--> Season --Tables--> CSV
//
// It counts gates, places, codes, cards and phones, never people: a place is called by its name or its card,
// whoever stood there. It reads what an archive's JSON and CSV files say and knows no store, so archives that
// may be handed around do as well as full ones. Nothing needs closing.
package season

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"path"
	"slices"
	"strconv"
	"strings"

	"github.com/bep/imagemeta"

	"gatefold/review/look"
	"gatefold/sheetmodel"
)

// Race is what one archive says.
type Race struct {
	race  sheetmodel.Race
	calls []sheetmodel.Call
	reads map[readKey]share
	spot  spot
}

// Name tells the race from others: its short name and its day.
func (r *Race) Name() string { return r.race.ID + " of " + r.race.Date }

type readKey struct{ layout, phone, what string }

// share counts fields with ink and how many of them were doubtful to the reader.
type share struct{ ink, doubtful int }

type spot struct{ certain, drawn, typed, otherwise int }

// Phones that no name is known of.
const (
	phoneNotTold  = "not told"         // the archive has no photos
	phoneNotNamed = "photo names none" // nothing in the photo's EXIF
)

// Read takes what a season needs out of the archive whose folder is bag. It doesn't check sums: verify first.
func Read(bag fs.FS) (*Race, error) {
	r := &Race{reads: map[readKey]share{}}
	var f struct {
		Calls []sheetmodel.Call `json:"calls"`
	}
	if err := errors.Join(readJSON(bag, "data/race/race.json", mostText, &r.race), readJSON(bag, "data/findings.json", mostText, &f)); err != nil {
		return nil, err
	}
	r.calls = f.Calls
	return r, errors.Join(r.readings(bag), r.spotCheck(bag))
}

// Bounds of what is read of an archive that somebody else may have made, in bytes. Readings of 500 photos are 60 MB.
const (
	mostReadings = 128 << 20
	mostText     = 16 << 20 // of any other file of text
	mostPhoto    = 128 << 20
)

// read reads a file of at most so many bytes.
func read(bag fs.FS, file string, most int64) ([]byte, error) {
	f, err := bag.Open(file)
	if err != nil {
		return nil, err
	}
	defer f.Close() //nolint:errcheck // only read
	text, err := io.ReadAll(io.LimitReader(f, most+1))
	if err == nil && int64(len(text)) > most {
		err = fmt.Errorf("%s: larger than %d MB; gatefold packs none such", file, most>>20)
	}
	return text, err
}

func readJSON(bag fs.FS, file string, most int64, v any) error {
	text, err := read(bag, file, most)
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: not there; name an archive that gatefold pack wrote", file)
	}
	if err != nil {
		return err
	}
	if err = json.Unmarshal(text, v); err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	return nil
}

// field is what is needed of a reading; a certainty is no number to calculate with here.
type field struct {
	Field string           `json:"field"`
	State sheetmodel.State `json:"state"`
}

func (r *Race) readings(bag fs.FS) error {
	var f struct {
		Photos []struct {
			ID   string `json:"id"`
			File string `json:"file"`
		} `json:"photos"`
		Sheets []struct {
			Photo  string `json:"photo"`
			Layout string `json:"layout"`
			Read   struct {
				Reading struct {
					Rows []struct {
						Bib  field `json:"bib"`
						Code field `json:"code"`
						Gate field `json:"gate"`
					} `json:"rows"`
				} `json:"reading"`
			} `json:"read"`
		} `json:"sheets"`
	}
	if err := readJSON(bag, "data/readings.json", mostReadings, &f); err != nil {
		return err
	}
	phones := map[string]string{}
	for _, p := range f.Photos {
		phones[p.ID] = phoneOf(bag, path.Join("data", p.File))
	}
	for _, s := range f.Sheets {
		for _, row := range s.Read.Reading.Rows {
			for what, v := range map[string]field{"bib": row.Bib, "what happened": row.Code, "gate": row.Gate} {
				k := readKey{s.Layout, phones[s.Photo], what}
				n := r.reads[k]
				switch v.State {
				case sheetmodel.Doubtful:
					n.doubtful++
					n.ink++
				case sheetmodel.Clear:
					n.ink++
				case sheetmodel.Empty:
					continue
				}
				r.reads[k] = n
			}
		}
	}
	return nil
}

// phoneOf is the model of the phone or camera that took a photo, as its EXIF says.
func phoneOf(bag fs.FS, file string) string {
	text, err := read(bag, file, mostPhoto)
	if err != nil {
		return phoneNotTold
	}
	kind, known := map[string]imagemeta.ImageFormat{".jpg": imagemeta.JPEG, ".jpeg": imagemeta.JPEG, ".png": imagemeta.PNG, ".heic": imagemeta.HEIF}[strings.ToLower(path.Ext(file))]
	if !known {
		return phoneNotNamed
	}
	model := ""
	_, err = imagemeta.Decode(imagemeta.Options{
		R: bytes.NewReader(text), ImageFormat: kind, Sources: imagemeta.EXIF,
		ShouldHandleTag: func(t imagemeta.TagInfo) bool { return t.Tag == "Model" },
		HandleTag: func(t imagemeta.TagInfo) error {
			if s, ok := t.Value.(string); ok && model == "" {
				model = strings.Join(strings.Fields(strings.Trim(s, "\x00")), " ")
			}
			return nil
		},
	})
	if err != nil || model == "" {
		return phoneNotNamed // a damaged EXIF block is common
	}
	return model
}

func (r *Race) spotCheck(bag fs.FS) error {
	const file = "data/spot-check.csv"
	text, err := read(bag, file, mostText)
	if errors.Is(err, fs.ErrNotExist) {
		return nil // an archive of an older program
	}
	if err != nil {
		return err
	}
	all, err := csv.NewReader(bytes.NewReader(text)).ReadAll()
	if err != nil || len(all) != 2 {
		return errors.Join(fmt.Errorf("%s: not one record", file), err)
	}
	counts := []*int{&r.spot.certain, &r.spot.drawn, &r.spot.typed, &r.spot.otherwise}
	if len(all[1]) < len(counts) {
		return fmt.Errorf("%s: %d columns instead of %d", file, len(all[1]), len(counts))
	}
	for i, to := range counts {
		if *to, err = strconv.Atoi(all[1][i]); err != nil {
			return fmt.Errorf("%s: %w", file, err)
		}
	}
	return nil
}

// Season is what many races say together. The zero value is ready.
type Season struct{ races []*Race }

// Add adds a race; one that is in the season already, by name and day, is an error.
func (s *Season) Add(r *Race) error {
	if slices.ContainsFunc(s.races, func(x *Race) bool { return x.Name() == r.Name() }) {
		return fmt.Errorf("race %s was counted already; name each race once", r.Name())
	}
	s.races = append(s.races, r)
	return nil
}

// Table is one CSV file: the first record names the columns.
type Table struct {
	File    string
	Records [][]string
}

// Tables returns what the season shows. upper is the upper bound of a share of which wrong of n were counted.
func (s *Season) Tables(upper func(wrong, n int) float64) []Table {
	return []Table{s.places(), s.kinds(), s.faults(), s.doubtful(), s.spots(upper)}
}

// tally counts calls by what has become of them.
type tally struct{ proposed, waiting, overruled int }

func (t *tally) add(c sheetmodel.Call) {
	switch {
	case c.Overruled:
		t.overruled++
	case c.Waiting:
		t.waiting++
	default:
		t.proposed++
	}
}

func (t *tally) cells() []string {
	return []string{strconv.Itoa(t.proposed), strconv.Itoa(t.waiting), strconv.Itoa(t.overruled)}
}

var tallyColumns = []string{"proposed", "waiting", "overruled"}

// places counts calls by the place whose card the leading row is on.
func (s *Season) places() Table {
	t := Table{"calls-by-place.csv", [][]string{append([]string{"race", "date", "run", "course", "place", "card", "gates"}, tallyColumns...)}}
	for _, r := range s.races {
		by := map[sheetmodel.CardKey]*tally{}
		for _, c := range r.calls {
			if len(c.Rows) == 0 {
				continue
			}
			k := c.Rows[0].CardKey
			if by[k] == nil {
				by[k] = &tally{}
			}
			by[k].add(c)
		}
		for _, run := range r.race.Runs {
			for _, course := range run.Courses {
				for _, p := range course.Places {
					k := sheetmodel.CardKey{Run: run.Number, Course: course.Course, Card: p.Card}
					if by[k] == nil {
						by[k] = &tally{}
					}
					t.Records = append(t.Records, append([]string{
						r.race.ID, r.race.Date, strconv.Itoa(run.Number), course.Course, placeName(p), strconv.Itoa(p.Card), span(p.Gates),
					}, by[k].cells()...))
					delete(by, k)
				}
			}
		}
		var rest []sheetmodel.CardKey
		for k := range by {
			rest = append(rest, k)
		}
		slices.SortFunc(rest, func(a, b sheetmodel.CardKey) int {
			return strings.Compare(fmt.Sprintf("%d %s %9d", a.Run, a.Course, a.Card), fmt.Sprintf("%d %s %9d", b.Run, b.Course, b.Card))
		})
		for _, k := range rest {
			t.Records = append(t.Records, append([]string{
				r.race.ID, r.race.Date, strconv.Itoa(k.Run), k.Course, "", strconv.Itoa(k.Card), "",
			}, by[k].cells()...))
		}
	}
	return t
}

// placeName is the officials' name of a place, never that of who stands there.
func placeName(p sheetmodel.Place) string {
	people := []string{p.Judge}
	for _, x := range p.Relief {
		people = append(people, x.Judge)
	}
	for _, who := range people {
		if k := look.Person(who); k != "" && strings.Contains(look.Person(p.Name), k) {
			return ""
		}
	}
	return p.Name
}

func span(gates []string) string {
	switch len(gates) {
	case 0:
		return ""
	case 1:
		return gates[0]
	}
	return gates[0] + " to " + gates[len(gates)-1]
}

// Kinds of gate, as far as a race says: how it is set, open, closed or in a combination, no race file tells.
var gateKinds = []string{"first", "last", "changed in the run", "watched by two cards or more", "watched by one card", "watched by no card", "not of the course"}

// kindOf puts a gate of a course into one of them.
func kindOf(c sheetmodel.CourseRun, gate string) string {
	i := c.GateIndex(gate)
	switch {
	case i < 0:
		return "not of the course"
	case i == 0:
		return "first"
	case i == len(c.Gates)-1:
		return "last"
	case slices.ContainsFunc(c.Changes, func(x sheetmodel.GateChange) bool { return x.Gate == gate }):
		return "changed in the run"
	}
	cards := 0
	for _, p := range c.Places {
		if slices.Contains(p.Gates, gate) {
			cards++
		}
	}
	switch cards {
	case 0:
		return "watched by no card"
	case 1:
		return "watched by one card"
	}
	return "watched by two cards or more"
}

func (s *Season) kinds() Table {
	t := Table{"calls-by-kind-of-gate.csv", [][]string{append([]string{"kind of gate", "gates"}, append(slices.Clone(tallyColumns), "calls per 100 gates")...)}}
	gates, calls := map[string]int{}, map[string]*tally{}
	for _, k := range gateKinds {
		calls[k] = &tally{}
	}
	for _, r := range s.races {
		for _, run := range r.race.Runs {
			for _, c := range run.Courses {
				for _, g := range c.Gates {
					gates[kindOf(c, g)]++
				}
			}
		}
		for _, c := range r.calls {
			kind := "not of the course"
			if run := r.race.Run(c.Run); run != nil {
				if course := run.Course(c.Course); course != nil {
					kind = kindOf(*course, c.Gate)
				}
			}
			calls[kind].add(c)
		}
	}
	for _, k := range gateKinds {
		per := ""
		if n := gates[k]; n > 0 {
			per = strconv.FormatFloat(100*float64(calls[k].proposed+calls[k].waiting+calls[k].overruled)/float64(n), 'f', 1, 64)
		}
		t.Records = append(t.Records, slices.Concat([]string{k, strconv.Itoa(gates[k])}, calls[k].cells(), []string{per}))
	}
	return t
}

// faults counts calls by what happened. Leagues have codes of their own: a code counts with its meaning.
func (s *Season) faults() Table {
	type key struct{ code, meaning string }
	by, races := map[key]*tally{}, map[key]map[string]bool{}
	for _, r := range s.races {
		for _, c := range r.calls {
			k := key{c.Code, c.Meaning}
			if by[k] == nil {
				by[k], races[k] = &tally{}, map[string]bool{}
			}
			by[k].add(c)
			races[k][r.Name()] = true
		}
	}
	t := Table{"faults.csv", [][]string{append([]string{"code", "meaning", "races"}, tallyColumns...)}}
	for k, n := range by {
		t.Records = append(t.Records, append([]string{k.code, k.meaning, strconv.Itoa(len(races[k]))}, n.cells()...))
	}
	sortRecords(t.Records[1:])
	return t
}

func (s *Season) doubtful() Table {
	by := map[readKey]share{}
	for _, r := range s.races {
		for k, n := range r.reads {
			sum := by[k]
			by[k] = share{sum.ink + n.ink, sum.doubtful + n.doubtful}
		}
	}
	t := Table{"doubtful.csv", [][]string{{"card version", "phone", "field", "with ink", "doubtful", "share in %"}}}
	for k, n := range by {
		version := k.layout
		if len(version) > 12 {
			version = version[:12]
		}
		t.Records = append(t.Records, []string{
			version, k.phone, k.what, strconv.Itoa(n.ink), strconv.Itoa(n.doubtful), strconv.FormatFloat(100*float64(n.doubtful)/float64(n.ink), 'f', 1, 64),
		})
	}
	sortRecords(t.Records[1:])
	return t
}

// FewestForBound is from how many bibs typed unseen a bound is worth saying: none of 100 wrong still allows 3 %.
const FewestForBound = 100

func (s *Season) spots(upper func(wrong, n int) float64) Table {
	t := Table{"spot-check.csv", [][]string{{"race", "date", "certain", "drawn", "typed unseen", "typed otherwise", "wrong at most in % (95 % sure)"}}}
	var all spot
	cells := func(name, date string, n spot) []string {
		bound := ""
		if n.typed >= FewestForBound {
			bound = strconv.FormatFloat(math.Ceil(1e5*upper(n.otherwise, n.typed))/1e3, 'f', 3, 64) // rounded down it would be none
		}
		return []string{name, date, strconv.Itoa(n.certain), strconv.Itoa(n.drawn), strconv.Itoa(n.typed), strconv.Itoa(n.otherwise), bound}
	}
	for _, r := range s.races {
		t.Records = append(t.Records, cells(r.race.ID, r.race.Date, r.spot))
		all = spot{all.certain + r.spot.certain, all.drawn + r.spot.drawn, all.typed + r.spot.typed, all.otherwise + r.spot.otherwise}
	}
	t.Records = append(t.Records, cells("together", "", all))
	return t
}

func sortRecords(records [][]string) {
	slices.SortFunc(records, slices.Compare[[]string])
}
