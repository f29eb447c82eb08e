package archive_test

import (
	"crypto/sha256"
	"encoding/hex"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/archive"
)

// A bag whose sums are right but whose payload is not what bag-info.txt says: a file and its line in the
// manifest are gone, or the line itself is nonsense. Source of the form: RFC 8493, section 2.2.2.
func TestVerify_PayloadOxum(t *testing.T) {
	const empty = "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855" // SHA-256 of nothing; FIPS 180-4 test vectors
	for _, c := range []struct{ name, info, want string }{
		{"right", "Payload-Oxum: 0.1\n", ""},
		{"any case, folded", "payload-oxum:\n  0.1\n", ""},
		{"none, it is optional", "Bagging-Date: 2027-01-23\n", ""},
		{"a file less", "Payload-Oxum: 0.2\n", "bag-info.txt: broken: Payload-Oxum says 0 bytes in 2 files, in data/ lie 0 in 1"},
		{"other bytes", "Bagging-Date: 2027-01-23\nPayload-Oxum: 7.1\n", "bag-info.txt: broken: Payload-Oxum says 7 bytes in 1 files, in data/ lie 0 in 1"},
		{"nonsense", "Payload-Oxum: many\n", "bag-info.txt: broken: Payload-Oxum is not of the form bytes.files"},
		{"negative", "Payload-Oxum: -1.1\n", "bag-info.txt: broken: Payload-Oxum is not of the form bytes.files"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			require.NoError(t, os.Mkdir(filepath.Join(dir, "data"), 0o755))
			sum := func(text string) string { return sumOfText(t, text) }
			declaration := "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
			manifest := empty + "  data/a\n"
			for name, text := range map[string]string{
				"data/a": "", "bagit.txt": declaration, "bag-info.txt": c.info, "manifest-sha256.txt": manifest,
				"tagmanifest-sha256.txt": sum(declaration) + "  bagit.txt\n" + sum(c.info) + "  bag-info.txt\n" + sum(manifest) + "  manifest-sha256.txt\n",
			} {
				require.NoError(t, os.WriteFile(filepath.Join(dir, filepath.FromSlash(name)), []byte(text), 0o644))
			}
			report, err := archive.Verify(dir)
			require.NoError(t, err)
			var got []string
			for _, p := range report.Problems {
				got = append(got, p.String())
			}
			assert.Equal(t, c.want, strings.Join(got, "\n"))
		})
	}
}

func sumOfText(t *testing.T, text string) string {
	t.Helper()
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}
