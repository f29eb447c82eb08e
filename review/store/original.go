package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// uploadPrefix marks a file that is still being written; it never gets a row.
const uploadPrefix = ".upload-"

// kept is a file that lies safely under its own hash.
type kept struct {
	file string // name relative to the race folder
	sha  string
	size int64
}

// keep writes r durably to folder under the name of its SHA-256.
// size is what the sender announced, or negative if it didn't.
//
// A power cut may leave a file without a row: nothing was acknowledged, and the next upload of the
// same bytes replaces it.
func (s *Store) keep(folder string, r io.Reader, size int64) (kept, error) {
	dir := filepath.Join(s.dir, folder)
	if err := s.step("create"); err != nil {
		return kept{}, err
	}
	f, err := os.CreateTemp(dir, uploadPrefix+"*")
	if err != nil {
		return kept{}, fmt.Errorf("%w; check free space and that the folder may be written", err)
	}
	k, err := s.fill(f, r, size)
	if err = errors.Join(err, f.Close()); err == nil {
		err = s.step("rename")
	}
	if err == nil {
		k.file = folder + "/" + k.file
		// Also when the name exists: after a power cut the older file may hold less than its name says.
		err = os.Rename(f.Name(), s.path(k.file))
	}
	if err != nil {
		return kept{}, errors.Join(err, os.Remove(f.Name()))
	}
	if err = s.step("sync-folder"); err != nil {
		return kept{}, err
	}
	return k, syncFolder(dir)
}

// fill copies r to f, syncs it and returns its bare name.
func (s *Store) fill(f *os.File, r io.Reader, size int64) (kept, error) {
	if err := s.step("write"); err != nil {
		return kept{}, err
	}
	sum := sha256.New()
	var head headWriter
	n, err := io.Copy(io.MultiWriter(f, sum, &head), r)
	if err != nil {
		return kept{}, fmt.Errorf("%w: %w; send it again", ErrTruncated, err)
	}
	if size >= 0 && n != size {
		return kept{}, fmt.Errorf("%w: %d of %d bytes arrived; send it again", ErrTruncated, n, size)
	}
	if err = f.Chmod(0o644); err != nil {
		return kept{}, err
	}
	if err = s.step("sync"); err != nil {
		return kept{}, err
	}
	// A failed sync is the end of this upload: a second try may report success for lost blocks.
	if err = f.Sync(); err != nil {
		return kept{}, err
	}
	sha := hex.EncodeToString(sum.Sum(nil))
	return kept{file: sha + head.extension(), sha: sha, size: n}, nil
}

// headWriter remembers the first bytes of a file.
type headWriter struct{ head []byte }

func (h *headWriter) Write(p []byte) (int, error) {
	if room := 16 - len(h.head); room > 0 {
		h.head = append(h.head, p[:min(room, len(p))]...)
	}
	return len(p), nil
}

// stillBrands are what HEIC files of phones begin with. Source: ISO/IEC 23008-12, annex B.
var stillBrands = map[string]bool{"heic": true, "heix": true, "hevc": true, "mif1": true, "msf1": true}

// extension names the content, not what the sender called it.
func (h *headWriter) extension() string {
	switch {
	case bytes.HasPrefix(h.head, []byte("\xff\xd8\xff")):
		return ".jpg"
	case bytes.HasPrefix(h.head, []byte("\x89PNG\r\n\x1a\n")):
		return ".png"
	case bytes.HasPrefix(h.head, []byte("%PDF-")):
		return ".pdf"
	case bytes.HasPrefix(h.head, []byte("II*\x00")), bytes.HasPrefix(h.head, []byte("MM\x00*")):
		return ".tif"
	case len(h.head) >= 12 && string(h.head[4:8]) == "ftyp" && stillBrands[string(h.head[8:12])]:
		return ".heic"
	default:
		return ".bin"
	}
}

// LooksLikePhoto reports whether the first bytes of a file, 16 are enough, are those of a kind of photo or scan
// that is known. What the rest is, only unpacking it tells.
func LooksLikePhoto(head []byte) bool { return (&headWriter{head}).extension() != ".bin" }

// path turns a stored file name into one of this machine.
func (s *Store) path(file string) string { return filepath.Join(s.dir, filepath.FromSlash(file)) }

// syncFolder makes the names in dir survive a power cut.
func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// sweep removes what broken uploads left. Another process may be writing now, so only old ones go.
func (s *Store) sweep() error {
	for _, folder := range []string{OriginalsName, PagesName} {
		entries, err := os.ReadDir(filepath.Join(s.dir, folder))
		if err != nil {
			return fmt.Errorf("store: %w", err)
		}
		for _, e := range entries {
			at, err := e.Info()
			if err != nil || !strings.HasPrefix(e.Name(), uploadPrefix) || s.now().Sub(at.ModTime()) < time.Hour {
				continue
			}
			if err = os.Remove(filepath.Join(s.dir, folder, e.Name())); err != nil && !errors.Is(err, os.ErrNotExist) {
				return fmt.Errorf("store: %w", err)
			}
		}
	}
	return nil
}
