package sheetmodel

import (
	"crypto/sha256"
	"encoding/hex"
	"slices"
	"strings"
	"time"
)

// RaceFormat is the newest race.yaml this program reads and the one it writes.
const RaceFormat = 1

// Given says what is known of an optional list: a list that is "none" was looked at and is empty,
// one that is "not known" was never handed in.
type Given string

// The states of an optional list.
const (
	ListGiven   Given = "given"
	ListNone    Given = "none"
	ListUnknown Given = "not known"
)

// Bib is a number and the group it belongs to: the same number in two groups is two racers.
type Bib struct {
	Group  string `json:"group,omitempty"`
	Number string `json:"number"` // as on the bib, leading zeros and letters kept
}

// Starter is one line of the start list.
type Starter struct {
	Bib
	Name   string `json:"name,omitempty"`
	Club   string `json:"club,omitempty"`
	Course string `json:"course"`
	Line   int    `json:"-"` // line of the CSV file, for messages
}

// BibList is an optional list of bibs for one run.
type BibList struct {
	Given Given `json:"given"`
	Bibs  []Bib `json:"bibs,omitempty"`
}

// Holds reports whether the list names number in group; an empty group on either side matches any.
func (l BibList) Holds(group, number string) bool {
	for _, b := range l.Bibs {
		if b.Number == number && (b.Group == "" || group == "" || b.Group == group) {
			return true
		}
	}
	return false
}

// Group is a class of racers with its own bibs.
type Group struct {
	Name   string `json:"name"`
	Course string `json:"course,omitempty"` // its course, where all of the group ski one
}

// Place is one stretch of a course that one judge watches, bound to a card number.
type Place struct {
	Card  int      `json:"card"`            // card number; more cards of one judge are further places
	Name  string   `json:"name,omitempty"`  // "A", as the officials call it
	Gates []string `json:"gates"`           // labels in course order, see CourseRun.Gates
	Judge string   `json:"judge,omitempty"` // stays out of exports unless asked for
	Phone string   `json:"phone,omitempty"` // stays out of exports unless asked for
	// Relief is who took over from whom at this place during the run, in order.
	Relief []Relief `json:"relief,omitempty"`
}

// Relief is one judge taking over from another at a place, and going on with the same card or another.
type Relief struct {
	At    string `json:"at"` // HH:MM, official race time
	Judge string `json:"judge,omitempty"`
	Phone string `json:"phone,omitempty"`
}

// What can happen to a gate during a run.
const (
	GateAdded      = "added"
	GateRemoved    = "removed"
	GateRenumbered = "renumbered"
)

// GateChange is something that the jury did to one gate during a run. When a row was written never
// decides what its gate number means; a person does.
type GateChange struct {
	At   string `json:"at"`   // HH:MM, official race time
	Gate string `json:"gate"` // its label from then on, or, of a removed one, until then
	What string `json:"what"` // GateAdded, GateRemoved or GateRenumbered
	Was  string `json:"was,omitempty"`
}

// Heard is something that came by radio or voice: a reason to ask a judge, never a call.
type Heard struct {
	Bib
	Course string `json:"course,omitempty"`
	Gate   string `json:"gate"`
	At     string `json:"at,omitempty"` // HH:MM, official race time
}

// CourseRun is one course in one run: its gates and the judges' places, each once known.
type CourseRun struct {
	Course string   `json:"course"`
	Gates  []string `json:"gates,omitempty"` // labels from the start down; empty: not known yet
	Places []Place  `json:"places,omitempty"`
	// Changes are those of the jury during the run; Gates has every gate that stood at any time of it.
	Changes []GateChange `json:"gate_changes,omitempty"`
}

// GateIndex returns the position of a label from the start down, counted from 0, or -1.
func (c CourseRun) GateIndex(label string) int {
	for i, g := range c.Gates {
		if g == label {
			return i
		}
	}
	return -1
}

// Run is one of the race's runs.
type Run struct {
	Number      int         `json:"number"` // 1 or 2
	Courses     []CourseRun `json:"courses"`
	DidNotStart BibList     `json:"did_not_start"`
	DidNotEnd   BibList     `json:"did_not_finish"`
	Reruns      BibList     `json:"re_runs"`
	// LateStarts are racers who started after all, though a list says that they did not.
	LateStarts BibList `json:"late_starts"`
	// MayStart is the list of run 2, in whatever order it is run; run 1 is the start list.
	MayStart BibList `json:"may_start"`
	// Conditional are racers whom the jury let start while a protest is open.
	Conditional BibList `json:"conditional_starts"`
	// Exchanged are pairs of racers who wore each other's bib, or one racer's two bibs.
	Exchanged [][2]Bib `json:"exchanged_bibs,omitempty"`
	Heard     []Heard  `json:"heard,omitempty"`
}

// Course returns the run's part for a course, or nil.
func (r *Run) Course(name string) *CourseRun {
	for i := range r.Courses {
		if r.Courses[i].Course == name {
			return &r.Courses[i]
		}
	}
	return nil
}

// Race is everything about one race day that does not come from cards.
type Race struct {
	Format      int           `json:"format"`
	ID          string        `json:"id"` // short name of the folder's race, printed in the identity
	Name        string        `json:"name"`
	Date        string        `json:"date"` // YYYY-MM-DD
	Zone        string        `json:"time_zone"`
	ClockOffset time.Duration `json:"clock_offset_ns"` // official race time minus this laptop's clock
	Discipline  string        `json:"discipline"`
	Groups      []Group       `json:"groups"`
	Courses     []string      `json:"courses"`
	Runs        []Run         `json:"runs"`
	Codes       CodeBook      `json:"code_book"`
	Rules       RuleSettings  `json:"rules"`
	Starters    []Starter     `json:"starters"`
	Forerunners BibList       `json:"forerunners"`
	// SpotCheck is the share, 0 to 1, of bibs certain without a person that lot gives to one all the same.
	SpotCheck float64 `json:"spot_check"`
	// KeepUntil is the day, YYYY-MM-DD, to which people's data are kept; empty: nobody has said.
	KeepUntil string `json:"keep_until,omitempty"`
	// Language is the file beside race.yaml with the pages' texts in another language; empty: English, unless the desk is told another.
	Language string `json:"-"`
	// Reused are the codes that mean something else on cards that are out. Their rows propose nothing.
	Reused []ReusedCode `json:"-"`
}

// Run returns the run with the given number, or nil.
func (r *Race) Run(number int) *Run {
	for i := range r.Runs {
		if r.Runs[i].Number == number {
			return &r.Runs[i]
		}
	}
	return nil
}

// CourseIndex returns the number of a course as printed in the identity, from 1, or 0.
func (r *Race) CourseIndex(name string) int {
	for i, c := range r.Courses {
		if c == name {
			return i + 1
		}
	}
	return 0
}

// StartListMark tells one start list from another by who wears which bib: another name, club or course behind a bib gives
// another mark, the order of lines doesn't. It is a hash over all of them together, so that it holds nobody's name. Empty
// where there is no list, or none with names: an archive to hand around has none and says nothing of changes.
func (r *Race) StartListMark() string {
	var lines []string
	named := false
	for _, s := range r.Starters {
		named = named || s.Name != ""
		lines = append(lines, strings.Join([]string{s.Group, s.Number, s.Course, s.Name, s.Club}, "\x00"))
	}
	if !named {
		return ""
	}
	slices.Sort(lines)
	sum := sha256.Sum256([]byte("start list\x00" + r.ID + "\x00" + strings.Join(lines, "\x01")))
	return hex.EncodeToString(sum[:8])
}

// StartersWith returns all starters with the given number, in any group.
func (r *Race) StartersWith(number string) []Starter {
	var found []Starter
	for _, s := range r.Starters {
		if s.Number == number {
			found = append(found, s)
		}
	}
	return found
}
