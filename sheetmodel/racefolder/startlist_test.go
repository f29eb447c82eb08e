package racefolder

import (
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

// listed opens the small race with nothing known but its groups, and the start list given.
func listed(t *testing.T, list string) ([]sheetmodel.Starter, []string, error) {
	t.Helper()
	text, _, _ := strings.Cut(goodRace, "runs:")
	r, notes, err := OpenFS(fsWith(text, list), "demo")
	if err != nil {
		return nil, nil, err
	}
	for i := range r.Starters {
		r.Starters[i].Line = 0
	}
	return r.Starters, notes, nil
}

// The same two racers in every form a spreadsheet may give them.
func TestStartList_EveryForm_GivesTheSameRacers(t *testing.T) {
	want := []sheetmodel.Starter{
		{Bib: sheetmodel.Bib{Group: "girls", Number: "07"}, Name: "Ada Müffel", Club: "Hollow, Spoon", Course: "Blue"},
		{Bib: sheetmodel.Bib{Group: "boys", Number: "7"}, Name: "Bruno Twig", Club: "Muffle", Course: "Red"},
	}
	utf16le := func(s string) string {
		b := []byte{0xff, 0xfe}
		for _, u := range utf16.Encode([]rune(s)) {
			b = append(b, byte(u), byte(u>>8))
		}
		return string(b)
	}
	plain := "bib,name,club,group\n07,Ada Müffel,\"Hollow, Spoon\",girls\n7,Bruno Twig,Muffle,boys\n"
	cases := map[string]string{
		"comma":              plain,
		"byte order mark":    "\ufeff" + plain,
		"CRLF":               strings.ReplaceAll(plain, "\n", "\r\n"),
		"no last line end":   strings.TrimSuffix(plain, "\n"),
		"blank lines":        "\n,,,\n" + strings.ReplaceAll(plain, "\n", "\n\n ,, ,\n"),
		"semicolon":          "bib;name;club;group\n07;Ada Müffel;Hollow, Spoon;girls\n7;Bruno Twig;Muffle;boys\n",
		"tab":                "bib\tname\tclub\tgroup\n07\tAda Müffel\tHollow, Spoon\tgirls\n7\tBruno Twig\tMuffle\tboys\n",
		"separator line":     "sep=;\r\nbib;name;club;group\r\n07;Ada Müffel;Hollow, Spoon;girls\r\n7;Bruno Twig;Muffle;boys\r\n",
		"first and last":     "Start No.,First name,LAST NAME,Team,Class\n07,Ada,Müffel,\"Hollow, Spoon\",girls\n7,Bruno,Twig,Muffle,boys\n",
		"name and first":     "Nr,Name,Vorname,Verein,Klasse\n07,Müffel,Ada,\"Hollow, Spoon\",girls\n7,Twig,Bruno,Muffle,boys\n",
		"german":             "Startnummer;Nachname;Vorname;Verein;Gruppe\n07;Müffel;Ada;Hollow, Spoon;Girls\n7;Twig;Bruno;Muffle;BOYS\n",
		"spaces":             " Bib , Name ,Club , Group \n 07 , Ada  Müffel ,\"Hollow, Spoon\", girls \n 7 , Bruno Twig , Muffle , boys\n",
		"row number as well": "No,Bib,Name,School,Group\n1,07,Ada Müffel,\"Hollow, Spoon\",girls\n2,7,Bruno Twig,Muffle,boys\n",
		"course only":        "bib,name,club,course\n07,Ada Müffel,\"Hollow, Spoon\",Blue\n7,Bruno Twig,Muffle,red\n",
		"group and course":   "bib,name,club,group,side\n07,Ada Müffel,\"Hollow, Spoon\",girls,Blue\n7,Bruno Twig,Muffle,boys,\n",
		"windows-1252":       strings.ReplaceAll(plain, "ü", "\xfc"),
		"utf-16":             utf16le(plain),
	}
	for name, list := range cases {
		t.Run(name, func(t *testing.T) {
			got, notes, err := listed(t, list)
			require.NoError(t, err)
			assert.Equal(t, want, got)
			switch name {
			case "windows-1252":
				assert.Equal(t, []string{"demo/startlist.csv: not UTF-8, so read as Windows-1252; check names with accents"}, notes)
			case "utf-16":
				assert.Equal(t, []string{"demo/startlist.csv: read as UTF-16; check names with accents"}, notes)
			case "row number as well":
				assert.Equal(t, []string{`demo/startlist.csv: column "No" is not used`}, notes)
			default:
				assert.Empty(t, notes)
			}
		})
	}
}

func TestStartList_Bad_SaysWhereWhatAndWhatToDo(t *testing.T) {
	cases := []struct {
		name, list string
		want       []string
	}{
		{"twice in one group", "bib,name,group\n\n5,Ada,girls\n6,Bea,girls\n5,Cleo,Girls\n5,Carlo,boys\n", []string{"demo/startlist.csv:5: bib girls 5 is also on line 3; give one of the two another number or group"}},
		{"no bib column", "name,club\nAda,Muffle\n", []string{`demo/startlist.csv:1: no column for the bib among "name", "club"; write a header line such as bib,name,club,group`}},
		{"no header", "5,Ada,girls\n", []string{`demo/startlist.csv:1: no column for the bib among "5", "Ada", "girls"; write a header line such as bib,name,club,group`}},
		{"empty", "\n\n", []string{"demo/startlist.csv: the file is empty; write a header line such as bib,name,club,group"}},
		{"two bib columns", "bib,start no,group\n1,1,girls\n", []string{`demo/startlist.csv:1: columns "bib" and "start no" could both be the bib; rename one`}},
		{"no bib", "bib,name,group\n,Ada,girls\n", []string{"demo/startlist.csv:2: Ada has no bib; fill it in, or remove the line"}},
		{"not a bib", "bib,name,group\n12345,Ada,girls\n1.0,Bea,girls\n", []string{
			`demo/startlist.csv:2: bib "12345" is not 1 to 4 digits, with letters before or after at most; correct it`,
			`demo/startlist.csv:3: bib "1.0" is not 1 to 4 digits, with letters before or after at most; correct it`,
		}},
		{"unknown group, once", "bib,group\n1,gilrs\n2,gilrs\n", []string{`demo/startlist.csv:2: group "gilrs" is not in race.yaml; add it there under groups, or correct it here; did you mean girls?`}},
		{"no group", "bib,group\n1,\n", []string{"demo/startlist.csv:2: bib 1 has no group; write one of: girls, boys"}},
		{"unknown course", "bib,group,course\n1,girls,Green\n", []string{`demo/startlist.csv:2: course "Green" is not in race.yaml; write one of: Blue, Red`}},
		{"other course than the group's", "bib,group,course\n1,girls,Red\n", []string{"demo/startlist.csv:2: bib girls 1 is on course Red, but all of group girls ski Blue; correct one"}},
		{"neither group nor course", "bib,name\n1,Ada\n", []string{"demo/startlist.csv:2: bib 1 has no course; add a column course, or write in race.yaml which course its group skis"}},
		{"too many cells", "bib,club,group\n1,Hollow, Spoon,girls\n", []string{"demo/startlist.csv:2: 4 cells, but the header has 3; put a cell that holds a ',' into quotation marks"}},
		{"open quotation mark", "bib,name,group\n1,Ada,girls\n2,\"Bea,girls\n3,Cleo,girls\n", []string{"demo/startlist.csv:3: a cell begins with a quotation mark but doesn't end with one; close it, or remove it"}},
		{"quotation mark inside", "bib,name,group\n1,Ada \"Ace\" Twig,girls\n", []string{"demo/startlist.csv:2: a quotation mark stands inside a cell; write it twice and put the cell into quotation marks, or remove it"}},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			_, _, err := listed(t, c.list)
			require.Error(t, err)
			assert.Equal(t, strings.Join(c.want, "\n"), err.Error())
		})
	}
}

// Where one course has a group of its own and another has two, a list without groups would leave nobody able to
// say which of two racers a number is.
func TestStartList_OneNumberWithAndWithoutAGroup_IsRefused(t *testing.T) {
	three := strings.Replace(goodRace, "groups:", "groups:\n  - {name: masters, course: Red}\n  - {name: seniors, course: Red}", 1)
	_, _, err := OpenFS(fsWith(three, "bib,course\n5,Blue\n5,Red\n6,Red\n"), "demo")
	require.EqualError(t, err, "demo/startlist.csv:3: bib 5 is also on line 2, one of the two without a group; give both a group (a column group), or one another number")
}

// A line after a cell with a line end in it is still named by its own number.
func TestStartList_LineNumbers_CountLinesOfTheFile(t *testing.T) {
	_, _, err := listed(t, "sep=,\nbib,name,group\n1,\"Ada\nTwig\",girls\n1,Bea,girls\n")
	require.EqualError(t, err, "demo/startlist.csv:5: bib girls 1 is also on line 3; give one of the two another number or group")
}

// Files that are no list of racers, though they end before 4 MB: refused at once, not looked through to the end.
func TestOpen_StartListOfFarTooMuch_IsRefusedAtOnce(t *testing.T) {
	for text, want := range map[string]string{
		"bib" + strings.Repeat(",", 1_000_000) + "\n1\n":                  "1000001 cells in one line are more than a list of racers has (500 at most); is it the right file?",
		"bib,group\n" + strings.Repeat("1,girls\n", 100_000):              "more than 10000 lines; is it the right file?",
		"bib,group\n" + strings.Repeat(strings.Repeat(",", 900)+"1\n", 9): "901 cells in one line are more than a list of racers has (500 at most); is it the right file?",
	} {
		_, _, err := listed(t, text)
		require.ErrorContains(t, err, want)
	}
}
