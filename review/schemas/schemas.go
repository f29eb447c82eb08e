package schemas

import (
	"embed"
	"fmt"
	"io"
	"io/fs"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

//go:embed *.schema.json
var files embed.FS

// base is where the schemas are said to live; nothing is ever fetched from there.
const base = "https://gatefold.invalid/schemas/"

// Names lists the schemas' file names in order.
func Names() []string {
	names, err := fs.Glob(files, "*.schema.json")
	if err != nil {
		panic(err) // the pattern is right
	}
	return names
}

// Text returns a schema's text by its file name.
func Text(name string) (string, error) {
	b, err := files.ReadFile(name)
	if err != nil {
		return "", fmt.Errorf("schema %s: %w", name, err)
	}
	return string(b), nil
}

// Validate checks JSON against the schema with the given file name. The error names every place that
// doesn't fit.
func Validate(name string, r io.Reader) error {
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	for _, n := range Names() {
		f, err := files.Open(n)
		if err != nil {
			return fmt.Errorf("schema %s: %w", n, err)
		}
		doc, err := jsonschema.UnmarshalJSON(f)
		if err == nil {
			err = c.AddResource(base+n, doc)
		}
		if err != nil {
			return fmt.Errorf("schema %s: %w", n, err)
		}
	}
	s, err := c.Compile(base + name)
	if err != nil {
		return fmt.Errorf("schema %s: %w", name, err)
	}
	v, err := jsonschema.UnmarshalJSON(r)
	if err != nil {
		return fmt.Errorf("not JSON: %w", err)
	}
	return s.Validate(v)
}
