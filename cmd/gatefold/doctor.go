package main

import (
	"fmt"
	"os"
	"path/filepath"
	"runtime"

	"github.com/spf13/cobra"
)

// finding of the doctor: one thing that was looked at.
type symptom struct {
	Part   string `json:"part"`
	OK     bool   `json:"ok"`
	Found  string `json:"found"`
	Remedy string `json:"remedy,omitempty"`
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
		Short: "Say whether this computer has what gatefold needs",
		Long: `Looks at the image library, the text recognition and its English data, the built-in
reader, the fonts and the free disk space of FOLDER (default: here), and says for
each what was found and, if it is not enough, what to install.`,
		Args: cobra.MaximumNArgs(1),
		RunE: func(_ *cobra.Command, args []string) error {
			folder := "."
			if len(args) == 1 {
				folder = args[0]
			}
			report := doctorReport{Format: 1, Healthy: true}
			report.Symptoms = append(report.Symptoms, symptom{Part: "program", OK: true,
				Found: fmt.Sprintf("%s, %s/%s", runtime.Version(), runtime.GOOS, runtime.GOARCH)})
			report.Symptoms = append(report.Symptoms, imagingSymptoms()...)
			report.Symptoms = append(report.Symptoms, symptom{Part: "fonts", OK: true, Found: "built in"}, diskSymptom(folder))
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
				return refused(fmt.Errorf("doctor: something is missing; see the lines marked MISSING above"))
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
			word = "MISSING"
		}
		a.printf("%-8s %-18s %s\n", word, s.Part, s.Found)
		if s.Remedy != "" {
			a.printf("%-8s %-18s %s\n", "", "", s.Remedy)
		}
	}
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
