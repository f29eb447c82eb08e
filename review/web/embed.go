// Package web holds the desk's pages as text: templates, styles and scripts, all inside the binary.
//
//	*.tmpl --Pages--> templates, each with the frame        *.css *.js *.svg --Static--> files to serve
//
// Templates decide nothing; scripts add keys and a loupe to pages that work without them.
package web

import (
	"embed"
	"encoding/json"
	"fmt"
	"html/template"
	"io/fs"
	"maps"
	"slices"
	"strings"

	"gatefold/review/say"
)

//go:embed *.tmpl
var templates embed.FS

//go:embed *.css *.js *.svg
var static embed.FS

// Pages returns a template for each page in a language, by its name. words are the functions they may call, beside
// lang and texts, which stand for the language itself.
func Pages(words map[string]any, in *say.Catalogue) (map[string]*template.Template, error) {
	files, err := fs.Glob(templates, "*.tmpl")
	if err != nil {
		return nil, err
	}
	forScripts, err := scriptTexts(in)
	if err != nil {
		return nil, err
	}
	words = maps.Clone(words)
	words["lang"] = in.Lang
	words["texts"] = func() string { return forScripts }
	words["plural"] = in.Plural
	words["say"] = func(v any) any {
		if text, ok := v.(string); ok {
			return in.Text(text)
		}
		if words, ok := v.(fmt.Stringer); ok {
			return in.Text(words.String())
		}
		return v
	}
	pages := map[string]*template.Template{}
	for _, file := range files {
		name := strings.TrimSuffix(file, ".tmpl")
		if name == "frame" || name == "parts" {
			continue
		}
		t, err := template.New("frame.tmpl").Funcs(words).Option("missingkey=error").ParseFS(templates, "frame.tmpl", "parts.tmpl", file)
		if err != nil {
			return nil, err
		}
		if !in.English() {
			say.Templates(t, in.Message, func(name string) bool { return slices.Contains(sentences, name) })
		}
		pages[name] = t
	}
	return pages, nil
}

// sentences are the fields and functions whose texts are ours, not a person's or a card's. What isn't here stays as it
// is: a name that happens to be a word of ours must not change.
var sentences = []string{
	"Words", "Title", "Why", "Says", "MayGo", "GoBut", "Notes", "Wrong", "Sentence", "Label", "Alt", "Basis", "What", "Remedy", "Detail", "Status",
	"Waits", "Lacks", "Hint", "Known", "Hole", "How", "Part", "Time", "Period", "CoursePage", "Course", "Seen", "Word", "Call", "Run2Free",
	"Answer", "Ask", "Now", "Line", "Gates", "Where", "Other", "Cannot", "Start", "Roles", "Name", "Was", "Place", "Spare", "Card", "WaitsFor", "Row", "By", "Who", "Kind", "Field", ".",
	"course", "looks", "settled", "basis", "sentence", "clock", "gates", "maybe", "list", "index", "$a",
}

// scriptTexts are what scripts say in a language, as JSON; empty in English, which they know themselves.
func scriptTexts(in *say.Catalogue) (string, error) {
	if in.English() {
		return "", nil
	}
	files, err := fs.Glob(static, "*.js")
	if err != nil {
		return "", err
	}
	texts := map[string]string{}
	for _, file := range files {
		source, err := fs.ReadFile(static, file)
		if err != nil {
			return "", err
		}
		for _, text := range say.Script(string(source)) {
			if t, ok := in.Message(text); ok {
				texts[text] = t
			}
		}
	}
	b, err := json.Marshal(texts)
	return string(b), err
}

// Static returns the styles and scripts.
func Static() fs.FS { return static }
