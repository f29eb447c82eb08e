package racefolder

import (
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"

	"gatefold/sheetmodel"
)

// maxCode is the longest code a judge is asked to write in one cell.
const maxCode = 3

// readCodes reads a code book, inline or from its own file.
func readCodes(p *problems, n *yaml.Node) sheetmodel.CodeBook {
	book := sheetmodel.CodeBook{}
	m := mappingOf(p, n, "", "name", "codes")
	if m == nil {
		return book
	}
	book.Name = m.need("name", "the league's name")
	if !m.has("codes") {
		m.fail("codes", "codes is missing; list each code after a dash")
	}
	lines := map[string]int{}
	for i, c := range m.nodes("codes") {
		where := "code " + strconv.Itoa(i+1)
		e := mappingOf(p, c, where, "code", "word", "meaning", "effect", "gate", "drawing", "tick", "basis")
		if e == nil {
			continue
		}
		code := sheetmodel.Code{
			Code: e.need("code", "F"), Word: e.text("word"), Meaning: e.need("meaning", "one sentence for card and draft"),
			Effect: sheetmodel.Effect(e.need("effect", string(sheetmodel.EffectPropose))),
			Gate:   e.yes("gate", false), Drawing: e.yes("drawing", false), Tick: e.yes("tick", false), Basis: e.text("basis"),
		}
		if code.Word == "" {
			code.Word = code.Code
		}
		if code.Effect != "" && !slices.Contains(sheetmodel.Effects, code.Effect) {
			e.fail("effect", "effect %q is not known%s", shorten(string(code.Effect)), didYouMean(string(code.Effect), effectWords()))
		}
		if code.Code != "" {
			checkCode(e, code.Code, lines)
		}
		book.Codes = append(book.Codes, code)
	}
	if len(p.list) == 0 {
		for _, weak := range book.Lint() {
			p.note(weak)
		}
	}
	return book
}

func checkCode(m *mapping, code string, lines map[string]int) {
	switch {
	case strings.ContainsAny(code, " ,;\t") || utf8.RuneCountInString(code) > maxCode:
		m.fail("code", "code %q must be 1 to %d characters without spaces; shorten it, gloves write slowly", shorten(code), maxCode)
	case lines[code] > 0:
		m.fail("code", "code %s is written twice, first on line %d; keep one", code, lines[code])
	default:
		lines[code] = m.line("code")
	}
}

func effectWords() []string {
	var words []string
	for _, e := range sheetmodel.Effects {
		words = append(words, string(e))
	}
	return words
}
