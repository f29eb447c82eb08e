package racefolder

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// change is one value of race.yaml to be replaced: a key of the race (run 0), of a run, or of a course
// in a run.
type change struct {
	run    int
	course string
	key    string
	// value returns the new value; old is the one in the file, or nil. Comments are taken over from it.
	value func(old *yaml.Node) *yaml.Node
}

// errNoSplice says that the place of a change can't be cut out by lines: the YAML is written in
// braces there, or the run or course isn't in the file yet.
var errNoSplice = errors.New("not a place to cut by lines")

// spliceLines puts the change into the text by replacing only the lines of its key and value, so that
// all other lines stay byte by byte, blank ones too. YAML's own encoder would drop those.
// The caller must read the result back: cutting by lines trusts the indentation.
func spliceLines(text []byte, c change) ([]byte, error) {
	var doc yaml.Node
	if err := yaml.Unmarshal(text, &doc); err != nil {
		return nil, err
	}
	m := findMapping(&doc, c, false)
	if m == nil || m.Style&yaml.FlowStyle != 0 || len(m.Content) == 0 {
		return nil, errNoSplice
	}
	eol := "\n"
	if bytes.Contains(text, []byte("\r\n")) {
		eol = "\r\n"
	}
	lines := strings.Split(strings.ReplaceAll(string(text), "\r\n", "\n"), "\n")
	indent := m.Content[0].Column - 1
	key, old := findKey(m, c.key)
	var from, to int // the lines to replace, counted from 0, to excluded
	lead := ""       // what stands before the key on its line: "- " where the key opens an entry
	if key != nil {
		from = key.Line - 1
		to = valueEnd(lines, from, indent, old)
		if lead = strings.Repeat(" ", indent); len(lines[from]) >= indent {
			lead = lines[from][:indent]
		}
	} else {
		key = textNode(c.key)
		last := len(m.Content) - 2
		from = valueEnd(lines, m.Content[last].Line-1, indent, m.Content[last+1])
		to = from
		lead = strings.Repeat(" ", indent)
	}
	put, err := renderKey(key, old, c.value(old))
	if err != nil {
		return nil, err
	}
	for i := range put {
		if i == 0 {
			put[i] = lead + put[i]
		} else if put[i] != "" {
			put[i] = strings.Repeat(" ", indent) + put[i]
		}
	}
	all := append(append(append([]string{}, lines[:from]...), put...), lines[to:]...)
	return []byte(strings.Join(all, eol)), nil
}

// valueEnd returns the line after the last one that belongs to a value whose key stands on line from.
// Blank lines and comments behind it belong to what follows.
func valueEnd(lines []string, from, indent int, value *yaml.Node) int {
	end := from + 1
	for i := from + 1; i < len(lines); i++ {
		t := strings.TrimLeft(lines[i], " ")
		if strings.TrimSpace(t) == "" || t[0] == '#' {
			continue
		}
		depth := len(lines[i]) - len(t)
		dash := depth == indent && (t == "-" || strings.HasPrefix(t, "- "))
		if depth <= indent && (!dash || value == nil || value.Kind != yaml.SequenceNode) {
			break
		}
		end = i + 1
	}
	return end
}

// renderKey returns the lines of key and value as YAML's encoder writes them, without the comments
// above the key and below the value, for those lines stay where they are.
func renderKey(key, old, value *yaml.Node) ([]string, error) {
	k := *key
	k.HeadComment, k.FootComment = "", ""
	if k.LineComment == "" && old != nil && value.Kind == yaml.SequenceNode && value.Style&yaml.FlowStyle == 0 {
		// "places: not known  # why": the comment moves to the key, above the entries.
		k.LineComment = old.LineComment
		value.LineComment = ""
	}
	dropFoot(value)
	top := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Content: []*yaml.Node{&k, value}}
	text, err := encodeNode(top)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", k.Value, err)
	}
	return strings.Split(strings.TrimRight(string(text), "\n"), "\n"), nil
}

// dropFoot takes the comments below a node off it and off its last child.
func dropFoot(n *yaml.Node) {
	n.FootComment = ""
	if len(n.Content) > 0 {
		dropFoot(n.Content[len(n.Content)-1])
	}
	if n.Kind == yaml.MappingNode && len(n.Content) > 1 {
		n.Content[len(n.Content)-2].FootComment = ""
	}
}

// rewriteNodes puts the change into the node tree and writes the whole file anew, adding runs and
// courses that aren't there yet. Comments stay; blank lines don't.
func rewriteNodes(text []byte, c change) ([]byte, error) {
	var doc yaml.Node
	if err := yaml.Unmarshal(text, &doc); err != nil {
		return nil, err
	}
	m := findMapping(&doc, c, true)
	if m == nil {
		return nil, errNoSplice
	}
	if key, old := findKey(m, c.key); key != nil {
		*old = *c.value(old)
	} else {
		m.Content = append(m.Content, textNode(c.key), c.value(nil))
	}
	out, err := encodeNode(&doc)
	if err == nil && bytes.Contains(text, []byte("\r\n")) {
		out = bytes.ReplaceAll(out, []byte("\n"), []byte("\r\n"))
	}
	return out, err
}

// findMapping returns the mapping that holds the change's key. With add, what is missing on the way
// is put in; without, the answer is nil.
func findMapping(doc *yaml.Node, c change, add bool) *yaml.Node {
	if len(doc.Content) == 0 || doc.Content[0].Kind != yaml.MappingNode {
		return nil
	}
	top := doc.Content[0]
	if c.run == 0 {
		return top
	}
	run := findEntry(top, "runs", "run", strconv.Itoa(c.run), add)
	if run == nil || c.course == "" {
		return run
	}
	return findEntry(run, "courses", "course", c.course, add)
}

// findEntry returns the mapping of the list under key whose name is value.
func findEntry(m *yaml.Node, key, name, value string, add bool) *yaml.Node {
	k, list := findKey(m, key)
	if k == nil || list.Kind != yaml.SequenceNode {
		if !add {
			return nil
		}
		fresh := &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq"}
		if k == nil {
			m.Content = append(m.Content, textNode(key), fresh)
			list = fresh
		} else {
			*list = *fresh // "courses: not known"
		}
	}
	for _, e := range list.Content {
		if e.Kind != yaml.MappingNode {
			continue
		}
		if _, v := findKey(e, name); v != nil && sameWord(v.Value, []string{value}) != "" {
			return e
		}
	}
	if !add {
		return nil
	}
	named := textNode(value)
	if _, err := strconv.Atoi(value); err == nil && name == "run" {
		named = &yaml.Node{Kind: yaml.ScalarNode, Tag: "!!int", Value: value}
	}
	e := &yaml.Node{Kind: yaml.MappingNode, Tag: "!!map", Content: []*yaml.Node{textNode(name), named}}
	list.Content = append(list.Content, e)
	return e
}

func findKey(m *yaml.Node, key string) (k, v *yaml.Node) {
	if m.Kind != yaml.MappingNode {
		return nil, nil
	}
	for i := 0; i+1 < len(m.Content); i += 2 {
		if m.Content[i].Value == key {
			return m.Content[i], m.Content[i+1]
		}
	}
	return nil, nil
}

func encodeNode(n *yaml.Node) ([]byte, error) {
	var b bytes.Buffer
	e := yaml.NewEncoder(&b)
	e.SetIndent(2)
	if err := e.Encode(n); err != nil {
		return nil, err
	}
	if err := e.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
