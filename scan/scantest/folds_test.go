package scantest

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan/camera"
)

// Photos on which the walk over the print once went astray, or stopped: seeds of a report that is used up, and of
// development. They were straightened wrongly, by up to the millimetres given, or refused.
func TestPhotos_PrintBeyondAFoldOrAShadow_IsFoundWhereItIs(t *testing.T) {
	if testing.Short() || *level != "" {
		t.Skip("takes ten seconds")
	}
	forms, kind := ready(t, camera.Hard)
	for _, c := range []struct {
		seed uint64
		was  string
	}{
		{4_000_811, "9.1 mm: a row too low beyond a fold, where no mark was in sight"},
		{4_000_841, "4.4 mm: a box beside, in a shadow"},
		{4_001_303, "7.6 mm: a box beside, beyond a fold and beside a glove"},
		{4_001_080, "refused: 63 % of the print seen, none of it beyond a fold"},
	} {
		s, err := Make(kind, c.seed)
		require.NoError(t, err)
		out := Judge(s, forms, time.Now)
		assert.Equal(t, Right, out.Verdict, "%d (%s): %s", c.seed, c.was, out.Why)
		for _, e := range out.Errors {
			if !assert.Less(t, e, 2.0, "%d (%s): mm", c.seed, c.was) {
				break
			}
		}
	}
}
