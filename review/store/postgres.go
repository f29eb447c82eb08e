package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/stdlib"
)

// addressOf returns the address of a race's rows in PostgreSQL, or "" for a race that keeps them beside itself.
func addressOf(dir string) (string, error) {
	path := filepath.Join(dir, AddressName)
	b, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return "", nil
	}
	if err != nil {
		return "", fmt.Errorf("store: %w", err)
	}
	if _, err = os.Lstat(filepath.Join(dir, FileName)); !errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("%s: the race has rows in %s as well; keep one of the two: take the other out of the folder", path, FileName)
	}
	address := strings.TrimSpace(string(b))
	if address == "" {
		return "", fmt.Errorf("%s: is empty; write one line such as %s", path, exampleAddress)
	}
	return address, nil
}

const exampleAddress = "postgres://reader@db.example/gatefold?search_path=spring_2027"

// openPostgres makes ready to speak to a database; it does not speak yet. Each race has a schema of its own.
func openPostgres(path, address string) (*sql.DB, error) {
	config, err := pgx.ParseConfig(address)
	if err != nil {
		// What pgx says may repeat the password.
		return nil, fmt.Errorf("%s: is no address of a PostgreSQL database; write one line such as %s", path, exampleAddress)
	}
	schema := config.RuntimeParams["search_path"]
	if schema == "" || strings.ContainsAny(schema, `,"$ `) {
		return nil, fmt.Errorf("%s: has to name one schema, another one for each race: end it as in %s", path, exampleAddress)
	}
	// A server may be set to acknowledge before it has written; what this store acknowledges stays.
	config.RuntimeParams["synchronous_commit"] = "on"
	config.RuntimeParams["application_name"] = "gatefold"
	return stdlib.OpenDB(*config), nil
}

// makeSchema makes the schema of a race, if it isn't there.
func (s *Store) makeSchema(ctx context.Context, path string) error {
	var there sql.NullString
	err := s.db.QueryRowContext(ctx, `SELECT current_schema()`).Scan(&there)
	if err == nil && !there.Valid {
		var name string
		if err = s.db.QueryRowContext(ctx, `SHOW search_path`).Scan(&name); err == nil {
			_, err = s.db.ExecContext(ctx, `CREATE SCHEMA IF NOT EXISTS `+pgx.Identifier{strings.Trim(name, `"`)}.Sanitize()) //nolint:misspell // pgx calls it so
		}
		if err != nil && s.db.QueryRowContext(ctx, `SELECT current_schema()`).Scan(&there) == nil && there.Valid {
			err = nil // another program was faster
		}
	}
	if err != nil {
		// pgx tells of each address that it tried in a line of its own.
		return fmt.Errorf("%s: %s; check that the database is running and lets this user in", path, strings.Join(strings.Fields(err.Error()), " "))
	}
	return nil
}

// oneWriter ends the query that begins each write. SQLite lets one program write at a time by itself; on
// PostgreSQL the row that it reads first is the door for one.
func (s *Store) oneWriter() string {
	if s.pg {
		return ` FOR UPDATE`
	}
	return ""
}

// oneMigration lets other programs wait that begin on the same race at the same time.
func (s *Store) oneMigration(ctx context.Context, tx *sql.Tx) error {
	if !s.pg {
		return nil
	}
	_, err := tx.ExecContext(ctx, `SELECT pg_advisory_xact_lock(hashtext('gatefold ' || current_schema()))`)
	return err
}
