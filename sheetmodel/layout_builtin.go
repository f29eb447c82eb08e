package sheetmodel

import (
	"embed"
	"fmt"
	"sync"
)

//go:embed layouts/*.yaml
var layoutFiles embed.FS

// GateCard returns the template of the two-sided fault-only card.
var GateCard = sync.OnceValue(func() *Template {
	const file = "layouts/gate-card.yaml"
	data, err := layoutFiles.ReadFile(file)
	if err != nil {
		panic(err) // compiled in
	}
	t, err := ParseTemplate(file, data)
	if err != nil {
		panic(fmt.Sprintf("embedded layout: %v", err)) // a test reads it
	}
	return t
})

// BuiltinLayouts returns the layouts that a card may have that was printed without a race: both
// papers, ordinary and spare, bound to the built-in code book.
func BuiltinLayouts() []*Layout {
	var all []*Layout
	for _, paper := range []string{"a5", "half-letter"} {
		for _, spare := range []bool{false, true} {
			l, err := GateCard().Bind(BindOptions{Paper: paper, Spare: spare})
			if err != nil {
				panic(fmt.Sprintf("embedded layout: %v", err)) // a test binds it
			}
			all = append(all, l)
		}
	}
	return all
}
