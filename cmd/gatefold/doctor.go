package main

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"github.com/spf13/cobra"

	"gatefold/review/store"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

// finding of the doctor: one thing that was looked at.
type symptom struct {
	Part   string `json:"part"`
	OK     bool   `json:"ok"`
	Found  string `json:"found"`
	Remedy string `json:"remedy,omitempty"`

	trouble string // the word for it where it is not OK; empty: MISSING
}

// doctorReport is what `gatefold doctor --json` prints.
type doctorReport struct {
	Format   int       `json:"format"`
	Healthy  bool      `json:"healthy"`
	Symptoms []symptom `json:"parts"`
}

// A run of 60 photos of 6 MB each, their straightened pages and the archive fit in this with room to spare.
const enoughDisk = 2 << 30

func doctorCommand(a *app) *cobra.Command {
	var asJSON bool
	c := &cobra.Command{
		Use:   "doctor [FOLDER]",
		Short: "Say whether this computer has what gatefold needs, and whether a race's photos are whole",
		Long: `Looks at the image library, the text recognition and its English data, the built-in
reader, the fonts and the free disk space of FOLDER (default: here), and says for
each what was found and, if it is not enough, what to install.

If FOLDER is a race, its files are looked over too, and every photo that was collected is
compared with its checksum: a disk can spoil a file without a word.`,
		Example: "  gatefold doctor\n  gatefold doctor spring-race",
		Args:    cobra.MaximumNArgs(1),
		RunE: func(c *cobra.Command, args []string) error {
			folder := "."
			if len(args) == 1 {
				folder = args[0]
			}
			report := doctorReport{Format: 1, Healthy: true}
			name, _ := builtFrom()
			report.Symptoms = append(report.Symptoms, symptom{Part: "program", OK: true,
				Found: fmt.Sprintf("gatefold %s, %s, %s/%s", name, runtime.Version(), runtime.GOOS, runtime.GOARCH)})
			report.Symptoms = append(report.Symptoms, imagingSymptoms(c.Root())...)
			report.Symptoms = append(report.Symptoms, symptom{Part: "fonts", OK: true, Found: "built in"}, diskSymptom(folder))
			if len(args) == 1 {
				more, err := a.raceSymptoms(c.Context(), folder)
				if err != nil {
					return err
				}
				report.Symptoms = append(report.Symptoms, more...)
			}
			for _, s := range report.Symptoms {
				report.Healthy = report.Healthy && s.OK
			}
			if asJSON {
				if err := a.printJSON(report); err != nil {
					return err
				}
			} else {
				a.printSymptoms(report)
			}
			if !report.Healthy {
				return refused(fmt.Errorf("doctor: something is missing or damaged; see the lines that don't begin with ok"))
			}
			return nil
		},
	}
	c.Flags().BoolVar(&asJSON, "json", false, "print as JSON (schema: doctor.schema.json)")
	return c
}

func (a *app) printSymptoms(r doctorReport) {
	for _, s := range r.Symptoms {
		word := "ok"
		if !s.OK {
			word = cmp.Or(s.trouble, "MISSING")
		}
		for i, line := range strings.Split(s.Found, "\n") {
			if i > 0 {
				word, s.Part = "", ""
			}
			a.printf("%-8s %-18s %s\n", word, s.Part, line)
		}
		if s.Remedy != "" {
			a.printf("%-8s %-18s %s\n", "", "", s.Remedy)
		}
	}
}

// raceSymptoms looks at a race's files and at each photo that it keeps. A folder that is no race is fit for one to come,
// but nobody who mistyped a name shall think that photos were compared.
func (a *app) raceSymptoms(ctx context.Context, dir string) ([]symptom, error) {
	if _, err := os.Lstat(filepath.Join(dir, racefolder.RaceFile)); err != nil {
		return []symptom{{Part: "race", OK: true, Found: "none in " + dir + ", so no photo was compared; if there should be one, look at the name"}}, ctx.Err()
	}
	race := symptom{Part: "race", OK: true}
	folder, err := racefolder.Open(dir)
	if err == nil {
		race.Found = folder.Race().Name
		var kept []*sheetmodel.Layout
		kept, err = folder.Layouts()
		for _, l := range kept {
			if !marked(l) && err == nil {
				_, err = folder.Blanks(l)
			}
		}
	}
	if err != nil {
		race.OK, race.trouble = false, "MISTAKE"
		race.Found, _, _ = strings.Cut(err.Error(), "\n")
		race.Remedy = "for all mistakes: gatefold race " + racefolder.ShellWord(dir)
	}
	photos, err := a.photosSymptom(ctx, dir)
	return []symptom{race, photos}, err
}

func (a *app) photosSymptom(ctx context.Context, dir string) (found symptom, err error) {
	found = symptom{Part: "photos", OK: true, Found: "none yet"}
	if !hasStore(dir) {
		return found, nil
	}
	s, err := store.Open(ctx, dir, store.Options{Now: a.now})
	if err != nil {
		found.OK, found.trouble, found.Found = false, "DAMAGED", err.Error()
		if newer := (&store.NewerError{}); !errors.As(err, &newer) {
			found.Remedy = "bring " + store.FileName + " back from a copy"
		}
		return found, ctx.Err()
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	bad, err := a.damaged(ctx, s)
	if err != nil {
		return found, err
	}
	all, err := s.Photos(ctx)
	if err != nil {
		return found, err
	}
	found.Found = count(len(all), "photo") + ", each as it was sent"
	if len(bad) > 0 {
		found.OK, found.trouble, found.Found = false, "DAMAGED", strings.Join(bad, "\n")
		found.Remedy = "bring the files back from a copy, or collect the photos again: that also straightens damaged pages anew"
	}
	return found, nil
}

func diskSymptom(folder string) symptom {
	if info, err := os.Stat(folder); err == nil && !info.IsDir() {
		return symptom{Part: "disk", Found: folder + " is a file", Remedy: "name a folder"}
	}
	at := folder
	for {
		if info, err := os.Stat(at); err == nil && info.IsDir() {
			break
		}
		up := filepath.Dir(at)
		if up == at {
			return symptom{Part: "disk", Found: folder + " is on no disk", Remedy: "name a folder that can be made"}
		}
		at = up
	}
	free, err := freeBytes(at)
	if err != nil {
		return symptom{Part: "disk", Found: fmt.Sprintf("%s: %v", folder, err), Remedy: "name another folder"}
	}
	s := symptom{Part: "disk", OK: free >= enoughDisk, Found: fmt.Sprintf("%.1f GB free for %s", float64(free)/1e9, folder)}
	if !s.OK {
		s.Remedy = "a race day with its photos wants 2 GB; make room or name a folder on another disk"
	}
	return s
}
