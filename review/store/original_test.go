package store_test

import (
	"path"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
)

// An original's ending names what it is, so that other programs open it; what the sender called it is kept
// beside it.
func TestAddPhoto_EndingNamesTheContent(t *testing.T) {
	s, err := store.Open(t.Context(), t.TempDir(), store.Options{Now: func() time.Time { return time.Unix(1_800_000_000, 0) }})
	require.NoError(t, err)
	defer func() { assert.NoError(t, s.Close()) }()
	for content, want := range map[string]string{
		"\xFF\xD8\xFF\xE0 and so on":         ".jpg",
		"\x89PNG\r\n\x1a\n and so on":        ".png",
		"II*\x00 and so on":                  ".tif",
		"MM\x00* and so on":                  ".tif",
		"%PDF-1.7 and so on":                 ".pdf",
		"\x00\x00\x00\x18ftypheic and so on": ".heic",
		"\x00\x00\x00\x18ftypmp42 and so on": ".bin", // a film
		"bib 12":                             ".bin",
	} {
		p, known, err := s.AddPhoto(t.Context(), "card.doc", strings.NewReader(content), -1, time.Time{})
		require.NoError(t, err)
		assert.False(t, known)
		assert.Equal(t, want, path.Ext(p.File), "%q", content)
		assert.Equal(t, "card.doc", p.Sent)
	}
}
