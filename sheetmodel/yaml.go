package sheetmodel

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"
)

var (
	yamlLine     = regexp.MustCompile(`line (\d+): `)
	yamlMismatch = regexp.MustCompile("(?s)^cannot unmarshal !!([a-z]+)(?: `(.*)`)? into (.+)$")
	yamlUnknown  = regexp.MustCompile(`(?s)^field (.*) not found in type (.+)$`)
	tabIndent    = regexp.MustCompile(`^ *\t`)
)

// strictYAML decodes one document into out; its errors read FILE:LINE: what. They are read by people who edit a layout or
// a code book by hand, and know no types.
func strictYAML(file string, data []byte, out any) error {
	d := yaml.NewDecoder(bytes.NewReader(data))
	d.KnownFields(true)
	err := d.Decode(out)
	if errors.Is(err, io.EOF) {
		return fmt.Errorf("%s: the file is empty", file)
	}
	if err != nil {
		return yamlError(file, data, out, err)
	}
	if err := d.Decode(new(any)); !errors.Is(err, io.EOF) {
		return fmt.Errorf("%s: only one document is expected; remove what follows ---", file)
	}
	return nil
}

func yamlError(file string, data []byte, out any, err error) error {
	text := err.Error()
	var types *yaml.TypeError
	if errors.As(err, &types) && len(types.Errors) > 0 {
		text = types.Errors[0] // one at a time; the rest often follows from it
	} else {
		for i, line := range strings.Split(string(data), "\n") {
			if tabIndent.MatchString(line) {
				return fmt.Errorf("%s:%d: a tab stands before the words; indent with spaces", file, i+1)
			}
		}
		if strings.Contains(text, "UTF-8") || strings.Contains(text, "control characters") {
			return fmt.Errorf("%s: %s; save it as plain text in UTF-8", file, strings.TrimPrefix(text, "yaml: "))
		}
	}
	if strings.Contains(text, "excessive aliasing") {
		return fmt.Errorf("%s: its & and * make too much of a short file; write out what they stand for", file)
	}
	m := yamlLine.FindStringSubmatchIndex(text)
	if m == nil {
		return fmt.Errorf("%s: %s", file, text)
	}
	return fmt.Errorf("%s:%s: %s", file, text[m[2]:m[3]], inWords(text[m[1]:], out))
}

// inWords says for people what YAML says of Go's types.
func inWords(text string, out any) string {
	if m := yamlUnknown.FindStringSubmatch(text); m != nil {
		if known := keysOf(reflect.TypeOf(out), m[2], map[reflect.Type]bool{}); len(known) > 0 {
			return fmt.Sprintf("%q is no key here; known are %s", m[1], strings.Join(known, ", "))
		}
		return fmt.Sprintf("%q is no key here", m[1])
	}
	m := yamlMismatch.FindStringSubmatch(text)
	if m == nil {
		return text
	}
	is := fmt.Sprintf("%q", m[2])
	switch m[1] {
	case "seq":
		is = "a list"
	case "map":
		is = "a group of keys"
	}
	switch into := m[3]; {
	case into == "sheetmodel.MM" || into == "float64":
		return is + " is no number; write mm without a unit, with a point, such as 27.5"
	case into == "int" || into == "uint8":
		return is + " is no whole number, such as 3"
	case into == "bool":
		return is + " stands where true or false is wanted"
	case strings.HasPrefix(into, "[]"):
		return is + " stands where a list is wanted: lines that begin with -"
	case into == "string":
		return is + " stands where a word is wanted"
	default:
		if known := keysOf(reflect.TypeOf(out), into, map[reflect.Type]bool{}); len(known) > 0 {
			return fmt.Sprintf("%s stands where these keys are wanted: %s", is, strings.Join(known, ", "))
		}
		return is + " stands where a word is wanted"
	}
}

// keysOf returns the keys of the struct of that name among those that t is made of.
func keysOf(t reflect.Type, name string, seen map[reflect.Type]bool) []string {
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice || t.Kind() == reflect.Map {
		t = t.Elem()
	}
	if t.Kind() != reflect.Struct || seen[t] {
		return nil
	}
	seen[t] = true
	var keys []string
	for i := range t.NumField() {
		f := t.Field(i)
		if t.String() != name {
			if found := keysOf(f.Type, name, seen); found != nil {
				return found
			}
			continue
		}
		key, _, _ := strings.Cut(f.Tag.Get("yaml"), ",")
		if key == "" {
			key = strings.ToLower(f.Name)
		}
		if key != "-" && f.IsExported() {
			keys = append(keys, key)
		}
	}
	return keys
}

var (
	wholeKeys  = []string{"format", "version", "row", "entry", "boxes", "id"}
	lengthKeys = []string{"x", "y", "w", "h"}
	// Whatever isn't decimal is left to what comes later, such as .nan.
	plainWhole   = regexp.MustCompile(`^[-+]?(0|[1-9][0-9]*)$`)
	oddlyWritten = regexp.MustCompile(`^[-+]?(0[0-9xob][0-9a-fA-F_]*|[0-9]+_[0-9_.]*)$`)
)

// oddNumber returns the line of the first number of a layout that YAML takes for another than people do, or cuts short: 010 is 8 there,
// and row 1.5 becomes row 1. 0 if there is none.
func oddNumber(data []byte) (line int, key, text string) {
	var root yaml.Node
	if yaml.Unmarshal(data, &root) != nil {
		return 0, "", ""
	}
	var walk func(n *yaml.Node)
	walk = func(n *yaml.Node) {
		for i, c := range n.Content {
			if line > 0 {
				return
			}
			if n.Kind == yaml.MappingNode && i%2 == 1 {
				k, v := n.Content[i-1].Value, c
				if v.Kind == yaml.AliasNode {
					v = v.Alias
				}
				scalar := v.Kind == yaml.ScalarNode && v.Tag != "!!str" && v.Tag != "!!null"
				if scalar && (slices.Contains(wholeKeys, k) && !plainWhole.MatchString(v.Value) ||
					slices.Contains(lengthKeys, k) && oddlyWritten.MatchString(v.Value)) {
					line, key, text = c.Line, k, v.Value
					return
				}
			}
			walk(c)
		}
	}
	walk(&root)
	return line, key, text
}
