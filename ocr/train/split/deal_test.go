package main

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/testdata/split"
)

func TestDeal_InventedWriters_WholeWritersOnly(t *testing.T) {
	const writers, each = 539, 3
	ids := make([]int, writers*each)
	for i := range ids {
		ids[i] = 1000 + i%writers
	}
	lists := deal(ids)
	assert.Len(t, lists["train"], trainWriters*each)
	assert.Len(t, lists["select"], selectWriters*each)
	assert.Len(t, lists["calibration"], calibrationWriters*each)
	assert.Len(t, lists["threshold"], 69*each)
	part := make(map[int]string)
	for _, name := range []string{"train", "calibration", "threshold"} {
		for _, i := range lists[name] {
			if was, ok := part[ids[i]]; ok {
				assert.Equal(t, was, name, "writer %d is split", ids[i])
			}
			part[ids[i]] = name
		}
	}
	assert.Len(t, part, writers)
}

func TestDeal_RealWriterIDs_MakeTheCommittedLists(t *testing.T) {
	data := os.Getenv("GATEFOLD_DATA")
	if data == "" {
		t.Skip("GATEFOLD_DATA is not set: MNIST's writer ids are not here; the lists' counts are tested in testdata/split")
	}
	ids, err := readWriters(filepath.Join(data, "mnist-writers", "mnist-train-writers.csv.gz"))
	require.NoError(t, err)
	lists := deal(ids)
	assert.Equal(t, split.Train(), lists["train"])
	assert.Equal(t, split.Select(), lists["select"])
	assert.Equal(t, split.Calibration(), lists["calibration"])
	assert.Equal(t, split.Threshold(), lists["threshold"])
}
