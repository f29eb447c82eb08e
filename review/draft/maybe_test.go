package draft_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"gatefold/review/draft"
)

func TestMayBe_ManyReadings_AreCounted(t *testing.T) {
	assert.Empty(t, draft.MayBe("", nil))
	assert.Equal(t, "46 or 40", draft.MayBe("46", []string{"40"}))
	assert.Equal(t, "17", draft.MayBe("", []string{"17"}))
	assert.Equal(t, "1 or 2 or 3 or 4", draft.MayBe("1", []string{"2", "3", "4"}))
	assert.Equal(t, "115 or 15 or 615 or 2 others", draft.MayBe("115", []string{"15", "615", "815", "5"}))
}
