package draft

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// csvColumns are the columns of draft.csv in their order.
var csvColumns = []string{
	"run", "course", "status", "bib as written", "group", "name", "club", "gate", "code", "meaning", "basis",
	"card", "row", "place", "judge", "looks", "settled by", "waits for or why", "notice",
}

// WriteCSV writes the draft as CSV (RFC 4180: a header, commas, CRLF, quotes doubled), UTF-8. Each row
// of a card is a record; a line that rests on several rows has several. Missing cards and backs, open gates, how many
// lines are public that the draft doesn't make, and reasons why a section is incomplete have records of their own; so has the notice, once, before all others.
//
// A cell that a spreadsheet might run as a formula starts with an apostrophe.
func (d *Draft) WriteCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	c.UseCRLF = true
	notice := make([]string, len(csvColumns))
	notice[2], notice[18] = "notice", Notice
	records := [][]string{csvColumns, notice}
	for _, s := range d.Sections {
		records = append(records, sectionRecords(s)...)
	}
	for _, r := range records {
		for i := range r {
			r[i] = Harmless(r[i])
		}
		if err := c.Write(r); err != nil {
			return fmt.Errorf("draft: %w", err)
		}
	}
	c.Flush()
	if err := c.Error(); err != nil {
		return fmt.Errorf("draft: %w", err)
	}
	return nil
}

func sectionRecords(s Section) [][]string {
	var records [][]string
	lines := func(status string, lines []Line) {
		for _, l := range lines {
			for i, r := range append(append([]Row{}, l.Rows...), l.Further...) {
				rec := rowRecord(s, status, r)
				if i >= len(l.Rows) {
					rec[2] = status + ", further evidence"
				}
				rec[3], rec[4], rec[5], rec[6] = l.Bib, l.Group, l.Name, l.Club
				rec[9], rec[10] = l.Meaning, BasisWords(l.Basis)
				if len(l.WaitsFor) > 0 {
					rec[17] = strings.Join(l.WaitsFor, "; ")
				}
				records = append(records, rec)
			}
		}
	}
	lines("proposed", s.Proposed)
	lines("waiting", s.Waiting)
	lines("overruled by the jury", s.Overruled)
	for _, group := range []struct {
		status string
		rows   []Row
	}{{"waiting", s.Rows}, {"set aside", s.SetAside}, {"recorded", s.Recorded}} {
		for _, r := range group.rows {
			records = append(records, rowRecord(s, group.status, r))
		}
	}
	for _, group := range []struct {
		status string
		cards  []MissingCard
	}{{"missing card", s.Missing}, {"missing back", s.Backs}} {
		for _, m := range group.cards {
			rec := emptyRecord(s, group.status)
			rec[7], rec[11], rec[13], rec[14], rec[17] = strings.Join(m.Gates, " "), strconv.Itoa(m.Card), m.Place, m.Judge, m.Reason
			records = append(records, rec)
		}
	}
	for _, t := range s.OpenGates {
		rec := emptyRecord(s, "open gate")
		rec[17] = t
		records = append(records, rec)
	}
	for _, f := range s.Conflicts {
		rec := emptyRecord(s, "needs a person")
		rec[3], rec[4], rec[7], rec[10], rec[17] = f.Bib, f.Group, f.Gate, BasisWords(f.Basis), f.Sentence
		records = append(records, rec)
	}
	if words := s.UnmadeWords(); words != "" {
		rec := emptyRecord(s, "public, not in the draft")
		rec[17] = words
		records = append(records, rec)
	}
	for _, t := range s.Incomplete {
		rec := emptyRecord(s, "incomplete")
		rec[17] = t
		records = append(records, rec)
	}
	return records
}

func emptyRecord(s Section, status string) []string {
	rec := make([]string, len(csvColumns))
	rec[0], rec[1], rec[2] = strconv.Itoa(s.Run), s.Course, status
	return rec
}

func rowRecord(s Section, status string, r Row) []string {
	rec := emptyRecord(s, status)
	rec[3] = bibWords(r)
	rec[7], rec[8] = r.Gate, r.Code
	rec[11], rec[12], rec[13], rec[14] = strconv.Itoa(r.Card), strconv.Itoa(r.Row), r.Place, r.Judge
	var looks, settled []string
	for _, l := range r.Looks {
		looks = append(looks, lookWords(l))
	}
	for _, x := range r.Settled {
		settled = append(settled, settledWords(x))
	}
	rec[15], rec[16], rec[17] = strings.Join(looks, "; "), strings.Join(settled, "; "), r.Why
	return rec
}

// Harmless keeps spreadsheets from running a cell: an apostrophe before the signs that start a formula.
// Source: OWASP, CSV Injection.
func Harmless(cell string) string {
	if cell != "" && strings.ContainsRune("=+-@\t\r\n＝＋－＠", []rune(cell)[0]) {
		return "'" + cell
	}
	return cell
}
