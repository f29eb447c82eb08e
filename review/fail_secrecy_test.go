package review_test

import (
	"bytes"
	"errors"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

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

// Why a photo can't be read may name a line of the race's files and a place on the disk: a phone that only takes photos is told that
// the laptop knows, as on pages. Source: OWASP ASVS 5.0.0, 16.5.1.
func TestPhotos_CannotBeRead_PhonesAreToldNoPlaceAndNoLine(t *testing.T) {
	why := `/home/lou/race/race.yaml:43: run 1, Blue, place 1: "fone" is not a key here`
	h := openHut(t, afternoon(t), func(o *review.Options) { o.Taker = cannotRead(why) })
	p := h.pair("Ida", "photos")
	data := jpegOf("card 6 front")
	a, told := p.upload("IMG.jpg", bytes.NewReader(data), int64(len(data)))
	require.Equal(t, http.StatusOK, a.status, a.body)
	assert.Equal(t, "unread", told.State)
	for _, text := range []string{a.body, p.get("/photos/seen?id=" + told.ID).body, p.get("/photos").body, p.get("/photos?part").body} {
		assert.NotContains(t, text, "/home/lou")
		assert.NotContains(t, text, "fone")
	}
	assert.Contains(t, p.get("/photos").body, "told why")
	assert.Contains(t, sit(t, h.here, "Lou").get("/photos").body, "/home/lou/race/race.yaml:43")
}

// cannotRead reads nothing, for the reason that it is.
type cannotRead string

func (cannotRead) Take(string) {}

func (c cannotRead) Fault(string) string { return string(c) }
