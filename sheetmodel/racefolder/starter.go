package racefolder

import (
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"text/template"
	"time"

	"go.yaml.in/yaml/v3"

	"gatefold/sheetmodel"
)

//go:embed starter
var starterFiles embed.FS

// StarterOptions are what a starter folder is filled with. Empty fields get placeholders.
type StarterOptions struct {
	ID   string // printed on the cards; default: made from the folder's name
	Name string // default: "New race"
	Date string // YYYY-MM-DD; must be given, this package has no clock
	Zone string // IANA name; default: UTC
}

// OptionError is a StarterOption that can't be used: what is wrong and what to do.
type OptionError string

func (e OptionError) Error() string { return string(e) }

// WriteStarter makes a commented race folder: race.yaml, startlist.csv and codes.yaml, with invented
// people and an invented league. It returns the paths it wrote. The folder opens as it is.
//
// If one of the files exists, in any form, nothing is written and nothing is changed; the same holds
// when the options are wrong. If the disk fails on the way, what was begun is taken away again.
func WriteStarter(dir string, opts StarterOptions) ([]string, error) {
	raceYAML, err := starterRace(dir, opts)
	if err != nil {
		return nil, err
	}
	contents := map[string][]byte{RaceFile: raceYAML}
	names := []string{RaceFile, StartListFile, CodesFile}
	for _, name := range names[1:] {
		if contents[name], err = starterFiles.ReadFile("starter/" + name); err != nil {
			return nil, fmt.Errorf("starter %s: %w", name, err)
		}
	}
	var there []string
	for _, name := range names {
		if _, err := os.Lstat(filepath.Join(dir, name)); !errors.Is(err, fs.ErrNotExist) {
			there = append(there, name)
		}
	}
	if len(there) > 0 {
		return nil, fmt.Errorf("race folder %s: %s is already there; nothing was written; name a new folder", dir, strings.Join(there, ", "))
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return nil, fmt.Errorf("race folder %s: %w", dir, err)
	}
	var wrote []string
	for _, name := range names {
		path := filepath.Join(dir, name)
		if err := writeNew(path, contents[name]); err != nil {
			for _, w := range wrote {
				_ = os.Remove(w) // our own, seconds old
			}
			return nil, fmt.Errorf("race folder %s: nothing was written: %w", dir, err)
		}
		wrote = append(wrote, path)
	}
	return wrote, syncDir(dir)
}

func starterRace(dir string, opts StarterOptions) ([]byte, error) {
	if opts.ID == "" {
		abs, err := filepath.Abs(dir)
		if err != nil {
			return nil, fmt.Errorf("race folder %s: %w", dir, err)
		}
		if opts.ID = slug(filepath.Base(abs)); opts.ID == "" {
			// Two races must not share an id: the cards of one would be taken for the other's.
			opts.ID = "race-" + opts.Date
		}
	}
	if !idShape.MatchString(opts.ID) {
		return nil, OptionError(fmt.Sprintf("race id %q must be 2 to 40 letters, digits and hyphens", opts.ID))
	}
	opts.Name = orDefault(strings.TrimSpace(opts.Name), sampleName)
	opts.Zone = orDefault(opts.Zone, sampleZone)
	if _, err := time.Parse(time.DateOnly, opts.Date); err != nil {
		return nil, OptionError(fmt.Sprintf("date %q is not a day of the calendar; write it as year-month-day, 2027-01-23", opts.Date))
	}
	if _, err := sheetmodel.LoadZone(opts.Zone); err != nil {
		return nil, OptionError(err.Error())
	}
	text, err := starterFiles.ReadFile("starter/" + RaceFile)
	if err != nil {
		return nil, fmt.Errorf("starter %s: %w", RaceFile, err)
	}
	t, err := template.New(RaceFile).Parse(string(text))
	if err != nil {
		return nil, fmt.Errorf("starter %s: %w", RaceFile, err)
	}
	opts.Name, opts.ID = quoteYAML(opts.Name), quoteYAML(opts.ID)
	day, err := time.Parse(time.DateOnly, opts.Date)
	if err != nil {
		return nil, err // it was looked at above
	}
	var b strings.Builder
	if err := t.Execute(&b, struct {
		StarterOptions
		KeepUntil string
	}{opts, day.AddDate(usualYears, 0, 0).Format(time.DateOnly)}); err != nil {
		return nil, fmt.Errorf("starter %s: %w", RaceFile, err)
	}
	return []byte(b.String()), nil
}

// quoteYAML writes text as a YAML value on one line, in quotes where it needs them.
func quoteYAML(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	b, err := yaml.Marshal(text)
	if err != nil || strings.Count(string(b), "\n") != 1 {
		return fmt.Sprintf("%q", text)
	}
	return strings.TrimSuffix(string(b), "\n")
}

// slug makes a race id of a folder's name, or nothing where too little of it can stand in an id.
func slug(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(name) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
	}
	s := strings.Trim(b.String(), "-")
	if len(s) > 40 {
		s = strings.Trim(s[:40], "-")
	}
	if len(s) < 2 {
		return ""
	}
	return s
}

// writeNew writes a file that must not exist yet, and syncs it.
func writeNew(path string, data []byte) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	_, err = f.Write(data)
	if err == nil {
		err = f.Sync()
	}
	if errClose := f.Close(); err == nil {
		err = errClose
	}
	if err != nil {
		_ = os.Remove(path)
	}
	return err
}
