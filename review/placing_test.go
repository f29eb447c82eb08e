package review_test

import (
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// saved is what a phone had written into the race's files.
type saved struct {
	run    int
	course string
	place  sheetmodel.Place
	gone   bool
}

func placingHut(t *testing.T, all *[]saved, fault error) *hut {
	return openHut(t, stacktest.New(t), func(o *review.Options) {
		o.SavePlace = func(run int, course string, p sheetmodel.Place, gone bool) error {
			if fault == nil {
				*all = append(*all, saved{run, course, p, gone})
			}
			return fault
		}
	})
}

// wasField is what the form that changes a card's place says of it.
func wasField(t *testing.T, p *person, card int) string {
	t.Helper()
	page := p.get(fmt.Sprintf("/placing?run=1&course=Blue&card=%d", card))
	field := regexp.MustCompile(`name="was" value="([0-9a-f]{16})"`).FindStringSubmatch(page.body)
	require.NotNil(t, field, page.body)
	return field[1]
}

// Two people are offered the same next number. What the one has kept is not replaced by the other unawares; sent once more,
// it is. Source: our own logic.
func TestPlacing_SameNumberFromTwoPhones_ReplacesNothingUnawares(t *testing.T) {
	b := stacktest.New(t)
	race := *b.Race
	h := openHut(t, b, func(o *review.Options) {
		o.Race = func() (*sheetmodel.Race, error) { return &race, nil }
		o.SavePlace = func(run int, course string, p sheetmodel.Place, gone bool) error {
			next := race
			next.Runs = slices.Clone(race.Runs)
			next.Runs[0].Courses = slices.Clone(race.Runs[0].Courses)
			c := &next.Runs[0].Courses[0]
			c.Places = slices.DeleteFunc(slices.Clone(c.Places), func(o sheetmodel.Place) bool { return o.Card == p.Card })
			if !gone {
				c.Places = append(c.Places, p)
			}
			race = next
			return nil
		}
	})
	judge := func() string {
		places := race.Runs[0].Courses[0].Places
		i := slices.IndexFunc(places, func(p sheetmodel.Place) bool { return p.Card == 7 })
		if i < 0 {
			return ""
		}
		return places[i].Judge
	}
	ida, olli := h.pair("Ida", "photos"), h.pair("Olli", "photos")
	form := func(name, do, was string) url.Values {
		return formOf("run", "1", "course", "Blue", "do", do, "card", "7", "from", "30", "judge", name, "was", was)
	}
	require.Equal(t, http.StatusOK, ida.send("/placing", form("Ann", "place", "")).status)
	require.Equal(t, http.StatusOK, ida.send("/placing", form("Ann", "place", "")).status, "sent twice, it is no other place")
	a := olli.send("/placing", form("Ben", "place", ""))
	assert.Equal(t, http.StatusConflict, a.status)
	assert.Contains(t, a.body, "card 7 stands at gates 30 already, with Ann.")
	assert.Contains(t, a.body, `value="Ben"`, "what was typed stays")
	assert.Equal(t, "Ann", judge())
	assert.Equal(t, http.StatusConflict, olli.send("/placing", form("Ben", "remove", "")).status)
	field := regexp.MustCompile(`name="was" value="([0-9a-f]{16})"`).FindStringSubmatch(a.body)
	require.NotNil(t, field)
	require.Equal(t, http.StatusOK, olli.send("/placing", form("Ben", "place", field[1])).status)
	assert.Equal(t, "Ben", judge())
	require.Equal(t, http.StatusConflict, ida.send("/placing", form("Ann", "remove", field[1])).status, "it is another place now")
	assert.Equal(t, "Ben", judge())
}

func TestPlacing_AFewTaps_NameWhoStandsWhere(t *testing.T) {
	var all []saved
	p := placingHut(t, &all, nil).pair("Ida", "photos")
	page := p.get("/placing?run=1&course=Blue").body
	assert.Contains(t, page, `name="card" value="7"`, "after the last one")
	assert.Contains(t, page, "Trude Larchbroom")
	was := wasField(t, p, 6)
	place := func(pairs ...string) answer {
		pairs = append(pairs, "was", was)
		return p.send("/placing", formOf(append([]string{"run", "1", "course", "Blue", "do", "place"}, pairs...)...))
	}
	a := place("card", "6", "from", "29", "to", "31", "judge", " Ada\u202e  Fir ", "phone", "555 0199")
	assert.Contains(t, a.body, "Card 6 watches gates 29–31.")
	place("card", "6", "from", "29", "to", "31", "gates", "3-4, 9")
	place("card", "6", "from", "29", "to", "")
	p.send("/placing", formOf("run", "1", "course", "Blue", "do", "remove", "card", "6", "was", was))
	assert.Equal(t, []saved{
		{1, "Blue", sheetmodel.Place{Card: 6, Gates: []string{"29", "30", "31"}, Judge: "Ada Fir", Phone: "555 0199"}, false},
		{1, "Blue", sheetmodel.Place{Card: 6, Gates: []string{"3", "4", "9"}}, false},
		{1, "Blue", sheetmodel.Place{Card: 6, Gates: []string{"29"}}, false},
		{1, "Blue", sheetmodel.Place{Card: 6}, true},
	}, all)
}

func TestPlacing_Mistakes_AreSaidAndNothingIsKept(t *testing.T) {
	var all []saved
	h := placingHut(t, &all, nil)
	p := h.pair("Ida", "photos")
	for _, form := range []url.Values{
		formOf("card", "x", "from", "1"), formOf("card", "0", "from", "1"), formOf("card", "201", "from", "1"), formOf("card", "6", "from", "99"), formOf("card", "6", "from", "9", "to", "3"), formOf("card", "6"),
	} {
		form.Set("run", "1")
		form.Set("course", "Blue")
		form.Set("judge", "Ada Fir")
		a := p.send("/placing", form)
		assert.Equal(t, http.StatusUnprocessableEntity, a.status, form)
		assert.Contains(t, a.body, `value="Ada Fir"`, "what was typed stays")
	}
	assert.Equal(t, http.StatusNotFound, p.send("/placing", formOf("run", "9", "course", "Blue", "card", "6", "from", "1")).status)
	assert.Empty(t, all)
	q := placingHut(t, &all, errors.New("race.yaml:4: it has a mistake; mend it")).pair("Ida", "settle")
	a := q.send("/placing", formOf("run", "1", "course", "Blue", "card", "6", "from", "1", "was", wasField(t, q, 6)))
	assert.Equal(t, http.StatusUnprocessableEntity, a.status)
	assert.Contains(t, a.body, "it has a mistake; mend it")
	assert.NotContains(t, h.pair("Vic", "view").get("/").body, "/placing")
}

// A place of several stretches opens as such: saved again, it stays what it was.
func TestPlacing_SeveralStretches_StayWhatTheyAre(t *testing.T) {
	var all []saved
	h := placingHut(t, &all, nil)
	h.table.Race.Run(1).Course("Blue").Places[5].Gates = []string{"3", "4", "9"}
	body := h.pair("Ida", "photos").get("/placing?run=1&course=Blue&card=6").body
	require.Contains(t, body, `name="gates" value="3-4, 9"`)
	assert.Contains(t, body, "Nobody stands here with it")
}
