package review_test

import (
	"net/url"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Whoever leaves every entry for later meets each of them once in every round, and none is out of reach. Our own logic.
func TestLater_EveryEntryComesBackInTurn(t *testing.T) {
	h := openHut(t, afternoon(t))
	ada := sit(t, h.here, "Ada")
	a := ada.get("/next")
	var rounds [2][]string
	for i := range rounds {
		for !slices.Contains(rounds[i], a.path) {
			rounds[i] = append(rounds[i], a.path)
			a = ada.filled(a, url.Values{"do": {"later"}})
		}
	}
	require.Greater(t, len(rounds[0]), 2)
	assert.Equal(t, rounds[0], rounds[1])
}
