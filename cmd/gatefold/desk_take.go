package main

import (
	"context"
	"errors"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"gatefold/cmd/internal/reading"
	"gatefold/review/store"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// deskTaker reads photos that came in at the desk, as gatefold collect does: the same reader, the same
// refusals, the same ties.
//
//	Take --queue--> readers, each with its own nets --one at a time--> intake.take, tie --> store
type deskTaker struct {
	dir   string
	race  func() (*sheetmodel.Race, error)
	store *store.Store
	say   func(words string) // of what went wrong, at the laptop

	mu     sync.Mutex
	queue  []string
	faults map[string]string // by photo; "" for all
	tries  map[string]int    // by photo, since it was sent: how often it was read and something was in its way
	waits  map[string]*time.Timer
	wake   chan struct{}
	forms  *formsOf

	keep  sync.Mutex // one photo at a time is brought into the store
	pages *keptPages
}

// formsOf are the blank forms of a race's layouts as they were at one moment.
type formsOf struct {
	forms  *reading.Forms
	folder *racefolder.Folder
	lost   []*sheetmodel.Layout
	stamp  string
}

// newDeskTaker returns a taker; Run reads. Photos that are in the store and unread are read first: a desk
// before this one may have been stopped between keeping and reading.
func newDeskTaker(ctx context.Context, s *store.Store, race func() (*sheetmodel.Race, error), say func(string)) (*deskTaker, error) {
	t := &deskTaker{dir: s.Dir(), race: race, store: s, say: say, faults: map[string]string{}, tries: map[string]int{}, waits: map[string]*time.Timer{}, wake: make(chan struct{}, workers)}
	photos, err := s.Photos(ctx)
	if err != nil {
		return nil, err
	}
	for _, p := range photos {
		if p.Fate == store.FateUnread {
			t.queue = append(t.queue, p.ID)
		}
	}
	t.pages, err = pagesOf(ctx, s)
	return t, err
}

// Take puts a photo into the queue.
func (t *deskTaker) Take(photo string) {
	t.mu.Lock()
	if !slices.Contains(t.queue, photo) {
		t.queue = append(t.queue, photo)
	}
	delete(t.faults, photo)
	delete(t.tries, photo)
	if w := t.waits[photo]; w != nil {
		w.Stop()
		delete(t.waits, photo)
	}
	t.mu.Unlock()
	t.call()
}

// call wakes a reader.
func (t *deskTaker) call() {
	select {
	case t.wake <- struct{}{}:
	default: // all readers are called already
	}
}

// inTheWayError is what kept a photo from being read and is no fault of the photo, such as a mistake in race.yaml or a full disk: it is
// mended one day.
type inTheWayError struct {
	error
	unread bool // it was seen before the work of reading: to look again costs nothing
}

func (e inTheWayError) Unwrap() error { return e.error }

// A photo waits so long then: what keeps one photo may be mended in a moment, what keeps it for a long time is seldom mended
// by reading it once more, and each time takes seconds of a core that pages wait for.
const (
	readAgain  = 5 * time.Second
	readSeldom = 5 * time.Minute
)

// pause is how long a photo waits after so many tries that came to nothing: at first it is tried again soon, then ever more seldom.
func pause(tries int) time.Duration {
	const soon = 3 // tries
	p := readAgain
	for n := soon; n < tries && p < readSeldom; n++ {
		p *= 2
	}
	return min(p, readSeldom)
}

// again puts a photo back that could not be read. Why it wasn't is said until it is.
func (t *deskTaker) again(photo string) {
	t.mu.Lock()
	if !slices.Contains(t.queue, photo) {
		t.queue = append(t.queue, photo)
	}
	t.mu.Unlock()
	t.call()
}

// later puts a photo back after a pause, which grows with each time that it was read for nothing.
func (t *deskTaker) later(photo string, why inTheWayError) {
	t.mu.Lock()
	defer t.mu.Unlock()
	wait := readAgain
	if !why.unread {
		t.tries[photo]++
		wait = pause(t.tries[photo])
		if wait == 2*readAgain { // said once, when it begins to wait longer
			t.say("that stays so: photos are safe and wait, and are tried again ever more seldom, or at once when one could be kept")
		}
	}
	t.waits[photo] = time.AfterFunc(wait, func() { t.again(photo) })
}

// done lets all photos that wait be tried at once: what was in their way may be out of it.
func (t *deskTaker) done(photo string) {
	t.mu.Lock()
	delete(t.tries, photo)
	delete(t.waits, photo)
	var next []string
	for p, w := range t.waits {
		if w.Stop() {
			next = append(next, p)
		}
		delete(t.waits, p)
	}
	t.mu.Unlock()
	for _, p := range next {
		t.again(p)
	}
}

// tieOnly stands in the queue for no photo.
const tieOnly = ""

// Tie asks for what belongs to one card to be read together.
func (t *deskTaker) Tie() { t.Take(tieOnly) }

// Fault says why a photo, or with an empty name any photo, could not be read.
func (t *deskTaker) Fault(photo string) string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.faults[photo]
}

func (t *deskTaker) fail(photo string, err error) {
	t.mu.Lock()
	old := t.faults[photo]
	t.faults[photo] = err.Error()
	t.mu.Unlock()
	if old != err.Error() {
		t.say(err.Error())
	}
}

// start lets it read until ctx ends or stop is called, which waits for what is being read.
func (t *deskTaker) start(ctx context.Context) (stop func()) {
	ctx, cancel := context.WithCancel(ctx)
	was := debug.SetGCPercent(readingGCPercent) // as in readAll
	// Threads that give way still hold Go's own right to run while the system lets others go first, and pages would
	// wait for it: the readers' share comes on top of what there is.
	procs := runtime.GOMAXPROCS(0)
	runtime.GOMAXPROCS(procs + workers)
	done := make(chan struct{})
	go func() {
		defer close(done)
		t.Run(ctx)
	}()
	return func() {
		cancel()
		<-done
		debug.SetGCPercent(was)
		runtime.GOMAXPROCS(procs)
	}
}

// Run reads until ctx ends. Layouts are prepared at once, so that the first photo needn't wait for them.
func (t *deskTaker) Run(ctx context.Context) {
	var group sync.WaitGroup
	for range readers() {
		group.Go(func() {
			giveWay() // somebody waits for the page; a photo that takes a little longer is seldom noticed
			t.work(ctx)
		})
	}
	group.Wait()
}

// judges lists the judges as they are placed now; none while the race can't be read, which the desk says itself.
func (t *deskTaker) judges() []string {
	race, err := t.race()
	if err != nil {
		return nil
	}
	return judgesOf(race)
}

func (t *deskTaker) work(ctx context.Context) {
	var r reading.Reader
	var with *formsOf
	defer func() {
		if r != nil {
			_ = r.Close() // frees nets
		}
	}()
	for {
		// Also with nothing to read: a reader is slow to open, and the first photo comes with somebody waiting.
		forms, err := t.current()
		if err == nil && forms != with {
			if r != nil {
				_ = r.Close() // frees nets
				r = nil
			}
			if r, err = reading.Open(forms.forms, reading.Options{KeepPages: true, Header: true, AskForm: true, Judges: t.judges}); err == nil {
				with = forms
			}
		}
		if err != nil {
			if ctx.Err() != nil {
				return
			}
			t.fail("", err)
		} else {
			t.cleared()
		}
		for err == nil {
			photo, ok := t.next()
			if !ok {
				break
			}
			if why := t.read(ctx, r, with, photo); why != nil && ctx.Err() == nil {
				t.fail(photo, why)
				if stays := (inTheWayError{}); errors.As(why, &stays) {
					t.later(photo, stays)
				}
			} else if why == nil && photo != tieOnly {
				t.done(photo)
			}
			if forms, err = t.current(); forms != with {
				break // cards were printed meanwhile
			}
		}
		if t.waiting() && err == nil && ctx.Err() == nil {
			continue
		}
		select {
		case <-ctx.Done():
			return
		case <-t.wake:
		case <-time.After(lookEvery): // the layouts may have come back
		}
	}
}

func (t *deskTaker) cleared() {
	t.mu.Lock()
	delete(t.faults, "")
	t.mu.Unlock()
}

func (t *deskTaker) waiting() bool {
	t.mu.Lock()
	defer t.mu.Unlock()
	return len(t.queue) > 0
}

func (t *deskTaker) next() (string, bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if len(t.queue) == 0 {
		return "", false
	}
	photo := t.queue[0]
	t.queue = t.queue[1:]
	return photo, true
}

// current returns the forms of the layouts as they are now: cards may be printed while the desk is open.
func (t *deskTaker) current() (*formsOf, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	stamp := stampOf(filepath.Join(t.dir, racefolder.LayoutsFolder))
	if t.forms != nil && len(t.forms.lost) > 0 || t.forms == nil {
		stamp += stampOf(t.dir) // lost layouts are made from the race's files
	}
	if t.forms != nil && t.forms.stamp == stamp {
		return t.forms, nil
	}
	folder, err := racefolder.Open(t.dir)
	if err != nil {
		return nil, err
	}
	layouts, err := layoutsFor(t.dir, nil)
	if err != nil {
		return nil, err
	}
	f := &formsOf{folder: folder}
	if f.lost, err = lostLayouts(folder); err != nil {
		return nil, err
	}
	f.stamp = stampOf(filepath.Join(t.dir, racefolder.LayoutsFolder))
	if len(f.lost) > 0 {
		f.stamp += stampOf(t.dir)
	}
	if f.forms, err = raceFormsOf(folder, append(layouts, f.lost...)); err != nil {
		return nil, err
	}
	t.forms = f
	return f, nil
}

// read reads one photo and brings what came of it into the store.
func (t *deskTaker) read(ctx context.Context, r reading.Reader, with *formsOf, photo string) error {
	if photo == tieOnly {
		t.keep.Lock()
		defer t.keep.Unlock()
		return (&intake{store: t.store}).tieAll(ctx, r.Version(), r.Judge())
	}
	if _, err := t.race(); err != nil {
		return inTheWayError{err, true}
	}
	kept, err := t.store.Photo(ctx, photo)
	if err != nil {
		return err
	}
	var guards []store.Guard
	if kept.Fate == store.FateUnread {
		guards = []store.Guard{store.Unread(photo)}
	}
	got, err := t.readBehind(ctx, r, with, kept, guards...)
	if errors.Is(err, store.ErrReadMeanwhile) {
		return nil // by gatefold work or gatefold collect, which tie it too
	}
	if err != nil {
		return err
	}
	t.keep.Lock()
	defer t.keep.Unlock()
	return got.in.tieAll(ctx, r.Version(), r.Judge())
}

// takenPhoto is a photo that was brought into the store.
type takenPhoto struct {
	collectedFile
	more []refusal // further cards in it that can't be used
	in   *intake
}

// readBehind reads one photo and brings what came of it into the store behind guards; ties are left.
func (t *deskTaker) readBehind(ctx context.Context, r reading.Reader, with *formsOf, kept store.Photo, guards ...store.Guard) (takenPhoto, error) {
	data, err := readInput("photo", filepath.Join(t.dir, filepath.FromSlash(kept.File)))
	if err != nil {
		return takenPhoto{}, err
	}
	p, err := r.Read(ctx, kept.Sent, data)
	if err != nil {
		return takenPhoto{}, err
	}
	race, err := t.race()
	if err != nil {
		return takenPhoto{}, inTheWayError{err, false}
	}
	t.keep.Lock()
	defer t.keep.Unlock()
	in := &intake{dir: t.dir, folder: with.folder, lost: with.lost, race: race, store: t.store, pages: t.pages}
	got, err := in.take(ctx, p, guards...)
	taken := takenPhoto{collectedFile: got, in: in}
	if got.Refused == nil {
		taken.more = further(p)
	}
	if err != nil {
		err = inTheWayError{err, false}
	}
	return taken, err
}
