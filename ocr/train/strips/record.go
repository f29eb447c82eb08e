package strips

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/ocr/crop"
	"gatefold/scan/camera"
	"gatefold/scan/camera/hand"
)

// Record is one strip as it is stored for a trainer and for calibration.
type Record struct {
	Text   string // what the ink says
	Type   Type
	Spoil  Spoil
	Hard   bool // photographed at the hard level, else the ordinary one
	Writer int
	Strip  crop.Strip
}

// Sizes in bytes: the text with zeros behind, then type, spoil, level, writer (low byte first), the strip.
const (
	textBytes   = 16
	recordBytes = textBytes + 5 + crop.StripW*crop.StripH
)

var (
	recordTypes  = append(append([]Type{Comb}, Types...), Panel) // a new one goes to the end: files hold the place
	recordSpoils = []Spoil{Clean, Empty, Dash, Scribble, Word, Struck, StruckThen, Question, Overwritten, Outside}
)

// RecordOf makes the record of a field that was photographed at a level.
func RecordOf(f *Field, level camera.Level) Record {
	return Record{Text: f.Text, Type: f.Type, Spoil: f.Spoil, Hard: level.Name == camera.Hard, Writer: f.Writer, Strip: f.Strip()}
}

// LooksOf makes records of all looks that a Reader takes at the field: one, or two that follow each other.
func LooksOf(f *Field, level camera.Level) []Record {
	var out []Record
	for _, rect := range crop.Looks(f.Page, f.Rect) {
		r := RecordOf(f, level)
		r.Strip = crop.TakeStrip(f.Page, rect)
		out = append(out, r)
	}
	return out
}

// Bytes is the record as stored.
func (r Record) Bytes() []byte {
	b := make([]byte, textBytes, recordBytes)
	copy(b, r.Text)
	hard := byte(0)
	if r.Hard {
		hard = 1
	}
	b = append(b, byte(slices.Index(recordTypes, r.Type)), byte(slices.Index(recordSpoils, r.Spoil)), hard, byte(r.Writer), byte(r.Writer>>8))
	return append(b, r.Strip[:]...)
}

// ReadRecords reads a gzipped file of records.
func ReadRecords(path string) ([]Record, error) {
	b, err := hand.ReadGzip(path)
	if err != nil {
		return nil, err
	}
	if len(b)%recordBytes != 0 {
		return nil, fmt.Errorf("%s: %d bytes are no whole number of strips; make it again with makestrips", path, len(b))
	}
	out := make([]Record, 0, len(b)/recordBytes)
	for ; len(b) > 0; b = b[recordBytes:] {
		head := b[textBytes:]
		if int(head[0]) >= len(recordTypes) || int(head[1]) >= len(recordSpoils) {
			return nil, fmt.Errorf("%s: strip %d has a type or spoil that isn't known; make it again with makestrips", path, len(out))
		}
		r := Record{
			Text: strings.TrimRight(string(b[:textBytes]), "\x00"), Type: recordTypes[head[0]], Spoil: recordSpoils[head[1]],
			Hard: head[2] == 1, Writer: int(head[3]) + int(head[4])<<8,
		}
		copy(r.Strip[:], head[5:])
		out = append(out, r)
	}
	return out, nil
}
