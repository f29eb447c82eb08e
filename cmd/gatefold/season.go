package main

import (
	"archive/zip"
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"gatefold/ocr/calib"
	"gatefold/review/archive"
	"gatefold/review/draft"
	"gatefold/review/season"
	"gatefold/sheetmodel/racefolder"
)

func seasonCommand(a *app) *cobra.Command {
	var out string
	c := &cobra.Command{
		Use:   "season ARCHIVE...",
		Short: "Look across the archives of many races: places, kinds of fault, doubtful shares",
		Long: `Reads archives that gatefold pack wrote, folders or zips, full ones or those that may be handed around,
checks every file of each first, and writes five tables (CSV) into the folder of --out:

  calls-by-place.csv         for each place of each race: calls proposed, waiting, overruled
  calls-by-kind-of-gate.csv  first, last, changed in the run, watched by one card or more; how a
                             gate is set (open, closed, combinations) no race file tells
  faults.csv                 the same for each code with its meaning
  doubtful.csv               for each version of the card, phone and field: how much was doubtful;
                             phones are known of full archives only, from what their photos say
  spot-check.csv             the spot checks of all races together, from 100 bibs on with a bound:
                             how often a certain bib can be wrong (Clopper-Pearson, one-sided, 95 %)

No table counts people: a place is called by its name and card, whoever stood there.`,
		Example: "  gatefold season --out season-2027 archives/*.zip",
		Args:    cobra.MinimumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			if _, err := os.Lstat(out); err == nil {
				return fmt.Errorf("folder %s: is there already, perhaps from an earlier run, and nothing was written; name a new one, such as: --out %s", out, racefolder.ShellWord(freeName(out)))
			}
			var s season.Season
			for i, name := range args {
				a.progress("checking archive %d of %d", i+1, len(args))
				r, err := raceOfArchive(name)
				if err == nil {
					err = s.Add(r)
				}
				if err != nil {
					a.progressDone()
					return fmt.Errorf("archive %s: %w", name, err)
				}
			}
			a.progressDone()
			if err := writeSeason(out, s.Tables(func(wrong, n int) float64 { return calib.Upper(wrong, n, 0.05) })); err != nil {
				return err
			}
			a.printf("wrote %s with five tables of %s\n", out, count(len(args), "race"))
			return nil
		},
	}
	c.Flags().StringVar(&out, "out", "season", "folder for the tables; it must not be there yet")
	return c
}

// freeName is the name with a number behind it that nothing has yet.
func freeName(name string) string {
	for n := 2; ; n++ {
		free := fmt.Sprintf("%s-%d", filepath.Clean(name), n)
		if _, err := os.Lstat(free); err != nil {
			return free
		}
	}
}

// raceOfArchive reads what a season needs of an archive in which every file is as it was packed.
func raceOfArchive(name string) (r *season.Race, err error) {
	verify := archive.Verify
	if archive.IsZip(name) {
		verify = archive.VerifyZip
	}
	if _, err = os.Stat(name); err != nil {
		return nil, errors.New("there is no such folder or zip; name one that gatefold pack wrote")
	}
	report, err := verify(name)
	if err != nil {
		return nil, errors.New(strings.TrimPrefix(err.Error(), "archive "+name+": "))
	}
	if !report.OK() {
		return nil, fmt.Errorf("not as it was packed: %s; nothing was counted (gatefold verify names all)", report.Problems[0])
	}
	if !archive.IsZip(name) {
		return season.Read(os.DirFS(name))
	}
	z, err := zip.OpenReader(name)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, z.Close()) }()
	for _, f := range z.File {
		if path.Base(f.Name) == "bagit.txt" && strings.Count(f.Name, "/") == 1 {
			bag, err := fs.Sub(z, path.Dir(f.Name))
			if err != nil {
				return nil, err
			}
			return season.Read(bag)
		}
	}
	return nil, errors.New("no bagit.txt in its one folder")
}

func writeSeason(out string, tables []season.Table) error {
	if err := os.Mkdir(out, 0o755); err != nil {
		return fmt.Errorf("%w; check that its parent is there and may be written", err)
	}
	for _, t := range tables {
		f, err := os.OpenFile(filepath.Join(out, t.File), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
		if err != nil {
			return err
		}
		w := csv.NewWriter(f)
		w.UseCRLF = true
		for _, r := range t.Records {
			for i := range r {
				r[i] = draft.Harmless(r[i])
			}
		}
		if err = errors.Join(w.WriteAll(t.Records), f.Sync(), f.Close()); err != nil {
			return fmt.Errorf("%s: %w", filepath.Join(out, t.File), err)
		}
	}
	return nil
}
