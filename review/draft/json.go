package draft

import (
	"encoding/json"
	"fmt"
	"io"
)

// WriteJSON writes the draft as JSON, UTF-8, indented; review/schemas/draft.schema.json describes it.
func (d *Draft) WriteJSON(w io.Writer) error {
	e := json.NewEncoder(w)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	if err := e.Encode(d); err != nil {
		return fmt.Errorf("draft: %w", err)
	}
	return nil
}
