package review_test

import (
	"net/http"
	"net/url"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/stack/stacktest"
)

// sendAtOnce sends two forms at one instant, each by a person of their own, and returns what they got.
func sendAtOnce(people [2]*person, path string, forms [2]url.Values) (got [2]answer) {
	var ready, done sync.WaitGroup
	ready.Add(1)
	for i := range people {
		done.Go(func() {
			ready.Wait()
			got[i] = people[i].send(path, forms[i])
		})
	}
	ready.Done()
	done.Wait()
	return got
}

// Two people say at one instant which form a paper is: the first word counts, the other is told, and no word is lost to the other.
// Expected: our own logic.
func TestWhich_TwoFormsAtOnce_TheSecondIsTold(t *testing.T) {
	for range 6 {
		b := stacktest.New(t)
		forms := forkedCard(t, b, "league.jpg")
		s := open(t, b)
		people := [2]*person{sit(t, s, "Ada"), sit(t, s, "Bo")}
		for _, p := range people {
			require.Contains(t, p.get("/questions").body, "Which form is this?")
		}
		got := sendAtOnce(people, "/which", [2]url.Values{whichForm(forms[0], "1"), whichForm(forms[1], "2")})
		assert.ElementsMatch(t, []int{http.StatusOK, http.StatusConflict}, []int{got[0].status, got[1].status})
		st, _ := b.Load()
		assert.Empty(t, st.Unnamed)
		require.Len(t, st.Rows, 1)
		for i, a := range got {
			if a.status == http.StatusOK {
				assert.Equal(t, forms[i].ID, st.Rows[0].Sheet.ID)
			} else {
				assert.Contains(t, a.body, "This is not asked any more")
			}
		}
	}
}
