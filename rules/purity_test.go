package rules_test

import (
	"go/parser"
	"go/token"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestRules_ArePure holds the package to the nouns and a few plain parts of the standard library:
// no files, no clock, no randomness.
func TestRules_ArePure(t *testing.T) {
	allowed := []string{"cmp", "fmt", "slices", "strconv", "strings", "gatefold/sheetmodel"}
	paths, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		require.NoError(t, err)
		for _, spec := range file.Imports {
			name, err := strconv.Unquote(spec.Path.Value)
			require.NoError(t, err)
			assert.Contains(t, allowed, name, path)
		}
	}
}
