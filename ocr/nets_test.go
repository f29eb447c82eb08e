package ocr_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/ocr"
	"gatefold/ocr/readertest"
)

func TestEmbeddedNets(t *testing.T) {
	readertest.Suite(t, func(t *testing.T) ocr.Classifier {
		c, err := ocr.OpenNets()
		require.NoError(t, err)
		return c
	})
}
