package review

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// SavePlace writes into the race's files who stands where in a run and on a course: a place takes the stead of
// the one that its card had. With gone, the card has no place any more. The error is for people.
type SavePlace func(run int, course string, place sheetmodel.Place, gone bool) error

type placingView struct {
	frame
	Courses []placingCourse // of all runs, to choose from
	Run     int
	Course  string
	Gates   []string // of the course, from the start; empty: not known
	Places  []placingPlace
	Form    placingForm
	Placed  bool   // the card of the form has a place already
	Was     string // that place, as a name that tells only whether it is still the same; empty: none
	Wrong   string
}

type placingCourse struct {
	Name, Path string
	Here       bool
}

type placingPlace struct {
	sheetmodel.Place
	Words string // of its gates
	Path  string // where it is changed
}

type placingForm struct{ Card, From, To, Gates, Name, Judge, Phone string }

func placingPath(run int, course string) string {
	return "/placing?" + url.Values{"run": {strconv.Itoa(run)}, "course": {course}}.Encode()
}

func (d *Desk) showPlacing(w http.ResponseWriter, r *http.Request, s *session) error {
	return d.placing(w, r, s, http.StatusOK, "")
}

func (d *Desk) placing(w http.ResponseWriter, r *http.Request, s *session, status int, wrong string) error {
	return d.placingWith(w, r, s, status, wrong, "")
}

// placingWith shows the page; was is the place that the form takes the stead of if it is sent once more.
func (d *Desk) placingWith(w http.ResponseWriter, r *http.Request, s *session, status int, wrong, was string) error {
	m, f, err := d.view(r.Context(), s, "Placing", "placing")
	if err != nil {
		return err
	}
	v := placingView{frame: f, Wrong: wrong}
	at := chosenCourse(m.race, r)
	for _, run := range m.race.Runs {
		for i := range run.Courses {
			c := &run.Courses[i]
			v.Courses = append(v.Courses, placingCourse{courseWords(run.Number, c.Course), placingPath(run.Number, c.Course), at.course == c})
			if at.course == c {
				v.Run, v.Course, v.Gates = run.Number, c.Course, c.Gates
			}
		}
	}
	if at.course == nil {
		return &pageError{http.StatusNotFound, "The race has no course yet", "Write its courses into race.yaml."}
	}
	v.Form = nextPlace(at.course)
	for _, p := range at.course.Places {
		v.Places = append(v.Places, placingPlace{p, gateWords(p.Gates, v.Gates), placingPath(v.Run, v.Course) + "&card=" + strconv.Itoa(p.Card)})
		if r.FormValue("card") == strconv.Itoa(p.Card) {
			v.Placed, v.Was = true, placeMark(&p)
			v.Form = placingForm{Card: strconv.Itoa(p.Card), Gates: racefolder.SpellGates(p.Gates, v.Gates), Name: p.Name, Judge: p.Judge, Phone: p.Phone}
			if len(v.Gates) > 0 && len(p.Gates) > 0 {
				v.Form.From, v.Form.To = p.Gates[0], p.Gates[len(p.Gates)-1]
				if !strings.Contains(v.Form.Gates, ",") {
					v.Form.Gates = "" // one stretch, which from and to say
				}
			}
		}
	}
	if wrong != "" { // what was typed stays
		if v.Was = r.PostFormValue("was"); was != "" {
			v.Was = was
		}
		v.Form = placingForm{
			r.PostFormValue("card"), r.PostFormValue("from"), r.PostFormValue("to"), r.PostFormValue("gates"),
			r.PostFormValue("name"), r.PostFormValue("judge"), r.PostFormValue("phone"),
		}
	}
	return d.render(w, "placing", status, v)
}

// placeMark names a place as it is.
func placeMark(p *sheetmodel.Place) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%d %q %q %q %q", p.Card, p.Gates, p.Name, p.Judge, p.Phone))
	return hex.EncodeToString(sum[:8])
}

// courseAt is a course in one run.
type courseAt struct {
	run    int
	course *sheetmodel.CourseRun
}

// chosenCourse is the course that a request names, or the first whose places aren't known.
func chosenCourse(race *sheetmodel.Race, r *http.Request) courseAt {
	var first, open courseAt
	for _, run := range race.Runs {
		for i := range run.Courses {
			c := courseAt{run.Number, &run.Courses[i]}
			if r.FormValue("run") == strconv.Itoa(run.Number) && r.FormValue("course") == c.course.Course {
				return c
			}
			if first.course == nil {
				first = c
			}
			if open.course == nil && len(c.course.Places) == 0 {
				open = c
			}
		}
	}
	if open.course != nil {
		return open
	}
	return first
}

// otherPlace names the run and course in which a card has a place already, beside the one it is entered for; else it is empty.
func otherPlace(race *sheetmodel.Race, at courseAt, card int) string {
	for _, c := range race.Run(at.run).Courses {
		if c.Course != at.course.Course && slices.ContainsFunc(c.Places, func(p sheetmodel.Place) bool { return p.Card == card }) {
			return courseWords(at.run, c.Course)
		}
	}
	return ""
}

// nextPlace is what comes after the places that are known: the next card, from the last gate on, for the gate
// between two judges is watched by both.
func nextPlace(c *sheetmodel.CourseRun) placingForm {
	var f placingForm
	if len(c.Places) > 0 {
		last := slices.MaxFunc(c.Places, func(a, b sheetmodel.Place) int { return a.Card - b.Card })
		f.Card = strconv.Itoa(last.Card + 1)
		if n := len(last.Gates); n > 0 {
			f.From = last.Gates[n-1]
		}
	} else if len(c.Gates) > 0 {
		f.From = c.Gates[0]
	}
	return f
}

func (d *Desk) postPlacing(w http.ResponseWriter, r *http.Request, s *session) error {
	d.places.Lock() // two people place judges at once
	defer d.places.Unlock()
	race, err := d.opt.Race()
	if err != nil {
		return err
	}
	at := chosenCourse(race, r)
	if at.course == nil || at.course.Course != r.PostFormValue("course") || strconv.Itoa(at.run) != r.PostFormValue("run") {
		return &pageError{http.StatusNotFound, "The race has no such course", "Nothing was kept. Open the page Placing again."}
	}
	refuse := func(words string) error { return d.placing(w, r, s, http.StatusUnprocessableEntity, words) }
	p := sheetmodel.Place{Name: cleanName(r.PostFormValue("name")), Judge: cleanName(r.PostFormValue("judge")), Phone: cleanName(r.PostFormValue("phone"))}
	if p.Card, err = strconv.Atoi(strings.TrimSpace(r.PostFormValue("card"))); err != nil || p.Card < 1 || p.Card > 200 {
		return refuse("Type the card's number as it is printed on the card. Spares, 201 and up, are bound when they are in.")
	}
	if gone := r.PostFormValue("do") == "remove"; gone {
		if other := otherwisePlaced(r, at, nil, p.Card); other != nil {
			return d.placeMeanwhile(w, r, s, other, at.course.Gates)
		}
		if err := d.opt.SavePlace(at.run, at.course.Course, p, true); err != nil {
			return refuse(sentence(err.Error()))
		}
		d.say(s, notice{Words: fmt.Sprintf("Card %d has no place any more.", p.Card), Class: "settled"})
		return see(w, r, placingPath(at.run, at.course.Course))
	}
	text := strings.TrimSpace(r.PostFormValue("gates"))
	if from, to := r.PostFormValue("from"), r.PostFormValue("to"); text == "" && from != "" {
		text = from
		if to != "" && to != from {
			text += "-" + to
		}
	}
	if p.Gates, err = racefolder.ParseGates(text, at.course.Gates); err != nil {
		return refuse(sentence(err.Error()))
	}
	if len(p.Gates) == 0 {
		return refuse("Say which gates the card watches.")
	}
	if other := otherwisePlaced(r, at, &p, p.Card); other != nil {
		return d.placeMeanwhile(w, r, s, other, at.course.Gates)
	}
	if err := d.opt.SavePlace(at.run, at.course.Course, p, false); err != nil {
		if has := otherPlace(race, at, p.Card); has != "" { // in words for a hill, where nobody has the file
			return refuse(fmt.Sprintf("Card %d stands in %s already; each card has one place, and numbers run on from course to course. Take it away there, or type another number.", p.Card, has))
		}
		return refuse(sentence(err.Error()))
	}
	d.say(s, notice{Words: fmt.Sprintf("Card %d watches gates %s.", p.Card, gateWords(p.Gates, at.course.Gates)), Class: "settled"})
	return see(w, r, placingPath(at.run, at.course.Course))
}

// otherwisePlaced is the place that a card has, if it is neither the one that the form was made for nor what is to be kept;
// nil: there is none. Two phones are offered the same number, and what the one has kept isn't replaced unawares.
func otherwisePlaced(r *http.Request, at courseAt, keep *sheetmodel.Place, card int) *sheetmodel.Place {
	i := slices.IndexFunc(at.course.Places, func(o sheetmodel.Place) bool { return o.Card == card })
	if i < 0 {
		return nil
	}
	has := &at.course.Places[i]
	if mark := placeMark(has); r.PostFormValue("was") == mark || keep != nil && placeMark(keep) == mark {
		return nil
	}
	return has
}

// placeMeanwhile brings a form back that would replace a place which its sender has not seen.
func (d *Desk) placeMeanwhile(w http.ResponseWriter, r *http.Request, s *session, has *sheetmodel.Place, course []string) error {
	words := fmt.Sprintf("Not kept yet: card %d stands at gates %s already. Send it once more if this is to take its place, or type another number.", has.Card, gateWords(has.Gates, course))
	if has.Judge != "" {
		words = fmt.Sprintf("Not kept yet: card %d stands at gates %s already, with %s. Send it once more if this is to take its place, or type another number.", has.Card, gateWords(has.Gates, course), has.Judge)
	}
	return d.placingWith(w, r, s, http.StatusConflict, words, placeMark(has))
}
