package queue

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/riverqueue/river"
	"github.com/riverqueue/river/riverdriver/riverdatabasesql"
	"github.com/riverqueue/river/rivermigrate"
	"github.com/riverqueue/river/rivertype"

	"gatefold/review/store"
)

// riverQueue is a Queue in PostgreSQL, on River.
//
// River hands jobs out, finds those whose worker died, and counts tries. Two things it does not do: its
// JobCompleteTx tells a worker that came late nothing (a job that isn't running is returned as it is, without an
// error; whether it runs in this try or another's isn't asked), and it renews no claim. So the claim is proved here,
// by the number of the try, within the transaction that keeps what was found, and renewed here.
type riverQueue struct {
	store *store.Store
	db    *sql.DB
}

// readPhoto is what River keeps of a Job.
type readPhoto struct {
	Photo string `json:"photo"`
	Round string `json:"round"`
}

const (
	riverKind = "read-photo"
	riverName = "photos"
)

// Kind names the jobs in River's table.
func (readPhoto) Kind() string { return riverKind }

// InsertOpts says what River is to do with such jobs.
func (readPhoto) InsertOpts() river.InsertOpts {
	return river.InsertOpts{Queue: riverName, MaxAttempts: maxTries, UniqueOpts: river.UniqueOpts{ByArgs: true}}
}

func openRiver(ctx context.Context, s *store.Store) (_ *riverQueue, err error) {
	db, _ := s.Database()
	conn, err := db.Conn(ctx)
	if err != nil {
		return nil, sqlError(err)
	}
	defer func() { err = errors.Join(err, conn.Close()) }()
	// Several workers may be the first.
	const lock = `(hashtext('gatefold queue ' || current_schema()))`
	if _, err = conn.ExecContext(ctx, `SELECT pg_advisory_lock`+lock); err != nil {
		return nil, sqlError(err)
	}
	m, err := rivermigrate.New(riverdatabasesql.New(db), &rivermigrate.Config{Logger: quietLog})
	if err == nil {
		_, err = m.Migrate(ctx, rivermigrate.DirectionUp, nil)
	}
	_, unlock := conn.ExecContext(context.WithoutCancel(ctx), `SELECT pg_advisory_unlock`+lock)
	return &riverQueue{s, db}, sqlError(errors.Join(err, unlock))
}

// quietLog keeps River's words off the terminal: what went wrong with a photo stands in the queue.
var quietLog = slog.New(slog.DiscardHandler)

func (q *riverQueue) Put(ctx context.Context, again bool, jobs ...Job) (added int, err error) {
	client, err := river.NewClient(riverdatabasesql.New(q.db), &river.Config{Logger: quietLog})
	if err != nil {
		return 0, sqlError(err)
	}
	given := map[Job]bool{}
	if !again { // to River, one that was given up is no hindrance
		all, err := q.Failures(ctx)
		if err != nil {
			return 0, err
		}
		for _, f := range all {
			given[f.Job] = true
		}
	}
	const batch = 1000
	var many []river.InsertManyParams
	insert := func() error {
		if len(many) == 0 {
			return nil
		}
		results, err := client.InsertMany(ctx, many)
		many = many[:0]
		for _, r := range results {
			if !r.UniqueSkippedAsDuplicate {
				added++
			}
		}
		return sqlError(err)
	}
	for _, j := range jobs {
		if given[j] {
			continue
		}
		many = append(many, river.InsertManyParams{Args: readPhoto(j)})
		if len(many) == batch {
			if err = insert(); err != nil {
				return added, err
			}
		}
	}
	return added, insert()
}

// riverWorker is what River calls.
type riverWorker struct {
	river.WorkerDefaults[readPhoto]
	queue   *riverQueue
	now     func() time.Time
	lease   time.Duration
	stopped <-chan struct{}
	do      func(context.Context, *Taken) error
}

// NextRetry lets no job wait: nothing outside has to recover first. A time that has passed River doesn't take.
func (w *riverWorker) NextRetry(*river.Job[readPhoto]) time.Time {
	return w.now().Add(50 * time.Millisecond)
}

// Work is one try.
func (w *riverWorker) Work(ctx context.Context, job *river.Job[readPhoto]) error {
	// Not River's context, which ends when a claim that nobody renewed would: this one is renewed.
	mayWork, end := context.WithCancelCause(context.WithoutCancel(ctx))
	defer end(nil)
	go w.live(ctx, mayWork, job, end)
	t := &Taken{Job: Job(job.Args), Tries: job.Attempt, close: func(ctx context.Context, tx *sql.Tx) error {
		if mine, err := runs(ctx, tx, ` FOR UPDATE`, job.ID, job.Attempt); err != nil || !mine {
			return errors.Join(err, lostUnless(mine))
		}
		_, err := river.JobCompleteTx[*riverdatabasesql.Driver](ctx, tx, job)
		return sqlError(err)
	}, open: func(ctx context.Context) (bool, error) { return runs(ctx, w.queue.db, "", job.ID, job.Attempt) }}
	err := w.do(mayWork, t)
	if err == nil {
		err = finish(mayWork, w.queue.store, t)
	}
	switch {
	case err == nil:
		return nil
	case errors.Is(err, ErrLost), errors.Is(context.Cause(mayWork), ErrLost):
		// Never nil: River would mark the job as done while another worker has it, for it asks whether the job runs,
		// not in which try. With an error that other's try may be in vain, but the photo is read.
		return err
	case errors.Is(context.Cause(mayWork), errStopped):
		return river.JobSnooze(0) // interrupted: no try
	}
	return err
}

// errStopped is the cause of a context that ended because the worker is to stop.
var errStopped = errors.New("the worker is to stop")

// live renews the claim of a job until mayWork ends: what River takes for the beginning of a try moves on, so that River
// looks for a dead worker only when that stands still. It ends mayWork when River stops the worker or the claim is lost.
func (w *riverWorker) live(ctx, mayWork context.Context, job *river.Job[readPhoto], end context.CancelCauseFunc) {
	tick := time.NewTicker(w.lease / 4)
	defer tick.Stop()
	stopped := ctx.Done()
	for {
		select {
		case <-mayWork.Done():
			return
		case <-stopped:
			if !errors.Is(ctx.Err(), context.DeadlineExceeded) {
				end(errStopped)
				return
			}
			stopped = w.stopped // River's own time for the try is over, and so is its word on stopping
		case <-tick.C:
			n, err := changed(w.queue.db.ExecContext(mayWork, `UPDATE river_job SET attempted_at = now()
				WHERE id = $1 AND attempt = $2 AND state = 'running'`, job.ID, job.Attempt))
			if err == nil && n == 0 {
				end(ErrLost)
				return
			}
		}
	}
}

func lostUnless(mine bool) error {
	if mine {
		return nil
	}
	return ErrLost
}

type querier interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// runs reports whether a try of a job is the one that runs.
func runs(ctx context.Context, db querier, lock string, id int64, attempt int) (bool, error) {
	var n int
	err := db.QueryRowContext(ctx, `SELECT attempt FROM river_job WHERE id = $1 AND state = 'running'`+lock, id).Scan(&n)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return n == attempt, sqlError(err)
}

func (q *riverQueue) Work(ctx context.Context, opt Options, do func(context.Context, *Taken) error) error {
	workers := river.NewWorkers()
	if err := river.AddWorkerSafely(workers, &riverWorker{queue: q, now: opt.Now, lease: opt.lease(), stopped: ctx.Done(), do: do}); err != nil {
		return sqlError(err)
	}
	client, err := river.NewClient(riverdatabasesql.New(q.db), &river.Config{
		ID: opt.Worker, Logger: quietLog, Workers: workers, PollOnly: true,
		// One at a time: how many read side by side is for whoever starts processes to say.
		Queues:        map[string]river.QueueConfig{riverName: {MaxWorkers: 1}},
		FetchCooldown: time.Millisecond, FetchPollInterval: opt.poll(),
		JobTimeout: opt.lease(), RescueStuckJobsAfter: opt.lease(),
		// Jobs that are done stay, so that a photo isn't put in again; there are as many as photos.
		CompletedJobRetentionPeriod: -1, DiscardedJobRetentionPeriod: -1,
	})
	if err != nil {
		return sqlError(err)
	}
	// Stopped below, not by ctx: its word on a job in hand has to reach the database.
	if err = client.Start(context.WithoutCancel(ctx)); err != nil {
		return sqlError(err)
	}
	var once sync.Once
	stop := func() (err error) {
		once.Do(func() { err = client.StopAndCancel(context.WithoutCancel(ctx)) })
		return sqlError(err)
	}
	defer stop() //nolint:errcheck // after the other call it does nothing
	for ctx.Err() == nil {
		c, err := q.Counts(ctx)
		if err == nil && c.Waiting == 0 && opt.Idle != nil {
			err = opt.Idle(ctx)
		}
		if err != nil {
			return err
		}
		if c.Waiting+c.Taken == 0 && !opt.Stay {
			return stop()
		}
		select {
		case <-ctx.Done():
		case <-time.After(opt.poll()):
		}
	}
	return errors.Join(stop(), ctx.Err())
}

func (q *riverQueue) Counts(ctx context.Context) (c Counts, err error) {
	err = eachCount(ctx, q.db, `SELECT state::text, COUNT(*) FROM river_job WHERE kind = '`+riverKind+`' GROUP BY state`, func(state string, n int) {
		switch rivertype.JobState(state) {
		case rivertype.JobStateRunning:
			c.Taken += n
		case rivertype.JobStateCompleted:
			c.Done += n
		case rivertype.JobStateDiscarded, rivertype.JobStateCancelled:
		default:
			c.Waiting += n
		}
	})
	if err != nil {
		return c, err
	}
	all, err := q.Failures(ctx)
	c.Failed = len(all)
	return c, err
}

func (q *riverQueue) Failures(ctx context.Context) ([]Failure, error) {
	// One that was put in again after it failed has a newer row.
	all, err := failures(ctx, q.db, `SELECT j.args ->> 'photo', j.args ->> 'round', COALESCE(j.errors[cardinality(j.errors)]::text, '{}') FROM river_job j
		WHERE j.kind = '`+riverKind+`' AND j.state IN ('discarded', 'cancelled')
		AND NOT EXISTS (SELECT 1 FROM river_job n WHERE n.kind = j.kind AND n.args = j.args AND n.id > j.id) ORDER BY j.id`)
	for i, f := range all {
		var said rivertype.AttemptError
		if err := json.Unmarshal([]byte(f.Fault), &said); err != nil {
			return nil, fmt.Errorf("queue: photo %s: %w", f.Photo, err)
		}
		all[i].Fault = said.Error
	}
	return all, err
}
