//go:build unix

package archive_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"gatefold/review/archive"
)

// TestVerify_NoPlainFile_NeverWaits puts a pipe that nobody writes to in the place of each tag file.
func TestVerify_NoPlainFile_NeverWaits(t *testing.T) {
	for _, name := range []string{"bagit.txt", "manifest-sha256.txt", "tagmanifest-sha256.txt"} {
		t.Run(name, func(t *testing.T) {
			dir := bag(t, "")
			require.NoError(t, os.RemoveAll(filepath.Join(dir, name)))
			require.NoError(t, unix.Mkfifo(filepath.Join(dir, name), 0o600))
			ended := make(chan string, 1)
			go func() {
				report, err := archive.Verify(dir)
				said := ""
				for _, p := range report.Problems {
					said += p.String() + "\n"
				}
				if err != nil {
					said += err.Error()
				}
				ended <- said
			}()
			select {
			case said := <-ended:
				assert.Regexp(t, name+": .*not a plain file", said)
			case <-time.After(10 * time.Second):
				t.Fatal("it waits")
			}
		})
	}
}
