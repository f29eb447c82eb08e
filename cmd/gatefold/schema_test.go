package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"

	"gatefold/review/schemas"
)

// validateJSON checks text against a schema of the schema folder, by its file name; one that isn't
// there is among those that go into every archive.
func validateJSON(schema, text string) error {
	if slices.Contains(schemas.Names(), schema) {
		if _, err := os.Stat(filepath.Join("schema", schema)); errors.Is(err, fs.ErrNotExist) {
			return schemas.Validate(schema, strings.NewReader(text))
		}
	}
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

func TestValidateJSON_CanFail(t *testing.T) {
	require.ErrorContains(t, validateJSON("race.schema.json", `{"folder": "x"}`), "missing properties")
	require.ErrorContains(t, validateJSON("race.schema.json", `{`), "no JSON")
	require.Error(t, validateJSON("draft.schema.json", `{"format": 1}`))
	require.Error(t, validateJSON("none.schema.json", `{}`))
}
