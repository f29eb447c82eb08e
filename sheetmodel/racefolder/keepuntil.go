package racefolder

import (
	"fmt"
	"time"

	"gatefold/sheetmodel"
)

// usualYears is how long after the race a new race file keeps people's data: a season's protests and questions
// are over by then. Common practice, no source; a league or the law may say otherwise.
const usualYears = 1

// keepUntil reads the day to which people's data are kept.
func (f *raceFile) keepUntil() {
	if !f.top.has("keep_until") {
		return
	}
	t := f.top.text("keep_until")
	day, err := time.Parse(time.DateOnly, t)
	if err != nil {
		f.top.fail("keep_until", "keep_until %q is not a day of the calendar; write it as year-month-day, 2028-01-23", shorten(t))
		return
	}
	if race, err := time.Parse(time.DateOnly, f.race.Date); err == nil && day.Before(race) {
		f.top.fail("keep_until", "keep_until %s is before the race; write a day after %s", t, f.race.Date)
		return
	}
	f.race.KeepUntil = t
}

// Overdue says in a sentence that the day to which people's data are kept is past, or "". now is a moment; the
// day ends where the race was.
func Overdue(race *sheetmodel.Race, now time.Time) string {
	if race.KeepUntil == "" {
		return ""
	}
	if zone, err := sheetmodel.LoadZone(race.Zone); err == nil {
		now = now.In(zone)
	}
	if now.Format(time.DateOnly) <= race.KeepUntil {
		return ""
	}
	return fmt.Sprintf("keep_until in %s was %s: names and phone numbers should not be in this folder any more; remove them with gatefold forget, "+
		"or pack the race without names and delete the folder, or write a later day if somebody has decided so", RaceFile, race.KeepUntil)
}
