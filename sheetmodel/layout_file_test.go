package sheetmodel_test

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/sheetmodel"
)

func TestEncodeLayout_ParseLayout_BringsItBack(t *testing.T) {
	for name, l := range everyBinding(t) {
		data, err := sheetmodel.EncodeLayout(l)
		require.NoError(t, err)
		got, err := sheetmodel.ParseLayout("layouts/"+l.FileName(), data)
		require.NoError(t, err, name)
		assert.Equal(t, l, got, name)
		assert.Equal(t, l.Hash(), got.Hash(), name)
	}
}

// aLeagueCard is a league's own card, described by hand: no marks, no identity.
const aLeagueCard = `format: 1
name: valley-card
version: 1
style: every-racer
paper: a5
sides:
  - name: front
    w: 148
    h: 210
    marks: []
    identity: []
    fields:
      - {name: row-01.bib, part: bib, kind: comb, rect: {x: 10, y: 40, w: 24, h: 10}, row: 1, boxes: 3, grammar: bib}
      - {name: header.gate-from, part: gate-from, kind: cell, rect: {x: 10, y: 20, w: 20, h: 9}, grammar: gate}
      - {name: header.gate-to, part: gate-to, kind: cell, rect: {x: 40, y: 20, w: 20, h: 9}, grammar: gate}
`

func TestParseLayout_CardDescribedByHand_IsClean(t *testing.T) {
	l, err := sheetmodel.ParseLayout("valley.yaml", []byte(aLeagueCard))
	require.NoError(t, err)
	assert.Empty(t, sheetmodel.Lint(l))
	assert.Equal(t, sheetmodel.EveryRacer, l.Style)
}

func TestParseLayout_BadFiles_NameFileLineAndWhat(t *testing.T) {
	edit := func(old, replacement string) string {
		require.Contains(t, aLeagueCard, old)
		return strings.Replace(aLeagueCard, old, replacement, 1)
	}
	for want, text := range map[string]string{
		"bad.yaml: the file is empty":                           "",
		"bad.yaml: format 9 is newer":                           edit("format: 1", "format: 9"),
		"bad.yaml:3: versoin is no key here; known are format,": edit("version: 1", "versoin: 1"),
		"bad.yaml:8: wide is no number; write mm without a uni": edit("w: 148", "w: wide"),
		"bad.yaml:8: 14,8 is no number; write mm without a uni": edit("w: 148", "w: 14,8"),
		"bad.yaml:13: one is no whole number":                   edit("row: 1", "row: one"),
		"bad.yaml:13: row: 1.5 is no plain number":              edit("row: 1", "row: 1.5"),
		"bad.yaml:13: row: 010 is no plain number":              edit("row: 1", "row: 010"),
		"bad.yaml:13: x: 010 is no plain number":                edit("x: 10", "x: 010"),
		"bad.yaml:13: side front: field row-01.bib: is -24 × 1": edit("w: 24", "w: -24"),
		"bad.yaml:13: side front: field row-01.bib: is 0 × 10 ": edit("w: 24, ", ""),
		"bad.yaml:1: a list stands where these keys are wanted": "- a\n- b\n",
		"bad.yaml:6: a tab stands before the words; indent wit": edit("sides:", "\tsides:"),
		"bad.yaml: incomplete UTF-8 octet sequence; save it as": aLeagueCard + "# \xe4\n",
		"the layout's name holds what can't be printed":         edit("name: valley-card", "name: \"v\\e[31m\""),
		"its name holds what can't be printed":                  edit("name: row-01.bib", "name: \"row\\n01\""),
		"bad.yaml: a layout needs format, name and sides":       "format: 1\n",
		"bad.yaml:13: side front: field row-01.bib: unknown ki": edit("kind: comb", "kind: kamm"),
		"bad.yaml:13: side front: field row-01.bib: unknown gr": edit("grammar: bib", "grammar: any"),
		"bad.yaml:13: side front: field row-01.bib: lies outsi": edit("x: 10, y: 40", "x: 130, y: 40"),
		"bad.yaml:13: side front: field row-01.bib: a comb nee": edit("boxes: 3", "boxes: 0"),
		"bad.yaml:13: side front: field row-01.bib: name used ": edit("name: header.gate-from", "name: row-01.bib"),
		"side inside: must be front or back":                    edit("name: front", "name: inside"),
		"mm is no card":                                         edit("h: 210", "h: -1"),
		"print item 1: lies outside the side":                   aLeagueCard + "    print: [{text: x, at: {x: .nan, y: 1}, size: 2}]\n",
		"print item 2: lies outside the side":                   aLeagueCard + "    print: [{text: x, size: 2}, {text: x, size: .inf}]\n",
		"row -1, entry 0":                                       edit("row: 1", "row: -1"),
		"only one document is expected":                         aLeagueCard + "---\nformat: 1\n",
		"lies outside the side: from NaN,40":                    edit("x: 10, y: 40", "x: .nan, y: 40"),
	} {
		_, err := sheetmodel.ParseLayout("bad.yaml", []byte(text))
		require.Error(t, err, want)
		if !strings.Contains(err.Error(), want) && !strings.Contains(strings.ReplaceAll(err.Error(), `"`, ""), want) {
			t.Errorf("want %q in %q", want, err)
		}
	}
}

func TestParseLayout_ChangedAfterPrinting_IsRefused(t *testing.T) {
	l, err := sheetmodel.GateCard().Bind(sheetmodel.BindOptions{})
	require.NoError(t, err)
	data, err := sheetmodel.EncodeLayout(l)
	require.NoError(t, err)
	moved := strings.Replace(string(data), "version: 1", "version: 2", 1)
	require.NotEqual(t, string(data), moved)
	_, err = sheetmodel.ParseLayout("x.yaml", []byte(moved))
	require.ErrorContains(t, err, "does not match its sha256")

	// The name alone binds it, too.
	_, body, _ := strings.Cut(string(data), "\n")
	_, body, _ = strings.Cut(body, "\n")
	_, err = sheetmodel.ParseLayout("layouts/0123456789ab.yaml", []byte(body))
	require.ErrorContains(t, err, "content has the hash "+l.Hash()[:12])
	_, err = sheetmodel.ParseLayout("layouts/"+l.FileName(), []byte(body))
	require.NoError(t, err)
}

func TestParseTemplate_BadFiles_NameFileAndLine(t *testing.T) {
	data, err := os.ReadFile(filepath.Join("layouts", "gate-card.yaml"))
	require.NoError(t, err)
	good := string(data)
	_, err = sheetmodel.ParseTemplate("t.yaml", data)
	require.NoError(t, err)
	for want, text := range map[string]string{
		"unknown word \"spar\"":              strings.Replace(good, "when: [spare]", "when: [spar]", 1),
		"t.yaml:62: \"pich\" is no key here": strings.Replace(good, "pitch: 10", "pich: 10", 1),
		"format 2 is newer":                  strings.Replace(good, "format: 1", "format: 2", 1),
		"needs format, name, pa":             "format: 1\n",
		"99 rows; 1 to 60 are po":            strings.Replace(good, "rows: 5", "rows: 99", 1),
		"70 boxes; up to 8 are p":            strings.Replace(good, "kind: comb, boxes: 3, grammar: bib, x: 6", "kind: comb, boxes: 70, grammar: bib, x: 6", 1),
	} {
		_, err := sheetmodel.ParseTemplate("t.yaml", []byte(text))
		require.ErrorContains(t, err, want)
		assert.True(t, strings.HasPrefix(err.Error(), "t.yaml:"), err.Error())
	}
}

// smallLayout has one of everything and is short, so that a fuzzer gets far.
const smallLayout = `format: 1
name: s
version: 1
style: fault-only
paper: a5
sides:
  - name: back
    w: 210
    h: 148
    marks: [{id: 3, rect: {x: 9, y: 20, w: 9, h: 9}}]
    identity: [{x: 20, y: 20, w: 15.3, h: 15.3}]
    fields:
      - name: row-01.code
        part: code
        kind: choice
        rect: {x: 40, y: 50, w: 20, h: 10}
        row: 1
        options: [{value: F, label: fault, rect: {x: 41, y: 51, w: 8, h: 8}}]
        grammar: code
    print:
      - {text: "{race}", at: {x: 9, y: 9}, size: 2, align: right, turn: -90, room: 3}
      - {box: {x: 1, y: 2, w: 3, h: 4}, width: 0.2, grey: 0.5, fill: 0.1}
      - {line: [{x: 1, y: 2}, {x: 3, y: 4}], width: 0.2}
`

// smallTemplate is to FuzzParseTemplate what smallLayout is to FuzzParseLayout.
const smallTemplate = `format: 1
name: t
papers: {a5: {front: {w: 148, h: 210, x: 12, y: 0}}}
sides:
  - name: front
    mark_size: 9
    marks: [{id: 0, x: 0, y: 18}]
    fields: [{name: g, part: group, kind: choice, options: groups, x: 0, y: 30, w: 80, h: 7, when: [race]}]
    tables:
      - name: row
        pitch: 10
        blocks: [{y: 60, rows: 2}]
        head: {y: 40, h: 11}
        example: {y: 52, h: 5}
        variants:
          - when: [bib-3]
            columns:
              - {part: bib, kind: comb, boxes: 3, x: 6, w: 24, head: [bib], hint: h, example: "27"}
              - {part: code, kind: choice, options: codes, x: 31, w: 35, example: x}
              - {part: panel, kind: choice, options: panels, per_line: 3, x: 70, w: 15}
    code_list: {x: 1, y: 100, w: 99, lines: 4, pitch: 2.7, columns: 2}
    panels: {letters: [A, B], pitch: 27, w: 26, h: 80, entries: 1, entry: {h: 9, right: 23}, own: {A: {entries: 0}}}
    print: [{symbol: uphill, at: {x: 1, y: 2}}, {text: x, at: {x: 1, y: 2}, size: 2}]
`

func TestParse_FuzzSeeds_AreAccepted(t *testing.T) {
	_, err := sheetmodel.ParseLayout("small.yaml", []byte(smallLayout))
	require.NoError(t, err)
	tpl, err := sheetmodel.ParseTemplate("small.yaml", []byte(smallTemplate))
	require.NoError(t, err)
	_, err = tpl.Bind(sheetmodel.BindOptions{Groups: []string{"U12"}})
	require.NoError(t, err)
}

func FuzzParseLayout(f *testing.F) {
	f.Add([]byte(aLeagueCard))
	f.Add([]byte(smallLayout))
	f.Add([]byte("format: 1\nname: x\nsides: [{name: front, w: 1e300, h: .inf}]"))
	f.Add([]byte("a: &a [*a]"))
	f.Add([]byte(strings.Replace(smallLayout, "at: {x: 9", "at: {x: .nan", 1)))
	f.Add([]byte(strings.Replace(smallLayout, "width: 0.2}", "width: .inf}", 1)))
	f.Fuzz(func(t *testing.T, data []byte) {
		l, err := sheetmodel.ParseLayout("f.yaml", data)
		if err != nil {
			return
		}
		// What was accepted is a layout: it lints, hashes, and comes back from its own file.
		sheetmodel.Lint(l)
		out, err := sheetmodel.EncodeLayout(l)
		require.NoError(t, err)
		again, err := sheetmodel.ParseLayout(l.FileName(), out)
		require.NoError(t, err)
		require.Equal(t, l.Hash(), again.Hash())
	})
}

// What is accepted as a code book can be looked up and checked.
func FuzzParseCodeBook(f *testing.F) {
	book, err := os.ReadFile("../testdata/demo-race/codes.yaml")
	require.NoError(f, err)
	f.Add(book)
	f.Add([]byte("format: 1\nname: x\ncodes: [{code: F, effect: propose, print: fault}]"))
	f.Add([]byte("codes: &a [*a]"))
	f.Fuzz(func(t *testing.T, data []byte) {
		b, err := sheetmodel.ParseCodeBook("f.yaml", data)
		if err != nil {
			assert.Contains(t, err.Error(), "f.yaml")
			return
		}
		b.Lint()
	})
}

// A reading that comes back from disk never has a certainty beside its scale, and comes back the same again.
func FuzzReadingFromJSON(f *testing.F) {
	f.Add([]byte(`{"side":"front","reader":"r","rows":[{"number":1,"bib":{"field":"row-01.bib","text":"46","state":"clear","certainty":{"value":0.99,"curve":"c"}}}]}`))
	f.Add([]byte(`{"rows":[{"bib":{"certainty":{"value":1e999}}}]}`))
	f.Add([]byte(`{"rows":[{"bib":{"certainty":{"value":-0.1}}}]}`))
	f.Add([]byte(`{"rows":null,"header":[{}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		var r sheetmodel.SheetReading
		if json.Unmarshal(data, &r) != nil {
			return
		}
		for _, one := range r.Readings() {
			require.True(t, one.Certainty.Value() >= 0 && one.Certainty.Value() <= 1)
		}
		out, err := json.Marshal(r)
		require.NoError(t, err)
		var again sheetmodel.SheetReading
		require.NoError(t, json.Unmarshal(out, &again))
		twice, err := json.Marshal(again)
		require.NoError(t, err)
		require.Equal(t, string(out), string(twice))
	})
}

func FuzzParseTemplate(f *testing.F) {
	f.Add([]byte(smallTemplate))
	f.Fuzz(func(_ *testing.T, data []byte) {
		tpl, err := sheetmodel.ParseTemplate("f.yaml", data)
		if err != nil {
			return
		}
		if l, err := tpl.Bind(sheetmodel.BindOptions{Groups: []string{"U12"}}); err == nil {
			sheetmodel.Lint(l)
		}
	})
}

// A short file that unfolds into millions of entries, and one in which thousands of fields lie on each other, are answered in a sentence and at
// once. Our own logic.
func TestParseLayout_FilesThatUnfold_AreRefusedShortly(t *testing.T) {
	var bomb, heap strings.Builder
	bomb.WriteString(aLeagueCard)
	bomb.WriteString("      - {name: o, part: code, kind: choice, rect: {x: 1, y: 1, w: 1, h: 1}, grammar: word, options: &o [")
	for i := range 300 {
		fmt.Fprintf(&bomb, "{value: v%d, rect: {x: 1, y: 1, w: 1, h: 1}},", i)
	}
	bomb.WriteString("]}\n")
	heap.WriteString(aLeagueCard)
	for i := range 4000 {
		fmt.Fprintf(&bomb, "      - {name: o%d, part: code, kind: choice, rect: {x: 1, y: 1, w: 1, h: 1}, grammar: word, options: *o}\n", i)
		fmt.Fprintf(&heap, "      - {name: h%d, part: code, kind: cell, rect: {x: 50, y: 50, w: 9, h: 9}, row: %d, grammar: code}\n", i, i%999+1)
	}
	_, err := sheetmodel.ParseLayout("bomb.yaml", []byte(bomb.String()))
	require.ErrorContains(t, err, "bomb.yaml: its & and * make too much of a short file")
	l, err := sheetmodel.ParseLayout("heap.yaml", []byte(heap.String()))
	require.NoError(t, err)
	assert.Len(t, l.OneInk(), 1)
	assert.Less(t, len(sheetmodel.Lint(l)), 3*4000, "in proportion to the fields, not to their pairs")
}
