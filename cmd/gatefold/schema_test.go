package main

import (
	"fmt"
	"path/filepath"
	"strings"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// validateJSON checks text against a schema of the schema folder, by its file name.
func validateJSON(schema, text string) error {
	compiled, err := jsonschema.NewCompiler().Compile(filepath.Join("schema", schema))
	if err != nil {
		return fmt.Errorf("schema %s: %w", schema, err)
	}
	value, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
	if err != nil {
		return fmt.Errorf("output is no JSON: %w", err)
	}
	return compiled.Validate(value)
}
