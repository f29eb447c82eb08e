package main

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"go.yaml.in/yaml/v3"

	"gatefold/sheetmodel/racefolder"
)

// The shipped sets fit the schema that a league's editor checks its own file against, and the schema can say no.
func TestRuleSets_FitTheSchema(t *testing.T) {
	asJSON := func(text string) string {
		var value any
		require.NoError(t, yaml.Unmarshal([]byte(text), &value))
		b, err := json.Marshal(value)
		require.NoError(t, err)
		return string(b)
	}
	for _, name := range racefolder.RuleSets() {
		text, err := racefolder.ShippedRulesText(name)
		require.NoError(t, err)
		require.NoError(t, validateJSON("rule-set.schema.json", asJSON(text)), name)
		for _, wrong := range []struct{ from, to string }{{"climb_back: ", "climb_back: x"}, {"jury_basis", "jury_basics"}, {"protest_minutes: 15", "protest_minutes: 0"}} {
			require.Contains(t, text, wrong.from)
			require.Error(t, validateJSON("rule-set.schema.json", asJSON(strings.Replace(text, wrong.from, wrong.to, 1))), "%s: %v", name, wrong)
		}
	}
}
