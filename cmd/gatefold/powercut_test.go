//go:build cgo && linux

package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/store"
	"gatefold/review/store/powercut"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// Power cuts through the commands themselves: collect, work, and a desk with a phone are recorded at their work, with the
// real reader, and the power goes at drawn moments. Whatever was printed or answered by then is looked for.

var (
	powerCuts    = flag.Int("cuts", 15, "how many power cuts to simulate in a recorded day of commands")
	powerCutSeed = flag.Uint64("seed", 1, "seed of what each cut keeps")
)

const powerVictim = "GATEFOLD_POWERCUT_RACE"

// tellKept says on standard output that something was acknowledged; the recording holds the moment. A line is one call.
func tellKept(kind string, what ...any) {
	fmt.Println(append([]any{"kept", kind}, what...)...)
}

// reported is the output of `gatefold collect --json`: what it names counts as acknowledged once it is whole.
type reported struct{ b bytes.Buffer }

func (r *reported) Write(p []byte) (int, error) {
	r.b.Write(p)
	var got collectReport
	if json.Unmarshal(r.b.Bytes(), &got) == nil {
		for _, f := range got.Photos {
			tellKept("photo", f.SHA256)
			if f.Refused != nil {
				tellKept("refused", f.SHA256)
			} else {
				tellKept("read", f.SHA256)
			}
		}
	}
	return len(p), nil
}

// sentence is the output of a command that acknowledges with a sentence.
type sentence struct {
	words string
	then  func()
}

func (s *sentence) Write(p []byte) (int, error) {
	if strings.Contains(string(p), s.words) {
		s.then()
	}
	return len(p), nil
}

func sumOf(data []byte) string { return fmt.Sprintf("%x", sha256.Sum256(data)) }

// TestPowerCut_DayOfCommands_Itself is the day that is recorded; it runs in a process of its own.
func TestPowerCut_DayOfCommands_Itself(t *testing.T) {
	race := os.Getenv(powerVictim)
	if race == "" {
		t.Skip("is run by TestPowerCut_ThroughTheCommands_LosesNothingAcknowledged")
	}
	photo := func(name string) string { return filepath.Join(demoStackDir, "photos", name) }
	dark := filepath.Join(t.TempDir(), "dark.jpg")
	require.NoError(t, os.WriteFile(dark, darkPhoto(t), 0o600))
	var errs said
	command := func(out io.Writer, want exitCode, words ...string) {
		a := &app{out: out, errs: &errs, now: time.Now}
		require.Equal(t, int(want), a.run(t.Context(), words), errs.String())
	}
	command(&reported{}, exitDone, "collect", race, "--json", photo("card-01-front.jpg"), photo("card-01-back.jpg"))
	command(&reported{}, exitRefused, "collect", race, "--json", photo("card-03-front.jpg"), dark)
	later := []string{photo("card-02-front.jpg"), photo("card-02-back.jpg")}
	command(&sentence{"2 photos kept, to be read later", func() {
		for _, f := range later {
			tellKept("photo", sumOf(fileOf(t, f)))
		}
	}}, exitDone, append([]string{"collect", race, "--later"}, later...)...)
	command(&sentence{"2 photos read, 0 refused", func() {
		for _, f := range later {
			tellKept("read", sumOf(fileOf(t, f)))
		}
	}}, exitDone, "work", race)

	keys, _ := bibKeys(t, race)
	require.Greater(t, len(keys), 5)
	atDesk := func(day int, upload string, data []byte) {
		d := openDeskOn(t, race)
		phone := d.pair("Ida", "photos", "places")
		status, got := phone.photo(upload, data)
		require.Equal(t, http.StatusOK, status)
		tellKept("photo", got.ID)
		c := &loader{caller: newCaller(t, d.here), name: "Ada", sheets: map[string]string{}, kept: map[string]string{}}
		c.http.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
		status, body := c.form("/who", url.Values{"name": {"Ada"}, "to": {"/"}})
		require.Equal(t, http.StatusSeeOther, status, body)
		for i := range 8 {
			key, text := keys[i%len(keys)], fmt.Sprint(1000*day+i)
			require.NoError(t, c.settles(key, text))
			tellKept("decision", key, text)
			if i%4 == 3 {
				undoes(t, c, key, text)
			}
		}
		for i, post := range []struct {
			path string
			form url.Values
			told string
		}{
			{"/bind/run1/Blue/card-1", url.Values{"gates": {[]string{"1-6", "1-5"}[day-1]}, "judge": {"Ada Fir"}}, "binding 1"},
			{fmt.Sprintf("/gap/run1/Blue/card-%d", 4+day), url.Values{"reason": {"blown away"}}, fmt.Sprint("gap ", 4+day)},
		} {
			status, body := c.form(post.path, post.form)
			require.Equal(t, http.StatusSeeOther, status, "%d: %s", i, body)
			tellKept(post.told)
		}
		told := phone.until(got.ID)
		if told.State == "refused" {
			tellKept("refused", got.ID)
		} else {
			tellKept("read", got.ID)
		}
		d.close()
	}
	atDesk(1, "IMG 1.jpg", fileOf(t, photo("card-03-back.jpg")))
	atDesk(2, "IMG 2.jpg", append(fileOf(t, dark), "again"...))
}

var (
	decisionField = regexp.MustCompile(`name="decision" value="(\d+)"`)
	seeOther      = regexp.MustCompile(`^<a href="([^"]+)">See Other`)
)

// undoes takes back what was just settled, by the button that the page offers for it.
func undoes(t *testing.T, c *loader, key, text string) {
	page, path := "", "/next"
	for path != "" {
		var err error
		_, page, err = c.ask(http.MethodGet, path, nil)
		require.NoError(t, err)
		path = ""
		if on := seeOther.FindStringSubmatch(page); on != nil {
			path = on[1]
		}
	}
	offered := decisionField.FindStringSubmatch(page)
	require.NotNil(t, offered, page)
	status, body, err := c.ask(http.MethodPost, "/undo", url.Values{"decision": {offered[1]}})
	require.NoError(t, err)
	require.Equal(t, http.StatusSeeOther, status, body)
	tellKept("undone", key, text)
}

// commandsRecorded records the day once for all tests.
var commandsRecorded = sync.OnceValues(func() (*powercut.Recording, error) {
	top, err := powercut.Scratch()
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(top) //nolint:errcheck // in memory
	race := filepath.Join(top, "race")
	if err = os.CopyFS(race, os.DirFS("../../testdata/demo-race")); err != nil {
		return nil, err
	}
	return powercut.Record(context.Background(), top, []string{powerVictim + "=" + race},
		os.Args[0], "-test.run=^TestPowerCut_DayOfCommands_Itself$", "-test.count=1")
})

// cutCommands cuts the power n times at drawn moments of the recorded day; goesOn looks at what is left.
func cutCommands(t *testing.T, n int, chance *rand.Rand, goesOn func(dir string, nth int, told []string) error, deaf ...powercut.Sync) (lost []string) {
	t.Helper()
	if testing.Short() {
		t.Skip("a recording takes a while")
	}
	r, err := commandsRecorded()
	if errors.Is(err, powercut.ErrUnwatched) {
		t.Skip(err)
	}
	require.NoError(t, err)
	var told []string
	heard := func(text string) {
		for line := range strings.Lines(text) {
			if line, ok := strings.CutPrefix(strings.TrimSuffix(line, "\n"), "kept "); ok {
				told = append(told, line)
			}
		}
	}
	// Most calls of a desk are about connections: a moment is drawn among those that touch the disk, and after what was told.
	first := r.Disk(heard, deaf...)
	var moments []int
	for i, e := range r.Events {
		before := len(told)
		touches := first.Touches(e)
		require.NoError(t, first.Play(e))
		if touches || len(told) > before {
			moments = append(moments, i)
		}
	}
	require.Greater(t, len(moments), 300)
	require.Greater(t, len(told), 30, "the day was recorded to its end")
	told = nil
	again := r.Disk(heard, deaf...)
	cutsAfter := map[int]int{}
	for range n {
		cutsAfter[moments[chance.IntN(len(moments))]]++
	}
	top, err := powercut.Scratch()
	require.NoError(t, err)
	defer func() { require.NoError(t, os.RemoveAll(top)) }()
	nth := 0
	for i, e := range r.Events {
		require.NoError(t, again.Play(e))
		for range cutsAfter[i] {
			dir := filepath.Join(top, "race")
			require.NoError(t, os.Mkdir(dir, 0o755))
			require.NoError(t, again.Cut(dir, chance))
			if err := goesOn(dir, nth, told); err != nil {
				lost = append(lost, fmt.Sprintf("cut after call %d (recording, line %d, %d things told): %v", i, e.At, len(told), err))
			}
			nth++
			require.NoError(t, os.RemoveAll(dir))
		}
	}
	return lost
}

// stillThere returns an error if something that was told isn't in the race, and the keys of its bibs.
func stillThere(ctx context.Context, dir string, told []string) (keys []string, err error) {
	if _, err = racefolder.Open(dir); err != nil {
		return nil, err
	}
	s, err := store.Open(ctx, dir, store.Options{Now: time.Now})
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	photos, err1 := s.Photos(ctx)
	sheets, err2 := s.Sheets(ctx)
	decisions, err3 := s.Decisions(ctx)
	bindings, err4 := s.Bindings(ctx)
	gaps, err5 := s.GapReasons(ctx)
	bad, err6 := s.VerifyFiles(ctx)
	if err = errors.Join(err1, err2, err3, err4, err5, err6); err != nil {
		return nil, err
	}
	if len(bad) > 0 {
		return nil, errors.New(strings.Join(bad, "; "))
	}
	there := map[string]bool{}
	for _, p := range photos {
		there["photo "+p.ID] = true
		there["refused "+p.ID] = p.Fate == store.FateRefused
	}
	for _, h := range sheets {
		there["read "+h.Photo] = true
		for i := range h.Read.Reading.Rows {
			if row := &h.Read.Reading.Rows[i]; row.Bib.State != sheetmodel.Empty {
				keys = append(keys, h.Key(fmt.Sprintf("row-%02d.%s", row.Number, sheetmodel.PartBib)))
			}
		}
	}
	for _, d := range decisions {
		there[fmt.Sprint("decision ", d.Reading, " ", d.Text)] = true
		there[fmt.Sprint("undone ", d.Reading, " ", d.Text)] = d.Undone != nil
	}
	for _, b := range bindings {
		there[fmt.Sprint("binding ", b.Card.Card)] = true
	}
	for _, g := range gaps {
		there[fmt.Sprint("gap ", g.Card.Card)] = g.Reason != ""
	}
	for _, what := range told {
		if !there[what] {
			return nil, fmt.Errorf("lost: %s", what)
		}
	}
	return keys, nil
}

var deskOpenAt = regexp.MustCompile(`the desk is open at (http://127\.0\.0\.1:[0-9]+)/`)

// deskGoesOn opens the desk and settles an entry there.
func deskGoesOn(t *testing.T, dir string, keys []string) error {
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	var out, errs said
	a := &app{out: &out, errs: &errs, now: time.Now}
	code := make(chan int, 1)
	go func() { code <- a.run(ctx, []string{"desk", dir, "--open-none", "--listen=127.0.0.1:0"}) }()
	for deskOpenAt.FindStringSubmatch(out.String()) == nil {
		select {
		case c := <-code:
			return fmt.Errorf("gatefold desk: exit code %d: %s", c, errs.String())
		case <-time.After(2 * time.Millisecond):
		}
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		return err
	}
	last := func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	c := &loader{
		caller: &caller{t, deskOpenAt.FindStringSubmatch(out.String())[1], &http.Client{Jar: jar, CheckRedirect: last, Transport: &http.Transport{DisableKeepAlives: true}}},
		name:   "Bo", sheets: map[string]string{}, kept: map[string]string{},
	}
	_, _, err = c.ask(http.MethodPost, "/who", url.Values{"name": {"Bo"}, "to": {"/"}})
	if err == nil {
		_, _, err = c.ask(http.MethodGet, "/", nil)
	}
	if err == nil && len(keys) > 0 {
		err = c.settles(keys[0], "777")
	}
	cancel()
	if ended := <-code; ended != int(exitDone) {
		err = errors.Join(err, fmt.Errorf("gatefold desk: exit code %d: %s", ended, errs.String()))
	}
	if err == nil && len(keys) > 0 {
		_, err = stillThere(t.Context(), dir, []string{fmt.Sprint("decision ", keys[0], " 777")})
	}
	return err
}

// commandsGoOn looks for all that was told, settles an entry at the desk and keeps a photo. After every readEvery-th
// cut, what was being collected is collected again, with the real reader.
func commandsGoOn(t *testing.T, readEvery int) func(dir string, nth int, told []string) error {
	return func(dir string, nth int, told []string) error {
		keys, err := stillThere(t.Context(), dir, told)
		if err != nil {
			return err
		}
		if err = deskGoesOn(t, dir, keys); err != nil {
			return err
		}
		photo := filepath.Join(t.TempDir(), "after.jpg")
		data := append(fileOf(t, filepath.Join(demoStackDir, "photos", "card-04-front.jpg")), fmt.Sprint("after cut ", nth)...)
		if err = os.WriteFile(photo, data, 0o600); err != nil {
			return err
		}
		words := []string{"collect", dir, "--later", photo}
		told = append(told[:len(told):len(told)], "photo "+sumOf(data))
		if readEvery > 0 && nth%readEvery == readEvery-1 {
			words = []string{"collect", dir, photo}
			for _, name := range []string{"card-01-front.jpg", "card-01-back.jpg"} {
				f := filepath.Join(demoStackDir, "photos", name)
				words = append(words, f)
				told = append(told, "read "+sumOf(fileOf(t, f)))
			}
			told = append(told, "read "+sumOf(data))
		}
		var out, errs said
		a := &app{out: &out, errs: &errs, now: time.Now}
		if code := a.run(t.Context(), words); code != int(exitDone) {
			return fmt.Errorf("gatefold %s: exit code %d: %s", strings.Join(words, " "), code, errs.String())
		}
		_, err = stillThere(t.Context(), dir, told)
		return err
	}
}

// What collect, work and the desk have printed or answered is there after a power cut at any moment, and they go on.
//
//	go test ./cmd/gatefold -run TestPowerCut -v -timeout 3h -cuts 1000 -seed 7741
func TestPowerCut_ThroughTheCommands_LosesNothingAcknowledged(t *testing.T) {
	lost := cutCommands(t, *powerCuts, rand.New(rand.NewPCG(*powerCutSeed, 5)), commandsGoOn(t, 15))
	assert.Empty(t, lost)
	t.Logf("seed %d: %d cuts, %d with a loss", *powerCutSeed, *powerCuts, len(lost))
}

// Without one kind of sync the same cuts lose something that a command or an answer acknowledged.
func TestPowerCut_ThroughTheCommandsWithoutSync_FindsTheLoss(t *testing.T) {
	const n = 25
	for _, without := range [][]powercut.Sync{
		{powercut.SyncLog}, {powercut.SyncFile}, {powercut.SyncFolder}, {powercut.SyncDatabase},
		{powercut.SyncDatabase, powercut.SyncLog, powercut.SyncFile, powercut.SyncFolder},
	} {
		lost := cutCommands(t, n, rand.New(rand.NewPCG(*powerCutSeed, 6)), func(dir string, _ int, told []string) error {
			_, err := stillThere(t.Context(), dir, told)
			return err
		}, without...)
		assert.NotEmpty(t, lost, "without sync of %v", without)
		t.Logf("without sync of %v: %d of %d cuts lost something", without, len(lost), n)
	}
}
