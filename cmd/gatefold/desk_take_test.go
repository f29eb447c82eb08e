//go:build cgo

package main

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
)

// A photo from a phone is what gatefold collect makes of it: kept, read, tied, or refused with the reason.
func TestDesk_PhotosFromAPhone_AreReadAsCollected(t *testing.T) {
	photos := filepath.Join(demoStackDir, "photos")
	front, back := fileOf(t, filepath.Join(photos, "card-01-front.jpg")), fileOf(t, filepath.Join(photos, "card-01-back.jpg"))
	d := openDeskOn(t, raceCopy(t))
	p := d.pair("Ida", "photos")

	status, got := p.photo("IMG 1.jpg", front)
	require.Equal(t, http.StatusOK, status)
	assert.Equal(t, "reading", got.State, "the answer waits for the disk, not for the reader")
	require.Len(t, originals(t, d.race), 1)
	assert.Equal(t, front, fileOf(t, filepath.Join(d.race, "originals", originals(t, d.race)[0])))
	first := p.until(got.ID)
	assert.Equal(t, "good", first.State, first)
	assert.Equal(t, []string{"card 1, run 1, front: good"}, first.Words)

	// Sent again: the same photo, not another one.
	status, again := p.photo("image.jpg", front)
	assert.Equal(t, http.StatusOK, status)
	assert.Equal(t, first, again)
	assert.Len(t, originals(t, d.race), 1)

	_, other := p.photo("IMG 2.jpg", back)
	assert.Equal(t, []string{"card 1, run 1, back: good"}, p.until(other.ID).Words)
	_, dark := p.photo("dark.jpg", darkPhoto(t))
	refused := p.until(dark.ID)
	assert.Equal(t, "refused", refused.State)
	assert.NotEmpty(t, refused.Do, "what to do")

	_, page := p.do(http.MethodGet, "/photos?part", "", nil)
	assert.NotContains(t, page, "<strong>Card 1</strong>", "it isn't missing any more")
	assert.Contains(t, page, "<strong>Card 4</strong> both sides")
	d.close()

	// The store holds what collect would have put there.
	collected := raceCopy(t)
	var out, errs said
	a := &app{out: &out, errs: &errs, now: time.Now}
	require.Equal(t, int(exitDone), a.run(t.Context(), []string{"collect", collected, filepath.Join(photos, "card-01-front.jpg"), filepath.Join(photos, "card-01-back.jpg")}), errs.String())
	assert.Equal(t, readsOf(t, collected), readsOf(t, d.race))
}

// readsOf is what a race's store holds of its cards, certainties left out: their last bits follow the order in
// which sums were made.
func readsOf(t *testing.T, race string) map[string]string {
	t.Helper()
	s, err := store.Open(t.Context(), race, store.Options{Now: time.Now})
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	sheets, err := s.Sheets(t.Context())
	require.NoError(t, err)
	all := map[string]string{}
	for _, sheet := range sheets {
		all[sheet.Key("page")] = sheet.PageSHA256
		all[sheet.Key("alone")] = strings.Join(sheet.Read.Alone, " ")
		for _, r := range sheet.Read.Reading.Readings() {
			all[sheet.Key(r.Field)] = fmt.Sprintf("%q %s %v", r.Text, r.State, r.Doubts)
		}
	}
	ties, err := s.Ties(t.Context())
	require.NoError(t, err)
	require.NotEmpty(t, ties)
	for _, tie := range ties[len(ties)-1].Ties {
		all[fmt.Sprintf("tie of row %d", tie.Row)] = fmt.Sprint(tie.Panel, tie.Entry, tie.Text, tie.Clear, tie.Differs, tie.Detail)
	}
	return all
}

// darkPhoto is a photo on which nothing is seen.
func darkPhoto(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, image.NewGray(image.Rect(0, 0, 1600, 1200)), nil))
	return b.Bytes()
}

// A desk that was stopped between keeping a photo and reading it reads it when it is opened again.
func TestDesk_UnreadPhotos_AreReadWhenItOpens(t *testing.T) {
	race := raceCopy(t)
	s, err := store.Open(t.Context(), race, store.Options{Now: time.Now})
	require.NoError(t, err)
	kept, _, err := s.AddPhoto(t.Context(), "late.jpg", bytes.NewReader(fileOf(t, filepath.Join(demoStackDir, "photos", "card-01-front.jpg"))), -1, time.Time{})
	require.NoError(t, err)
	require.NoError(t, s.Close())
	p := openDeskOn(t, race).pair("Ida", "photos")
	assert.Equal(t, "good", p.until(kept.ID).State)
}

// A photo that comes in while race.yaml has a mistake, say half way through a change, is read once that is mended: nobody has to
// send it again. Source: our own logic.
func TestDesk_PhotoWhileRaceFileIsBroken_IsReadOnceMended(t *testing.T) {
	d := openDeskOn(t, raceCopy(t))
	p := d.pair("Ida", "photos")
	file := filepath.Join(d.race, "race.yaml")
	good := fileOf(t, file)
	require.NoError(t, os.WriteFile(file, bytes.Replace(good, []byte("phone: 555-0101"), []byte("fone: 555-0101"), 1), 0o600))
	_, kept := p.photo("IMG 1.jpg", fileOf(t, filepath.Join(demoStackDir, "photos", "card-01-front.jpg")))
	assert.Equal(t, "unread", p.until(kept.ID).State)
	require.NoError(t, os.WriteFile(file, good, 0o600))
	require.Eventually(t, func() bool { return p.until(kept.ID).State == "good" }, 60*time.Second, 200*time.Millisecond)
}

// A connection that breaks leaves nothing behind, and the photo comes again as if for the first time.
func TestDesk_UploadCutInTheMiddle_LeavesNothing(t *testing.T) {
	d := openDeskOn(t, raceCopy(t))
	p := d.pair("Ida", "photos")
	photo := fileOf(t, filepath.Join(demoStackDir, "photos", "card-01-front.jpg"))
	at, err := url.Parse(d.phones)
	require.NoError(t, err)
	cookie := p.http.Jar.Cookies(at)[0]
	c, err := (&net.Dialer{}).DialContext(t.Context(), "tcp", at.Host)
	require.NoError(t, err)
	head := "POST /photos HTTP/1.1\r\nHost: " + at.Host + "\r\nOrigin: " + d.phones + "\r\nCookie: " + cookie.String() +
		"\r\nContent-Type: application/octet-stream\r\nContent-Length: " + strconv.Itoa(len(photo)) + "\r\n\r\n"
	_, err = io.WriteString(c, head+string(photo[:len(photo)/2]))
	require.NoError(t, err)
	require.NoError(t, c.Close())
	require.Eventually(t, func() bool { return len(originals(t, d.race)) == 0 }, 10*time.Second, 20*time.Millisecond)
	status, got := p.photo("IMG.jpg", photo)
	assert.Equal(t, http.StatusOK, status)
	assert.Equal(t, "good", p.until(got.ID).State)
	assert.Len(t, originals(t, d.race), 1)
}

// What isn't a photo, or is named as none should be, does no harm.
func TestDesk_HostileUploads_AreRefused(t *testing.T) {
	d := openDeskOn(t, raceCopy(t))
	p := d.pair("Eve", "photos")
	for name, data := range map[string][]byte{"page.html": []byte("<script>alert(1)</script>"), "empty.jpg": {}, "prog.exe": []byte("MZ\x90\x00\x03\x00\x00\x00\x04\x00\x00\x00\xff\xff\x00\x00")} {
		status, got := p.photo(name, data)
		assert.Equal(t, http.StatusUnsupportedMediaType, status, name)
		assert.Equal(t, "refused", got.State, name)
	}
	assert.Empty(t, originals(t, d.race))
	_, got := p.photo("../../../race.yaml", append([]byte("\xff\xd8\xff\xe0"), make([]byte, 400)...))
	assert.Equal(t, "refused", p.until(got.ID).State)
	assert.Regexp(t, `^[0-9a-f]{64}\.jpg$`, strings.Join(originals(t, d.race), " "))
	assert.Equal(t, fileOf(t, filepath.Join(demoRaceDir, "race.yaml")), fileOf(t, filepath.Join(d.race, "race.yaml")))
	laptop := newCaller(t, d.here)
	laptop.form("/who", url.Values{"name": {"Lou"}, "to": {"/"}})
	_, stack := laptop.do(http.MethodGet, "/", "", nil)
	assert.Regexp(t, `<th scope="row">race\.yaml</th>`, stack, "the name without its folders")
	_, err := os.Stat(filepath.Join(d.race, "..", "race.yaml"))
	assert.ErrorIs(t, err, os.ErrNotExist)
}
