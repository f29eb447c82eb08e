package review_test

import (
	"errors"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/review"
	"gatefold/sheetmodel"
)

// A mistake in the race's files is told with the line it stands in, and that may hold a child's name or a phone number:
// whoever is only to look, or photographs, isn't told it. Source: our own logic.
func TestFail_MistakeInTheRacesFiles_NamesNobodyToAViewer(t *testing.T) {
	b := afternoon(t)
	broken := false
	h := openHut(t, b, func(o *review.Options) {
		o.Race = func() (*sheetmodel.Race, error) {
			if broken {
				return nil, errors.New(`/home/lou/race/startlist.csv:12: bib "Ida Moss +43 555 0199": a bib has no spaces`)
			}
			return b.Race, nil
		}
	})
	laptop := sit(t, h.here, "Lou")
	for _, role := range []string{"view", "photos", "hear", "settle"} {
		p := h.pair("Mia "+role, role)
		broken = true
		for _, path := range []string{"/", "/photos", "/readback", "/draft", "/live?once", "/nowhere"} {
			a := p.get(path)
			for _, secret := range []string{"Ida Moss", "0199", "/home/lou"} {
				assert.Equal(t, role == "settle" && a.status == http.StatusInternalServerError, strings.Contains(a.body, secret), "%s: %s: %s", role, path, secret)
			}
		}
		assert.Contains(t, laptop.get("/draft").body, "Ida Moss", "whoever mends it is told where")
		broken = false
	}
}
