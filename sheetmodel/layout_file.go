package sheetmodel

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"path/filepath"
	"regexp"
	"strings"
	"unicode"

	"go.yaml.in/yaml/v3"
)

// Hash returns the SHA-256 of the layout's canonical JSON, in 64 hex digits. The canonical JSON is
// what encoding/json writes for the type: fields in the order of the struct, shortest numbers.
func (l *Layout) Hash() string {
	b, err := json.Marshal(l)
	if err != nil {
		panic("layout: " + err.Error()) // only for NaN and infinity, which no parser lets in
	}
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// HashStart returns the 6 hex digits by which a printed identity names its layout.
func (l *Layout) HashStart() string { return l.Hash()[:6] }

// FileName returns the name under which a race folder keeps the layout: 12 hex digits and .yaml.
func (l *Layout) FileName() string { return l.Hash()[:12] + ".yaml" }

const layoutHead = "# A layout as it was printed, in mm; don't edit: cards name it by its hash.\n# sha256: "

// EncodeLayout writes the layout as the YAML that ParseLayout reads, with its hash on top.
func EncodeLayout(l *Layout) ([]byte, error) { return encodeLayout(layoutHead+l.Hash()+"\n", l) }

// EncodeDraft writes a layout that a person is to edit: as EncodeLayout, without the hash that would forbid it.
// Each line of head stands on top as a comment.
func EncodeDraft(l *Layout, head ...string) ([]byte, error) {
	var top strings.Builder
	for _, text := range head {
		for line := range strings.SplitSeq(text, "\n") {
			top.WriteString("# " + Printable(line) + "\n")
		}
	}
	return encodeLayout(top.String(), l)
}

// Printable is a text without what would end a line or a comment, or steer a terminal: a space stands in its place.
func Printable(text string) string { return strings.Map(printable, text) }

func printable(r rune) rune {
	turns := r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 // what follows would be shown from right to left
	if unicode.IsControl(r) || r == 0x2028 || r == 0x2029 || turns {
		return ' '
	}
	return r
}

func encodeLayout(head string, l *Layout) ([]byte, error) {
	var out bytes.Buffer
	out.WriteString(head)
	e := yaml.NewEncoder(&out)
	e.SetIndent(2)
	if err := e.Encode(l); err != nil {
		return nil, fmt.Errorf("layout %s: %w", l.Name, err)
	}
	if err := e.Close(); err != nil {
		return nil, fmt.Errorf("layout %s: %w", l.Name, err)
	}
	return out.Bytes(), nil
}

var (
	hashLine = regexp.MustCompile(`(?m)^# sha256: ([0-9a-f]{64})$`)
	hashName = regexp.MustCompile(`^([0-9a-f]{12})\.yaml$`)
)

// ParseLayout reads a concrete layout: one that EncodeLayout wrote, or one that somebody described
// by hand. file stands in front of errors, with the line where known.
//
// If the file has a "# sha256:" line or a name of 12 hex digits, the content must match it. Unknown
// keys, unknown kinds, fields outside their side and doubled names are errors; what Lint finds beyond
// that is not.
func ParseLayout(file string, data []byte) (*Layout, error) {
	l := &Layout{}
	if err := strictYAML(file, data, l); err != nil {
		return nil, err
	}
	if line, key, text := oddNumber(data); line > 0 {
		return nil, fmt.Errorf("%s:%d: %s: %s is no plain number, and could be taken for another; write it without zeros in front, and whole numbers without a point", file, line, key, text)
	}
	if l.Format > TemplateFormat {
		return nil, fmt.Errorf("%s: format %d is newer than this program reads (%d); use a newer gatefold", file, l.Format, TemplateFormat)
	}
	if l.Format < 1 || l.Name == "" || len(l.Sides) == 0 {
		return nil, fmt.Errorf("%s: a layout needs format, name and sides", file)
	}
	// A list that is missing and a list that is empty must not have two hashes.
	for i := range l.Sides {
		s := &l.Sides[i]
		s.Marks = append([]Mark{}, s.Marks...)
		s.Identity = append([]Rect{}, s.Identity...)
		s.Fields = append([]Field{}, s.Fields...)
	}
	if faults := l.faults(); len(faults) > 0 {
		f := faults[0]
		return nil, fmt.Errorf("%s%s: %s", file, lineOf(data, f.noun), f.text)
	}
	if m := hashLine.FindSubmatch(data); m != nil && string(m[1]) != l.Hash() {
		return nil, fmt.Errorf("%s: content does not match its sha256 %.12s…; take the file from the race's archive again", file, m[1])
	}
	if m := hashName.FindStringSubmatch(filepath.Base(file)); m != nil && m[1] != l.Hash()[:12] {
		return nil, fmt.Errorf("%s: content has the hash %.12s; take the file from the race's archive again", file, l.Hash())
	}
	return l, nil
}

// lineOf returns ":LINE" of the first entry whose name or id is noun, or nothing.
func lineOf(data []byte, noun string) string {
	if noun == "" {
		return ""
	}
	for i, line := range strings.Split(string(data), "\n") {
		t := strings.TrimSpace(strings.NewReplacer("- ", "", "{", "", ",", " ").Replace(line)) + " "
		if strings.Contains(t, "name: "+noun+" ") || strings.Contains(t, "id: "+noun+" ") {
			return fmt.Sprintf(":%d", i+1)
		}
	}
	return ""
}
