package store_test

import (
	"sync"
	"testing"
	"time"
)

// Programs that begin on the same new race at once all get their store: each says what it kept, before it is killed.
// Our own logic.
func TestOpen_SeveralAtOnceOnANewRace_AllGetIn(t *testing.T) {
	for range 10 {
		dir := t.TempDir()
		var all sync.WaitGroup
		for range 4 {
			all.Go(func() { untilKilled(t, dir, time.Millisecond) }) // which wants a word from it
		}
		all.Wait()
	}
}
