package racefolder

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
)

// tableRow is one line of a table by what its cells are for, spaces at the ends taken off.
type tableRow struct {
	line  int
	value map[column]string
	has   map[column]bool // the table has the column
}

// A table that says more than this is not a list of a race's racers.
const (
	maxRows    = 10_000
	maxColumns = 500
)

// readTable reads a table as spreadsheets write it: comma, semicolon or tab; UTF-8, UTF-16 with its
// mark, or Windows-1252. Problems are noted; rows that are wrong in themselves are left out.
func readTable(p *problems, text []byte, want []column) []tableRow {
	plain, note := decodeText(text)
	if note != "" {
		p.note(note)
	}
	plain, skipped := dropSeparatorLine(plain)
	r := csv.NewReader(strings.NewReader(plain))
	r.Comma = delimiter(plain)
	r.FieldsPerRecord = -1
	var at map[column]int
	var rows []tableRow
	width := 0
	for {
		cells, err := r.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			explainCSV(p, err, skipped)
			return rows
		}
		line, _ := r.FieldPos(0)
		line += skipped
		if blank(cells) {
			continue
		}
		if len(cells) > maxColumns {
			p.at(line, "%d cells in one line are more than a list of racers has (%d at most); is it the right file?", len(cells), maxColumns)
			return nil
		}
		if len(rows) == maxRows {
			p.at(line, "more than %d lines; is it the right file?", maxRows)
			return nil
		}
		if at == nil {
			var notes []string
			if at, notes, err = findColumns(cells, want); err != nil {
				p.at(line, "%s", err)
				return nil
			}
			for _, n := range notes {
				p.note(n)
			}
			width = len(cells)
			continue
		}
		if len(cells) > width && !blank(cells[width:]) {
			p.at(line, "%d cells, but the header has %d; put a cell that holds a %q into quotation marks", len(cells), width, r.Comma)
			continue
		}
		row := tableRow{line: line, value: map[column]string{}, has: map[column]bool{}}
		for c, i := range at {
			row.has[c] = true
			if i < len(cells) {
				row.value[c] = strings.Join(strings.Fields(cells[i]), " ")
			}
		}
		rows = append(rows, row)
	}
	if at == nil {
		p.at(0, "the file is empty; write a header line such as bib,name,club,group")
	}
	return rows
}

func explainCSV(p *problems, err error, skipped int) {
	var parse *csv.ParseError
	if !errors.As(err, &parse) {
		p.at(0, "can't be read as a table: %s", err)
		return
	}
	line := parse.StartLine + skipped
	switch {
	case errors.Is(parse.Err, csv.ErrBareQuote):
		p.at(line, "a quotation mark stands inside a cell; write it twice and put the cell into quotation marks, or remove it")
	case errors.Is(parse.Err, csv.ErrQuote):
		p.at(line, "a cell begins with a quotation mark but doesn't end with one; close it, or remove it")
	default:
		p.at(line, "can't be read as a table: %s", parse.Err)
	}
}

func blank(cells []string) bool {
	for _, c := range cells {
		if strings.TrimSpace(c) != "" {
			return false
		}
	}
	return true
}

// decodeText returns the text as UTF-8, with a note when it was written in something else.
func decodeText(text []byte) (plain, note string) {
	switch {
	case bytes.HasPrefix(text, []byte("\xef\xbb\xbf")):
		text = text[3:]
	case bytes.HasPrefix(text, []byte("\xff\xfe")), bytes.HasPrefix(text, []byte("\xfe\xff")):
		return decodeUTF16(text), "read as UTF-16; check names with accents"
	}
	if utf8.Valid(text) {
		return string(text), ""
	}
	decoded, err := charmap.Windows1252.NewDecoder().Bytes(text)
	if err != nil {
		return strings.ToValidUTF8(string(text), "�"), "not readable as UTF-8; check names with accents"
	}
	return string(decoded), "not UTF-8, so read as Windows-1252; check names with accents"
}

func decodeUTF16(text []byte) string {
	big := text[0] == 0xfe
	units := make([]uint16, 0, len(text)/2)
	for i := 2; i+1 < len(text); i += 2 {
		lo, hi := text[i], text[i+1]
		if big {
			lo, hi = hi, lo
		}
		units = append(units, uint16(hi)<<8|uint16(lo))
	}
	return string(utf16.Decode(units))
}

// dropSeparatorLine takes off the line "sep=;" that some spreadsheets put first.
func dropSeparatorLine(text string) (rest string, lines int) {
	first, rest, found := strings.Cut(text, "\n")
	if found && strings.HasPrefix(strings.ToLower(strings.TrimSpace(first)), "sep=") {
		return rest, 1
	}
	return text, 0
}

// delimiter is the sign that parts the cells of the header: the one that stands there most often.
func delimiter(text string) rune {
	for line := range strings.Lines(text) {
		if strings.Trim(line, ",;\t \r\n") == "" {
			continue
		}
		best, most := ',', 0
		for _, d := range []rune{',', ';', '\t'} {
			n, quoted := 0, false
			for _, r := range line {
				if r == '"' {
					quoted = !quoted
				}
				if r == d && !quoted {
					n++
				}
			}
			if n > most {
				best, most = d, n
			}
		}
		return best
	}
	return ','
}
