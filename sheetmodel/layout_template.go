package sheetmodel

import (
	"errors"
	"fmt"
	"slices"

	"go.yaml.in/yaml/v3"
)

// A Template is a layout before it is bound to a race: a YAML file that a person can read and
// write, with tables that expand into rows. See layouts/gate-card.yaml for the form.
type Template struct {
	Format  int                                 `yaml:"format"`
	Name    string                              `yaml:"name"`
	Version int                                 `yaml:"version"`
	Style   Style                               `yaml:"style"`
	Papers  map[string]map[SideName]paperExtent `yaml:"papers"`
	Sides   []sideTemplate                      `yaml:"sides"`
}

// paperExtent is the size of one side and where the design's origin lies on it, in mm.
type paperExtent struct {
	W MM `yaml:"w"`
	H MM `yaml:"h"`
	X MM `yaml:"x"`
	Y MM `yaml:"y"`
}

type sideTemplate struct {
	Name     SideName        `yaml:"name"`
	MarkSize MM              `yaml:"mark_size"`
	Marks    []markTemplate  `yaml:"marks"`
	Identity []Rect          `yaml:"identity"`
	Fields   []fieldTemplate `yaml:"fields"`
	Tables   []tableTemplate `yaml:"tables"`
	Panels   *panelTemplate  `yaml:"panels"`
	CodeList *listTemplate   `yaml:"code_list"`
	Print    []printTemplate `yaml:"print"`
}

type markTemplate struct {
	ID int `yaml:"id"`
	X  MM  `yaml:"x"`
	Y  MM  `yaml:"y"`
}

type fieldTemplate struct {
	Name    string   `yaml:"name"`
	Part    Part     `yaml:"part"`
	Kind    Kind     `yaml:"kind"`
	Grammar Grammar  `yaml:"grammar"`
	Rect    Rect     `yaml:",inline"`
	Boxes   int      `yaml:"boxes"`
	Options string   `yaml:"options"` // groups, courses or runs
	Rings   bool     `yaml:"rings"`
	When    []string `yaml:"when"`
}

// tableTemplate expands into rows. Variants are tried in order; the first whose "when" holds is used.
type tableTemplate struct {
	Name     string            `yaml:"name"` // field names are NAME-01.part, NAME-02.part, …
	X        MM                `yaml:"x"`
	W        MM                `yaml:"w"`
	Pitch    MM                `yaml:"pitch"`
	Blocks   []blockTemplate   `yaml:"blocks"`
	Head     bandTemplate      `yaml:"head"`
	Example  bandTemplate      `yaml:"example"`
	Variants []variantTemplate `yaml:"variants"`
}

type blockTemplate struct {
	Y    MM  `yaml:"y"`
	Rows int `yaml:"rows"`
}

type bandTemplate struct {
	Y MM `yaml:"y"`
	H MM `yaml:"h"`
}

type variantTemplate struct {
	When    []string         `yaml:"when"`
	Columns []columnTemplate `yaml:"columns"`
}

type columnTemplate struct {
	Part    Part     `yaml:"part"`
	Kind    Kind     `yaml:"kind"`
	Grammar Grammar  `yaml:"grammar"`
	X       MM       `yaml:"x"`
	W       MM       `yaml:"w"`
	Boxes   int      `yaml:"boxes"`
	Options string   `yaml:"options"` // codes or panels
	PerLine int      `yaml:"per_line"`
	Head    []string `yaml:"head"`
	Hint    string   `yaml:"hint"`   // small print above the head
	Turned  bool     `yaml:"turned"` // the head reads from below
	Example string   `yaml:"example"`
}

// panelTemplate expands into tall drawing panels side by side, each with a strip of bibs below.
type panelTemplate struct {
	Letters []string               `yaml:"letters"`
	X       MM                     `yaml:"x"`
	Y       MM                     `yaml:"y"`
	Pitch   MM                     `yaml:"pitch"`
	W       MM                     `yaml:"w"`
	H       MM                     `yaml:"h"`
	Entries int                    `yaml:"entries"`
	Entry   entryTemplate          `yaml:"entry"`
	Own     map[string]panelChange `yaml:"own"`
}

// entryTemplate is one bib of a strip: its boxes end at the panel's right edge.
type entryTemplate struct {
	H      MM `yaml:"h"`
	Right  MM `yaml:"right"`   // width of the boxes
	Boxes4 MM `yaml:"boxes_4"` // their width when a bib has four
}

type panelChange struct {
	Y       MM  `yaml:"y"`
	Entries int `yaml:"entries"`
}

type listTemplate struct {
	X       MM  `yaml:"x"`
	Y       MM  `yaml:"y"`
	W       MM  `yaml:"w"`
	Lines   int `yaml:"lines"`
	Pitch   MM  `yaml:"pitch"`
	Columns int `yaml:"columns"`
}

type printTemplate struct {
	PrintItem `yaml:",inline"`
	Symbol    string   `yaml:"symbol"`
	When      []string `yaml:"when"`
}

// TemplateFormat is the newest template and layout format this program reads.
const TemplateFormat = 1

// conditions are the words that "when" may hold.
var conditions = []string{
	"spare", "race", "second-writing", "one-writing", "bib-3", "bib-4",
	"groups", "no-groups", "courses", "no-courses",
}

// ParseTemplate reads a template. file stands in front of errors, with the line where known.
// Unknown keys are errors: a misspelt key must not silently change a form.
func ParseTemplate(file string, data []byte) (*Template, error) {
	t := &Template{}
	if err := strictYAML(file, data, t); err != nil {
		return nil, err
	}
	if t.Format > TemplateFormat {
		return nil, fmt.Errorf("%s: format %d is newer than this program reads (%d); use a newer gatefold", file, t.Format, TemplateFormat)
	}
	if t.Format < 1 || t.Name == "" || len(t.Sides) == 0 || len(t.Papers) == 0 {
		return nil, fmt.Errorf("%s: a layout needs format, name, papers and sides", file)
	}
	if line, word := unknownCondition(data); word != "" {
		return nil, fmt.Errorf("%s:%d: when: unknown word %q; known are %v", file, line, word, conditions)
	}
	if err := t.check(); err != nil {
		return nil, fmt.Errorf("%s: %w", file, err)
	}
	return t, nil
}

// check refuses counts that no card has, before something is built of that many.
func (t *Template) check() error {
	const mostRows, mostPanels, mostBoxes = 60, 26, 8
	for _, s := range t.Sides {
		for _, table := range s.Tables {
			rows := 0
			for _, b := range table.Blocks {
				if b.Rows < 1 || b.Rows > mostRows {
					return fmt.Errorf("table %s: %d rows; 1 to %d are possible", table.Name, b.Rows, mostRows)
				}
				rows += b.Rows
			}
			if rows < 1 || rows > mostRows {
				return fmt.Errorf("table %s: %d rows; 1 to %d are possible", table.Name, rows, mostRows)
			}
			for _, v := range table.Variants {
				for _, c := range v.Columns {
					if c.Boxes < 0 || c.Boxes > mostBoxes {
						return fmt.Errorf("table %s, column %s: %d boxes; up to %d are possible", table.Name, c.Part, c.Boxes, mostBoxes)
					}
				}
			}
		}
		if p := s.Panels; p != nil {
			if len(p.Letters) > mostPanels || p.Entries < 0 || p.Entries > mostBoxes {
				return fmt.Errorf("panels: %d letters of %d entries; up to %d of %d are possible", len(p.Letters), p.Entries, mostPanels, mostBoxes)
			}
			for letter, own := range p.Own {
				if own.Entries < 0 || own.Entries > mostBoxes {
					return fmt.Errorf("panel %s: %d entries; up to %d are possible", letter, own.Entries, mostBoxes)
				}
			}
		}
		if c := s.CodeList; c != nil && (c.Lines < 1 || c.Columns < 1) {
			return errors.New("code_list: needs lines and columns")
		}
	}
	return nil
}

// unknownCondition walks the document for a "when" word that Bind would never meet.
func unknownCondition(data []byte) (line int, word string) {
	var root yaml.Node
	if yaml.Unmarshal(data, &root) != nil {
		return 0, ""
	}
	var walk func(n *yaml.Node)
	walk = func(n *yaml.Node) {
		for i, c := range n.Content {
			if n.Kind == yaml.MappingNode && i%2 == 1 && n.Content[i-1].Value == "when" {
				for _, w := range c.Content {
					if word == "" && !slices.Contains(conditions, w.Value) {
						line, word = w.Line, w.Value
					}
				}
			}
			walk(c)
		}
	}
	walk(&root)
	return line, word
}
