package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"time"

	_ "modernc.org/sqlite" // the driver, in pure Go, so that the store builds without cgo
)

// Names inside a race folder.
const (
	FileName      = "gatefold.db"
	AddressName   = "database.url" // says where the rows are, if not in FileName; see doc.go
	OriginalsName = "originals"
	PagesName     = "pages"
)

// ErrNotFound is returned when no photo, sheet or decision has the given name.
var ErrNotFound = errors.New("not in the store")

// ErrTruncated is returned when fewer or more bytes arrived than were announced. Nothing is kept.
var ErrTruncated = errors.New("upload is not complete")

// NewerError says that a newer program wrote the store. Nothing was changed.
type NewerError struct {
	Path        string
	Found, Know int // schema versions
}

// Error names the file, the versions and what to do.
func (e *NewerError) Error() string {
	return fmt.Sprintf("%s: written by a newer gatefold (schema %d, this one knows %d); use the newer program",
		e.Path, e.Found, e.Know)
}

// Options are the store's outside world.
type Options struct {
	// Now is the clock; its zone is kept with every time. It must not be nil.
	Now func() time.Time
	// Step, where set, is called before each durable step, and its error makes that step fail.
	// It is for fault tests; the steps are listed in Steps.
	Step func(step string) error
}

// Steps are the durable steps of an upload in their order; a decision has the last one only.
var Steps = []string{"create", "write", "sync", "rename", "sync-folder", "commit"}

// Store keeps one race's photos, sheets, readings and decisions.
//
// Everything is append-only: a newer row replaces an older one and both stay. When a method that
// writes returns without an error, what it wrote survives a power cut: files are written, synced,
// renamed and their folder synced before the row that names them is committed, and commits are
// synced too. When it returns an error, nothing of it is seen by any later call.
// All methods are safe for concurrent use, also by several processes on one folder.
type Store struct {
	db   *sql.DB
	pg   bool // PostgreSQL, not SQLite
	dir  string
	now  func() time.Time
	step func(string) error

	write sync.Mutex // one writer: SQLite has only one, and waiting here is fairer than its retries

	mu     sync.Mutex
	sheets map[int64]Sheet // decoded once: what is stored never changes
}

// Open opens the store of a race folder and makes it if there is none; the folder must exist.
// An older schema is brought up to date in one transaction; a newer one is a *NewerError, a broken
// database a *DamagedError.
// The caller closes the Store.
func Open(ctx context.Context, dir string, opt Options) (*Store, error) {
	return openAt(ctx, dir, opt, len(migrations))
}

// openAt opens a store whose schema is brought to version to.
func openAt(ctx context.Context, dir string, opt Options, to int) (*Store, error) {
	if opt.Now == nil {
		return nil, errors.New("store: no clock given")
	}
	abs, err := filepath.Abs(dir)
	if err != nil {
		return nil, fmt.Errorf("store %s: %w", dir, err)
	}
	for _, name := range []string{OriginalsName, PagesName} {
		if err = os.MkdirAll(filepath.Join(abs, name), 0o755); err != nil {
			return nil, fmt.Errorf("store: %w; check that the race folder exists and may be written", err)
		}
	}
	path := filepath.Join(abs, FileName)
	address, err := addressOf(abs)
	if err != nil {
		return nil, err
	}
	var db *sql.DB
	if address != "" {
		path = filepath.Join(abs, AddressName)
		db, err = openPostgres(path, address)
	} else {
		db, err = openDatabase(path)
	}
	if err != nil {
		return nil, err
	}
	s := &Store{db: db, pg: address != "", dir: abs, now: opt.Now, step: opt.Step, sheets: map[int64]Sheet{}}
	if s.step == nil {
		s.step = func(string) error { return nil }
	}
	if s.pg {
		err = s.makeSchema(ctx, path)
	} else {
		err = s.firstWord(ctx)
	}
	if err == nil {
		err = s.check(ctx)
	}
	if err == nil {
		err = s.migrate(ctx, path, to)
	}
	if err == nil {
		err = syncFolder(abs) // the database file's own name must survive as well
	}
	if err == nil {
		err = s.sweep()
	}
	if err != nil {
		return nil, errors.Join(damaged(path, err), db.Close())
	}
	return s, nil
}

// openDatabase opens the database file, or will make it.
func openDatabase(path string) (*sql.DB, error) {
	address := url.URL{Scheme: "file", Path: path, RawQuery: url.Values{
		// FULL, not NORMAL: in WAL mode NORMAL may lose the last commits at a power cut.
		"_pragma": {"busy_timeout(10000)", "journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(1)"},
		"_txlock": {"immediate"},
	}.Encode()}
	db, err := sql.Open("sqlite", address.String())
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return db, nil
}

// firstWord makes the first connection. Two programs that begin on a new database at the same moment both turn its
// log on, and SQLite tells one of them at once that the other is at it, without the wait it was asked for.
func (s *Store) firstWord(ctx context.Context) error {
	for tries := 0; ; tries++ {
		err := s.db.PingContext(ctx)
		if !busy(err) || tries == 500 {
			if err != nil {
				return fmt.Errorf("store: %w", err)
			}
			return nil
		}
		select {
		case <-time.After(20 * time.Millisecond):
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

// Close releases the database. The Store must not be used afterwards.
func (s *Store) Close() error { return s.db.Close() }

// Dir returns the absolute path of the race folder.
func (s *Store) Dir() string { return s.dir }

// Head returns a number that grows with everything the store accepts; equal numbers mean that
// nothing was added in between.
func (s *Store) Head(ctx context.Context) (int64, error) {
	var head int64
	err := s.db.QueryRowContext(ctx, `SELECT last FROM sequence`).Scan(&head)
	if err != nil {
		return 0, fmt.Errorf("store: %w", err)
	}
	return head, nil
}

// append runs f in one write transaction and commits it durably.
func (s *Store) append(ctx context.Context, f func(*journal) error) error {
	s.write.Lock()
	defer s.write.Unlock()
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	defer tx.Rollback() //nolint:errcheck // after a commit this is a no-op, before it the first error counts
	j := &journal{ctx: ctx, tx: tx, at: s.now()}
	if err = tx.QueryRowContext(ctx, `SELECT last FROM sequence`+s.oneWriter()).Scan(&j.last); err != nil {
		return fmt.Errorf("store: %w", err)
	}
	if err = f(j); err != nil {
		return err
	}
	if _, err = tx.ExecContext(ctx, `UPDATE sequence SET last = $1`, j.last); err != nil {
		return fmt.Errorf("store: %w", err)
	}
	if err = s.step("commit"); err != nil {
		return fmt.Errorf("store: %w", err)
	}
	if err = tx.Commit(); err != nil {
		return fmt.Errorf("store: %w", err)
	}
	return nil
}

// journal is one write transaction. All its rows carry the same time.
type journal struct {
	ctx  context.Context
	tx   *sql.Tx
	at   time.Time
	last int64 // row number drawn last; all tables share one sequence, so numbers tell the order across them
	// sight is the name of what the store holds, once it was asked for: see seen.
	sight string
}

// add inserts one row. insert must name id as its first column; values are the others in order.
func (j *journal) add(insert string, values ...any) (int64, error) {
	j.last++
	if _, err := j.tx.ExecContext(j.ctx, insert, append([]any{j.last}, values...)...); err != nil {
		return 0, fmt.Errorf("store: %w", err)
	}
	return j.last, nil
}
