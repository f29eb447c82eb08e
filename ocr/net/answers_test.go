package net_test

import (
	"encoding/binary"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/scan/camera/hand"
)

// recordsOf reads a file of records of one size: what a net was shown, and what it answered in PyTorch.
func recordsOf(t testing.TB, name string, size int) [][]byte {
	t.Helper()
	data, err := hand.ReadGzip("testdata/" + name + ".bin.gz")
	require.NoError(t, err)
	require.Zero(t, len(data)%size)
	return slices.Collect(slices.Chunk(data, size))
}

func float32At(b []byte) float32 { return math.Float32frombits(binary.LittleEndian.Uint32(b)) }
