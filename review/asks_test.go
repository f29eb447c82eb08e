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
		stacktest.Row{Bib: "18", Code: "F", Struck: true}) // the judge took it back
	asked := askedOn(t, b)
	for _, line := range []string{"<h3>Card 1", "row 2: names no drawing", "row 3: no gate", "row 4: nothing says what happened", "row 5: no bib"} {
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
