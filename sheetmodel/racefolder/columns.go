package racefolder

import (
	"fmt"
	"slices"
	"strings"
	"unicode"
)

// column is what a column of a table is for.
type column string

const (
	columnBib    column = "bib"
	columnName   column = "name"
	columnFirst  column = "first name"
	columnLast   column = "last name"
	columnClub   column = "club"
	columnGroup  column = "group"
	columnCourse column = "course"
)

// The columns of the start list and of the shorter lists.
var (
	startColumns = []column{columnBib, columnName, columnFirst, columnLast, columnClub, columnGroup, columnCourse}
	bibColumns   = []column{columnBib, columnGroup}
)

// headings are the headings we know for each column, surest first, without spaces, accents and signs.
// A row number is often headed "no" beside a column "bib": the surer heading wins.
var headings = map[column][][]string{
	columnBib: {
		{"bib", "bibno", "bibnr", "bibnumber", "startno", "startnr", "startnumber", "startnummer", "stnr", "raceno", "racenumber", "dossard", "pettorale", "dorsal"},
		{"number", "no", "nr", "num", "nummer", "numero"},
	},
	columnName:   {{"name", "fullname", "racer", "racername", "competitor", "athlete", "skier", "wettkampfer", "teilnehmer"}, {"nom", "nome"}},
	columnFirst:  {{"firstname", "givenname", "forename", "first", "vorname", "prenom"}},
	columnLast:   {{"lastname", "surname", "familyname", "last", "nachname", "familienname", "zuname", "cognome"}},
	columnClub:   {{"club", "team", "school", "skiclub", "verein", "schule", "mannschaft", "clubteam", "clubschool"}},
	columnGroup:  {{"group", "gruppe", "groupe", "gruppo"}, {"class", "category", "agegroup", "division", "klasse", "kategorie", "categorie", "categoria"}, {"gender", "sex"}},
	columnCourse: {{"course", "side", "lane", "kurs", "parcours", "track", "piste", "strecke"}},
}

// findColumns says which cell of a header holds which column. notes names what is not used.
func findColumns(header []string, want []column) (at map[column]int, notes []string, err error) {
	at = map[column]int{}
	used := map[int]bool{}
	for _, c := range want {
		for _, rank := range headings[c] {
			var cells []int
			for i, h := range header {
				if slices.Contains(rank, plainHeading(h)) && !used[i] {
					cells = append(cells, i)
				}
			}
			if len(cells) > 1 {
				return nil, nil, fmt.Errorf("columns %q and %q could both be the %s; rename one", header[cells[0]], header[cells[1]], c)
			}
			if len(cells) == 1 {
				at[c] = cells[0]
				used[cells[0]] = true
				break
			}
		}
	}
	if _, ok := at[columnBib]; !ok {
		return nil, nil, fmt.Errorf("no column for the bib among %s; write a header line such as bib,name,club,group", spellHeader(header))
	}
	for i, h := range header {
		if !used[i] && strings.TrimSpace(h) != "" {
			notes = append(notes, fmt.Sprintf("column %q is not used", strings.TrimSpace(h)))
		}
	}
	return at, notes, nil
}

// plainHeading brings a heading down to small letters: "Start-No." and "start no" are one.
func plainHeading(h string) string {
	h = strings.TrimSpace(h)
	if h == "#" || h == "№" {
		return "no"
	}
	plain := strings.NewReplacer("ä", "a", "ö", "o", "ü", "u", "é", "e", "è", "e", "ê", "e", "à", "a", "ß", "ss", "º", "o", "°", "o")
	var b strings.Builder
	for _, r := range plain.Replace(strings.ToLower(h)) {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			b.WriteRune(r)
		}
	}
	return b.String()
}

func spellHeader(header []string) string {
	var list []string
	for _, h := range header {
		list = append(list, fmt.Sprintf("%q", shorten(strings.TrimSpace(h))))
	}
	return strings.Join(list, ", ")
}
