package main

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestBills_AreValid holds the bills of a release against the public schema. CYCLONEDX names the folder of the schemas
// and BILLS that of the release: .ci/release-check sets both; without them there is nothing to look at.
func TestBills_AreValid(t *testing.T) {
	schemas, bills := os.Getenv("CYCLONEDX"), os.Getenv("BILLS")
	if schemas == "" || bills == "" {
		t.Skip("run by .ci/release-check")
	}
	c := jsonschema.NewCompiler()
	const at = "http://cyclonedx.org/schema/" // where they name each other; nothing is fetched from there
	for _, name := range []string{"spdx", "jsf-0.82", "bom-1.6"} {
		name += ".SNAPSHOT.schema.json"
		require.NoError(t, c.AddResource(at+name, parsed(t, filepath.Join(schemas, name))))
	}
	schema, err := c.Compile(at + "bom-1.6.SNAPSHOT.schema.json")
	require.NoError(t, err)
	files, err := filepath.Glob(filepath.Join(bills, "*.cdx.json"))
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		doc := parsed(t, file)
		require.NoError(t, schema.Validate(doc), file)
		// The check can fail: a part without a name is refused.
		delete(doc.(map[string]any)["components"].([]any)[0].(map[string]any), "name")
		assert.Error(t, schema.Validate(doc), file)
	}
}

func parsed(t *testing.T, file string) any {
	t.Helper()
	text, err := os.ReadFile(file)
	require.NoError(t, err)
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(text))
	require.NoError(t, err)
	require.IsType(t, map[string]any{}, doc, file)
	return doc
}
