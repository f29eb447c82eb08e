package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"runtime/debug"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"gatefold/cmd/internal/reading"
	"gatefold/review/queue"
	"gatefold/review/store"
	"gatefold/sheetmodel/racefolder"
)

func workCommand(a *app) *cobra.Command {
	var watch bool
	c := &cobra.Command{
		Use:   "work RACE",
		Short: "Read the photos of a race that were kept and not read; start it twice for two to read side by side",
		Long: `Reads the photos that gatefold collect --later, an interrupted collecting or a closed desk
left unread. Each program that runs this reads one photo at a time and shares the work with
the others; start as many as the computer has cores. One that dies loses nothing: another
reads its photo some 20 seconds later. Nothing is kept twice, whoever comes late.

A photo that could not be read five times is left, with the reason; starting this again tries
it again. With --watch it goes on and reads what comes in. The interrupt key (Ctrl-C) ends it.

Where the race folder holds database.url, the programs may run on several computers that share
the folder.`,
		Example: "  gatefold collect demo/race --later photos\n  gatefold work demo/race & gatefold work demo/race",
		Args:    cobra.ExactArgs(1),
		RunE:    func(c *cobra.Command, args []string) error { return a.work(c.Context(), args[0], watch) },
	}
	c.Flags().BoolVar(&watch, "watch", false, "go on, and read what comes in")
	return c
}

// tieEvery is the least time between two looks at what both sides of all cards show together: a look goes
// through the whole race.
const tieEvery = 2 * time.Second

// photoWorker reads what the queue hands it.
type photoWorker struct {
	*app
	taker *deskTaker

	mu       sync.Mutex // a queue may ask for more work while a photo is being read
	reader   reading.Reader
	with     *formsOf
	tied     time.Time
	untied   bool // something was kept since
	read     int
	refused  int
	refusals []error
}

func (a *app) work(ctx context.Context, dir string, stay bool) (err error) {
	if _, err = racefolder.Open(dir); err != nil {
		return err
	}
	s, err := store.Open(ctx, dir, store.Options{Now: a.now})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	q, err := queue.Open(ctx, s)
	if err != nil {
		return err
	}
	race := &currentRace{dir: dir}
	taker, err := newDeskTaker(ctx, s, race.get, a.complain)
	if err != nil {
		return err
	}
	w := &photoWorker{app: a, taker: taker, tied: a.now()}
	defer func() { err = errors.Join(err, w.close()) }()
	// Before a job is taken: without a reader, all of them would fail one by one.
	if err = w.ready(); err != nil {
		return err
	}
	if err = putUnread(ctx, s, q, true); err != nil {
		return err
	}
	defer debug.SetGCPercent(debug.SetGCPercent(readingGCPercent)) // as in readAll
	host, _ := os.Hostname()                                       // only a name for those who look at the queue
	err = q.Work(ctx, queue.Options{
		Worker: fmt.Sprintf("%s-%d", host, os.Getpid()), Now: time.Now, Stay: stay,
		Idle: func(ctx context.Context) error { return errors.Join(putUnread(ctx, s, q, false), w.tieNow(ctx)) },
	}, w.do)
	a.progressDone()
	if stay && ctx.Err() != nil {
		err = nil // the end that was meant all along
	}
	// Always, and whoever read what: the one that kept the last photo may have died before it came to this.
	last := context.WithoutCancel(ctx)
	err = errors.Join(err, w.tieAll(last))
	left, errLeft := leftOver(last, q, s)
	a.printf("%s read, %d refused\n", count(w.read-w.refused, "photo"), w.refused)
	if err == nil && left == nil {
		a.printf("next: gatefold desk %s\n", racefolder.ShellWord(dir))
	}
	return together(errors.Join(err, errLeft, left), refused(errors.Join(w.refusals...)))
}

// leftOver says which photos were given up, and why.
func leftOver(ctx context.Context, q queue.Queue, s *store.Store) (left, err error) {
	all, err := q.Failures(ctx)
	if err != nil {
		return nil, err
	}
	var errs []error
	for _, f := range all {
		name := f.Photo
		if p, err := s.Photo(ctx, f.Photo); err == nil {
			if p.Fate != store.FateUnread {
				continue // read in another way since
			}
			name = p.Sent
		}
		errs = append(errs, fmt.Errorf("photo %s: not read: %s; it is tried again when gatefold work is started again", name, f.Fault))
	}
	return errors.Join(errs...), nil
}

// putUnread puts every photo that nobody has read into the queue; again, also those that were given up.
func putUnread(ctx context.Context, s *store.Store, q queue.Queue, again bool) error {
	photos, err := s.Photos(ctx)
	if err != nil {
		return err
	}
	var jobs []queue.Job
	for _, p := range photos {
		if p.Fate == store.FateUnread {
			jobs = append(jobs, queue.Job{Photo: p.ID})
		}
	}
	if len(jobs) == 0 {
		return nil
	}
	_, err = q.Put(ctx, again, jobs...)
	return err
}

// ready opens a reader for the layouts as they are now: cards may be printed while a worker waits.
func (w *photoWorker) ready() error {
	forms, err := w.taker.current()
	if err != nil || forms == w.with && w.reader != nil {
		return err
	}
	if err = w.close(); err != nil {
		return err
	}
	w.reader, err = reading.Open(forms.forms, reading.Options{KeepPages: true, Header: true, AskForm: true, Judges: w.taker.judges})
	if err == nil {
		w.with = forms
	}
	return err
}

func (w *photoWorker) close() error {
	if w.reader == nil {
		return nil
	}
	r := w.reader
	w.reader = nil
	return r.Close()
}

// do reads one photo.
func (w *photoWorker) do(ctx context.Context, j *queue.Taken) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if err := w.ready(); err != nil {
		return err
	}
	kept, err := w.taker.store.Photo(ctx, j.Photo)
	if err != nil || kept.Fate != store.FateUnread {
		return err // somebody has read it since it was put in
	}
	w.progress("reading photo %d: %s", w.read+1, kept.Sent)
	got, err := w.taker.readBehind(ctx, w.reader, w.with, kept, store.Unread(j.Photo), j.Close)
	if errors.Is(err, store.ErrReadMeanwhile) {
		return nil
	}
	if err != nil {
		return err
	}
	w.read++
	w.untied = true
	w.progressDone()
	w.printNotes(got.collectedFile)
	if got.Refused != nil {
		w.refused++
		w.refusals = append(w.refusals, fmt.Errorf("photo %s: %s", got.File, got.Refused))
	}
	for _, why := range got.more {
		w.refusals = append(w.refusals, fmt.Errorf("photo %s: a further card in it is not used: %s", got.File, why))
	}
	if w.now().Sub(w.tied) >= tieEvery {
		_ = w.tieAll(ctx) // the photo is kept whatever comes of this; it is done again at the end, which tells
	}
	return nil
}

// tieNow ties while nothing waits.
func (w *photoWorker) tieNow(ctx context.Context) error {
	w.mu.Lock()
	defer w.mu.Unlock()
	if !w.untied {
		return nil
	}
	return w.tieAll(ctx)
}

// tieAll works out what both sides of every card show together.
func (w *photoWorker) tieAll(ctx context.Context) error {
	in := &intake{store: w.taker.store}
	err := in.tieAll(ctx, w.reader.Version(), w.reader.Judge())
	w.tied, w.untied = w.now(), err != nil
	return err
}
