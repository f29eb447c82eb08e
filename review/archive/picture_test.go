package archive

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/sheetmodel"
)

func packed(t testing.TB, img image.Image, asJPEG bool) []byte {
	t.Helper()
	var b bytes.Buffer
	if asJPEG {
		require.NoError(t, jpeg.Encode(&b, img, nil))
	} else {
		require.NoError(t, png.Encode(&b, img))
	}
	return b.Bytes()
}

// Source: ISO 32000-1, 7.4.4 and 7.4.8: a JPEG file goes in whole, PNG rows under predictor 15.
func TestReadPicture_KindsOfPages(t *testing.T) {
	size := image.Rect(0, 0, 9, 5)
	grey, thin, deep := image.NewGray(size), image.NewNRGBA(size), image.NewGray16(size)
	grey.SetGray(3, 2, color.Gray{Y: 77})
	for name, one := range map[string]struct {
		file    []byte
		colours int
		filter  string
	}{
		"grey PNG":           {packed(t, grey, false), 1, "Flate"},
		"PNG with clearness": {packed(t, thin, false), 1, "Flate"},
		"PNG of 16 bits":     {packed(t, deep, false), 1, "Flate"},
		"grey JPEG":          {packed(t, grey, true), 1, "DCT"},
		"JPEG in colour":     {packed(t, thin, true), 3, "DCT"},
	} {
		p, err := readPicture(one.file)
		require.NoError(t, err, name)
		assert.Equal(t, [3]int{9, 5, one.colours}, [3]int{p.width, p.height, p.colours}, name)
		assert.True(t, strings.HasPrefix(p.filter, "/Filter /"+one.filter), "%s: %s", name, p.filter)
		assert.NotEmpty(t, p.body, name)
	}
}

// FuzzReadPicture: whatever a page holds, it is taken or refused.
func FuzzReadPicture(f *testing.F) {
	grey := image.NewGray(image.Rect(0, 0, 9, 5))
	whole := packed(f, grey, false)
	f.Add(whole)
	f.Add(whole[:40])
	f.Add(packed(f, grey, true))
	f.Fuzz(func(t *testing.T, file []byte) {
		if c, _, err := image.DecodeConfig(bytes.NewReader(file)); err == nil && c.Width*c.Height > 1<<20 {
			return // the store keeps pages that we straightened ourselves
		}
		p, err := readPicture(file)
		if err == nil {
			assert.NotEmpty(t, p.body)
		}
	})
}

func TestShownReadings_JudgeAndPhone_OnlyIfAskedFor(t *testing.T) {
	box := sheetmodel.Rect{W: 9, H: 9}
	var s store.Sheet
	for _, field := range []string{"header.judge", "header.phone", "foot.row-count"} {
		s.Read.Reading.Header = append(s.Read.Reading.Header, sheetmodel.Reading{Field: field, Text: "7", State: sheetmodel.Clear, Region: box})
	}
	assert.Len(t, shownReadings(s, true), 3)
	shown := shownReadings(s, false)
	require.Len(t, shown, 1)
	assert.Equal(t, "foot.row-count", shown[0].Field)
}
