package powercut_test

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/review/store/powercut"
	"gatefold/review/store/storetest"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

var (
	cuts = flag.Int("cuts", 150, "how many power cuts to simulate")
	seed = flag.Uint64("seed", 1, "seed of the run and of what each cut keeps")
)

const victimEnv = "GATEFOLD_POWERCUT_VICTIM"

func TestMain(m *testing.M) {
	if dir := os.Getenv(victimEnv); dir != "" {
		var s uint64
		if _, err := fmt.Sscan(os.Getenv(victimEnv+"_SEED"), &s); err != nil {
			panic(err)
		}
		if err := raceDay(dir, rand.New(rand.NewPCG(s, 2))); err != nil {
			panic(err)
		}
		return
	}
	os.Exit(m.Run())
}

// raceDay is every kind of write in a drawn order, with the store opened and closed in between, until the
// write-ahead log has been moved into the database several times. After each it says what is kept now.
func raceDay(dir string, chance *rand.Rand) error {
	folder, err := racefolder.Open(dir)
	if err != nil {
		return err
	}
	n := 0
	for _, acts := range []int{2, 90, 40} {
		s, err := store.Open(context.Background(), dir, store.Options{Now: storetest.Clock()})
		if err != nil {
			return err
		}
		for range acts {
			n++
			if err = act(s, folder, n, chance); err != nil {
				return fmt.Errorf("act %d: %w", n, err)
			}
		}
		if err = s.Close(); err != nil {
			return err
		}
	}
	return nil
}

func say(kind, what string) { fmt.Println("kept", kind, what) }

// act is one photo with all that follows from it.
func act(s *store.Store, folder *racefolder.Folder, n int, chance *rand.Rand) error {
	ctx := context.Background()
	content := append([]byte("\xff\xd8\xff"), bytes.Repeat([]byte(fmt.Sprintf("photo %d ", n)), 1+chance.IntN(3000))...)
	p, _, err := s.AddPhoto(ctx, fmt.Sprintf("card-%d.jpg", n), bytes.NewReader(content), int64(len(content)), time.Time{})
	if err != nil {
		return err
	}
	say("photo", p.ID)
	if chance.IntN(8) == 0 {
		err = s.Refuse(ctx, p.ID, "reader", store.Refusal{Fault: "blur", Detail: "0.7 mm", Remedy: "retake"})
		if err == nil {
			say("refused", p.ID)
		}
		return err
	}
	side := storetest.Side(n, 3, fmt.Sprint(n))
	side.Page = append(side.Page, bytes.Repeat([]byte{byte(n)}, chance.IntN(20000))...)
	if err = s.AddSheets(ctx, p.ID, "reader", []store.NewSheet{side}, store.Refusal{Fault: "cut"}); err != nil {
		return err
	}
	say("read", p.ID)
	key := store.Key(side.Card, sheetmodel.Front, "row-03.bib")
	if err = s.Serve(ctx, store.Served{Session: "s", Person: "Ada", Readings: []string{key}, What: "entry"}); err != nil {
		return err
	}
	d, err := s.Settle(ctx, store.Entry{Reading: key, Text: fmt.Sprint(n), Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "s"})
	if err != nil {
		return err
	}
	say("decision", fmt.Sprint(d[0].ID, " ", n))
	switch chance.IntN(6) {
	case 0:
		if err = s.Undo(ctx, d[0].ID, "Ada", "s"); err == nil {
			say("undone", fmt.Sprint(d[0].ID))
		}
	case 1:
		if err = s.Bind(ctx, store.Binding{Card: side.Card, Run: 1, Course: "Blue", Gates: []string{"1", "2"}, Source: "header", By: "Ada"}); err == nil {
			say("binding", fmt.Sprint(n))
		}
	case 2:
		if err = s.Answer(ctx, store.Answer{Question: fmt.Sprint("lost-ski/", n), Value: "two", By: "Ada"}); err == nil {
			say("answer", fmt.Sprint("lost-ski/", n))
		}
	case 3:
		place := sheetmodel.Place{Card: 1, Name: "B1", Gates: []string{"1", "2"}, Judge: fmt.Sprint("judge ", n)}
		if err = folder.SavePlaces(1, "Blue", []sheetmodel.Place{place}); err == nil {
			say("places", fmt.Sprint(n))
		}
	case 4:
		sheets, err := s.Sheets(ctx)
		if err != nil {
			return err
		}
		front := sheets[len(sheets)-1].ID
		if err = s.AddTies(ctx, store.CardTies{Front: front, Reader: "reader", Ties: []look.Tied{{Row: 3, Text: fmt.Sprint(n), Clear: true}}}); err != nil {
			return err
		}
		say("tie", fmt.Sprint(front))
	}
	return err
}

// recording is a race day that was really run.
type recording struct{ *powercut.Recording }

func newRace(t *testing.T, dir string) {
	t.Helper()
	require.NoError(t, os.CopyFS(dir, os.DirFS("../../../testdata/demo-race")))
}

func scratch(t *testing.T) string {
	t.Helper()
	dir, err := powercut.Scratch()
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, os.RemoveAll(dir)) })
	return dir
}

func record(t *testing.T, seed uint64) recording {
	t.Helper()
	if testing.Short() {
		t.Skip("a recording takes a while")
	}
	top := scratch(t)
	newRace(t, filepath.Join(top, "race"))
	env := []string{victimEnv + "=" + filepath.Join(top, "race"), fmt.Sprintf("%s_SEED=%d", victimEnv, seed)}
	r, err := powercut.Record(t.Context(), top, env, os.Args[0])
	if errors.Is(err, powercut.ErrUnwatched) {
		t.Skip(err)
	}
	require.NoError(t, err)
	return recording{r}
}

// cut cuts the power n times at drawn moments and returns what was lost, a sentence each, at most one for
// each cut.
func (r recording) cut(t *testing.T, n int, chance *rand.Rand, deaf ...powercut.Sync) []string {
	t.Helper()
	var said, lost []string
	d := r.Disk(func(text string) {
		lines := bufio.NewScanner(strings.NewReader(text))
		for lines.Scan() {
			if line, ok := strings.CutPrefix(lines.Text(), "kept "); ok {
				said = append(said, line)
			}
		}
	}, deaf...)
	at := make([]int, len(r.Events))
	for range n {
		at[chance.IntN(len(at))]++
	}
	top := scratch(t)
	for i, e := range r.Events {
		require.NoError(t, d.Play(e))
		for range at[i] {
			dir := filepath.Join(top, "race")
			require.NoError(t, os.Mkdir(dir, 0o755))
			require.NoError(t, d.Cut(dir, chance))
			if err := goesOn(t.Context(), dir, said); err != nil {
				lost = append(lost, fmt.Sprintf("cut after call %d (recording, line %d, %d things kept): %v", i, e.At, len(said), err))
			}
			require.NoError(t, os.RemoveAll(dir))
		}
	}
	require.Greater(t, len(said), 250, "the race day was recorded to its end")
	return lost
}

// goesOn looks for all that was said to be kept, and works on.
func goesOn(ctx context.Context, dir string, said []string) (err error) {
	folder, err := racefolder.Open(dir)
	if err != nil {
		return err
	}
	s, err := store.Open(ctx, dir, store.Options{Now: storetest.Clock()})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if err = has(ctx, s, folder.Race(), said); err != nil {
		return err
	}
	p, known, err := s.AddPhoto(ctx, "after.jpg", strings.NewReader("\xff\xd8\xff after the cut"), -1, time.Time{})
	if err != nil || known {
		return fmt.Errorf("a photo after the cut: known %v: %w", known, err)
	}
	if err = s.AddSheets(ctx, p.ID, "reader", []store.NewSheet{storetest.Side(999, 3, "9")}); err != nil {
		return err
	}
	if _, err = s.Settle(ctx, store.Entry{
		Reading: "run1/Blue/card-999/front/row-03.bib", Text: "9", Basis: sheetmodel.BasisOnPaper, By: "Ada", Session: "after",
	}); err != nil {
		return err
	}
	bad, err := s.VerifyFiles(ctx)
	if len(bad) > 0 {
		err = errors.Join(err, errors.New(strings.Join(bad, "; ")))
	}
	return err
}

// has returns an error if something of said isn't in the race.
func has(ctx context.Context, s *store.Store, race *sheetmodel.Race, said []string) error {
	photos, err1 := s.Photos(ctx)
	sheets, err2 := s.Sheets(ctx)
	decisions, err3 := s.Decisions(ctx)
	bindings, err4 := s.Bindings(ctx)
	answers, err5 := s.Answers(ctx)
	ties, err6 := s.Ties(ctx)
	if err := errors.Join(err1, err2, err3, err4, err5, err6); err != nil {
		return err
	}
	there := map[string]bool{}
	for _, p := range photos {
		there["photo "+p.ID] = true
		there["refused "+p.ID] = p.Fate == store.FateRefused
	}
	for _, h := range sheets {
		there["read "+h.Photo] = len(h.Read.Reading.Rows) == 1
	}
	for _, d := range decisions {
		there[fmt.Sprint("decision ", d.ID, " ", d.Text)] = true
		there[fmt.Sprint("undone ", d.ID)] = d.Undone != nil
	}
	for _, b := range bindings {
		there[fmt.Sprint("binding ", b.Card.Card)] = true
	}
	for _, a := range answers {
		there["answer "+a.Question] = true
	}
	for _, c := range ties {
		there[fmt.Sprint("tie ", c.Front)] = true
	}
	var newest int
	for _, p := range race.Run(1).Course("Blue").Places {
		if _, err := fmt.Sscanf(p.Judge, "judge %d", &newest); err == nil {
			break
		}
	}
	for _, what := range said {
		var n int
		if _, err := fmt.Sscanf(what, "places %d", &n); err == nil {
			there[what] = newest >= n // a later one may have come through without having been said
		}
		if !there[what] {
			return fmt.Errorf("lost: %s", what)
		}
	}
	return nil
}

// The disk of the harness is the real one: with every call played, it holds what the run left behind.
func TestDisk_AllPlayed_HoldsWhatTheRunLeft(t *testing.T) {
	r := record(t, *seed)
	d := r.Disk(func(string) {})
	for _, e := range r.Events {
		require.NoError(t, d.Play(e))
	}
	left := map[string]int{}
	for name, content := range d.Files() {
		onDisk, err := os.ReadFile(filepath.Join(r.Dir, name))
		require.NoError(t, err)
		require.True(t, bytes.Equal(onDisk, content), "%s: %d bytes played, %d bytes on the disk", name, len(content), len(onDisk))
		left[filepath.Ext(name)]++
	}
	n := 0
	require.NoError(t, filepath.WalkDir(r.Dir, func(_ string, e os.DirEntry, err error) error {
		if !e.IsDir() {
			n++
		}
		return err
	}))
	assert.Len(t, d.Files(), n)
	assert.Greater(t, left[".jpg"], 100)
	for _, k := range []powercut.Sync{powercut.SyncDatabase, powercut.SyncLog, powercut.SyncFile, powercut.SyncFolder} {
		assert.Greater(t, d.Syncs[k], 1, k)
	}
}

func TestStore_PowerCutAtAnyMoment_LosesNothingAcknowledged(t *testing.T) {
	const most = 1000 // cuts of one recording
	for done := 0; done < *cuts; done += most {
		s := *seed + uint64(done)
		n := min(most, *cuts-done)
		lost := record(t, s).cut(t, n, rand.New(rand.NewPCG(s, 3)))
		assert.Empty(t, lost)
		t.Logf("seed %d: %d cuts, %d with a loss", s, n, len(lost))
	}
}

// Without one kind of sync the same cuts lose something: the harness sees what it is there to see, and no
// sync is there for nothing.
func TestCut_WithoutSync_FindsTheLoss(t *testing.T) {
	r := record(t, *seed)
	for _, without := range [][]powercut.Sync{
		{powercut.SyncLog},
		{powercut.SyncFile},
		{powercut.SyncFolder},
		{powercut.SyncDatabase},
		{powercut.SyncDatabase, powercut.SyncLog, powercut.SyncFile, powercut.SyncFolder},
	} {
		const n = 40
		lost := r.cut(t, n, rand.New(rand.NewPCG(*seed, 4)), without...)
		assert.NotEmpty(t, lost, "without sync of %v", without)
		t.Logf("without sync of %v: %d of %d cuts lost something", without, len(lost), n)
	}
}
