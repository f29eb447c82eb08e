package racefolder

import (
	"strings"

	"gatefold/sheetmodel"
)

// ParseGates expands gates as a person types them from a card's header, "13-18" or "16-20, 23", into
// labels from the start down. course holds the run's gates, empty while they are not known: ranges are
// then taken by number. The error says what is wrong and what to do.
func ParseGates(text string, course []string) ([]string, error) {
	var parts []string
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' }) {
		if part = sheetmodel.CanonicalGate(part); part != "" {
			parts = append(parts, part)
		}
	}
	return placeGates(parts, course)
}
