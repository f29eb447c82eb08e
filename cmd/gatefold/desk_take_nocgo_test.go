//go:build !cgo

package main

import (
	"bytes"
	"image"
	"image/jpeg"
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A program without image support keeps photos and says that it can't read them.
func TestDesk_PhotosFromAPhone_WithoutImageSupport_AreKeptAndSaid(t *testing.T) {
	d := openDeskOn(t, raceCopy(t))
	p := d.pair("Ida", "photos")
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 80, 60)), nil))
	_, got := p.photo("IMG.jpg", b.Bytes())
	told := p.until(got.ID)
	assert.Equal(t, "unread", told.State)
	assert.Contains(t, told.Words[0], "without image support")
	assert.Len(t, originals(t, d.race), 1)
	_, page := p.do(http.MethodGet, "/photos", "", nil)
	assert.Contains(t, page, "Photos are kept all the same")
}
