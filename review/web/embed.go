// Package web holds the desk's pages as text: templates, styles and scripts, all inside the binary.
//
//	*.tmpl --Pages--> templates, each with the frame        *.css *.js *.svg --Static--> files to serve
//
// Templates decide nothing; scripts add keys and a loupe to pages that work without them.
package web

import (
	"embed"
	"html/template"
	"io/fs"
	"strings"
)

//go:embed *.tmpl
var templates embed.FS

//go:embed *.css *.js *.svg
var static embed.FS

// Pages returns a template for each page, by its name. words are the functions they may call.
func Pages(words map[string]any) (map[string]*template.Template, error) {
	files, err := fs.Glob(templates, "*.tmpl")
	if err != nil {
		return nil, err
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
		pages[name] = t
	}
	return pages, nil
}

// Static returns the styles and scripts.
func Static() fs.FS { return static }
