//go:build unix

package racefolder_test

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"gatefold/sheetmodel/racefolder"
)

// TestOpen_NoPlainFile_IsRefusedAtOnce puts what never ends, or never begins, in the place of each file.
func TestOpen_NoPlainFile_IsRefusedAtOnce(t *testing.T) {
	put := map[string]func(path string) error{
		"pipe":   func(path string) error { return unix.Mkfifo(path, 0o644) },
		"device": func(path string) error { return os.Symlink("/dev/zero", path) },
		"folder": func(path string) error { return os.Mkdir(path, 0o755) },
		"huge":   func(path string) error { return errors.Join(os.WriteFile(path, nil, 0o644), os.Truncate(path, 1<<40)) },
	}
	for _, file := range []string{racefolder.RaceFile, racefolder.StartListFile, racefolder.CodesFile, racefolder.PrintedFile, "layouts/abc.yaml"} {
		for what, place := range put {
			t.Run(what+" as "+file, func(t *testing.T) {
				dir := printedRace(t)
				path := filepath.Join(dir, file)
				require.NoError(t, os.RemoveAll(path))
				require.NoError(t, place(path))
				ended := make(chan error, 1)
				go func() {
					f, err := racefolder.Open(dir)
					if err == nil {
						_, err = f.Layouts()
					}
					ended <- err
				}()
				select {
				case err := <-ended:
					if what == "folder" && file == "layouts/abc.yaml" {
						require.NoError(t, err, "folders beside layouts are none of ours")
						return
					}
					require.Error(t, err)
					assert.Contains(t, err.Error(), filepath.Base(file))
				case <-time.After(10 * time.Second):
					t.Fatal("it hangs")
				}
			})
		}
	}
}
