package store

import (
	"context"
	"errors"
	"fmt"
)

// migrations bring a store from version n to n+1, counted from 0, an empty file. A published one is
// never changed; a new one is added. Types and clauses are those that PostgreSQL shares.
var migrations = []string{schema1, schema2, schema3, schema4, schema5, schema6, schema7}

const schema1 = `
CREATE TABLE sequence (last BIGINT NOT NULL);
INSERT INTO sequence (last) VALUES (0);

CREATE TABLE photos (
  id BIGINT PRIMARY KEY, sha256 TEXT NOT NULL UNIQUE, sent_name TEXT NOT NULL, file TEXT NOT NULL, size BIGINT NOT NULL,
  taken_utc TEXT, taken_offset_s INTEGER, arrived_utc TEXT NOT NULL, arrived_offset_s INTEGER NOT NULL);

CREATE TABLE outcomes (
  id BIGINT PRIMARY KEY, photo TEXT NOT NULL REFERENCES photos (sha256), reader TEXT NOT NULL, accepted INTEGER NOT NULL,
  fault TEXT NOT NULL, detail TEXT NOT NULL, remedy TEXT NOT NULL, at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);
CREATE INDEX outcomes_photo ON outcomes (photo);

CREATE TABLE sheets (
  id BIGINT PRIMARY KEY, outcome BIGINT NOT NULL REFERENCES outcomes (id), photo TEXT NOT NULL REFERENCES photos (sha256),
  part INTEGER NOT NULL, run INTEGER NOT NULL, course TEXT NOT NULL, card INTEGER NOT NULL, side TEXT NOT NULL,
  race TEXT NOT NULL, layout TEXT NOT NULL, corners TEXT NOT NULL, grid TEXT NOT NULL, quality TEXT NOT NULL,
  page_file TEXT NOT NULL, page_sha256 TEXT NOT NULL, page_px_per_mm DOUBLE PRECISION NOT NULL,
  at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);
CREATE INDEX sheets_outcome ON sheets (outcome);

CREATE TABLE reads (
  id BIGINT PRIMARY KEY, sheet BIGINT NOT NULL REFERENCES sheets (id), reader TEXT NOT NULL, body TEXT NOT NULL,
  at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);
CREATE INDEX reads_sheet ON reads (sheet);

CREATE TABLE readings (
  id BIGINT PRIMARY KEY, read_id BIGINT NOT NULL REFERENCES reads (id), reading TEXT NOT NULL, text TEXT NOT NULL,
  state TEXT NOT NULL, certainty DOUBLE PRECISION NOT NULL, curve TEXT NOT NULL);
CREATE INDEX readings_reading ON readings (reading);

CREATE TABLE ties (
  id BIGINT PRIMARY KEY, front BIGINT NOT NULL, back BIGINT NOT NULL, reader TEXT NOT NULL, body TEXT NOT NULL,
  at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);

CREATE TABLE decisions (
  id BIGINT PRIMARY KEY, reading TEXT NOT NULL, text TEXT NOT NULL, basis TEXT NOT NULL, blind INTEGER NOT NULL,
  read_back INTEGER NOT NULL, person TEXT NOT NULL, session TEXT NOT NULL, sheet BIGINT NOT NULL, note TEXT NOT NULL,
  at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);
CREATE INDEX decisions_reading ON decisions (reading);

CREATE TABLE undone (
  id BIGINT PRIMARY KEY, decision BIGINT NOT NULL UNIQUE REFERENCES decisions (id), person TEXT NOT NULL,
  session TEXT NOT NULL, at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);

CREATE TABLE served (
  id BIGINT PRIMARY KEY, session TEXT NOT NULL, person TEXT NOT NULL, reading TEXT NOT NULL, sheet BIGINT NOT NULL,
  reveals INTEGER NOT NULL, what TEXT NOT NULL, at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);
CREATE INDEX served_reading ON served (reading);

CREATE TABLE bindings (
  id BIGINT PRIMARY KEY, run INTEGER NOT NULL, course TEXT NOT NULL, card INTEGER NOT NULL, used_run INTEGER NOT NULL,
  used_course TEXT NOT NULL, gates TEXT NOT NULL, judge TEXT NOT NULL, grp TEXT NOT NULL, source TEXT NOT NULL,
  person TEXT NOT NULL, at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);

CREATE TABLE answers (
  id BIGINT PRIMARY KEY, question TEXT NOT NULL, answer TEXT NOT NULL, person TEXT NOT NULL, note TEXT NOT NULL,
  at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);

CREATE TABLE gap_reasons (
  id BIGINT PRIMARY KEY, run INTEGER NOT NULL, course TEXT NOT NULL, card INTEGER NOT NULL, reason TEXT NOT NULL,
  person TEXT NOT NULL, at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);

CREATE TABLE paper_cards (
  id BIGINT PRIMARY KEY, run INTEGER NOT NULL, course TEXT NOT NULL, card INTEGER NOT NULL, row_count INTEGER NOT NULL,
  person TEXT NOT NULL, at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);
`

// schema2 keeps what was refused beside the cards that were read in the same photo.
const schema2 = `
CREATE TABLE further_refusals (
  id BIGINT PRIMARY KEY, outcome BIGINT NOT NULL REFERENCES outcomes (id), photo TEXT NOT NULL REFERENCES photos (sha256),
  fault TEXT NOT NULL, detail TEXT NOT NULL, remedy TEXT NOT NULL, at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);
CREATE INDEX further_refusals_photo ON further_refusals (photo);
`

// schema3 keeps what two copies of a race say differently, which entries were no longer unseen when both are
// known, and that a person's data was removed.
const schema3 = `
CREATE TABLE disputes (
  id BIGINT PRIMARY KEY, kind TEXT NOT NULL, subject TEXT NOT NULL, ours TEXT NOT NULL, theirs TEXT NOT NULL,
  at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);

CREATE TABLE sighted (
  id BIGINT PRIMARY KEY, decision BIGINT NOT NULL UNIQUE REFERENCES decisions (id), why TEXT NOT NULL,
  at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);

CREATE TABLE forgets (
  id BIGINT PRIMARY KEY, kinds TEXT NOT NULL, person TEXT NOT NULL, at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);
`

// schema4 keeps the log of what was heard.
const schema4 = `
CREATE TABLE heard (
  id BIGINT PRIMARY KEY, run INTEGER NOT NULL, course TEXT NOT NULL, clock TEXT NOT NULL, source TEXT NOT NULL,
  grp TEXT NOT NULL, bib TEXT NOT NULL, gate TEXT NOT NULL, words TEXT NOT NULL, strikes BIGINT NOT NULL,
  person TEXT NOT NULL, at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);
`

// schema5 is the first whose answers and bindings may name the paper that they are about (see Answer.Said): an older program
// would take them for answers to something else, and refuses the race instead.
const schema5 = `
CREATE INDEX answers_question ON answers (question);
`

// schema6 keeps with each answer what it was given of (see Answer.View). Those that were there before know nothing of it.
const schema6 = `
ALTER TABLE answers ADD COLUMN about TEXT NOT NULL DEFAULT '';
`

// schema7 keeps with what was said which photos its copy of the race held then (see Sights). Of what was said before, nobody knows.
const schema7 = `
CREATE TABLE sights (
  id BIGINT PRIMARY KEY, name TEXT NOT NULL UNIQUE, base TEXT NOT NULL, items TEXT NOT NULL, at_utc TEXT NOT NULL, at_offset_s INTEGER NOT NULL);
ALTER TABLE decisions ADD COLUMN seen TEXT NOT NULL DEFAULT '';
ALTER TABLE answers ADD COLUMN seen TEXT NOT NULL DEFAULT '';
ALTER TABLE gap_reasons ADD COLUMN seen TEXT NOT NULL DEFAULT '';
`

// migrate brings the schema to version to, all of it or nothing.
func (s *Store) migrate(ctx context.Context, path string, to int) (err error) {
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("%s: %w; check that the race folder may be written", path, err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, tx.Rollback())
		}
	}()
	if err = s.oneMigration(ctx, tx); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if _, err = tx.ExecContext(ctx, `CREATE TABLE IF NOT EXISTS schema_versions (version INTEGER NOT NULL, at_utc TEXT NOT NULL)`); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	var found int
	if err = tx.QueryRowContext(ctx, `SELECT COALESCE(MAX(version), 0) FROM schema_versions`).Scan(&found); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if found > len(migrations) {
		return &NewerError{Path: path, Found: found, Know: len(migrations)}
	}
	for v := found; v < to; v++ {
		if _, err = tx.ExecContext(ctx, migrations[v]); err != nil {
			return fmt.Errorf("%s: schema %d: %w", path, v+1, err)
		}
		if _, err = tx.ExecContext(ctx, `INSERT INTO schema_versions (version, at_utc) VALUES ($1, $2)`,
			v+1, stampOf(s.now()).utc); err != nil {
			return fmt.Errorf("%s: schema %d: %w", path, v+1, err)
		}
	}
	if err = tx.Commit(); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}
