package archive

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
)

// oxumLabel is the line of bag-info.txt that says how much the payload is.
const oxumLabel = "Payload-Oxum"

// maxInfo bounds what is read of bag-info.txt.
const maxInfo = 1 << 20

// oxum holds what bag-info.txt says of the payload against what lies there: bytes, a dot, files. A file
// that is gone together with its line in the manifest shows here. The line may be missing: RFC 8493
// demands none.
//
// Source: RFC 8493, section 2.2.2.
func (v *verifier) oxum() error {
	text, fault := v.infoText()
	if fault != "" {
		v.add(infoFile, FaultBroken, fault)
		return nil
	}
	said, ok := tagValue(text, oxumLabel)
	if !ok {
		return nil
	}
	wantBytes, wantFiles, ok := parseOxum(said)
	if !ok {
		v.add(infoFile, FaultBroken, oxumLabel+" is not of the form bytes.files")
		return nil
	}
	var gotBytes, gotFiles int64
	err := filepath.WalkDir(filepath.Join(v.root, "data"), func(full string, e fs.DirEntry, err error) error {
		switch {
		case errors.Is(err, fs.ErrNotExist) && full == filepath.Join(v.root, "data"):
			return nil // no payload at all
		case err != nil || e.IsDir():
			return err
		}
		info, err := e.Info()
		if err != nil {
			return err
		}
		gotFiles++
		gotBytes += info.Size()
		return nil
	})
	if err != nil {
		return err
	}
	// Where files of the payload were named already, they are the reason: bag-info.txt itself may be sound.
	named := slices.ContainsFunc(v.report.Problems, func(p Problem) bool { return strings.HasPrefix(p.File, "data/") })
	if !named && (gotBytes != wantBytes || gotFiles != wantFiles) {
		v.add(infoFile, FaultBroken, fmt.Sprintf("%s says %d bytes in %d files, in data/ lie %d in %d", oxumLabel, wantBytes, wantFiles, gotBytes, gotFiles))
	}
	return nil
}

// parseOxum takes "bytes.files" apart.
func parseOxum(said string) (octets, streams int64, ok bool) {
	first, second, dot := strings.Cut(said, ".")
	octets, err1 := strconv.ParseInt(first, 10, 64)
	streams, err2 := strconv.ParseInt(second, 10, 64)
	return octets, streams, dot && err1 == nil && err2 == nil && octets >= 0 && streams >= 0
}

// infoText reads bag-info.txt, which may be missing: where the tag manifest names it, that was said there.
func (v *verifier) infoText() (text []byte, fault string) {
	f, err := openPlain(filepath.Join(v.root, infoFile))
	if err != nil {
		return nil, ""
	}
	text, err = io.ReadAll(io.LimitReader(f, maxInfo))
	if err = errors.Join(err, f.Close()); err != nil {
		return nil, reasonOf(err)
	}
	return text, ""
}

// tagValue returns the value of a label in a tag file, the first one. Labels are compared without case;
// a value may go on in indented lines. Source: RFC 8493, section 2.2.2.
func tagValue(text []byte, label string) (string, bool) {
	lines := bufio.NewScanner(bytes.NewReader(text))
	lines.Buffer(nil, maxLine)
	value, found := "", false
	for lines.Scan() {
		line := lines.Text()
		if line != "" && (line[0] == ' ' || line[0] == '\t') {
			if found {
				value += " " + strings.TrimSpace(line)
			}
			continue
		}
		if found {
			break
		}
		if name, rest, ok := strings.Cut(line, ":"); ok && strings.EqualFold(strings.TrimSpace(name), label) {
			value, found = strings.TrimSpace(rest), true
		}
	}
	return strings.TrimSpace(value), found
}
