package archive

import (
	"errors"
	"fmt"
	"path/filepath"
	"strings"
)

// An archive's own sum is the SHA-256 of its last list, tagmanifest-sha256.txt. That list has the sum of the list of
// all files, so no byte of the archive can change without it. Whoever makes a whole archive anew, lists and all,
// passes every check inside it; only a sum that was noted somewhere else tells. Anybody gets it with
//
//	sha256sum tagmanifest-sha256.txt
//
// It is the same for a folder and for the zip of it.

// notedDigits is how many of the 64 digits somebody has to have noted at least: 64 bits can't be met by trying.
const notedDigits = 16

// ParseSum takes the sum, or the beginning of it, as somebody noted it: spaces, line breaks and capitals don't matter.
// The error says what is wrong with it.
func ParseSum(noted string) (string, error) {
	digits := strings.ToLower(strings.Join(strings.Fields(noted), ""))
	if len(digits) < notedDigits || len(digits) > 64 || strings.Trim(digits, "0123456789abcdef") != "" {
		return "", fmt.Errorf("%s is no sum of an archive: give its 64 digits (0-9, a-f), or the first %d at least", spell(noted), notedDigits)
	}
	return digits, nil
}

// Compare adds a problem if the archive's own sum doesn't begin with the digits that ParseSum returned.
func (r *Report) Compare(noted string) {
	switch {
	case r.Sum == "":
		// It has no such list, and that is among the problems already.
	case !strings.HasPrefix(r.Sum, noted):
		r.Problems = append(r.Problems, Problem{tagManifestFile, FaultAltered, "the archive's sum is " + r.Sum + ", noted was " + noted +
			": this is another archive, or one that was made anew"})
	}
}

// sum returns the archive's own sum, and nothing where it has no list of its lists.
func (v *verifier) sum() string {
	full := filepath.Join(v.root, tagManifestFile)
	f, err := openPlain(full)
	if err != nil {
		return ""
	}
	if err = f.Close(); err != nil {
		return ""
	}
	sum, err := sumOf(full)
	if err != nil {
		return ""
	}
	return sum
}

// sum returns the own sum of an archive that was just made.
func (b *bag) sum() (string, error) {
	for _, e := range b.tags {
		if e.file == tagManifestFile {
			return e.sha, nil
		}
	}
	return "", errors.New("no list of the lists was written")
}
