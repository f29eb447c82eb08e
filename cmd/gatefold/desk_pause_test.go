package main

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A photo that can't be kept, on a full disk say, is tried soon at first and then ever more seldom, but never given up; what costs
// nothing to look at again is looked at as often as ever. It is said once. Our own logic.
func TestDeskTaker_PhotoThatCantBeKept_WaitsLongerAndLonger(t *testing.T) {
	var waits []time.Duration
	for tries := 1; tries <= 12; tries++ {
		waits = append(waits, pause(tries))
	}
	assert.Equal(t, []time.Duration{5e9, 5e9, 5e9, 10e9, 20e9, 40e9, 80e9, 160e9, 300e9, 300e9, 300e9, 300e9}, waits)

	var said []string
	taker := &deskTaker{say: func(s string) { said = append(said, s) }, tries: map[string]int{}, waits: map[string]*time.Timer{}, faults: map[string]string{}, wake: make(chan struct{}, 1)}
	full := errors.New("no space left on device")
	for range 9 {
		taker.later("a", inTheWayError{full, false})
		taker.waits["a"].Stop()
		taker.later("b", inTheWayError{full, true})
		taker.waits["b"].Stop()
	}
	assert.Equal(t, 9, taker.tries["a"])
	assert.Zero(t, taker.tries["b"], "it was not read for nothing")
	assert.Len(t, said, 1)

	// One that could be kept shows that the way is free.
	taker.later("a", inTheWayError{full, false})
	taker.done("c")
	photo, ok := taker.next()
	require.True(t, ok)
	assert.Equal(t, "a", photo)
	assert.Empty(t, taker.waits)
}
