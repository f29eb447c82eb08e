package queue_test

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/queue"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
)

// bed is a queue under test. What is expected of it is our own logic.
type bed struct {
	t     *testing.T
	dir   string
	store *store.Store
	queue queue.Queue
	pg    bool
}

// newBed opens a queue on a new race; address names its rows in PostgreSQL, "" for SQLite.
func newBed(t *testing.T, address string) *bed {
	t.Helper()
	dir := t.TempDir()
	if address != "" {
		require.NoError(t, os.WriteFile(filepath.Join(dir, store.AddressName), []byte(address), 0o600))
	}
	b := &bed{t: t, dir: dir, pg: address != ""}
	b.store, b.queue = openBoth(t, dir)
	return b
}

func openBoth(t *testing.T, dir string) (*store.Store, queue.Queue) {
	s, err := store.Open(t.Context(), dir, store.Options{Now: time.Now})
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	q, err := queue.Open(t.Context(), s)
	require.NoError(t, err)
	return s, q
}

// photos keeps n photos; they are bytes that begin like one.
func (b *bed) photos(n int) (ids []string) {
	for i := range n {
		p, _, err := b.store.AddPhoto(b.t.Context(), "card.jpg", bytes.NewReader(fmt.Appendf([]byte("\xff\xd8\xff\xe0"), "photo %d", i)), -1, time.Time{})
		require.NoError(b.t, err)
		ids = append(ids, p.ID)
	}
	return ids
}

func (b *bed) put(again bool, jobs ...queue.Job) int {
	n, err := b.queue.Put(b.t.Context(), again, jobs...)
	require.NoError(b.t, err)
	return n
}

func (b *bed) counts() queue.Counts {
	c, err := b.queue.Counts(b.t.Context())
	require.NoError(b.t, err)
	return c
}

// outcomes is how often something became of a photo, by a reader.
func (b *bed) outcomes(photo, reader string) (n int) {
	db, _ := b.store.Database()
	require.NoError(b.t, db.QueryRowContext(b.t.Context(), `SELECT COUNT(*) FROM outcomes WHERE photo = $1 AND reader = $2`, photo, reader).Scan(&n))
	return n
}

// read is a reader that finds one card, and keeps it as a worker should.
func read(ctx context.Context, s *store.Store, t *queue.Taken) error {
	n := int(t.Photo[0])*256 + int(t.Photo[1])
	return s.Guarded(t.Close).AddSheets(ctx, t.Photo, "reader "+t.Round, []store.NewSheet{storetest.Side(n, 1, "46")})
}

func options(name string) queue.Options {
	return queue.Options{Worker: name, Lease: 10 * time.Second, Now: time.Now}
}

// promises are what any queue keeps to.
var promises = map[string]func(*testing.T, *bed){
	"Job_PutTwice_IsOne": func(t *testing.T, b *bed) {
		ids := b.photos(2)
		assert.Equal(t, 2, b.put(false, queue.Job{Photo: ids[0]}, queue.Job{Photo: ids[1]}))
		assert.Equal(t, 1, b.put(false, queue.Job{Photo: ids[0]}, queue.Job{Photo: ids[0], Round: "2"}))
		assert.Equal(t, queue.Counts{Waiting: 3}, b.counts())
		require.NoError(t, b.queue.Work(t.Context(), options("a"), func(ctx context.Context, j *queue.Taken) error { return read(ctx, b.store, j) }))
		assert.Equal(t, queue.Counts{Done: 3}, b.counts())
		assert.Zero(t, b.put(false, queue.Job{Photo: ids[0]}), "what is done stays done")
		assert.Zero(t, b.put(true, queue.Job{Photo: ids[0]}))
	},
	"Jobs_OfManyWorkers_AreEachDoneOnce": func(t *testing.T, b *bed) {
		ids := b.photos(12)
		for _, id := range ids {
			b.put(false, queue.Job{Photo: id}, queue.Job{Photo: id, Round: "2"})
		}
		var group sync.WaitGroup
		var begun atomic.Int32
		for n := range 3 {
			s, q := openBoth(t, b.dir) // as another process would
			group.Go(func() {
				assert.NoError(t, q.Work(t.Context(), options(fmt.Sprint("worker-", n)), func(ctx context.Context, j *queue.Taken) error {
					begun.Add(1)
					return read(ctx, s, j)
				}))
			})
		}
		group.Wait()
		assert.EqualValues(t, 24, begun.Load())
		assert.Equal(t, queue.Counts{Done: 24}, b.counts())
		for _, id := range ids {
			assert.Equal(t, 1, b.outcomes(id, "reader "))
			assert.Equal(t, 1, b.outcomes(id, "reader 2"))
		}
	},
	"Job_ThatFails_IsTriedFiveTimesAndThenSaysWhy": func(t *testing.T, b *bed) {
		ids := b.photos(2)
		bad, good := queue.Job{Photo: ids[0]}, queue.Job{Photo: ids[1]}
		b.put(false, bad, good)
		tries := 0
		do := func(ctx context.Context, j *queue.Taken) error {
			if j.Job == bad {
				tries++
				assert.Equal(t, tries, j.Tries)
				return errors.New("no such lens")
			}
			return read(ctx, b.store, j)
		}
		require.NoError(t, b.queue.Work(t.Context(), options("a"), do))
		assert.Equal(t, 5, tries)
		assert.Equal(t, queue.Counts{Done: 1, Failed: 1}, b.counts())
		all, err := b.queue.Failures(t.Context())
		require.NoError(t, err)
		assert.Equal(t, []queue.Failure{{Job: bad, Fault: "no such lens"}}, all)
		assert.Zero(t, b.put(false, bad))
		assert.Equal(t, 1, b.put(true, bad), "somebody wants it tried again")
		assert.Equal(t, queue.Counts{Done: 1, Waiting: 1}, b.counts())
		require.NoError(t, b.queue.Work(t.Context(), options("a"), func(ctx context.Context, j *queue.Taken) error { return read(ctx, b.store, j) }))
		assert.Equal(t, queue.Counts{Done: 2}, b.counts())
		assert.Equal(t, 1, b.outcomes(bad.Photo, "reader "))
	},
	"Work_Interrupted_GivesItsJobBackUncounted": func(t *testing.T, b *bed) {
		id := b.photos(1)[0]
		b.put(false, queue.Job{Photo: id})
		ctx, cancel := context.WithCancel(t.Context())
		err := b.queue.Work(ctx, options("a"), func(ctx context.Context, _ *queue.Taken) error {
			cancel()
			<-ctx.Done()
			return ctx.Err()
		})
		require.ErrorIs(t, err, context.Canceled)
		assert.Equal(t, queue.Counts{Waiting: 1}, b.counts())
		require.NoError(t, b.queue.Work(t.Context(), options("a"), func(ctx context.Context, j *queue.Taken) error {
			assert.Equal(t, 1, j.Tries)
			return read(ctx, b.store, j)
		}))
		assert.Equal(t, 1, b.outcomes(id, "reader "))
	},
	"Job_NotKept_IsDoneAllTheSame": func(t *testing.T, b *bed) {
		id := b.photos(1)[0]
		require.NoError(t, b.store.AddSheets(t.Context(), id, "desk", []store.NewSheet{storetest.Side(4, 1, "46")}))
		b.put(false, queue.Job{Photo: id})
		require.NoError(t, b.queue.Work(t.Context(), options("a"), func(ctx context.Context, j *queue.Taken) error {
			// Close goes first here and its work is undone with the rest.
			err := b.store.Guarded(j.Close, store.Unread(id)).AddSheets(ctx, id, "reader", []store.NewSheet{storetest.Side(4, 1, "40")})
			require.ErrorIs(t, err, store.ErrReadMeanwhile)
			return nil
		}))
		assert.Equal(t, queue.Counts{Done: 1}, b.counts())
		assert.Zero(t, b.outcomes(id, "reader"))
	},
	"Worker_ThatComesBackLate_KeepsNothing": func(t *testing.T, b *bed) {
		id := b.photos(1)[0]
		b.put(false, queue.Job{Photo: id})
		asleep, awake, ended := make(chan bool), make(chan bool), make(chan error, 1)
		s, q := openBoth(t, b.dir)
		late, stop := context.WithCancel(t.Context())
		defer stop()
		go func() {
			// So long a lease that it shows no sign of life while the test lasts: as a laptop that was closed.
			ended <- q.Work(late, queue.Options{Worker: "late", Lease: time.Hour, Now: time.Now}, func(ctx context.Context, j *queue.Taken) error {
				asleep <- true
				<-awake
				defer stop() // what it may take up afterwards is another try, and its own
				err := s.Guarded(j.Close).AddSheets(ctx, id, "late", []store.NewSheet{storetest.Side(4, 1, "40")})
				assert.ErrorIs(t, err, queue.ErrLost)
				return err
			})
		}()
		<-asleep
		if b.pg { // what River does with it, after half a minute
			db, _ := b.store.Database()
			_, err := db.ExecContext(t.Context(), `UPDATE river_job SET state = 'available'`)
			require.NoError(t, err)
		}
		opt := options("heir")
		opt.Lease = 300 * time.Millisecond
		if b.pg {
			opt.Lease = 20 * time.Second
		}
		// The late one comes back in the middle of the heir's reading.
		require.NoError(t, b.queue.Work(t.Context(), opt, func(ctx context.Context, j *queue.Taken) error {
			if j.Tries == 2 {
				awake <- true
				time.Sleep(200 * time.Millisecond)
			}
			return read(ctx, b.store, j)
		}))
		stop()
		if err := <-ended; err != nil { // it had ended, or was stopped
			require.ErrorIs(t, err, context.Canceled)
		}
		assert.Equal(t, queue.Counts{Done: 1}, b.counts())
		assert.Equal(t, 1, b.outcomes(id, "reader "))
		assert.Zero(t, b.outcomes(id, "late"))
	},
	"Job_LongerThanTheLease_StaysItsWorkers": func(t *testing.T, b *bed) {
		id := b.photos(1)[0]
		b.put(false, queue.Job{Photo: id})
		var group sync.WaitGroup
		var begun atomic.Int32
		for n := range 2 {
			s, q := openBoth(t, b.dir)
			group.Go(func() {
				opt := options(fmt.Sprint("worker-", n))
				opt.Lease = time.Second
				assert.NoError(t, q.Work(t.Context(), opt, func(ctx context.Context, j *queue.Taken) error {
					begun.Add(1)
					select {
					case <-ctx.Done():
					case <-time.After(2500 * time.Millisecond):
					}
					return read(ctx, s, j)
				}))
			})
		}
		group.Wait()
		assert.EqualValues(t, 1, begun.Load())
		assert.Equal(t, queue.Counts{Done: 1}, b.counts())
		assert.Equal(t, 1, b.outcomes(id, "reader "))
	},
	"Idle_MayBringMore": func(t *testing.T, b *bed) {
		ids := b.photos(2)
		b.put(false, queue.Job{Photo: ids[0]})
		opt := options("a")
		brought := false
		opt.Idle = func(ctx context.Context) error {
			if !brought {
				brought = true
				b.put(false, queue.Job{Photo: ids[1]})
			}
			return nil
		}
		opt.Stay = true
		ctx, cancel := context.WithCancel(t.Context())
		n := 0
		err := b.queue.Work(ctx, opt, func(ctx context.Context, j *queue.Taken) error {
			err := read(ctx, b.store, j)
			if n++; n == 2 {
				time.AfterFunc(50*time.Millisecond, cancel)
			}
			return err
		})
		require.ErrorIs(t, err, context.Canceled)
		assert.Equal(t, queue.Counts{Done: 2}, b.counts())
	},
	"Database_ThatFailsAtClosing_LeavesTheJobOpen": func(t *testing.T, b *bed) {
		id := b.photos(1)[0]
		b.put(false, queue.Job{Photo: id})
		require.NoError(t, b.queue.Work(t.Context(), options("a"), func(ctx context.Context, j *queue.Taken) error {
			if j.Tries == 1 {
				err := b.store.Guarded(j.Close, func(context.Context, *sql.Tx) error { return errors.New("disk full") }).
					AddSheets(ctx, id, "reader ", []store.NewSheet{storetest.Side(4, 1, "40")})
				require.ErrorContains(t, err, "disk full")
				return err
			}
			return read(ctx, b.store, j)
		}))
		assert.Equal(t, queue.Counts{Done: 1}, b.counts())
		assert.Equal(t, 1, b.outcomes(id, "reader "))
	},
}

func TestQueue_OnSQLite_KeepsItsPromises(t *testing.T) {
	for name, one := range promises {
		t.Run(name, func(t *testing.T) { one(t, newBed(t, "")) })
	}
}
