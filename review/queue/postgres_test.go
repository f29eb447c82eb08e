//go:build unix

package queue_test

import (
	"fmt"
	"testing"

	"gatefold/review/store/storetest/cluster"
)

func TestQueue_OnPostgres_KeepsItsPromises(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a server")
	}
	c := cluster.Start(t)
	n := 0
	for name, one := range promises {
		n++
		t.Run(name, func(t *testing.T) { one(t, newBed(t, c.Address(fmt.Sprint("race_", n)))) })
	}
}
