package archive

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"gatefold/review/store"
)

// Names of the tag files. Source: RFC 8493, sections 2.1 and 2.2.
const (
	declarationFile = "bagit.txt"
	infoFile        = "bag-info.txt"
	manifestFile    = "manifest-sha256.txt"
	tagManifestFile = "tagmanifest-sha256.txt"
)

const declaration = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"

// entry is one line of a manifest.
type entry struct{ sha, file string }

// bag is an archive that is being made.
type bag struct {
	dir     string
	at      time.Time
	step    func(string) error
	payload []entry
	tags    []entry
	bytes   int64 // of the payload

	leaveOut bool     // what is damaged in the store
	leftOut  []string // of the store, by its names there
}

func (b *bag) stepBefore(what string) error {
	if b.step == nil {
		return nil
	}
	return b.step(what)
}

// write makes one file, synced, and remembers its sum. file is relative to the bag, with slashes.
func (b *bag) write(file string, fill func(io.Writer) error) error {
	if err := b.stepBefore(file); err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	path := filepath.Join(b.dir, filepath.FromSlash(file))
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	sum := sha256.New()
	count := &counter{}
	err = fill(io.MultiWriter(f, sum, count))
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return fmt.Errorf("%s: %w", file, err)
	}
	e := entry{hex.EncodeToString(sum.Sum(nil)), file}
	if strings.HasPrefix(file, "data/") {
		b.payload = append(b.payload, e)
		b.bytes += count.n
	} else {
		b.tags = append(b.tags, e)
	}
	return nil
}

type counter struct{ n int64 }

func (c *counter) Write(p []byte) (int, error) {
	c.n += int64(len(p))
	return len(p), nil
}

func (b *bag) text(file, text string) error {
	return b.write(file, func(w io.Writer) error {
		_, err := io.WriteString(w, text)
		return err
	})
}

func (b *bag) json(file string, v any) error {
	return b.write(file, func(w io.Writer) error {
		e := json.NewEncoder(w)
		e.SetIndent("", "  ")
		e.SetEscapeHTML(false)
		return e.Encode(v)
	})
}

// copyStored copies a file of the store and demands that it still is what its sum says. It reports
// whether the file is in the bag: one that is damaged can be left out.
func (b *bag) copyStored(s *store.Store, from, to, sha string) (bool, error) {
	if b.leaveOut && !sound(s, from, sha) {
		b.leftOut = append(b.leftOut, from)
		return false, nil
	}
	return true, b.copyWhole(s, from, to, sha)
}

func sound(s *store.Store, file, sha string) bool {
	f, err := s.OpenFile(file)
	if err != nil {
		return false
	}
	sum := sha256.New()
	_, err = io.Copy(sum, f)
	return errors.Join(err, f.Close()) == nil && hex.EncodeToString(sum.Sum(nil)) == sha
}

func (b *bag) copyWhole(s *store.Store, from, to, sha string) error {
	f, err := s.OpenFile(from)
	if err != nil {
		return fmt.Errorf("%s: %w; bring it back from a copy", from, err)
	}
	err = b.write(to, func(w io.Writer) error {
		_, err := io.Copy(w, f)
		return err
	})
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	if got := b.payload[len(b.payload)-1].sha; got != sha {
		return fmt.Errorf("%s: altered since it was sent; bring it back from a copy", from)
	}
	return nil
}

// finish writes the tag files, gives every file the archive's time and syncs the folders.
func (b *bag) finish(in Input) error {
	err := errors.Join(
		b.text(declarationFile, declaration),
		b.text(infoFile, b.info(in)),
		b.manifest(manifestFile, b.payload),
	)
	if err == nil {
		err = b.manifest(tagManifestFile, b.tags)
	}
	if err != nil {
		return err
	}
	return filepath.WalkDir(b.dir, func(path string, e fs.DirEntry, err error) error {
		if err == nil && e.IsDir() {
			err = errors.Join(os.Chmod(path, 0o755), syncFolder(path))
		}
		if err != nil {
			return err
		}
		return os.Chtimes(path, b.at, b.at)
	})
}

// manifest writes sums as sha256sum does: sum, two spaces, name, in the order of names.
func (b *bag) manifest(file string, entries []entry) error {
	entries = slices.Clone(entries)
	slices.SortFunc(entries, func(x, y entry) int { return strings.Compare(x.file, y.file) })
	var text bytes.Buffer
	for _, e := range entries {
		fmt.Fprintf(&text, "%s  %s\n", e.sha, e.file)
	}
	return b.text(file, text.String())
}

func (b *bag) info(in Input) string {
	names := "no: may be handed around; no photos, racers by bib, judges by card, notes left out, pages black but for rows and drawings"
	if in.Names {
		names = "yes: photos, racers, judges, clubs, phones and notes; handle with care"
	}
	var t strings.Builder
	fmt.Fprintf(&t, "Bagging-Date: %s\n", b.at.Format("2006-01-02"))
	fmt.Fprintf(&t, "Bag-Software-Agent: gatefold\n")
	fmt.Fprintf(&t, "External-Identifier: %s\n", oneLine(in.Stack.Race.ID))
	fmt.Fprintf(&t, "External-Description: %s, %s: gate judges' cards, readings, decisions and the referee's draft\n",
		oneLine(in.Stack.Race.Name), oneLine(in.Stack.Race.Date))
	fmt.Fprintf(&t, "Payload-Oxum: %d.%d\n", b.bytes, len(b.payload))
	fmt.Fprintf(&t, "Names-Included: %s\n", names)
	return t.String()
}

func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }

func syncFolder(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}
