//go:build unix

package queue_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/queue"
	"gatefold/review/store"
	"gatefold/review/store/storetest"
	"gatefold/review/store/storetest/cluster"
)

// The small figures are for every day; review/docs/queue.md says with which others it was measured.
var (
	jobsFlag    = flag.Int("jobs", 240, "jobs that the killed workers are given")
	photosFlag  = flag.Int("photos", 40, "photos that these jobs are of")
	workersFlag = flag.Int("workers", 2, "workers side by side")
	killsFlag   = flag.Int("kills", 6, "how often one of them is killed, at random; 0 for a plain run")
	betweenFlag = flag.Duration("between", 400*time.Millisecond, "mean time between two kills")
	costFlag    = flag.Duration("cost", 3*time.Millisecond, "time of a processor that each job takes")
	seedFlag    = flag.Uint64("seed", 1, "of the kills")
)

const workerEnv = "GATEFOLD_QUEUE_TEST_RACE"

func TestMain(m *testing.M) {
	if dir := os.Getenv(workerEnv); dir != "" {
		if err := beWorker(dir); err != nil {
			_, _ = fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// beWorker is a program that reads: it hashes for a while, and keeps a card for each photo.
func beWorker(dir string) (err error) {
	ctx := context.Background()
	cost, err := time.ParseDuration(os.Getenv(workerEnv + "_COST"))
	if err != nil {
		return err
	}
	lease, err := time.ParseDuration(os.Getenv(workerEnv + "_LEASE"))
	if err != nil {
		return err
	}
	s, err := store.Open(ctx, dir, store.Options{Now: time.Now})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	q, err := queue.Open(ctx, s)
	if err != nil {
		return err
	}
	name := fmt.Sprint("worker-", os.Getpid())
	return q.Work(ctx, queue.Options{Worker: name, Lease: lease, Now: time.Now}, func(ctx context.Context, j *queue.Taken) error {
		sum := sha256.Sum256([]byte(j.Photo + j.Round))
		for end := time.Now().Add(cost); time.Now().Before(end); {
			sum = sha256.Sum256(sum[:])
		}
		n := storetest.Side(int(j.Photo[0]), 1, "46")
		n.Page = fmt.Appendf([]byte("\x89PNG\r\n\x1a\n"), "page of %s", j.Photo)
		return s.Guarded(j.Close).AddSheets(ctx, j.Photo, j.Round, []store.NewSheet{n})
	})
}

// killing is a race, workers on it, and somebody who kills them.
func killing(t *testing.T, address string, lease time.Duration) {
	b := newBed(t, address)
	ids := b.photos(*photosFlag)
	var jobs []queue.Job
	for i := range *jobsFlag {
		jobs = append(jobs, queue.Job{Photo: ids[i%len(ids)], Round: "round " + strconv.Itoa(i/len(ids))})
	}
	require.Equal(t, *jobsFlag, b.put(false, jobs...))

	random := rand.New(rand.NewPCG(*seedFlag, 0))
	type worker struct {
		cmd   *exec.Cmd
		said  bytes.Buffer
		ended chan error
	}
	begin := func() *worker {
		w := &worker{cmd: exec.Command(os.Args[0]), ended: make(chan error, 1)}
		w.cmd.Env = append(os.Environ(), workerEnv+"="+b.dir, workerEnv+"_COST="+costFlag.String(), workerEnv+"_LEASE="+lease.String())
		w.cmd.Stderr = &w.said
		require.NoError(t, w.cmd.Start())
		go func() { w.ended <- w.cmd.Wait() }()
		return w
	}
	start := time.Now()
	workers := make([]*worker, *workersFlag)
	for i := range workers {
		workers[i] = begin()
	}
	defer func() {
		for _, w := range workers {
			_ = w.cmd.Process.Kill() // this test's own; it has ended unless the test failed
		}
	}()
	kills, struck := 0, 0
	for kills < *killsFlag {
		time.Sleep(time.Duration(random.ExpFloat64() * float64(*betweenFlag)))
		if c := b.counts(); c.Waiting == 0 {
			break
		}
		i := random.IntN(len(workers))
		err := workers[i].cmd.Process.Kill()
		if ended := <-workers[i].ended; err != nil { // it had ended before its time
			require.NoError(t, ended, workers[i].said.String())
		}
		workers[i] = begin()
		kills++
	}
	for _, w := range workers {
		err := <-w.ended
		require.NoError(t, err, w.said.String())
	}
	took := time.Since(start)

	// Each job is done, and the store has what came of it exactly once: an outcome, a sheet, its readings.
	assert.Equal(t, queue.Counts{Done: len(jobs)}, b.counts())
	db, _ := b.store.Database()
	for _, what := range []string{"outcomes", "sheets", "reads"} {
		query := `SELECT photo, reader, COUNT(*) FROM outcomes GROUP BY photo, reader`
		switch what {
		case "sheets":
			query = `SELECT s.photo, o.reader, COUNT(*) FROM sheets s JOIN outcomes o ON o.id = s.outcome GROUP BY s.photo, o.reader`
		case "reads":
			query = `SELECT s.photo, r.reader, COUNT(*) FROM reads r JOIN sheets s ON s.id = r.sheet GROUP BY s.photo, r.reader`
		}
		kept := keptOf(t, db, query)
		for _, j := range jobs {
			require.Equal(t, 1, kept[j], "%s of photo %s, %s", what, j.Photo, j.Round)
		}
		assert.Len(t, kept, len(jobs), what)
	}
	bad, err := b.store.VerifyFiles(t.Context())
	require.NoError(t, err)
	assert.Empty(t, bad)
	left, err := filepath.Glob(filepath.Join(b.dir, store.PagesName, "*"))
	require.NoError(t, err)
	struck = max(0, b.tries()-len(jobs))
	t.Logf("%d jobs on %d photos, %d workers, %d killed in the midst of %d jobs, seed %d: %.1f s, %.0f jobs/s; %d pages",
		len(jobs), len(ids), len(workers), kills, struck, *seedFlag, took.Seconds(), float64(len(jobs))/took.Seconds(), len(left))
	if *killsFlag > 0 {
		assert.Positive(t, kills)
	}
}

// tries is how often all jobs were begun.
func (b *bed) tries() (n int) {
	db, _ := b.store.Database()
	query := `SELECT SUM(tries) FROM jobs`
	if b.pg {
		query = `SELECT SUM(attempt) FROM river_job`
	}
	require.NoError(b.t, db.QueryRowContext(b.t.Context(), query).Scan(&n))
	return n
}

func keptOf(t *testing.T, db *sql.DB, query string) map[queue.Job]int {
	rows, err := db.QueryContext(t.Context(), query)
	require.NoError(t, err)
	defer rows.Close() //nolint:errcheck // rows.Err tells of any fault of reading
	kept := map[queue.Job]int{}
	for rows.Next() {
		var j queue.Job
		var n int
		require.NoError(t, rows.Scan(&j.Photo, &j.Round, &n))
		kept[j] = n
	}
	require.NoError(t, rows.Err())
	return kept
}

func TestKilled_OnSQLite_EachJobIsKeptOnce(t *testing.T) { killing(t, "", time.Second) }

// TestKilled_OnPostgres_EachJobIsKeptOnce wants to be asked for: River's own round takes half a minute to find a dead worker's job.
func TestKilled_OnPostgres_EachJobIsKeptOnce(t *testing.T) {
	if os.Getenv("GATEFOLD_QUEUE_LONG") == "" {
		t.Skip("takes a minute or more; set GATEFOLD_QUEUE_LONG=1")
	}
	killing(t, cluster.Start(t).Address("killed"), 5*time.Second)
}
