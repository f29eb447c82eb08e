package store

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path"
	"strings"
	"time"
	"unicode"
)

// Fate says what became of a photo.
type Fate string

// The fates of a photo.
const (
	FateUnread   Fate = "not-read" // acknowledged, no reader has looked at it yet
	FateAccepted Fate = "accepted"
	FateRefused  Fate = "refused"
)

// Refusal is why a photo can't be trusted, and what the person holding the card should do.
type Refusal struct {
	Fault  string `json:"fault"`
	Detail string `json:"detail"`
	Remedy string `json:"remedy"`
}

// Photo is one original. ID is its SHA-256 in hex.
type Photo struct {
	ID      string    `json:"id"`
	Sent    string    `json:"sent_name"` // as the sender called it, without folders
	File    string    `json:"file"`      // relative to the race folder
	Size    int64     `json:"size"`
	Taken   time.Time `json:"taken"` // zero: the photo doesn't say
	Arrived time.Time `json:"arrived"`
	Order   int64     `json:"order"` // grows with arrival
	Fate    Fate      `json:"fate"`
	Reader  string    `json:"reader,omitempty"` // who decided its fate last
	Refusal *Refusal  `json:"refusal,omitempty"`
	// Further are cards in the same photo that its newest reader could not use, beside those it kept.
	Further []Refusal `json:"further_refused,omitempty"`
}

// AddPhoto keeps an original and returns it. known is true when these very bytes were there before:
// nothing is added then, and the first name and times stay.
//
// size is the number of bytes announced, negative if unknown; another number is ErrTruncated and
// nothing is kept. taken may be zero. r is read to its end and stays the caller's.
func (s *Store) AddPhoto(ctx context.Context, sent string, r io.Reader, size int64, taken time.Time) (p Photo, known bool, err error) {
	sent = cleanName(sent)
	k, err := s.keep(OriginalsName, r, size)
	if err != nil {
		return Photo{}, false, fmt.Errorf("photo %s: %w", sent, err)
	}
	if k.size == 0 {
		return Photo{}, false, errors.Join(fmt.Errorf("photo %s: the file is empty; send it again", sent), os.Remove(s.path(k.file)))
	}
	p, err = s.Photo(ctx, k.sha)
	if err == nil || !errors.Is(err, ErrNotFound) {
		return p, err == nil, err
	}
	err = s.append(ctx, func(j *journal) error {
		t, at := stampOf(taken), stampOf(j.at)
		_, err = j.add(`INSERT INTO photos (id, sha256, sent_name, file, size, taken_utc, taken_offset_s, arrived_utc, arrived_offset_s)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)
			ON CONFLICT (sha256) DO NOTHING`, // another process may have been faster
			k.sha, sent, k.file, k.size, t.utc, t.offset, at.utc, at.offset)
		return err
	})
	if err != nil {
		return Photo{}, false, fmt.Errorf("photo %s: %w", sent, err)
	}
	p, err = s.Photo(ctx, k.sha)
	return p, false, err
}

// Refuse records that reader can't trust a photo, and why not the further cards in it. A later reader
// may still accept it.
func (s *Store) Refuse(ctx context.Context, photo, reader string, why Refusal, further ...Refusal) error {
	return s.refuse(ctx, nil, photo, reader, why, further)
}

func (s *Store) refuse(ctx context.Context, guards []Guard, photo, reader string, why Refusal, further []Refusal) error {
	return s.append(ctx, func(j *journal) error {
		if err := j.let(guards); err != nil {
			return err
		}
		_, err := s.outcome(j, photo, reader, &why, further)
		return err
	})
}

func (s *Store) outcome(j *journal, photo, reader string, why *Refusal, further []Refusal) (int64, error) {
	var n int
	err := j.tx.QueryRowContext(j.ctx, `SELECT COUNT(*) FROM photos WHERE sha256 = $1`, photo).Scan(&n)
	if err != nil {
		return 0, fmt.Errorf("photo %s: %w", photo, err)
	}
	if n == 0 {
		return 0, fmt.Errorf("photo %s: %w", photo, ErrNotFound)
	}
	accepted, at := 1, stampOf(j.at)
	if why != nil {
		accepted = 0
	} else {
		why = &Refusal{}
	}
	outcome, err := j.add(`INSERT INTO outcomes (id, photo, reader, accepted, fault, detail, remedy, at_utc, at_offset_s)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`,
		photo, reader, accepted, why.Fault, why.Detail, why.Remedy, at.utc, at.offset)
	for _, f := range further {
		if err != nil {
			return 0, err
		}
		_, err = j.add(`INSERT INTO further_refusals (id, outcome, photo, fault, detail, remedy, at_utc, at_offset_s)
			VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`, outcome, photo, f.Fault, f.Detail, f.Remedy, at.utc, at.offset)
	}
	return outcome, err
}

const selectPhotos = `SELECT p.id, p.sha256, p.sent_name, p.file, p.size, p.taken_utc, p.taken_offset_s,
	p.arrived_utc, p.arrived_offset_s, o.accepted, o.reader, o.fault, o.detail, o.remedy
	FROM photos p LEFT JOIN outcomes o
	ON o.photo = p.sha256 AND o.id = (SELECT MAX(x.id) FROM outcomes x WHERE x.photo = p.sha256)`

// Photos returns all photos in the order of their arrival.
func (s *Store) Photos(ctx context.Context) ([]Photo, error) {
	photos, err := collect(ctx, s.db, scanPhoto, selectPhotos+` ORDER BY p.id`)
	if err != nil {
		return nil, err
	}
	return photos, s.addFurther(ctx, photos)
}

// Photo returns one photo, or ErrNotFound.
func (s *Store) Photo(ctx context.Context, id string) (Photo, error) {
	p, err := single(ctx, s.db, "photo "+id, scanPhoto, selectPhotos+` WHERE p.sha256 = $1`, id)
	if err != nil {
		return p, err
	}
	one := []Photo{p}
	err = s.addFurther(ctx, one)
	return one[0], err
}

// addFurther completes photos by what else was refused in them.
func (s *Store) addFurther(ctx context.Context, photos []Photo) error {
	type named struct {
		photo string
		why   Refusal
	}
	all, err := collect(ctx, s.db, func(scan func(...any) error) (n named, err error) {
		return n, scan(&n.photo, &n.why.Fault, &n.why.Detail, &n.why.Remedy)
	}, `SELECT f.photo, f.fault, f.detail, f.remedy FROM further_refusals f
		WHERE f.outcome = (SELECT MAX(x.id) FROM outcomes x WHERE x.photo = f.photo) ORDER BY f.id`)
	for _, n := range all {
		for i := range photos {
			if photos[i].ID == n.photo {
				photos[i].Further = append(photos[i].Further, n.why)
			}
		}
	}
	return err
}

func scanPhoto(scan func(...any) error) (Photo, error) {
	var p Photo
	var taken, arrived stamp
	var accepted sql.NullInt64
	var reader, fault, detail, remedy sql.NullString
	err := scan(&p.Order, &p.ID, &p.Sent, &p.File, &p.Size, &taken.utc, &taken.offset, &arrived.utc, &arrived.offset,
		&accepted, &reader, &fault, &detail, &remedy)
	if err != nil {
		return p, err
	}
	p.Fate, p.Reader = FateUnread, reader.String
	if accepted.Valid && accepted.Int64 != 0 {
		p.Fate = FateAccepted
	} else if accepted.Valid {
		p.Fate = FateRefused
		p.Refusal = &Refusal{Fault: fault.String, Detail: detail.String, Remedy: remedy.String}
	}
	if p.Taken, err = taken.time(); err == nil {
		p.Arrived, err = arrived.time()
	}
	return p, err
}

// OpenFile opens a file that the store keeps, an original or a page, by its stored name; the caller
// closes it. Any other name is ErrNotFound.
func (s *Store) OpenFile(file string) (*os.File, error) {
	folder, name := path.Split(file)
	if (folder != OriginalsName+"/" && folder != PagesName+"/") || name == "" || strings.HasPrefix(name, ".") || strings.Contains(name, `\`) {
		return nil, fmt.Errorf("file %q: %w", file, ErrNotFound)
	}
	f, err := os.Open(s.path(file))
	if errors.Is(err, os.ErrNotExist) {
		return nil, fmt.Errorf("file %q: %w", file, ErrNotFound)
	}
	return f, err
}

// File is a file beside the database that a row names.
type File struct {
	Name   string // relative to the race folder, with slashes
	SHA256 string
}

// Files lists every original and every page that a row names, also pages that a later reader replaced, in
// the order of names.
func (s *Store) Files(ctx context.Context) ([]File, error) {
	return collect(ctx, s.db, func(scan func(...any) error) (File, error) {
		var f File
		return f, scan(&f.Name, &f.SHA256)
	}, `SELECT file, sha256 FROM photos UNION SELECT page_file, page_sha256 FROM sheets WHERE page_file <> '' ORDER BY 1`)
}

// VerifyFiles reads every original and every page that a row names and returns a sentence for each
// that is missing or altered. It also asks the database to check itself.
func (s *Store) VerifyFiles(ctx context.Context) ([]string, error) {
	return s.VerifyFilesEach(ctx, func(int, int) {})
}

// VerifyFilesEach is VerifyFiles for a person who waits: before each file it calls each with the
// file's number, from 1, and the number of all.
func (s *Store) VerifyFilesEach(ctx context.Context, each func(n, of int)) ([]string, error) {
	files, err := s.Files(ctx)
	if err != nil {
		return nil, err
	}
	var bad []string
	for i, n := range files {
		if err := ctx.Err(); err != nil {
			return bad, err
		}
		each(i+1, len(files))
		sha, err := s.hash(n.Name)
		switch {
		case errors.Is(err, ErrNotFound):
			bad = append(bad, n.Name+": missing; bring it back from a copy")
		case err != nil:
			bad = append(bad, fmt.Sprintf("%s: %v", n.Name, err))
		case sha != n.SHA256:
			bad = append(bad, n.Name+": altered; bring it back from a copy")
		}
	}
	if s.pg {
		return bad, nil // its server looks after its own files
	}
	checks, err := collect(ctx, s.db, func(scan func(...any) error) (string, error) {
		var line string
		return line, scan(&line)
	}, `PRAGMA integrity_check`)
	for _, line := range checks {
		if line != "ok" {
			bad = append(bad, FileName+": "+line)
		}
	}
	return bad, err
}

func (s *Store) hash(file string) (string, error) {
	f, err := s.OpenFile(file)
	if err != nil {
		return "", err
	}
	sum := sha256.New()
	_, err = io.Copy(sum, f)
	return hex.EncodeToString(sum.Sum(nil)), errors.Join(err, f.Close())
}

// cleanName keeps what a person recognises of a sent file name: no folders, no control characters,
// at most 120 runes. It is never used as a path.
func cleanName(sent string) string {
	sent = sent[strings.LastIndexAny(sent, `/\`)+1:]
	sent = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == unicode.ReplacementChar {
			return -1
		}
		return r
	}, strings.ToValidUTF8(sent, ""))
	if runes := []rune(sent); len(runes) > 120 {
		sent = string(runes[:120])
	}
	if sent == "" {
		return "unnamed"
	}
	return sent
}
