package scantest

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/scan/camera"
)

func stagedSample(t *testing.T, family camera.FamilyName, step int) *Sample {
	t.Helper()
	_, kind := ready(t, camera.Ordinary)
	kind.PxPerMM, kind.Doses = 6, []camera.Dose{{Family: family, Step: step}}
	s, err := Make(kind, testSeeds)
	require.NoError(t, err)
	return s
}

func TestJudgeCards_TwoCards_BothMustBeTheirOwn(t *testing.T) {
	forms, _ := ready(t, camera.Ordinary)
	s := stagedSample(t, "several", 1)
	o := JudgeCards(s, forms, time.Now)
	assert.Equal(t, Right, o.Verdict, o.Why)
	assert.Equal(t, 1, o.Extra)
	s.Identity, s.Others[0].Identity = s.Others[0].Identity, s.Identity
	assert.Equal(t, Wrong, JudgeCards(s, forms, time.Now).Verdict, "cards mixed up")
}

func TestJudgeCards_Refusals_AreDueOnlyWhenTrue(t *testing.T) {
	forms, _ := ready(t, camera.Ordinary)
	empty := stagedSample(t, "one-sided", 4)
	o := JudgeCards(empty, forms, time.Now)
	assert.Equal(t, Refused, o.Verdict)
	assert.True(t, o.Due, "an empty side")
	// The same photo taken for a printed side: nothing excuses the refusal.
	printed := *empty
	shot := camera.Flat(empty.Side.W, empty.Side.H, 6)
	printed.View = shot.View()
	o = JudgeCards(&printed, forms, time.Now)
	assert.Equal(t, Refused, o.Verdict)
	assert.False(t, o.Due)
}

func TestMake_SameFamilyStepAndSeed_SamePhoto(t *testing.T) {
	a, b := stagedSample(t, "wet", 3), stagedSample(t, "wet", 3)
	assert.Equal(t, a.JPEG, b.JPEG)
	assert.Equal(t, a.Identity, b.Identity)
}
