package schemas_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"gatefold/review/schemas"
)

func TestValidate_CanFail(t *testing.T) {
	for _, c := range []struct{ schema, text, want string }{
		{"verify.schema.json", `{"dir": "a", "checked": 1}`, "missing property"},
		{"verify.schema.json", `{"dir": "a", "checked": 1, "problems": [], "more": 1}`, "more"},
		{"verify.schema.json", `{`, "not JSON"},
		{"decisions.schema.json", `{"format": 2, "decisions": []}`, "format"},
		{"none.schema.json", `{}`, "schema none.schema.json"},
	} {
		require.ErrorContains(t, schemas.Validate(c.schema, strings.NewReader(c.text)), c.want)
	}
	require.NoError(t, schemas.Validate("verify.schema.json", strings.NewReader(`{"dir": "a", "checked": 1, "problems": []}`)))
}

func TestSchemas_AllCompile(t *testing.T) {
	require.NotEmpty(t, schemas.Names())
	for _, name := range schemas.Names() {
		err := schemas.Validate(name, strings.NewReader(`"no such thing"`))
		if name == "nouns.schema.json" {
			require.NoError(t, err, "only definitions: anything fits")
			continue
		}
		require.ErrorContains(t, err, "want object", name)
	}
}
