package racefolder

import (
	"bytes"
	"errors"
	"io"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"go.yaml.in/yaml/v3"
)

// yamlLine finds the line number in the parser's sentence.
var yamlLine = regexp.MustCompile(`^yaml: line (\d+): (.*)$`)

// parseYAML returns the top node of the only document in text, or nil with the problem noted.
func parseYAML(p *problems, text []byte) *yaml.Node {
	for i, line := range bytes.Split(text, []byte("\n")) {
		if !utf8.Valid(line) {
			p.at(i+1, "this line is not UTF-8 text; save the file as UTF-8")
			return nil
		}
	}
	dec := yaml.NewDecoder(bytes.NewReader(text))
	var doc yaml.Node
	if err := dec.Decode(&doc); err != nil {
		if errors.Is(err, io.EOF) {
			p.at(0, "the file is empty; make a commented one with: gatefold start FOLDER")
			return nil
		}
		explainSyntax(p, text, err)
		return nil
	}
	var more yaml.Node
	if err := dec.Decode(&more); err == nil {
		p.at(more.Line, "a second document begins here; keep everything above the line ---")
		return nil
	} else if !errors.Is(err, io.EOF) {
		explainSyntax(p, text, err)
		return nil
	}
	if len(doc.Content) == 0 || isNull(doc.Content[0]) {
		p.at(0, "the file is empty; make a commented one with: gatefold start FOLDER")
		return nil
	}
	return doc.Content[0]
}

// explainSyntax says in plain words why the parser gave up. Tabs come first: they can't be seen,
// and the parser's own sentence doesn't name them.
func explainSyntax(p *problems, text []byte, err error) {
	for i, line := range strings.Split(string(text), "\n") {
		rest := strings.TrimLeft(line, " ")
		if strings.HasPrefix(rest, "\t") && strings.TrimSpace(rest) != "" {
			p.at(i+1, "the line is indented with a tab; use spaces")
			return
		}
	}
	line, what := 0, strings.TrimPrefix(err.Error(), "yaml: ")
	if m := yamlLine.FindStringSubmatch(err.Error()); m != nil {
		line, _ = strconv.Atoi(m[1])
		what = m[2]
		line = firstBadLine(text, line)
	}
	p.at(line, "can't be read as YAML near this line (%s); check indentation, colons, brackets and quotes", what)
}

// firstBadLine returns the line behind the longest beginning of text that can be read. The parser names
// the line where the block began that it was in, which can be the first of the file.
func firstBadLine(text []byte, named int) int {
	lines := bytes.SplitAfter(text, []byte("\n"))
	if len(lines) > maxBisect {
		return named
	}
	for n := len(lines) - 1; n > 0; n-- {
		var doc yaml.Node
		if yaml.Unmarshal(bytes.Join(lines[:n], nil), &doc) == nil {
			return n + 1
		}
	}
	return named
}

// maxBisect bounds the search for a bad line, which reads the file once for each of its lines.
const maxBisect = 1000

// isNull reports whether the node has no value: "key:" with nothing behind it, or ~ or null.
func isNull(n *yaml.Node) bool {
	return n == nil || n.Kind == yaml.ScalarNode && n.Tag == "!!null"
}

// mapping is a YAML mapping whose keys are known, with the words for messages about it.
type mapping struct {
	p     *problems
	where string // "run 2, Blue, place 3: " or empty
	node  *yaml.Node
	vals  map[string]*yaml.Node

	strange bool // there are keys that aren't known here, perhaps known ones misspelt
}

// mappingOf checks that n is a mapping with only the allowed keys, each once.
// It returns nil, with the problem noted, when n is something else.
func mappingOf(p *problems, n *yaml.Node, where string, allowed ...string) *mapping {
	if where != "" {
		where += ": "
	}
	if n.Kind != yaml.MappingNode {
		p.at(n.Line, "%sexpected lines of the form key: value, found %s; keys here: %s", where, kindWord(n), strings.Join(allowed, ", "))
		return nil
	}
	m := &mapping{p: p, where: where, node: n, vals: map[string]*yaml.Node{}}
	firstLine := map[string]int{}
	for i := 0; i+1 < len(n.Content); i += 2 {
		k, v := n.Content[i], n.Content[i+1]
		known := false
		for _, a := range allowed {
			known = known || k.Kind == yaml.ScalarNode && k.Value == a
		}
		switch {
		case !known:
			m.strange = true
			p.at(k.Line, "%s%q is not a key here%s", where, k.Value, didYouMean(k.Value, allowed))
		case firstLine[k.Value] > 0:
			p.at(k.Line, "%s%s is written twice, first on line %d; keep one", where, k.Value, firstLine[k.Value])
		case v.Kind == yaml.AliasNode:
			p.at(v.Line, "%s%s uses a YAML alias (*%s); write the value out", where, k.Value, v.Value)
		default:
			firstLine[k.Value] = k.Line
			m.vals[k.Value] = v
		}
	}
	return m
}

// line is where messages about a key that may be absent point to.
func (m *mapping) line(key string) int {
	for i := 0; i+1 < len(m.node.Content); i += 2 {
		if m.node.Content[i].Value == key {
			return m.node.Content[i].Line
		}
	}
	return m.node.Line
}

// fail notes a problem at a key.
func (m *mapping) fail(key, format string, args ...any) {
	m.p.at(m.line(key), m.where+format, args...)
}

// has reports whether the key is there with a value.
func (m *mapping) has(key string) bool { return !isNull(m.vals[key]) }

// text returns a scalar as it is written in the file: 07 stays 07, no stays no. Absent is empty.
func (m *mapping) text(key string) string {
	n := m.vals[key]
	if isNull(n) {
		return ""
	}
	if n.Kind != yaml.ScalarNode {
		m.fail(key, "%s must be one value, found %s; write it on one line", key, kindWord(n))
		return ""
	}
	return strings.TrimSpace(n.Value)
}

// need is text that must be there.
func (m *mapping) need(key, example string) string {
	if !m.has(key) {
		m.p.at(m.line(key), "%s%s is missing; write %s: %s", m.where, key, key, example)
		return ""
	}
	return m.text(key)
}

// yes returns a yes-or-no value, or fallback when the key is absent.
func (m *mapping) yes(key string, fallback bool) bool {
	switch t := m.text(key); strings.ToLower(t) {
	case "":
		return fallback
	case "yes", "true", "on", "y":
		return true
	case "no", "false", "off", "n":
		return false
	default:
		m.fail(key, "%s %q is neither yes nor no; write yes or no", key, t)
		return fallback
	}
}

// item is one entry of a list, with its line.
type item struct {
	text string
	line int
}

// items returns the entries of a list, written as YAML list or as one line with commas.
func (m *mapping) items(key string) []item {
	n := m.vals[key]
	if isNull(n) {
		return nil
	}
	return itemsOf(m, key, n)
}

func itemsOf(m *mapping, key string, n *yaml.Node) []item {
	switch n.Kind {
	case yaml.ScalarNode:
		var list []item
		for part := range strings.SplitSeq(n.Value, ",") {
			if part = strings.TrimSpace(part); part != "" {
				list = append(list, item{part, n.Line})
			}
		}
		if len(list) == 0 {
			m.fail(key, "%s is empty; fill it in, or remove the line", key)
		}
		return list
	case yaml.SequenceNode:
		var list []item
		for _, c := range n.Content {
			if c.Kind != yaml.ScalarNode || isNull(c) {
				m.p.at(c.Line, "%s%s must be a list of single values, found %s", m.where, key, kindWord(c))
				continue
			}
			list = append(list, itemsOf(m, key, c)...)
		}
		return list
	default:
		m.fail(key, "%s must be a list, found %s", key, kindWord(n))
		return nil
	}
}

// nodes returns the entries of a list of mappings.
func (m *mapping) nodes(key string) []*yaml.Node {
	n := m.vals[key]
	if isNull(n) {
		return nil
	}
	if n.Kind != yaml.SequenceNode {
		m.fail(key, "%s must be a list, each entry after a dash; found %s", key, kindWord(n))
		return nil
	}
	return n.Content
}

func kindWord(n *yaml.Node) string {
	switch {
	case isNull(n):
		return "nothing"
	case n.Kind == yaml.ScalarNode:
		return strconv.Quote(shorten(n.Value))
	case n.Kind == yaml.SequenceNode:
		return "a list"
	case n.Kind == yaml.MappingNode:
		return "keys and values"
	default:
		return "a YAML alias"
	}
}

// shorten keeps messages readable when a whole paragraph stands where a word belongs.
func shorten(s string) string {
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "..."
	}
	return s
}
