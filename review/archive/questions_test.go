package archive_test

import (
	"encoding/csv"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/archive"
	"gatefold/review/stack/stacktest"
	"gatefold/sheetmodel"
)

// records reads a CSV of an archive by its header, with a library that knows nothing of archives.
func records(t *testing.T, dir, name string) []map[string]string {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, "data", filepath.FromSlash(name)))
	require.NoError(t, err)
	assert.NotContains(t, strings.ReplaceAll(string(text), "\r\n", ""), "\n", "%s: a bare line feed", name) // RFC 4180, 2.1
	all, err := csv.NewReader(strings.NewReader(string(text))).ReadAll()
	require.NoError(t, err)
	require.NotEmpty(t, all)
	var out []map[string]string
	for _, r := range all[1:] {
		m := map[string]string{}
		for i, c := range all[0] {
			m[c] = r[i]
		}
		out = append(out, m)
	}
	return out
}

func having(all []map[string]string, column, value string) []map[string]string {
	return slices.DeleteFunc(slices.Clone(all), func(r map[string]string) bool { return r[column] != value })
}

// The ten questions of the README, each answered from the archive alone with jq or a CSV reader. The answers are those of the
// table that was laid (our own logic): nothing here asks the program.
func TestReadme_TenQuestions_AreAnsweredFromTheArchiveAlone(t *testing.T) {
	b := stacktest.New(t)
	b.Card("Blue", 1, stacktest.Row{Bib: "14", Code: "F", Gate: "6", Panel: "B"}, stacktest.Row{Bib: "9", Code: "F", Gate: "3", Panel: "C"})
	b.Card("Blue", 3, stacktest.Row{Bib: "46", Code: "F", Gate: "15", Panel: "B", State: sheetmodel.Doubtful, Rivals: []string{"40"}})
	b.Card("Blue", 4, stacktest.Row{Bib: "12", Code: "F", Gate: "20"})
	b.Type("Ada", stacktest.Key("Blue", 1, 1, sheetmodel.PartBib), "14")
	b.Ask("Bo", stacktest.Key("Blue", 1, 2, sheetmodel.PartBib), "9")
	in := input(b)
	in.Names = false
	dir := filepath.Join(t.TempDir(), "share")
	_, err := archive.Write(t.Context(), dir, in)
	require.NoError(t, err)
	jq := func(filter, file string) string {
		return strings.TrimSpace(tool(t, "jq", "-r", filter, filepath.Join(dir, "data", filepath.FromSlash(file))))
	}
	calls, read, decided := records(t, dir, "calls.csv"), records(t, dir, "readings.csv"), records(t, dir, "decisions.csv")

	// 1. Which bibs are proposed, at which gate, for what?
	var proposed []string
	for _, c := range having(calls, "status", "proposed") {
		proposed = append(proposed, c["bib"]+" gate "+c["gate"]+" "+c["code"])
	}
	slices.Sort(proposed)
	assert.Equal(t, []string{"14 gate 6 F", "9 gate 3 F"}, proposed)
	// 2. On which rows of which cards does a proposal rest?
	assert.Equal(t, "card 1 row 1", having(calls, "bib", "14")[0]["rows"])
	// 3. Where is the ink of such a row? In its field of the printed layout, which is in the archive too.
	ink := having(read, "field", "run1/Blue/card-1/front/row-01.bib")
	require.Len(t, ink, 1)
	assert.Equal(t, "18.20", ink[0]["x mm"]) // the layout's
	assert.Equal(t, "63.00", ink[0]["y mm"])
	assert.FileExists(t, filepath.Join(dir, "data", filepath.FromSlash(ink[0]["picture"])))
	// 4. How certain was the reader, what else might it be?
	doubtful := having(read, "field", "run1/Blue/card-3/front/row-01.bib")[0]
	assert.Equal(t, []string{"46", "doubtful", "40 (0.2000)", "low-certainty: for this test"}, []string{doubtful["text"], doubtful["state"], doubtful["rivals"], doubtful["doubts"]})
	// 5. Who settled a field, when, on what basis?
	nine := having(decided, "reading", "run1/Blue/card-1/front/row-02.bib")
	require.Len(t, nine, 1)
	assert.Equal(t, []string{"9", "judge-asked", "person 2"}, []string{nine[0]["text"], nine[0]["basis"], nine[0]["by"]})
	assert.Regexp(t, `^20\d\d-\d\d-\d\dT`, nine[0]["at"])
	// 6. Was it typed without knowing what the machine read?
	assert.Equal(t, "yes", having(decided, "reading", "run1/Blue/card-1/front/row-01.bib")[0]["typed unseen"])
	assert.Equal(t, "false", jq(`.served[] | select(.reading == "run1/Blue/card-1/front/row-01.bib") | .reveals`, "records.json"))
	// 7. What is still open?
	waiting := having(calls, "status", "waiting")
	require.NotEmpty(t, waiting)
	for _, c := range waiting {
		assert.NotEmpty(t, c["waits for"])
	}
	assert.Contains(t, jq(`.incomplete[] | select(.run == 1 and .course == "Blue") | .why`, "findings.json"), "Card 3 (B3) row 1 waits: ")
	// 8. What contradicts each other, what was answered?
	missing := having(records(t, dir, "findings.csv"), "rule", "missing-card")
	require.NotEmpty(t, missing)
	assert.Contains(t, missing[0]["sentence"], "Card 2 ")
	// 9. Which card stood at which gates?
	assert.Equal(t, "13,14,15,16,17,18", jq(`.runs[] | select(.number == 1) | .courses[] | select(.course == "Blue") | .places[] | select(.card == 3) | .gates | join(",")`, "race/race.json"))
	// 10. With what was it read and checked?
	assert.Equal(t, "test reader", read[0]["reader"])
	assert.Equal(t, b.Race.Rules.Name, jq(".rules.name", "race/race.json"))
	readme := filesOf(t, dir)["data/README.txt"]
	assert.Contains(t, readme, "Reader, nets and thresholds: test reader\n")
	assert.Contains(t, readme, "Rule set: "+b.Race.Rules.Name+"\n")
}

// Every column of every table is told in the README, under its table's name, and no other.
func TestReadme_TellsEveryColumnOfEveryTable(t *testing.T) {
	for _, full := range []bool{true, false} {
		in := input(day(t))
		in.Names = full
		files := filesOf(t, write(t, in))
		_, told, found := strings.Cut(files["data/README.txt"], "THE COLUMNS OF THE TABLES")
		require.True(t, found)
		tables := 0
		for name, text := range files {
			short := strings.TrimPrefix(name, "data/")
			if filepath.Ext(name) != ".csv" || short == "draft.csv" || short == "race/startlist.csv" {
				continue
			}
			tables++
			_, mine, found := strings.Cut(told, "\n"+short+"\n")
			require.True(t, found, short)
			head, err := csv.NewReader(strings.NewReader(text)).Read()
			require.NoError(t, err)
			var columns []string
			for _, line := range strings.Split(mine, "\n")[1:] {
				c, isColumn := strings.CutPrefix(line, "  - ")
				if !isColumn {
					break
				}
				c, _, _ = strings.Cut(c, ":")
				columns = append(columns, c)
			}
			assert.Equal(t, head, columns, short)
		}
		assert.Equal(t, 6, tables)
	}
}
