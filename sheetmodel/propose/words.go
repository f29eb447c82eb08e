package propose

import (
	"cmp"
	"image"
	"slices"
	"strings"
	"unicode"

	"gatefold/sheetmodel"
)

// Word is one printed word, where it stands in the levelled picture, in px.
type Word struct {
	Text string
	Box  image.Rectangle
	Sure float64 // 0 to 1
}

// Reader reads print. It may be wrong: nothing that rests on a word is more than a proposal.
type Reader interface {
	// Page returns the words that stand anywhere on a page.
	Page(page *image.Gray) ([]Word, error)
	// Block returns the words of a small piece of a page, and says nothing of where they stand.
	Block(piece *image.Gray) (string, error)
	// Letter returns the one letter or digit that a piece shows, or nothing.
	Letter(piece *image.Gray) (string, error)
	// Number returns the digits of the one number that a piece shows, or nothing.
	Number(piece *image.Gray) (string, error)
}

// label is one printed word or phrase beside a place, in mm.
type label struct {
	text string
	rect sheetmodel.Rect
}

const (
	leastSure = 0.30 // less is a smudge that was taken for a word
	wordSpace = 2.2  // mm between words of one phrase, and no more than twice their height
)

// phrases joins words that stand side by side on one line, unless a ruled line parts them.
func phrases(words []Word, lines mask, pxPerMM float64) []label {
	var all []label
	words = slices.DeleteFunc(slices.Clone(words), func(w Word) bool {
		return w.Sure < leastSure || !strings.ContainsFunc(w.Text, func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) })
	})
	slices.SortStableFunc(words, func(a, b Word) int { return cmp.Compare(a.Box.Min.X, b.Box.Min.X) })
	mm := func(v int) sheetmodel.MM { return sheetmodel.MM(float64(v) / pxPerMM) }
	used := make([]bool, len(words))
	for i, w := range words {
		if used[i] {
			continue
		}
		text, b := w.Text, w.Box
		for j := i + 1; j < len(words); j++ {
			o := words[j].Box
			overlap := min(b.Max.Y, o.Max.Y) - max(b.Min.Y, o.Min.Y)
			gap := o.Min.X - b.Max.X
			if used[j] || 2*overlap < min(b.Dy(), o.Dy()) || float64(gap) > wordSpace*pxPerMM || gap > 2*max(b.Dy(), o.Dy()) ||
				lines.crossed(b.Max.X, o.Min.X, (o.Min.Y+o.Max.Y)/2) {
				continue
			}
			used[j] = true
			text, b = text+" "+words[j].Text, b.Union(o)
		}
		all = append(all, label{text, sheetmodel.Rect{X: mm(b.Min.X), Y: mm(b.Min.Y), W: mm(b.Dx()), H: mm(b.Dy())}})
	}
	return all
}

// crossed reports whether a line stands between two columns of px in one row.
func (m mask) crossed(x0, x1, y int) bool {
	for x := max(0, x0); x < min(m.w, x1); x++ {
		if y >= 0 && y < m.h && m.at[y*m.w+x] {
			return true
		}
	}
	return false
}

// sense is what a printed word says a place is for.
type sense struct {
	part    sheetmodel.Part
	grammar sheetmodel.Grammar
}

// lexicon holds words of the trade as they stand on cards; two or more words must all be there. The first entry that
// fits counts, so that "start number" comes before "number". Words of four letters and less must be there as they are.
var lexicon = []struct {
	words string
	sense sense
}{
	{"fault gate|code gate|what gate", sense{sheetmodel.PartCode, sheetmodel.GrammarCodeGate}},
	{"bib again|bib repeat|again|once more|nochmals", sense{sheetmodel.PartBibAgain, sheetmodel.GrammarBib}},
	{"gate from|gates from|from gate|first gate|von tor|ab tor|de porte|from|von", sense{sheetmodel.PartGateFrom, sheetmodel.GrammarGate}},
	{"gate to|gates to|to gate|last gate|bis tor|to|bis", sense{sheetmodel.PartGateTo, sheetmodel.GrammarGate}},
	{"more gates|other gates|also gates|weitere tore", sense{sheetmodel.PartGateMore, sheetmodel.GrammarFree}},
	{"row count|rows in all|faults in all|number of faults|rows that stand|rows filled|rows used|lines filled|lines used|how many", sense{sheetmodel.PartRowCount, sheetmodel.GrammarCount}},
	{"card of|sheet no|sheet number|blatt", sense{sheetmodel.PartCardOf, sheetmodel.GrammarCount}},
	{"card no|card number|karte nr|slip no|slip number|section no|section number|post no|post number|stand no|stand number", sense{sheetmodel.PartCard, sheetmodel.GrammarCount}},
	{"re-run|rerun|repeat run|provisional", sense{sheetmodel.PartRerun, sheetmodel.GrammarMark}},
	{"ok|passed|through|clean|in order|came by|went by|gone by|came past|passage|bestanden|durch|vorbei", sense{sheetmodel.PartPassed, sheetmodel.GrammarMark}},
	{"phone|telephone|mobile|tel|telefon|handy|telefono|portable|telefoon", sense{sheetmodel.PartPhone, sheetmodel.GrammarFree}},
	{"gate judge|judge|torrichter|richter|juge|giudice|watcher|name|observer|keeper|kept by|portdommer", sense{sheetmodel.PartJudge, sheetmodel.GrammarFree}},
	{"bib|bibs|start number|startnummer|start no|dossard|pettorale|racer no|racer number|st nr|stnr|startnr|number|racer", sense{sheetmodel.PartBib, sheetmodel.GrammarBib}},
	{"remark|remarks|note|notes|comment|comments|bemerkung|bemerkungen|remarque|remarques|osservazioni", sense{sheetmodel.PartRemark, sheetmodel.GrammarFree}},
	{"drawing|sketch|panel|skizze|zeichnung|croquis|schizzo|picture", sense{sheetmodel.PartPanel, sheetmodel.GrammarPanel}},
	{"date|day|datum|data|tag", sense{sheetmodel.PartDate, sheetmodel.GrammarFree}},
	{"group|class|category|klasse|gruppe|kategorie|categorie|age class", sense{sheetmodel.PartGroup, sheetmodel.GrammarFree}},
	{"run|lauf|durchgang|manche|heat|omgang|descent|leg", sense{sheetmodel.PartRun, sheetmodel.GrammarCount}},
	{"course|strecke|kurs|piste|pista|slope|hill", sense{sheetmodel.PartCourse, sheetmodel.GrammarFree}},
	{"gate|gates|tor|tore|porte|porta|port|pole|poles", sense{sheetmodel.PartGate, sheetmodel.GrammarGate}},
	{"code|fault|faults|reason|fehler|faute|errore|what|seen|why|happened|happening|offence", sense{sheetmodel.PartCode, sheetmodel.GrammarCode}},
}

// inRow are the parts that a column of a table may be for; the others stand once, in the header.
var inRow = map[sheetmodel.Part]bool{
	sheetmodel.PartBib: true, sheetmodel.PartBibAgain: true, sheetmodel.PartCode: true, sheetmodel.PartGate: true,
	sheetmodel.PartPanel: true, sheetmodel.PartRerun: true, sheetmodel.PartRemark: true, sheetmodel.PartPassed: true,
}

// rowOnly are the parts that make no sense outside a row.
var rowOnly = map[sheetmodel.Part]bool{
	sheetmodel.PartBibAgain: true, sheetmodel.PartCode: true, sheetmodel.PartGate: true, sheetmodel.PartPanel: true, sheetmodel.PartRerun: true, sheetmodel.PartPassed: true,
}

// senseOf returns what a printed phrase says, over a column of a table or elsewhere, and whether it says anything
// that is known there.
func senseOf(text string, column bool) (sense, bool) {
	have := strings.FieldsFunc(fold(text), func(r rune) bool { return !unicode.IsLetter(r) && r != '-' })
	for _, entry := range lexicon {
		if column && !inRow[entry.sense.part] || !column && rowOnly[entry.sense.part] {
			continue
		}
		for want := range strings.SplitSeq(entry.words, "|") {
			all := true
			for w := range strings.FieldsSeq(want) {
				all = all && slices.ContainsFunc(have, func(h string) bool { return alikeWord(h, w) })
			}
			if !all {
				continue
			}
			if column && entry.sense.part == sheetmodel.PartBib {
				return bibOr(text, have, entry.sense)
			}
			return entry.sense, true
		}
	}
	return sense{}, false
}

// What may stand beside a word for bibs in a heading, so that the column is for something else.
var (
	namesBib  = []string{"bib", "bibs", "start", "startnummer", "dossard", "pettorale", "stnr", "startnr", "st"}
	namesElse = []string{"row", "line", "card", "judge", "run", "course", "finish", "time", "name", "club", "team", "nation", "fault", "faults", "what", "remark", "remarks", "note", "notes"}
	notOwnBib = []string{"other", "second", "hindering", "hindered"}
)

// bibOr returns what a heading says in which a word for bibs stands: "gate number" is for gates, and of "row number", "name of the racer" or
// "gate of bib" a person says what it is. A gate that is read as a bib accuses whoever wears it.
func bibOr(text string, have []string, bib sense) (sense, bool) {
	holds := func(words []string) bool {
		return slices.ContainsFunc(have, func(h string) bool { return slices.Contains(words, h) })
	}
	names := holds(namesBib)
	for _, other := range []struct {
		words []string
		sense sense
	}{
		{[]string{"gate", "gates", "tor", "tore", "porte", "porta", "port", "pole", "poles"}, sense{sheetmodel.PartGate, sheetmodel.GrammarGate}},
		{[]string{"code"}, sense{sheetmodel.PartCode, sheetmodel.GrammarCode}},
		{[]string{"drawing", "sketch", "panel", "picture"}, sense{sheetmodel.PartPanel, sheetmodel.GrammarPanel}},
	} {
		switch {
		case !holds(other.words):
		case names || holds(namesElse) || holds([]string{"racer", "and", "und", "et"}) || strings.ContainsAny(text, "/+&"):
			return sense{}, false
		default:
			return other.sense, true
		}
	}
	if holds(notOwnBib) || holds(namesElse) && !names || names && holds([]string{"fault", "faults", "remark", "remarks", "note", "notes"}) {
		return sense{}, false
	}
	return bib, true
}

// onlySeen reports whether a heading says that something was seen, and no more of what happened.
func onlySeen(text string) bool {
	words := strings.FieldsFunc(fold(text), func(r rune) bool { return !unicode.IsLetter(r) })
	rest := slices.DeleteFunc(slices.Clone(words), func(w string) bool { return w == "seen" })
	s, ok := senseOf(strings.Join(rest, " "), true)
	return len(rest) < len(words) && (!ok || s.part != sheetmodel.PartCode)
}

// fold writes letters small and without their marks.
func fold(text string) string {
	return strings.NewReplacer("ä", "a", "ö", "o", "ü", "u", "é", "e", "è", "e", "à", "a", "ß", "ss", "|", "l").Replace(strings.ToLower(text))
}

// alikeWord allows for one letter misread in words of five letters and more.
func alikeWord(have, want string) bool {
	if have == want {
		return true
	}
	if len(want) < 5 || len(have) < len(want)-1 || len(have) > len(want)+1 {
		return false
	}
	return distance(have, want) <= 1
}

// distance is the number of letters to insert, delete or change (Levenshtein, 1965).
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		before := row[0]
		row[0] = i + 1
		for j := range len(b) {
			change := before
			if a[i] != b[j] {
				change++
			}
			before = row[j+1]
			row[j+1] = min(change, row[j+1]+1, row[j]+1)
		}
	}
	return row[len(b)]
}
