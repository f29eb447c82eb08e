package review_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// The operators of the keystroke-level model. Source: Card, Moran and Newell, The keystroke-level model for user
// performance time with interactive systems, Communications of the ACM 23 (1980) 396-410: a key by an average typist who
// is no secretary (40 words a minute), a hand that moves to the keyboard, and making up one's mind.
const (
	klmKey    = 280 * time.Millisecond
	klmHome   = 400 * time.Millisecond
	klmMental = 1350 * time.Millisecond
	// klmPage is the model's R, the wait for the page. It is what the page is held to at the 95th percentile, not the mean,
	// and not measured here.
	klmPage = 100 * time.Millisecond
)

// hands are a person's, who makes up their mind once for each entry.
type hands struct {
	keys   int
	minds  int
	pages  int
	homing int
}

func (h hands) seconds() time.Duration {
	return time.Duration(h.keys)*klmKey + time.Duration(h.minds)*klmMental + time.Duration(h.pages)*klmPage + time.Duration(h.homing)*klmHome
}

// thirtyCards is a course of thirty cards with twenty-five rows on them, fifteen cards with one or two and as many with none.
// Every row accuses and was written once, so every bib waits; two have a rival and go to the judge. It returns what
// stands on the paper, by the page of the entry.
func thirtyCards(t *testing.T) (b *stacktest.Table, ink map[string]string, judged map[string]bool) {
	t.Helper()
	b = stacktest.New(t)
	b.Race.Runs = b.Race.Runs[:1]
	run := &b.Race.Runs[0]
	run.DidNotStart, run.Reruns = sheetmodel.BibList{Given: sheetmodel.ListNone}, sheetmodel.BibList{Given: sheetmodel.ListNone} // and nobody on them
	run.Courses = []sheetmodel.CourseRun{*run.Course("Blue")}
	course := &run.Courses[0]
	course.Gates, course.Places = nil, nil
	for g := 1; g <= 60; g++ {
		course.Gates = append(course.Gates, fmt.Sprint(g))
	}
	for i := range 30 {
		course.Places = append(course.Places, sheetmodel.Place{Card: i + 1, Gates: course.Gates[2*i : 2*i+2], Judge: "a judge", Phone: "555 0100"})
	}
	ink, judged = map[string]string{}, map[string]bool{}
	starter := -1
	for card := 1; card <= 30; card++ {
		var rows []stacktest.Row
		for n := range rowsOn(card) {
			for starter++; b.Race.Starters[starter].Course != "Blue"; starter++ {
			}
			r := stacktest.Row{Bib: b.Race.Starters[starter].Number, Code: "F", Gate: fmt.Sprint(2*card - n), Panel: string(rune('B' + n))}
			page := bibPage(card, n+1)
			ink[page] = r.Bib
			if card == 4 || card == 16 {
				r.State, r.Rivals, judged[page] = sheetmodel.Doubtful, []string{r.Bib + "1"}, true
			}
			rows = append(rows, r)
		}
		b.Card("Blue", card, rows...)
	}
	require.Len(t, ink, 25)
	return b, ink, judged
}

// rowsOn deals twenty-five rows to thirty cards.
func rowsOn(card int) int {
	switch {
	case card%2 == 1:
		return 0
	case card <= 24 && card != 4 && card != 16:
		return 2
	}
	return 1
}

// Simulated hands settle a run by the keyboard alone: thirty cards with twenty-five rows, all of which wait. One number is
// misread at first and goes to a second person, two are asked of the judge. From the last card to the draft it takes less
// than five minutes at the model's pace, and for each entry no more than 1.3 times the keys and the seconds that typing the
// same numbers one below the other would take. What a judge takes to answer is not in it; a minute is left for each.
func TestHands_InChromium_ThirtyCardsToTheDraft(t *testing.T) {
	table, ink, judged := thirtyCards(t)
	server := open(t, table)
	bo := sit(t, server, "Bo")
	b := startBrowser(t)
	b.do(chromedp.Navigate(server.URL + "/who"))
	b.settle()
	b.keys("Ada" + kb.Enter)
	b.on("/")

	all, floor := hands{homing: 1}, hands{homing: 1}
	press := func(keys string) {
		b.keys(keys)
		all.keys += len([]rune(keys))
		all.pages++
	}
	press("e")
	misread, early := "", 0
	for range 40 {
		page := eval[string](b, `decodeURIComponent(location.pathname)`)
		text, waits := ink[page]
		if !waits {
			break
		}
		require.Eventually(t, func() bool {
			return evalThere[bool](b, `document.readyState === 'complete' && document.activeElement.id === 'text'`)
		}, 30*time.Second, 50*time.Millisecond, page)
		all.minds++
		floor.minds++
		floor.keys += len(text) + 1
		typed := text
		if misread == "" && !judged[page] {
			misread, typed = page, text+"9"
		}
		if judged[page] {
			press("**")
			all.pages-- // a mark on the same page
			require.Equal(t, "asked", eval[string](b, `document.querySelector('input[name=how]:checked').value`))
		}
		next := eval[string](b, `document.querySelector('[data-after]').dataset.after`)
		press(typed + kb.Enter)
		require.Eventually(t, func() bool {
			there := evalThere[string](b, `document.readyState + decodeURIComponent(location.pathname)`)
			return strings.HasPrefix(there, "complete") && there != "complete"+page
		}, 30*time.Second, 50*time.Millisecond, page)
		b.on(eval[string](b, `decodeURIComponent(location.pathname)`))
		// One key leads to the next entry, and the ink on it is the one that was fetched early.
		if next != "" {
			early++
			assert.Equal(t, next, eval[string](b, `document.querySelector('.band image').getAttribute('href')`))
		}
	}
	require.NotEmpty(t, misread)
	assert.Greater(t, early, 20)

	// The one that was misread waits for a second person, who opens the entries, types what they see, and is done.
	second := bo.get("/next")
	require.Equal(t, misread, second.path)
	bo.filled(second, url.Values{"text": {ink[misread]}, "how": {"paper"}, "do": {"settle"}})
	all.keys += 1 + len(ink[misread]) + 1
	all.minds++
	all.homing++
	all.pages += 2

	b.do(chromedp.Navigate(server.URL + "/draft"))
	b.settle()
	all.keys++
	left := eval[string](b, `document.querySelector('section.left').innerText`)
	assert.Contains(t, left, "Nothing is open", eval[string](b, `document.querySelector('main').innerText.slice(0, 1500)`))
	assert.Equal(t, 25, eval[int](b, `document.querySelectorAll('main .proposed .bib, main .bib:not(.small)').length`), "every row is proposed")
	s, _ := table.Load()
	for page, text := range ink {
		row := s.Row(refOf(t, page))
		assert.Equal(t, text, row.Bib, page)
		assert.Equal(t, sheetmodel.BibTwoLooks, row.BibState, page)
	}

	n := len(ink)
	keys, seconds := float64(all.keys)/float64(floor.keys), all.seconds().Seconds()/floor.seconds().Seconds()
	t.Logf("%d entries: %.2f keys and %.2f s each; typing the same numbers: %.2f keys and %.2f s each; %.2f and %.2f times; in all %s",
		n, float64(all.keys)/float64(n), all.seconds().Seconds()/float64(n), float64(floor.keys)/float64(n), floor.seconds().Seconds()/float64(n), keys, seconds, all.seconds())
	assert.LessOrEqual(t, keys, 1.3)
	assert.LessOrEqual(t, seconds, 1.3)
	assert.LessOrEqual(t, all.seconds()+time.Duration(len(judged))*time.Minute, 5*time.Minute)
	b.noFaults()
}

// refOf is the row of an entry's page.
func refOf(t *testing.T, page string) sheetmodel.RowRef {
	t.Helper()
	var card, row int
	_, err := fmt.Sscanf(strings.TrimPrefix(page, "/entry/run1/Blue/"), "card-%d/front/row-%d.bib", &card, &row)
	require.NoError(t, err, page)
	return ref(card, row)
}
