package say_test

import (
	"html/template"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"gatefold/review/say"
)

const header = "msgid \"\"\nmsgstr \"\"\n\"Language: de\\n\"\n\"Plural-Forms: nplurals=2; plural=(n != 1);\\n\"\n\n"

func parse(t *testing.T, entries string) *say.Catalogue {
	t.Helper()
	c, err := say.Parse("de.po", []byte(header+entries))
	require.NoError(t, err)
	return c
}

// The template of texts is that of the source as it is. Our own logic.
func TestPOT_IsUpToDate(t *testing.T) {
	all, err := say.Extract(os.DirFS("../.."))
	require.NoError(t, err)
	have, err := os.ReadFile("gatefold.pot")
	require.NoError(t, err)
	assert.Equal(t, string(say.POT(all)), string(have), "run: go generate ./review/say")
	assert.Greater(t, len(all), 1000)
}

// A translation that drops, doubles or invents a placeholder would hide a bib or a gate. Our own logic.
func TestParse_PlaceholdersThatDiffer_AreRefused(t *testing.T) {
	for name, entry := range map[string]string{
		"dropped":   "msgid \"Card {0}, row {1}\"\nmsgstr \"Karte {0}, Zeile\"\n",
		"doubled":   "msgid \"Card {0}\"\nmsgstr \"Karte {0} {0}\"\n",
		"invented":  "msgid \"Card {0}\"\nmsgstr \"Karte {1}\"\n",
		"half tag":  "msgid \"<1>Card</1> is in\"\nmsgstr \"<1>Karte ist da\"\n",
		"in plural": "msgid \"{0} row\"\nmsgid_plural \"{0} rows\"\nmsgstr[0] \"eine Zeile\"\nmsgstr[1] \"{0} Zeilen\"\n",
	} {
		t.Run(name, func(t *testing.T) {
			_, err := say.Parse("de.po", []byte(header+entry))
			require.ErrorContains(t, err, "language file de.po: ")
			assert.ErrorContains(t, err, "keep them all")
		})
	}
}

func TestParse_NoLanguageFile_SaysWhatToDo(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"no header":  {"msgid \"Card\"\nmsgstr \"Karte\"\n", "names no language"},
		"photo":      {"\xff\xd8\xff\xe0", "not UTF-8"},
		"empty":      {"", "names no language"},
		"untouched":  {header + "msgid \"Card\"\nmsgstr \"\"\n", "nothing in it is translated"},
		"other text": {header + "Dear reader", "nothing in it is translated"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := say.Parse("de.po", []byte(c.text))
			assert.ErrorContains(t, err, c.want)
		})
	}
}

// Texts of Go are found by the message they were made from; what is missing stays English, what nobody made stays as it is.
// Our own logic; German from memory.
func TestText(t *testing.T) {
	c := parse(t, `
msgid "card {0}, row {1}"
msgstr "Karte {0}, Zeile {1}"

msgid "{0} waits: {1}"
msgstr "{0} wartet: {1}"

msgid "its bib still needs a look"
msgstr "die Startnummer braucht noch einen Blick"

msgid "{0} row"
msgid_plural "{0} rows"
msgstr[0] "{0} Zeile"
msgstr[1] "{0} Zeilen"

msgid "row {0}"
msgstr "Zeile {0}"
`)
	for in, want := range map[string]string{
		"card 3, row 12": "Karte 3, Zeile 12",
		"Card 3, row 12 waits: its bib still needs a look.": "Karte 3, Zeile 12 wartet: die Startnummer braucht noch einen Blick.",
		"Its bib still needs a look. 2 rows.":               "Die Startnummer braucht noch einen Blick. 2 Zeilen.",
		"1 row":                                             "1 Zeile",
		"nobody has translated this":                        "nobody has translated this",
		"34":                                                "34",
		"":                                                  "",
		"Jo Card":                                           "Jo Card",
		"row over by the fence said the judge":              "row over by the fence said the judge",
	} {
		assert.Equal(t, want, c.Text(in), in)
	}
	assert.Equal(t, "0 Zeilen", c.Plural(0, "row", "rows"))
	assert.Equal(t, "2 cards", c.Plural(2, "card", "cards"))
	var english *say.Catalogue
	assert.Equal(t, "1 card", english.Plural(1, "card", "cards"))
	assert.Equal(t, "card 3, row 12", english.Text("card 3, row 12"))
	assert.Equal(t, "en", english.Lang())
	assert.Equal(t, "de", c.Lang())
}

// Templates are translated as they were parsed: values and tags move with the sentence, a language file brings no
// HTML in, and what is an attribute of code stays. Our own logic.
func TestTemplates(t *testing.T) {
	const page = `<p class="row">Card <strong>{{.Card}}</strong>{{if .Place}}, place {{.Place}}{{end}} waits.</p><img alt="Photo of card {{.Card}}" class="Photo of card"><option>{{.Words}}</option><p>{{.Words}}</p><p>{{.Bib}}</p>`
	c := parse(t, `
msgid "Card <1>{0}</1>{1} waits."
msgstr "Es wartet{1} <1>{0}</1> <b> & mehr."

msgid ", place {0}"
msgstr ", Platz {0}"

msgid "Photo of card {0}"
msgstr "Foto \"von\" Karte {0}"

msgid "row"
msgstr "Zeile"
`)
	for _, in := range []*say.Catalogue{nil, c} {
		tmpl := template.Must(template.New("page").Funcs(template.FuncMap{"say": in.Text}).Parse(page))
		if !in.English() {
			say.Templates(tmpl, in.Message, func(name string) bool { return name == "Words" })
		}
		var b strings.Builder
		require.NoError(t, tmpl.Execute(&b, map[string]string{"Card": "3", "Place": "B1", "Words": "row", "Bib": "row"}))
		want := `<p class="row">Card <strong>3</strong>, place B1 waits.</p><img alt="Photo of card 3" class="Photo of card"><option>row</option><p>row</p><p>row</p>`
		if !in.English() {
			want = `<p class="row">Es wartet, Platz B1 <strong>3</strong> &lt;b&gt; &amp; mehr.</p><img alt="Foto &#34;von&#34; Karte 3" class="Photo of card"><option>row</option><p>Zeile</p><p>row</p>`
		}
		assert.Equal(t, want, b.String())
	}
}
