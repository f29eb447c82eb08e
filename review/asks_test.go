package review_test

import (
	"net/http"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

var askList = regexp.MustCompile(`(?s)<section class="asks".*?</section>`)

// askedOn is what the page asks judges, as lines.
func askedOn(t testing.TB, b *stacktest.Table) string {
	t.Helper()
	a := openHut(t, b).pair("Ida", "photos").get("/photos?part")
	require.Equal(t, http.StatusOK, a.status, a.body)
	return askList.FindString(a.body)
}

func TestAsks_NameWhatOnlyTheJudgeCanMend(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1,
		stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, // complete
		stacktest.Row{Bib: "15", Code: "F", Gate: "6"},             // a fault without a drawing
		stacktest.Row{Bib: "16", Code: "K"},                        // lost, but where
		stacktest.Row{Bib: "17", Gate: "6"},
		stacktest.Row{Code: "K", Gate: "6"},
		stacktest.Row{Bib: "18", Code: "F", Struck: true}, // the judge took it back
		stacktest.Row{Bib: "19", Code: "F", Gate: "6", Panel: "C", NoPath: true})
	asked := askedOn(t, b)
	for _, line := range []string{"<h3>Card 1", "row 2: names no drawing", "row 3: no gate", "row 4: nothing says what happened", "row 5: no bib", "row 7: perhaps no path drawn, only the gates"} {
		assert.Contains(t, asked, line)
	}
	assert.NotContains(t, asked, "row 1:")
	assert.NotContains(t, asked, "row 6:")
	assert.Contains(t, asked, "photograph the card again")
	assert.Empty(t, askedOn(t, stacktest.New(t)))
}

func TestAsks_AreFiveAtMost(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14"}, stacktest.Row{Bib: "15"}, stacktest.Row{Bib: "16"}, stacktest.Row{Bib: "17"})
	asked := askedOn(t, b)
	assert.Equal(t, 5, strings.Count(asked, "<li>"))
	assert.Contains(t, asked, "and 3 more lines") // two for each row
}

// The judge adds the gate, and the card is photographed again: it isn't asked any more, both photos stay, and somebody
// says which one counts before the row does. Source: our own logic.
func TestAsks_MendedAndPhotographedAgain_BothPhotosStay(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "15", Code: "F", Panel: "C"})
	require.Contains(t, askedOn(t, b), "row 2: no gate")
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "15", Code: "F", Gate: "7", Panel: "C"})
	assert.NotContains(t, askedOn(t, b), "row 2")
	st, _ := b.Load()
	assert.Len(t, st.Photos, 2)
	require.NotNil(t, st.Cards)
	c := st.Card(sheetmodel.CardKey{Run: 1, Course: "Blue", Card: 1})
	require.NotNil(t, c)
	assert.Len(t, c.Other, 2, "both sides of the earlier photo")
	body := sit(t, open(t, b), "Lou").get("/questions").body
	assert.Contains(t, body, "differ in row 2")
	assert.Contains(t, body, "the earlier photo")
	assert.Contains(t, body, "the later photo")
}

// What was heard or typed of a card stays, and a newer photo that shows another bib doesn't take its place: nothing
// stands before a person has looked. Source: our own logic.
func TestAsks_NewerPhoto_ReplacesNoTypedRow(t *testing.T) {
	for _, state := range []sheetmodel.State{sheetmodel.Clear, sheetmodel.Doubtful} {
		b := stacktest.New(t)
		h := openHut(t, b)
		b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "52", Code: "F", Gate: "5", Panel: "B"})
		require.Contains(t, h.pair("Ida", "hear").hears(1, "row-01", "14", "row-02", "52").body, "Rows 1, 2: two looks agree.")
		b.Card("Blue", 1, stacktest.Row{Bib: "19", Code: "F", Gate: "6", Panel: "B", State: state}) // the second row isn't in the picture
		st, r := b.Load()
		for _, row := range []int{1, 2} {
			require.NotNil(t, st.Row(ref(1, row)), "row %d is gone", row)
			assert.Equal(t, sheetmodel.BibWaiting, st.Row(ref(1, row)).BibState, "row %d, %s", row, state)
		}
		for _, c := range r.Calls {
			assert.True(t, c.Waiting, "a call stands: %+v", c)
		}
		typed := 0
		for _, d := range st.Decisions {
			if d.Undone == nil && d.ReadBack {
				typed++
			}
		}
		assert.Equal(t, 2, typed)
	}
}

// Whatever is read in boxes that are full, the page asks the same: nobody can tell a bib from it.
func TestAsks_FollowFromNoBib(t *testing.T) {
	card := func(state sheetmodel.State, rivals []string, bibs ...string) string {
		b := stacktest.New(t)
		b.Card("Blue", 1,
			stacktest.Row{Bib: bibs[0], Code: "F", Gate: "6", State: state, Rivals: rivals},
			stacktest.Row{Bib: bibs[1], Code: "K", State: state, Rivals: rivals},
			stacktest.Row{Bib: bibs[2], Code: "F", Gate: "6", Panel: "B", State: state, Rivals: rivals})
		return askedOn(t, b)
	}
	first := card(sheetmodel.Clear, nil, "14", "15", "16")
	require.Contains(t, first, "row 2: no gate")
	assert.Equal(t, first, card(sheetmodel.Clear, nil, "15", "14", "15"))
	assert.Equal(t, first, card(sheetmodel.Doubtful, []string{"27"}, "4871", "9", "4871")) // two of them the same, one on no list
}

// A phone that takes photos is told no text that may still be typed, on no page and in no answer.
func TestSecrecy_PhonesPages_HoldNoTextThatMayStillBeTyped(t *testing.T) {
	b, secrets := secretStack(t)
	photos, err := b.Store.Photos(t.Context())
	require.NoError(t, err)
	h := openHut(t, b)
	p := h.pair("Ida", "photos")
	paths := []string{"/photos", "/photos?part", "/who", "/pair"}
	for _, photo := range photos {
		paths = append(paths, "/photos/seen?id="+photo.ID, "/photos?sent="+photo.ID)
	}
	for _, path := range paths {
		a := p.get(path)
		require.Equal(t, http.StatusOK, a.status, path)
		for _, secret := range secrets {
			for _, photo := range photos {
				a.body = strings.ReplaceAll(a.body, photo.ID, "") // a hash may hold any digits
			}
			assert.Empty(t, leak(a, secret), "%s in %s", secret, path)
		}
	}
	told, err := b.Store.ServedLog(t.Context())
	require.NoError(t, err)
	for _, v := range told {
		assert.NotEqual(t, "Ida", v.Person, "nothing was given away, so nothing had to be logged")
	}
}

// The judge reads a bib aloud, writes another one over it, and the card is photographed again: the row waits, and somebody
// who hasn't heard it yet hears it read once more. Source: our own logic.
func TestReadBack_MendedAfterIt_IsHeardOnceMore(t *testing.T) {
	b := stacktest.New(t)
	h := openHut(t, b)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"})
	require.Contains(t, h.pair("Ida", "hear").hears(1, "row-01", "14").body, "Row 1: two looks agree.")
	b.Card("Blue", 1, stacktest.Row{Bib: "19", Code: "F", Gate: "6", Panel: "B", State: sheetmodel.Doubtful, Doubt: sheetmodel.DoubtOverwritten, Rivals: []string{"14"}})
	st, result := b.Load()
	require.Equal(t, sheetmodel.BibWaiting, st.Row(ref(1, 1)).BibState)
	for _, c := range result.Calls {
		assert.True(t, c.Waiting, "a call stands: %+v", c)
	}
	assert.Contains(t, sit(t, h.here, "Lou").get(bibPage(1, 1)).body, "another photo shows other ink than was typed or heard")
	require.Contains(t, h.pair("Olli", "hear").hears(1, "row-01", "19").body, "Row 1: two looks agree.")
	st, _ = b.Load()
	assert.Equal(t, "19", st.Row(ref(1, 1)).Bib)
}

// An entry that waits for a word about its card's photos isn't called settled. Source: our own logic.
func TestEntry_TwoPicturesDiffer_LeadsToTheQuestion(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6"})
	b.Card("Blue", 1, stacktest.Row{Bib: "19", Code: "F", Gate: "6"})
	a := sit(t, open(t, b), "Ada").get(bibPage(1, 1))
	assert.Equal(t, "/questions", a.path)
	assert.Contains(t, a.body, "Say first which one counts")
	assert.NotContains(t, a.body, "settled or can&#39;t change")
}
