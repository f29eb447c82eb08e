package main

import (
	"compress/gzip"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/ocr/calib"
	"gatefold/ocr/train/strips"
)

// Looks at one cell follow each other in a file; strips of two cells are no looks at one. A cell of two is of the kind of high ones.
// Source: our own logic.
func TestReadCells_LooksOfTwoCells_AreRefused(t *testing.T) {
	write := func(texts ...string) string {
		path := filepath.Join(t.TempDir(), "x.gz")
		f, err := os.Create(path)
		require.NoError(t, err)
		z := gzip.NewWriter(f)
		for _, text := range texts {
			_, err = z.Write((&strips.Record{Text: text, Type: strips.Bib, Spoil: strips.Clean, Writer: 7}).Bytes())
			require.NoError(t, err)
		}
		require.NoError(t, z.Close())
		require.NoError(t, f.Close())
		return path
	}
	for _, texts := range [][]string{{"12", "12", "13"}, {"12", "13"}} {
		_, err := readCells(write(texts...), 2)
		require.ErrorContains(t, err, "makestrips -high")
	}
	for looks, want := range map[int]calib.Kind{1: calib.CellBib, 2: calib.CellBibHigh} {
		got, err := readCells(write("12", "12"), looks)
		require.NoError(t, err)
		require.Len(t, got, 2/looks)
		assert.Equal(t, want, got[0].kind)
	}
}
