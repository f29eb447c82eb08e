package archive

import (
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"gatefold/review/draft"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// table is one CSV file of an archive. Its columns are told in the README from here.
type table struct {
	file    string
	what    string // one record
	columns []column
}

type column struct{ name, means string }

var (
	readingsTable = table{"readings.csv", "one field of a card with ink in it, as the reader saw it", []column{
		{"field", "its name, see HOW A FIELD IS NAMED"},
		{"run", "printed on the card; 0 for a spare card"},
		{"course", "printed on the card; empty for a spare card"},
		{"card", "number printed on the card"},
		{"side", "front or back"},
		{"text", "what was read; empty for drawings, remarks, and where a name or phone number is left out"},
		{"state", "clear: certain enough to be one look; doubtful: waits for a person"},
		{"certainty", "0 to 1, the calibrated probability that the text is what its writer meant"},
		{"rivals", "other texts that the same ink may be, each with its probability; one without a text: that nothing stands there"},
		{"doubts", "why it is doubtful"},
		{"reader", "version of the reader, its nets and thresholds"},
		{"curve", "calibration curve that made the certainty"},
		{"x mm", "left edge of the field on the card"},
		{"y mm", "upper edge"},
		{"width mm", ""},
		{"height mm", ""},
		{"photo", "SHA-256 of the original photo"},
		{"picture", "the straightened side in this folder"},
		{"card version", "SHA-256 of the printed layout, see race/layouts/"},
	}}
	decisionsTable = table{"decisions.csv", "one entry of a person, also one that was replaced or taken back later", []column{
		{"id", "number; a later entry has a higher one"},
		{"reading", "the field, see HOW A FIELD IS NAMED"},
		{"text", "what was typed"},
		{"basis", "as-on-the-paper, judge-asked, set-aside, or no-writing"},
		{"typed unseen", "yes: the person had not been sent what the machine read"},
		{"judge named it", "yes: the judge read it aloud or named it unprompted"},
		{"by", "who typed"},
		{"at", "when, with the offset from UTC"},
		{"note", "in the person's own words"},
		{"undone by", "who took it back; empty: nobody"},
		{"undone at", "when"},
	}}
	callsTable = table{"calls.csv", "one proposed disqualification", []column{
		{"run", ""},
		{"course", ""},
		{"bib", "as written by the judge"},
		{"group", ""},
		{"gate", ""},
		{"code", "what happened, in the league's code"},
		{"meaning", "of the code"},
		{"basis", "article or local rule"},
		{"status", "proposed, waiting (it lacks a look or an answer), or overruled by the jury"},
		{"waits for", "what it lacks"},
		{"rows", "rows of cards that carry it, the leading one first"},
		{"further rows", "rows that support it"},
		{"made public", "yes or no"},
	}}
	findingsTable = table{"findings.csv", "one thing that the rules say about rows together", []column{
		{"rule", "name of the check"},
		{"severity", "blocks, asks, warns or informs, strongest first"},
		{"run", ""},
		{"course", ""},
		{"card", "where it is about one card"},
		{"bib", "where it is about one bib"},
		{"group", ""},
		{"gate", ""},
		{"rows", "rows it rests on"},
		{"sentence", "what it says"},
		{"basis", "article, local rule, or common practice"},
		{"question", "what a person is asked; empty: nothing"},
		{"answer", "what a person answered"},
	}}
	spotTable = table{"spot-check.csv", "the spot check of the race: bibs that were certain without a person and were given to one all the same", []column{
		{"certain", "bibs that were certain without a person"},
		{"drawn", "of these, drawn by lot"},
		{"typed unseen", "of these, typed by a person who had not been sent what was read"},
		{"typed otherwise", "of these, typed otherwise than they were read"},
		{"share", "that lot was to draw, 0 to 1"},
	}}
	bibsTable = table{"race/bibs.csv", "one racer of the start list", []column{{"bib", ""}, {"group", ""}, {"course", ""}}}
)

var csvTables = []table{readingsTable, decisionsTable, callsTable, findingsTable, spotTable, bibsTable}

// write writes the table with its header, as RFC 4180 has it: commas, CRLF, quotes doubled. UTF-8.
func (t table) write(b *bag, records [][]string) error {
	head := make([]string, len(t.columns))
	for i, c := range t.columns {
		head[i] = c.name
	}
	return b.write("data/"+t.file, func(w io.Writer) error {
		c := csv.NewWriter(w)
		c.UseCRLF = true
		for _, r := range append([][]string{head}, records...) {
			for i := range r {
				r[i] = draft.Harmless(r[i])
			}
			if err := c.Write(r); err != nil {
				return err
			}
		}
		c.Flush()
		return c.Error()
	})
}

// tables writes the CSV files that stand beside the JSON files.
func tables(ctx context.Context, b *bag, sheets []store.Sheet, in Input) error {
	if err := readingsTable.write(b, readingRecords(b, sheets)); err != nil {
		return err
	}
	all, err := in.Store.Decisions(ctx)
	if err != nil {
		return err
	}
	if err = decisionsTable.write(b, decisionRecords(all)); err != nil {
		return err
	}
	if err = callsTable.write(b, callRecords(in.Result.Calls)); err != nil {
		return err
	}
	if err = findingsTable.write(b, findingRecords(in.Result.Findings, in.Stack.Without(in.Result.Overtaken).Answers)); err != nil {
		return err
	}
	s := in.Stack.SpotCheck()
	typed, wrong := s.Typed()
	return spotTable.write(b, [][]string{{
		strconv.Itoa(s.Certain), strconv.Itoa(len(s.Drawn)), strconv.Itoa(typed), strconv.Itoa(wrong), number64(in.Stack.Race.SpotCheck),
	}})
}

func readingRecords(b *bag, sheets []store.Sheet) [][]string {
	var records [][]string
	for _, s := range sheets {
		picture := ""
		if s.Page != "" && !slices.Contains(b.leftOut, s.Page) {
			picture = sheetFile(s)
		}
		for _, r := range s.Read.Reading.Readings() {
			if r.State == sheetmodel.Empty {
				continue
			}
			var rivals, doubts []string
			for _, v := range r.Rivals {
				rivals = append(rivals, fmt.Sprintf("%s (%.4f)", v.Text, float64(v.Prob)))
			}
			for _, d := range r.Doubts {
				doubts = append(doubts, string(d.Kind)+": "+d.Detail)
			}
			records = append(records, []string{
				s.Key(r.Field), strconv.Itoa(s.Card.Run), s.Card.Course, strconv.Itoa(s.Card.Card), string(s.Side), r.Text, string(r.State),
				number64(r.Certainty.Value()), strings.Join(rivals, "; "), strings.Join(doubts, "; "), s.Read.Reading.Reader, r.Certainty.Curve(),
				mm(r.Region.X), mm(r.Region.Y), mm(r.Region.W), mm(r.Region.H), s.Photo, picture, s.Layout,
			})
		}
	}
	return records
}

func mm(x sheetmodel.MM) string { return strconv.FormatFloat(float64(x), 'f', 2, 64) }

func decisionRecords(all []store.Decision) [][]string {
	var records [][]string
	for _, d := range all {
		undoneBy, undoneAt := "", ""
		if d.Undone != nil {
			undoneBy, undoneAt = d.Undone.By, d.Undone.At.Format(timeFormat)
		}
		records = append(records, []string{
			strconv.FormatInt(d.ID, 10), d.Reading, d.Text, string(d.Basis), yesNo(d.Blind), yesNo(d.ReadBack), d.By,
			d.At.Format(timeFormat), d.Note, undoneBy, undoneAt,
		})
	}
	return records
}

func callRecords(calls []sheetmodel.Call) [][]string {
	var records [][]string
	for _, c := range calls {
		status := "proposed"
		switch {
		case c.Overruled:
			status = "overruled"
		case c.Waiting:
			status = "waiting"
		}
		records = append(records, []string{
			strconv.Itoa(c.Run), c.Course, c.Bib, c.Group, c.Gate, c.Code, c.Meaning, c.Basis, status, strings.Join(c.WaitsFor, "; "),
			rowWords(c.Rows), rowWords(c.Further), yesNo(c.Posted),
		})
	}
	return records
}

func findingRecords(findings []sheetmodel.Finding, answers map[string]string) [][]string {
	var records [][]string
	for _, f := range findings {
		card, ask, said := "", "", ""
		if f.Card != nil {
			card = strconv.Itoa(f.Card.Card)
		}
		if f.Question != nil {
			ask, said = f.Question.Ask, answers[f.Question.Key]
		}
		records = append(records, []string{
			f.Rule, string(f.Severity), strconv.Itoa(f.Run), f.Course, card, f.Bib, f.Group, f.Gate, rowWords(f.Rows), f.Sentence, f.Basis, ask, said,
		})
	}
	return records
}

func rowWords(rows []sheetmodel.RowRef) string {
	var words []string
	for _, r := range rows {
		words = append(words, fmt.Sprintf("card %d row %d", r.Card, r.Row))
	}
	return strings.Join(words, "; ")
}

// columnsText tells the columns of all CSV files.
func columnsText() string {
	var t strings.Builder
	for _, c := range csvTables {
		fmt.Fprintf(&t, "%s\n  A record is %s.\n", c.file, c.what)
		for _, k := range c.columns {
			if k.means == "" {
				fmt.Fprintf(&t, "  - %s\n", k.name)
				continue
			}
			fmt.Fprintf(&t, "  - %s: %s\n", k.name, k.means)
		}
	}
	return t.String()
}
