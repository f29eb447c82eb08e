package racefolder

import (
	"encoding/csv"
	"fmt"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/text/encoding/charmap"

	"gatefold/sheetmodel"
)

// headerStyles are ten ways in which race offices head a start list. Each names its columns in the order of
// the file; what a style lacks is left out, and "-" is a column that nobody uses. Common practice, no source.
var headerStyles = map[string][]string{
	"plain":             {"bib=bib", "name=name", "club=club", "group=group"},
	"shouting":          {"group=CLASS", "bib=BIB NO.", "last=LAST NAME", "first=FIRST NAME", "club=CLUB"},
	"german":            {"bib=Startnummer", "last=Nachname", "first=Vorname", "club=Verein", "group=Klasse"},
	"german, short":     {"bib=St.-Nr.", "last=Name", "first=Vorname", "club=Skiclub", "group=Gruppe"},
	"french":            {"bib=Dossard", "last=Nom", "first=Prénom", "club=Club", "group=Catégorie"},
	"italian":           {"bib=Pettorale", "last=Cognome", "first=Nome", "club=Club", "group=Categoria"},
	"school":            {"-=Seed", "bib=Race No", "name=Racer Name", "club=School", "group=Gender"},
	"row number first":  {"-=No", "bib=Bib", "name=Competitor", "club=Team", "group=Group"},
	"many columns":      {"bib=Bib #", "-=Code", "last=Family Name", "first=Given Name", "-=Year", "club=Club/Team", "group=Age Group", "-=Points"},
	"quoted, with hash": {"bib=#", "name=Full name", "club=Club", "group=Category", "-=Remarks"},
}

// realList is a start list of real size: 120 girls and 110 boys who share numbers, accents, commas and quotes.
func realList() (starters []sheetmodel.Starter, first, last []string) {
	given := []string{"Zoë", "Ännchen", "Noé", "Éloïse", "Sören", "Niccolò", "Ana", "Jürgen", "Maëlle", "Bo"}
	family := []string{"Müßigbrodt", "de l'Étang", "O'Spoon", "Çınarlı-Twig", "van der Hollow", "Größl", "Ñandú", "Quill", "Fjord", "Plum \"Pit\""}
	clubs := []string{"Hollow, Spoon & Co.", "SC Größenwahn", "Ski \"Flat Out\" Club", "École des Neiges", "Muffle"}
	for _, group := range []string{"girls", "boys"} {
		n := map[string]int{"girls": 120, "boys": 110}[group]
		for bib := 1; bib <= n; bib++ {
			f, l := given[bib%len(given)], family[(bib/len(given)+bib)%len(family)]
			if strings.Contains(l, "ı") {
				l = "Cinarli-Twig" // no sign outside Windows-1252
			}
			course := map[string]string{"girls": "Blue", "boys": "Red"}[group]
			starters = append(starters, sheetmodel.Starter{
				Bib: sheetmodel.Bib{Group: group, Number: fmt.Sprint(bib)}, Name: f + " " + l, Club: clubs[bib%len(clubs)], Course: course,
			})
			first, last = append(first, f), append(last, l)
		}
	}
	return starters, first, last
}

// Ten header styles, in every encoding, separator and line end that spreadsheets write.
func TestStartList_RealSize_EveryStyleGivesTheSameRacers(t *testing.T) {
	want, first, last := realList()
	require.Len(t, headerStyles, 10)
	ansi := func(s string) string {
		b, err := charmap.Windows1252.NewEncoder().String(s)
		require.NoError(t, err)
		return b
	}
	wide := func(s string) string {
		b := []byte{0xff, 0xfe}
		for _, u := range utf16.Encode([]rune(s)) {
			b = append(b, byte(u), byte(u>>8))
		}
		return string(b)
	}
	encodings := map[string]func(string) string{
		"UTF-8": func(s string) string { return s }, "UTF-8 with its mark": func(s string) string { return "\ufeff" + s },
		"Windows-1252": ansi, "UTF-16": wide,
	}
	files := 0
	for style, columns := range headerStyles {
		for name, encode := range encodings {
			for _, separator := range []rune{',', ';', '\t'} {
				for _, end := range []string{"\n", "\r\n"} {
					got, notes, err := listed(t, encode(realFile(t, columns, separator, end, want, first, last)))
					where := fmt.Sprintf("%s, %s, %q, %q", style, name, separator, end)
					require.NoError(t, err, where)
					require.Equal(t, want, got, where)
					if name == "Windows-1252" {
						assert.Contains(t, notes, "demo/startlist.csv: not UTF-8, so read as Windows-1252; check names with accents", where)
					}
					files++
				}
			}
		}
	}
	assert.Equal(t, 10*4*3*2, files)
}

func realFile(t *testing.T, columns []string, separator rune, end string, starters []sheetmodel.Starter, first, last []string) string {
	t.Helper()
	var b strings.Builder
	w := csv.NewWriter(&b)
	w.Comma, w.UseCRLF = separator, end == "\r\n"
	var header []string
	for _, c := range columns {
		_, h, _ := strings.Cut(c, "=")
		header = append(header, h)
	}
	require.NoError(t, w.Write(header))
	for i, s := range starters {
		var cells []string
		for _, c := range columns {
			what, _, _ := strings.Cut(c, "=")
			cells = append(cells, map[string]string{
				"bib": s.Number, "name": s.Name, "first": first[i], "last": last[i], "club": s.Club, "group": s.Group, "-": fmt.Sprint(i + 1),
			}[what])
		}
		require.NoError(t, w.Write(cells))
	}
	w.Flush()
	require.NoError(t, w.Error())
	return b.String()
}
