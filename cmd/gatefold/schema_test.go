package main

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/require"
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

func TestValidateJSON_CanFail(t *testing.T) {
	require.ErrorContains(t, validateJSON("race.schema.json", `{"folder": "x"}`), "missing properties")
	require.ErrorContains(t, validateJSON("race.schema.json", `{`), "no JSON")
	require.Error(t, validateJSON("none.schema.json", `{}`))
}
