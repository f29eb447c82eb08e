package say

import (
	"fmt"
	"html"
	"html/template"
	"regexp"
	"slices"
	"strings"
	"text/template/parse"
	"unicode"
)

// shown are attributes whose text people see or hear.
var shown = []string{"title", "alt", "aria-label", "placeholder"}

// inline are tags within a sentence; any other begins a new message.
var inline = []string{"a", "strong", "em", "span", "kbd", "s", "code"}

// Templates walks all templates that belong to t and translates their texts where it is given a translation. text says
// which pipelines hold finished sentences of ours, by the name of their last field or function: those are led
// through the template function "say".
func Templates(t *template.Template, translate func(message string) (string, bool), text func(name string) bool) {
	for _, one := range t.Templates() {
		if one.Tree != nil {
			Tree(one.Tree, translate, text)
		}
	}
}

// Tree does the same for one template.
func Tree(t *parse.Tree, translate func(message string) (string, bool), text func(name string) bool) {
	(&walker{translate: translate, text: text}).list(t.Root)
}

type walker struct {
	translate func(string) (string, bool)
	text      func(string) bool
	within    string // the tag that was opened last
}

// kind of a piece of a message.
type kind int

const (
	literal  kind = iota
	filled        // {n}: an action, or a branch of the template
	opening       // <n>
	closing       // </n>
	breaking      // a tag that ends a message
)

// piece is a part of a message: its nodes as they stand in the template, and how it reads.
type piece struct {
	kind  kind
	nodes []parse.Node
	text  string // a literal's HTML
	tag   string
}

// list translates a list of nodes that begins and ends between tags.
func (w *walker) list(l *parse.ListNode) {
	if l == nil {
		return
	}
	pieces := w.pieces(l.Nodes)
	var out []parse.Node
	var run []piece
	for _, p := range pieces {
		if p.kind == breaking {
			out = append(append(out, w.message(run)...), p.nodes...)
			run = nil
			continue
		}
		run = append(run, p)
	}
	l.Nodes = append(out, w.message(run)...)
}

var tagName = regexp.MustCompile(`^</?([a-zA-Z][a-zA-Z0-9]*)`)

// pieces cuts nodes into tags, literals and what is filled in.
func (w *walker) pieces(nodes []parse.Node) []piece {
	var all []piece
	var tag []parse.Node // open: between < and >
	quote := byte(0)
	end := func() {
		name := ""
		first := ""
		if t, ok := tag[0].(*parse.TextNode); ok {
			first = string(t.Text)
			if m := tagName.FindStringSubmatch(first); m != nil {
				name = strings.ToLower(m[1])
			}
		}
		w.within = name
		if strings.HasPrefix(first, "</") || strings.Contains(first, "value=") {
			w.within = ""
		}
		p := piece{kind: breaking, tag: name, nodes: w.attributes(tag)}
		if slices.Contains(inline, name) {
			p.kind = opening
			if strings.HasPrefix(first, "</") {
				p.kind = closing
			}
		}
		all = append(all, p)
		tag = nil
	}
	for _, n := range nodes {
		t, ok := n.(*parse.TextNode)
		if !ok {
			if tag != nil {
				tag = append(tag, n)
				continue
			}
			all = append(all, w.action(n))
			continue
		}
		s := string(t.Text)
		for at := 0; at < len(s); {
			if tag == nil {
				next := strings.IndexByte(s[at:], '<')
				if next < 0 {
					next = len(s) - at
				}
				if next > 0 {
					all = append(all, piece{kind: literal, text: s[at : at+next], nodes: []parse.Node{textNode(t, s[at:at+next])}})
				}
				at += next
				if at < len(s) {
					tag = []parse.Node{}
				}
				continue
			}
			i := at
			for ; i < len(s); i++ {
				if quote != 0 {
					if s[i] == quote {
						quote = 0
					}
				} else if s[i] == '"' || s[i] == '\'' {
					quote = s[i]
				} else if s[i] == '>' {
					break
				}
			}
			if i == len(s) {
				tag = append(tag, textNode(t, s[at:]))
				at = len(s)
				continue
			}
			tag = append(tag, textNode(t, s[at:i+1]))
			at = i + 1
			end()
		}
	}
	if len(tag) > 0 {
		all = append(all, piece{kind: breaking, nodes: tag})
	}
	return all
}

func textNode(like *parse.TextNode, s string) *parse.TextNode {
	return &parse.TextNode{NodeType: parse.NodeText, Pos: like.Pos, Text: []byte(s)}
}

// action is a node that isn't text, between tags.
func (w *walker) action(n parse.Node) piece {
	p := piece{kind: filled, nodes: []parse.Node{n}}
	switch n := n.(type) {
	case *parse.ActionNode:
		if len(n.Pipe.Decl) > 0 {
			p.kind = breaking // what follows may need it
		}
		if w.within != "option" { // without a value, a browser sends what is shown
			w.pipe(n.Pipe)
		}
	case *parse.IfNode, *parse.RangeNode, *parse.WithNode:
		b := branchOf(n)
		if w.breaks(b.List) || w.breaks(b.ElseList) || len(b.Pipe.Decl) > 0 {
			p.kind = breaking
		}
		w.list(b.List)
		w.list(b.ElseList)
	case *parse.TemplateNode, *parse.CommentNode:
		p.kind = breaking
	}
	return p
}

func branchOf(n parse.Node) *parse.BranchNode {
	switch n := n.(type) {
	case *parse.IfNode:
		return &n.BranchNode
	case *parse.RangeNode:
		return &n.BranchNode
	case *parse.WithNode:
		return &n.BranchNode
	}
	return nil
}

// breaks reports whether a branch holds a tag that ends a message.
func (w *walker) breaks(l *parse.ListNode) bool {
	if l == nil {
		return false
	}
	plain := &walker{translate: func(string) (string, bool) { return "", false }, text: func(string) bool { return false }}
	return slices.ContainsFunc(plain.pieces(l.Nodes), func(p piece) bool { return p.kind == breaking })
}

// pipe leads a pipeline that holds a sentence of ours through the function "say".
func (w *walker) pipe(p *parse.PipeNode) {
	last := p.Cmds[len(p.Cmds)-1]
	name := ""
	switch a := last.Args[0].(type) {
	case *parse.FieldNode:
		name = a.Ident[len(a.Ident)-1]
	case *parse.VariableNode:
		if len(a.Ident) > 1 {
			name = a.Ident[len(a.Ident)-1]
		}
	case *parse.DotNode:
		name = "."
	case *parse.IdentifierNode:
		name = a.Ident
	}
	if name == "" || !w.text(name) {
		return
	}
	p.Cmds = append(p.Cmds, &parse.CommandNode{NodeType: parse.NodeCommand, Pos: p.Pos, Args: []parse.Node{parse.NewIdentifier("say").SetPos(p.Pos)}})
}

var attribute = regexp.MustCompile(`([a-zA-Z-]+)="$`)

// attributes translates what people see of a tag's attributes. Its nodes lie between < and >.
func (w *walker) attributes(nodes []parse.Node) []parse.Node {
	var out []parse.Node
	var value []piece // of the attribute that is open
	open, seen := false, false
	for _, n := range nodes {
		t, ok := n.(*parse.TextNode)
		switch {
		case !ok && open && seen:
			p := piece{kind: filled, nodes: []parse.Node{n}}
			if a, is := n.(*parse.ActionNode); is {
				w.pipe(a.Pipe)
			} else if b := branchOf(n); b != nil {
				w.values(b.List)
				w.values(b.ElseList)
			}
			value = append(value, p)
			continue
		case !ok:
			if b := branchOf(n); b != nil && !open {
				for _, l := range []*parse.ListNode{b.List, b.ElseList} {
					if l != nil {
						l.Nodes = w.attributes(l.Nodes)
					}
				}
			}
			out = append(out, n)
			continue
		}
		rest := string(t.Text)
		for rest != "" {
			at := strings.IndexByte(rest, '"')
			if at < 0 {
				if open && seen {
					value = append(value, piece{kind: literal, text: rest, nodes: []parse.Node{textNode(t, rest)}})
				} else {
					out = append(out, textNode(t, rest))
				}
				break
			}
			if !open {
				out = append(out, textNode(t, rest[:at+1]))
				m := attribute.FindStringSubmatch(rest[:at+1])
				open, seen = true, m != nil && slices.Contains(shown, m[1])
			} else {
				switch {
				case seen:
					if at > 0 {
						value = append(value, piece{kind: literal, text: rest[:at], nodes: []parse.Node{textNode(t, rest[:at])}})
					}
					out = append(out, w.message(value)...)
				case at > 0:
					out = append(out, textNode(t, rest[:at]))
				}
				out = append(out, textNode(t, `"`))
				value, open, seen = nil, false, false
			}
			rest = rest[at+1:]
		}
	}
	for _, p := range value { // a branch ends within a value: left as it is
		out = append(out, p.nodes...)
	}
	return out
}

// values translates a branch within an attribute's value.
func (w *walker) values(l *parse.ListNode) {
	if l == nil {
		return
	}
	var all []piece
	for _, n := range l.Nodes {
		if t, ok := n.(*parse.TextNode); ok {
			all = append(all, piece{kind: literal, text: string(t.Text), nodes: []parse.Node{n}})
			continue
		}
		if a, ok := n.(*parse.ActionNode); ok {
			w.pipe(a.Pipe)
		} else if b := branchOf(n); b != nil {
			w.values(b.List)
			w.values(b.ElseList)
		}
		all = append(all, piece{kind: filled, nodes: []parse.Node{n}})
	}
	l.Nodes = w.message(all)
}

// message translates pieces that may be one message, and returns their nodes.
func (w *walker) message(all []piece) []parse.Node {
	from, to := trim(all)
	inner := all[from:to]
	var out []parse.Node
	for _, p := range all[:from] {
		out = append(out, p.nodes...)
	}
	out = append(out, w.inner(inner)...)
	for _, p := range all[to:] {
		out = append(out, p.nodes...)
	}
	return out
}

// trim leaves out at both ends what belongs to no sentence: blanks, branches, empty tags, and a pair of tags around all.
func trim(all []piece) (from, to int) {
	from, to = 0, len(all)
	bare := func(p piece) bool {
		return p.kind == filled && branchOf(p.nodes[0]) != nil || p.kind == literal && strings.TrimSpace(p.text) == ""
	}
	for changed := true; changed && from < to; {
		changed = false
		switch {
		case bare(all[from]):
			from, changed = from+1, true
		case bare(all[to-1]):
			to, changed = to-1, true
		case all[from].kind == opening:
			if end := match(all[:to], from); end > 0 && (end == to-1 || !slices.ContainsFunc(all[from:end], func(p piece) bool { return p.kind == literal && hasLetter(p.text) })) {
				if end == to-1 {
					from, to = from+1, to-1
				} else {
					from = end + 1
				}
				changed = true
			}
		}
	}
	return from, to
}

// match returns where the tag that opens at i is closed; 0: nowhere.
func match(all []piece, i int) int {
	depth := 0
	for k := i; k < len(all); k++ {
		switch all[k].kind {
		case opening:
			depth++
		case closing:
			if depth--; depth == 0 {
				return k
			}
		case literal, filled, breaking:
		}
	}
	return 0
}

func hasLetter(s string) bool { return strings.ContainsFunc(html.UnescapeString(s), unicode.IsLetter) }

func balanced(all []piece) bool {
	depth := 0
	for _, p := range all {
		switch p.kind {
		case opening:
			depth++
		case closing:
			if depth--; depth < 0 {
				return false
			}
		case literal, filled, breaking:
		}
	}
	return depth == 0
}

var blanks = regexp.MustCompile(`\s+`)

// inner translates pieces that are one message, or several where tags don't pair.
func (w *walker) inner(all []piece) []parse.Node {
	var out []parse.Node
	if !balanced(all) {
		run := []piece{}
		for _, p := range all {
			if p.kind == opening || p.kind == closing {
				out = append(append(out, w.message(run)...), p.nodes...)
				run = nil
				continue
			}
			run = append(run, p)
		}
		return append(out, w.message(run)...)
	}
	var key strings.Builder
	parts := map[string][]parse.Node{}
	var open []int
	values, tags, letters := 0, 0, false
	for _, p := range all {
		name := ""
		switch p.kind {
		case literal:
			key.WriteString(html.UnescapeString(p.text))
			letters = letters || hasLetter(p.text)
		case filled:
			name = fmt.Sprintf("{%d}", values)
			values++
		case opening:
			tags++
			open = append(open, tags)
			name = fmt.Sprintf("<%d>", tags)
		case closing:
			name = fmt.Sprintf("</%d>", open[len(open)-1])
			open = open[:len(open)-1]
		case breaking: // list has cut these out
		}
		if name != "" {
			key.WriteString(name)
			parts[name] = p.nodes
		}
		out = append(out, p.nodes...)
	}
	if !letters {
		return out
	}
	raw := blanks.ReplaceAllString(key.String(), " ")
	id := strings.TrimSpace(raw)
	t, ok := w.translate(id)
	if !ok {
		return out
	}
	at := strings.Index(raw, id)
	t = raw[:at] + t + raw[at+len(id):]
	var translated []parse.Node
	text := func(s string) {
		if s != "" {
			translated = append(translated, &parse.TextNode{NodeType: parse.NodeText, Text: []byte(html.EscapeString(s))})
		}
	}
	last := 0
	for _, m := range placeholder.FindAllStringIndex(t, -1) {
		text(t[last:m[0]])
		translated = append(translated, parts[t[m[0]:m[1]]]...)
		last = m[1]
	}
	text(t[last:])
	return translated
}

// Plurals lists what a template counts: the words of {{plural N "one" "many"}}.
func Plurals(t *parse.Tree) [][2]string {
	var all [][2]string
	var walk func(n parse.Node)
	pipe := func(p *parse.PipeNode) {
		if p == nil {
			return
		}
		for _, c := range p.Cmds {
			for _, a := range c.Args {
				walk(a)
			}
			if id, ok := c.Args[0].(*parse.IdentifierNode); ok && id.Ident == "plural" && len(c.Args) == 4 {
				one, ok1 := c.Args[2].(*parse.StringNode)
				many, ok2 := c.Args[3].(*parse.StringNode)
				if ok1 && ok2 {
					all = append(all, [2]string{one.Text, many.Text})
				}
			}
		}
	}
	walk = func(n parse.Node) {
		switch n := n.(type) {
		case *parse.ListNode:
			if n != nil {
				for _, one := range n.Nodes {
					walk(one)
				}
			}
		case *parse.ActionNode:
			pipe(n.Pipe)
		case *parse.PipeNode:
			pipe(n)
		case *parse.TemplateNode:
			pipe(n.Pipe)
		case *parse.IfNode, *parse.RangeNode, *parse.WithNode:
			b := branchOf(n)
			pipe(b.Pipe)
			walk(b.List)
			walk(b.ElseList)
		}
	}
	walk(t.Root)
	return all
}
