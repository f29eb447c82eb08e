package draft

import (
	"testing"

	"github.com/stretchr/testify/assert"
)

// A jury reads how often the reader claims to be wrong, not a figure of five decimals. Source of the odds: 1/(1-certainty), rounded
// to two digits. More than one in ten thousand is never claimed: sheetmodel's targets are shown no further.
func TestReadWords_CertaintyInAJurysWords(t *testing.T) {
	for _, c := range []struct {
		certainty float64
		want      string
	}{
		{0.99598, `Read in the field for the bib: "14", clear (by its own claim, the reader misreads such ink about once in 250 times).`},
		{0.9991, `Read in the field for the bib: "14", clear (by its own claim, the reader misreads such ink about once in 1,100 times).`},
		{0.999999, `Read in the field for the bib: "14", clear (by its own claim, the reader misreads such ink less than once in 10,000 times).`},
		{1, `Read in the field for the bib: "14", clear (by its own claim, the reader misreads such ink less than once in 10,000 times).`},
		{0.94, `Read in the field for the bib: "14", clear (by its own claim, the reader misreads such ink about once in 17 times).`},
		{0.5, `Read in the field for the bib: "14", clear (by its own claim, the reader misreads such ink every other time, or more often).`},
		{0.2, `Read in the field for the bib: "14", clear (by its own claim, the reader misreads such ink every other time, or more often).`},
		{0, `Read in the field for the bib: "14", clear.`},
	} {
		assert.Equal(t, c.want, readWords(ReadField{Field: "bib", Text: "14", State: "clear", Certainty: c.certainty}), c.certainty)
	}
}
