package queue

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"gatefold/review/store"
)

// jobsTable is made where a queue is first opened, outside the store's own schema: it holds work, which ends, and
// nothing that was ever said. Archives and copies of a race leave it out.
//
// token counts the claims of a job and is what a claim is proved by. beat grows while a worker lives.
const jobsTable = `
CREATE TABLE IF NOT EXISTS jobs (
  id INTEGER PRIMARY KEY, photo TEXT NOT NULL, round TEXT NOT NULL, state TEXT NOT NULL, tries INTEGER NOT NULL,
  token BIGINT NOT NULL, beat BIGINT NOT NULL, worker TEXT NOT NULL, fault TEXT NOT NULL, UNIQUE (photo, round));
CREATE INDEX IF NOT EXISTS jobs_state ON jobs (state, tries, id);
`

// The states of a job in the table.
const (
	waiting = "waiting"
	taken   = "taken"
	done    = "done"
	failed  = "failed"
)

// table is a Queue in SQLite.
type table struct {
	store *store.Store
	db    *sql.DB
}

func openTable(ctx context.Context, s *store.Store) (*table, error) {
	db, _ := s.Database()
	err := s.Together(ctx, func(ctx context.Context, tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, jobsTable)
		return sqlError(err)
	})
	return &table{s, db}, err
}

func (q *table) Put(ctx context.Context, again bool, jobs ...Job) (added int, err error) {
	err = q.store.Together(ctx, func(ctx context.Context, tx *sql.Tx) error {
		added = 0
		for _, j := range jobs {
			n, err := changed(tx.ExecContext(ctx, `INSERT INTO jobs (photo, round, state, tries, token, beat, worker, fault)
				VALUES ($1, $2, $3, 0, 0, 0, '', '') ON CONFLICT (photo, round) DO NOTHING`, j.Photo, j.Round, waiting))
			if err == nil && n == 0 && again {
				n, err = changed(tx.ExecContext(ctx, `UPDATE jobs SET state = $1, tries = 0, fault = '' WHERE photo = $2 AND round = $3 AND state = $4`,
					waiting, j.Photo, j.Round, failed))
			}
			if err != nil {
				return err
			}
			added += n
		}
		return nil
	})
	return added, err
}

func changed(r sql.Result, err error) (int, error) {
	if err != nil {
		return 0, sqlError(err)
	}
	n, err := r.RowsAffected()
	return int(n), sqlError(err)
}

// claim is a row that a worker has.
type claim struct {
	id, token int64
	tries     int
	job       Job
}

func (q *table) Work(ctx context.Context, opt Options, do func(context.Context, *Taken) error) error {
	w := &watch{now: opt.Now, lease: opt.lease(), seen: map[int64]sign{}}
	for ctx.Err() == nil {
		c, open, err := q.claim(ctx, w, opt.Worker)
		switch {
		case err != nil:
			return err
		case c != nil:
			if err = q.try(ctx, opt, *c, do); err != nil {
				return err
			}
			continue
		}
		if opt.Idle != nil {
			if err = opt.Idle(ctx); err != nil {
				return err
			}
		}
		if open == 0 && !opt.Stay {
			return nil
		}
		select {
		case <-ctx.Done():
		case <-time.After(opt.poll()):
		}
	}
	return ctx.Err()
}

// try lets do have a go at a job.
func (q *table) try(ctx context.Context, opt Options, c claim, do func(context.Context, *Taken) error) error {
	t := &Taken{Job: c.job, Tries: c.tries, close: func(ctx context.Context, tx *sql.Tx) error {
		return mine(tx.ExecContext(ctx, `UPDATE jobs SET state = $1, fault = '' WHERE id = $2 AND token = $3 AND state = $4`, done, c.id, c.token, taken))
	}, open: func(ctx context.Context) (bool, error) {
		var n int
		err := q.db.QueryRowContext(ctx, `SELECT COUNT(*) FROM jobs WHERE id = $1 AND token = $2 AND state = $3`, c.id, c.token, taken).Scan(&n)
		return n > 0, sqlError(err)
	}}
	mayWork, lost := context.WithCancelCause(ctx)
	defer lost(nil)
	beats := make(chan struct{})
	go func() {
		defer close(beats)
		q.beat(mayWork, c, opt.lease()/4, lost)
	}()
	err := do(mayWork, t)
	if err == nil {
		err = finish(mayWork, q.store, t)
	}
	gone := errors.Is(context.Cause(mayWork), ErrLost)
	lost(nil)
	<-beats
	switch {
	case err == nil:
		return nil
	case gone, errors.Is(err, ErrLost):
		return nil // somebody else has it
	case ctx.Err() != nil:
		return errors.Join(q.release(ctx, c), ctx.Err())
	case c.tries >= maxTries:
		return q.giveBack(ctx, c, failed, err)
	}
	return q.giveBack(ctx, c, waiting, err)
}

// beat shows every so often that the worker lives, until ctx ends.
func (q *table) beat(ctx context.Context, c claim, every time.Duration, lost context.CancelCauseFunc) {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		err := q.store.Together(ctx, func(ctx context.Context, tx *sql.Tx) error {
			return mine(tx.ExecContext(ctx, `UPDATE jobs SET beat = beat + 1 WHERE id = $1 AND token = $2 AND state = $3`, c.id, c.token, taken))
		})
		if errors.Is(err, ErrLost) {
			lost(ErrLost) // also when it was just closed: then nothing is left that could be ended
			return
		}
	}
}

// mine turns a change of no row into ErrLost: the token has moved on.
func mine(r sql.Result, err error) error {
	n, err := changed(r, err)
	if err == nil && n == 0 {
		err = ErrLost
	}
	return err
}

// giveBack ends a try that failed.
func (q *table) giveBack(ctx context.Context, c claim, state string, why error) error {
	err := q.store.Together(context.WithoutCancel(ctx), func(ctx context.Context, tx *sql.Tx) error {
		return mine(tx.ExecContext(ctx, `UPDATE jobs SET state = $1, fault = $2, worker = '' WHERE id = $3 AND token = $4 AND state = $5`,
			state, why.Error(), c.id, c.token, taken))
	})
	if errors.Is(err, ErrLost) {
		return nil
	}
	return err
}

// release ends a try that was interrupted: it doesn't count, and the next worker needn't wait.
func (q *table) release(ctx context.Context, c claim) error {
	err := q.store.Together(context.WithoutCancel(ctx), func(ctx context.Context, tx *sql.Tx) error {
		return mine(tx.ExecContext(ctx, `UPDATE jobs SET state = $1, tries = tries - 1, worker = '' WHERE id = $2 AND token = $3 AND state = $4`,
			waiting, c.id, c.token, taken))
	})
	if errors.Is(err, ErrLost) {
		return nil
	}
	return err
}

// claim takes a job: one whose worker went quiet, or the first that waits, those tried least before others.
// open is how many are not at their end where it has none.
func (q *table) claim(ctx context.Context, w *watch, worker string) (c *claim, open int, err error) {
	// First without a transaction: to look must not hold up those who write.
	quiet, open, err := q.look(ctx, w)
	if err != nil {
		return nil, 0, err
	}
	var n int
	if err = q.db.QueryRowContext(ctx, `SELECT COUNT(*) FROM (SELECT 1 FROM jobs WHERE state = $1 LIMIT 1) AS first`, waiting).Scan(&n); err != nil {
		return nil, 0, sqlError(err)
	}
	if open += n; n == 0 && len(quiet) == 0 {
		return nil, open, nil
	}
	err = q.store.Together(ctx, func(ctx context.Context, tx *sql.Tx) error {
		c = nil
		for _, s := range quiet {
			found, err := one(tx.QueryRowContext(ctx, selectClaim+` WHERE id = $1 AND token = $2 AND beat = $3 AND state = $4`, s.id, s.token, s.beat, taken))
			if err != nil {
				return err
			}
			if found == nil {
				continue
			}
			if found.tries >= maxTries {
				if _, err = tx.ExecContext(ctx, `UPDATE jobs SET state = $1, fault = $2 WHERE id = $3`, failed,
					fmt.Sprintf("%d workers that had it ended without a word", maxTries), found.id); err != nil {
					return sqlError(err)
				}
				continue
			}
			c = found
			break
		}
		if c == nil {
			found, err := one(tx.QueryRowContext(ctx, selectClaim+` WHERE state = $1 ORDER BY tries, id LIMIT 1`, waiting))
			if err != nil || found == nil {
				return err
			}
			c = found
		}
		c.token++
		c.tries++
		_, err := tx.ExecContext(ctx, `UPDATE jobs SET state = $1, token = $2, tries = $3, beat = 0, worker = $4 WHERE id = $5`,
			taken, c.token, c.tries, worker, c.id)
		return sqlError(err)
	})
	if err != nil {
		return nil, 0, err
	}
	return c, open + 1, nil
}

const selectClaim = `SELECT id, token, tries, photo, round FROM jobs`

func one(row *sql.Row) (*claim, error) {
	var c claim
	err := row.Scan(&c.id, &c.token, &c.tries, &c.job.Photo, &c.job.Round)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, nil
	}
	return &c, sqlError(err)
}

// sign is a sign of life: whose claim of which job it is, and how often it was renewed.
type sign struct {
	id, token, beat int64
	at              time.Time // when it was first seen so, by the clock of whoever looks
}

// watch remembers when each taken job last moved, by one worker's steady clock. What another machine's clock says,
// or whether this one's was set, plays no part.
type watch struct {
	now   func() time.Time
	lease time.Duration
	seen  map[int64]sign // by job
}

// note takes in how a job stands and reports whether it has stood so for a whole lease.
func (w *watch) note(s sign) (quiet bool) {
	old, ok := w.seen[s.id]
	if !ok || old.token != s.token || old.beat != s.beat {
		s.at = w.now()
		w.seen[s.id] = s
		return false
	}
	return w.now().Sub(old.at) >= w.lease
}

// look returns the jobs whose workers went quiet, and how many are taken.
func (q *table) look(ctx context.Context, w *watch) (quiet []sign, open int, err error) {
	rows, err := q.db.QueryContext(ctx, `SELECT id, token, beat FROM jobs WHERE state = $1`, taken)
	if err != nil {
		return nil, 0, sqlError(err)
	}
	defer rows.Close() //nolint:errcheck // rows.Err tells of any fault of reading
	still := map[int64]sign{}
	for rows.Next() {
		var s sign
		if err = rows.Scan(&s.id, &s.token, &s.beat); err != nil {
			return nil, 0, sqlError(err)
		}
		open++
		if w.note(s) {
			quiet = append(quiet, s)
		}
		still[s.id] = w.seen[s.id]
	}
	w.seen = still // ended ones are forgotten
	return quiet, open, sqlError(rows.Err())
}

func (q *table) Counts(ctx context.Context) (c Counts, err error) {
	err = eachCount(ctx, q.db, `SELECT state, COUNT(*) FROM jobs GROUP BY state`, func(state string, n int) {
		switch state {
		case waiting:
			c.Waiting += n
		case taken:
			c.Taken += n
		case done:
			c.Done += n
		case failed:
			c.Failed += n
		}
	})
	return c, err
}

func eachCount(ctx context.Context, db *sql.DB, query string, add func(state string, n int)) error {
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return sqlError(err)
	}
	defer rows.Close() //nolint:errcheck // rows.Err tells of any fault of reading
	for rows.Next() {
		var state string
		var n int
		if err = rows.Scan(&state, &n); err != nil {
			return sqlError(err)
		}
		add(state, n)
	}
	return sqlError(rows.Err())
}

func (q *table) Failures(ctx context.Context) ([]Failure, error) {
	return failures(ctx, q.db, `SELECT photo, round, fault FROM jobs WHERE state = 'failed' ORDER BY id`)
}

func failures(ctx context.Context, db *sql.DB, query string) ([]Failure, error) {
	rows, err := db.QueryContext(ctx, query)
	if err != nil {
		return nil, sqlError(err)
	}
	defer rows.Close() //nolint:errcheck // rows.Err tells of any fault of reading
	var all []Failure
	for rows.Next() {
		var f Failure
		if err = rows.Scan(&f.Photo, &f.Round, &f.Fault); err != nil {
			return nil, sqlError(err)
		}
		all = append(all, f)
	}
	return all, sqlError(rows.Err())
}
