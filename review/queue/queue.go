package queue

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"gatefold/review/store"
)

// ErrLost is returned to a worker whose job was given to another one: it was too quiet for too long.
var ErrLost = errors.New("the job was given to another worker")

// maxTries is how often a job is begun. A photo on which every reader dies must not hold up the others.
const maxTries = 5

// Job is one reading of one photo.
type Job struct {
	Photo string // SHA-256 in hex
	Round string // tells readings of one photo apart, such as a reader's version; "" for the first
}

// Counts are how many jobs there are of each kind.
type Counts struct {
	Waiting int // nobody has begun it, or it waits for another try
	Taken   int // somebody is at it, or was when they died
	Done    int
	Failed  int // given up; Put takes it up again
}

// Failure is a job that was given up.
type Failure struct {
	Job
	Fault string // what the last try died of
}

// Options say how a worker goes about it.
type Options struct {
	// Worker names it in the queue, for whoever looks at that. No person's name.
	Worker string
	// Lease is how long a worker may be quiet before its job is given to another; while it lives it shows that by
	// itself, however long a job takes. 0 is 20 s. On SQLite that is by the other's own steady clock: no two clocks are
	// compared, and none on the wall is asked. On PostgreSQL it is by River's, which looks every half minute.
	Lease time.Duration
	// Now is a clock whose readings are steady between themselves, as time.Now. It must not be nil.
	Now func() time.Time
	// Stay makes Work go on when nothing is left.
	Stay bool
	// Idle, where set, is called each time nothing waits, and may Put. Its error ends Work. It
	// may be called while do runs.
	Idle func(context.Context) error
}

func (o Options) lease() time.Duration {
	if o.Lease > 0 {
		return o.Lease
	}
	return 20 * time.Second
}

// poll is the time between two looks for work when there was none.
func (o Options) poll() time.Duration { return min(o.lease()/5, 500*time.Millisecond) }

// Taken is a job that a worker has.
type Taken struct {
	Job
	Tries int // with this one

	close func(context.Context, *sql.Tx) error
	open  func(context.Context) (bool, error) // whether it is still this worker's to close
}

// Close closes the job within tx, a transaction of the store's database, so that it is closed if and only if what
// was found in the photo is kept. It is a store.Guard. The error is ErrLost if the job is no longer the worker's.
func (t *Taken) Close(ctx context.Context, tx *sql.Tx) error { return t.close(ctx, tx) }

// Queue is the list of a race's photos to be read. It is safe for concurrent use, also by several processes, and
// survives whatever the store survives.
type Queue interface {
	// Put adds jobs and returns how many were new. One that is there is left alone; but one that was given up is
	// taken up again if again is set.
	Put(ctx context.Context, again bool, jobs ...Job) (added int, err error)

	// Work takes one job after another and hands it to do, until none is left that anybody could still have to do;
	// one that another worker has is waited for, for that worker may die. With Stay it goes on until ctx ends.
	//
	// do either closes the job where it keeps something, or keeps nothing and returns nil, which closes it too.
	// Its error gives the job back for another try, the last of which fails it. Its context ends when the job is
	// lost. Work returns ctx's error when ctx ends; the job in hand is given back then.
	Work(ctx context.Context, opt Options, do func(context.Context, *Taken) error) error

	Counts(ctx context.Context) (Counts, error)
	Failures(ctx context.Context) ([]Failure, error)
}

// Open opens the queue of a store and makes it if there is none. Nothing is to be closed but the store.
func Open(ctx context.Context, s *store.Store) (Queue, error) {
	if _, postgres := s.Database(); postgres {
		return openRiver(ctx, s)
	}
	return openTable(ctx, s)
}

// finish brings a try to its end that went well: whatever wasn't closed is closed. Whether it was is asked of the
// database, for a transaction in which it was closed may not have been committed.
func finish(ctx context.Context, s *store.Store, t *Taken) error {
	open, err := t.open(ctx)
	if err == nil && open {
		err = s.Together(ctx, t.Close)
	}
	return err
}

func sqlError(err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("queue: %w", err)
}
