package main

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/sheetmodel"
)

// A head names its card only if number, run, course and gates all do, each for certain. Our own logic.
func TestCardInHeader_NamesACardOnlyWithoutAnyDoubt(t *testing.T) {
	race := &sheetmodel.Race{Courses: []string{"Blue"}, Runs: []sheetmodel.Run{{Number: 1, Courses: []sheetmodel.CourseRun{{
		Course: "Blue", Gates: []string{"1", "2", "3", "4"}, Places: []sheetmodel.Place{{Card: 4, Gates: []string{"1", "2"}}, {Card: 5, Gates: []string{"3", "4"}}},
	}}}}}
	head := func(change func(m map[string]*sheetmodel.Reading)) sheetmodel.SheetReading {
		m := map[string]*sheetmodel.Reading{}
		for field, text := range map[string]string{"header.card": "4", "header.run": "1", "header.gate-from": "1", "header.gate-to": "2"} {
			m[field] = &sheetmodel.Reading{Field: field, Text: text, State: sheetmodel.Clear}
		}
		change(m)
		var read sheetmodel.SheetReading
		for _, r := range m {
			read.Header = append(read.Header, *r)
		}
		return read
	}
	four := sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 4}
	assert.Equal(t, four, cardInHeader(race, head(func(map[string]*sheetmodel.Reading) {})))
	for name, change := range map[string]func(m map[string]*sheetmodel.Reading){
		"number doubtful":       func(m map[string]*sheetmodel.Reading) { m["header.card"].State = sheetmodel.Doubtful },
		"number of another":     func(m map[string]*sheetmodel.Reading) { m["header.card"].Text = "5" },
		"no such place":         func(m map[string]*sheetmodel.Reading) { m["header.card"].Text = "6" },
		"run missing":           func(m map[string]*sheetmodel.Reading) { delete(m, "header.run") },
		"run without the place": func(m map[string]*sheetmodel.Reading) { m["header.run"].Text = "2" },
		"gates doubtful":        func(m map[string]*sheetmodel.Reading) { m["header.gate-to"].State = sheetmodel.Doubtful },
		"gates of another":      func(m map[string]*sheetmodel.Reading) { m["header.gate-from"].Text = "3" },
		"course doubtful": func(m map[string]*sheetmodel.Reading) {
			m["header.course"] = &sheetmodel.Reading{Field: "header.course", Text: "Blue", State: sheetmodel.Doubtful}
		},
		"another course": func(m map[string]*sheetmodel.Reading) {
			m["header.course"] = &sheetmodel.Reading{Field: "header.course", Text: "Red", State: sheetmodel.Clear}
		},
	} {
		assert.Zero(t, cardInHeader(race, head(change)), name)
	}
	race.Courses = append(race.Courses, "Red")
	assert.Zero(t, cardInHeader(race, head(func(map[string]*sheetmodel.Reading) {})), "two courses, and none is named")
}
