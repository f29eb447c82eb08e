package say

import (
	"errors"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"text/template/parse"
	"unicode"
)

// Message is a text of the pages as a translator sees it.
type Message struct {
	ID, Plural string   // Plural: for other numbers than one; empty: it counts nothing
	In         []string // files that say it
}

// Rooms are the folders whose Go code makes sentences that pages show.
var Rooms = []string{"review", "review/draft", "review/jury", "review/look", "review/stack", "rules", "scan", "sheetmodel", "cmd/gatefold"}

// nouns are words of the pages that code uses as names of things, too.
var nouns = []string{"bib", "code", "gate", "panel", "row", "front", "back", "header", "clear", "doubtful", "empty", "re-run", "re-runs", "set aside", "and", "or", "the remarks", "the printed line", "the header", "the foot"}

// onlyIn limits a room to files whose texts reach a page.
var onlyIn = map[string]*regexp.Regexp{
	"sheetmodel":   regexp.MustCompile(`^rulesettings.*\.go$`),
	"cmd/gatefold": regexp.MustCompile(`^(desk_take|desk_places|collect)\.go$`),
}

// Extract finds every text of the pages in a source tree, in the order of their English.
func Extract(tree fs.FS) ([]Message, error) {
	all := map[string]*Message{}
	add := func(file, id, plural string) {
		m := all[id]
		if m == nil {
			m = &Message{ID: id, Plural: plural}
			all[id] = m
		}
		if m.Plural == "" {
			m.Plural = plural
		}
		if !slices.Contains(m.In, file) {
			m.In = append(m.In, file)
		}
	}
	for _, noun := range nouns {
		add("review/say/extract.go", noun, "")
	}
	var errs []error
	for _, pattern := range []string{"review/web/*.tmpl", "review/web/*.js"} {
		files, err := fs.Glob(tree, pattern)
		errs = append(errs, err)
		for _, file := range files {
			text, err := fs.ReadFile(tree, file)
			if err != nil {
				return nil, err
			}
			if strings.HasSuffix(file, ".js") {
				for _, id := range Script(string(text)) {
					add(file, id, "")
				}
				continue
			}
			errs = append(errs, fromTemplate(file, string(text), add))
		}
	}
	for _, room := range Rooms {
		files, err := fs.Glob(tree, room+"/*.go")
		errs = append(errs, err)
		for _, file := range files {
			if strings.HasSuffix(file, "_test.go") || onlyIn[room] != nil && !onlyIn[room].MatchString(path.Base(file)) {
				continue
			}
			text, err := fs.ReadFile(tree, file)
			if err != nil {
				return nil, err
			}
			errs = append(errs, fromGo(file, text, add))
		}
	}
	var list []Message
	for _, m := range all {
		slices.Sort(m.In)
		list = append(list, *m)
	}
	slices.SortFunc(list, func(a, b Message) int { return strings.Compare(a.ID, b.ID) })
	return list, errors.Join(errs...)
}

func fromTemplate(file, text string, add func(file, id, plural string)) error {
	t := parse.New(file)
	t.Mode = parse.SkipFuncCheck
	set := map[string]*parse.Tree{}
	if _, err := t.Parse(text, "", "", set); err != nil {
		return err
	}
	for _, one := range set {
		for _, p := range Plurals(one) {
			add(file, "{0} "+p[0], "{0} "+p[1])
		}
		Tree(one, func(id string) (string, bool) { add(file, id, ""); return "", false }, func(string) bool { return false })
	}
	return nil
}

var scriptText = regexp.MustCompile(`(?:\bt\(|\bdoes: )'((?:[^'\\]|\\.)*)'`)

// Script lists the texts that a script says: t('...'), and what a key does.
func Script(source string) []string {
	var all []string
	for _, m := range scriptText.FindAllStringSubmatch(source, -1) {
		all = append(all, strings.ReplaceAll(m[1], `\'`, `'`))
	}
	return all
}

// fromGo finds messages in Go code: literals, what is joined to them, and formats. Code, routes and SQL are left out by
// how they look; a text too many does no harm.
func fromGo(file string, source []byte, add func(file, id, plural string)) error {
	f, err := parser.ParseFile(token.NewFileSet(), file, source, parser.SkipObjectResolution)
	if err != nil {
		return err
	}
	var visit func(n ast.Node) bool
	visit = func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.ImportSpec:
			return false
		case *ast.Field:
			return false // types and their tags
		case *ast.IndexExpr:
			ast.Inspect(n.X, visit) // what is looked up in, not the key
			return false
		case *ast.CaseClause:
			for _, s := range n.Body {
				ast.Inspect(s, visit)
			}
			return false
		case *ast.BinaryExpr:
			if n.Op == token.EQL || n.Op == token.NEQ {
				return false
			}
			if n.Op == token.ADD {
				b := &goMessage{}
				b.join(n)
				if b.literals > 0 {
					b.add(file, add)
					for _, e := range b.values {
						ast.Inspect(e, visit)
					}
					return false
				}
			}
		case *ast.CallExpr:
			name := calledName(n)
			if (name == "plural" || name == "counted") && len(n.Args) == 3 {
				one, ok1 := stringOf(n.Args[1])
				many, ok2 := stringOf(n.Args[2])
				if ok1 && ok2 {
					add(file, "{0} "+one, "{0} "+many)
					return false
				}
			}
			if name == "MustCompile" || name == "ExecContext" || name == "QueryContext" || name == "FormValue" || name == "PostFormValue" || name == "Set" || name == "Has" {
				return false
			}
			if b := (&goMessage{}); b.format(n) {
				b.add(file, add)
				for _, e := range b.values {
					ast.Inspect(e, visit)
				}
				return false
			}
		case *ast.BasicLit:
			if s, ok := stringOf(n); ok && n.Kind == token.STRING {
				b := &goMessage{}
				b.text.WriteString(s)
				b.add(file, add)
			}
		}
		return true
	}
	ast.Inspect(f, visit)
	return nil
}

func calledName(c *ast.CallExpr) string {
	switch f := c.Fun.(type) {
	case *ast.Ident:
		return f.Name
	case *ast.SelectorExpr:
		return f.Sel.Name
	}
	return ""
}

func stringOf(e ast.Expr) (string, bool) {
	l, ok := e.(*ast.BasicLit)
	if !ok || l.Kind != token.STRING {
		return "", false
	}
	s, err := strconv.Unquote(l.Value)
	return s, err == nil
}

// goMessage is a message that is being put together from an expression.
type goMessage struct {
	text     strings.Builder
	values   []ast.Expr
	literals int
	places   int
}

func (b *goMessage) value(e ast.Expr) {
	if strings.HasSuffix(b.text.String(), "}") { // two that touch are one to a translator
		b.values = append(b.values, e)
		return
	}
	fmt.Fprintf(&b.text, "{%d}", b.places)
	b.places++
	b.values = append(b.values, e)
}

func (b *goMessage) join(e ast.Expr) {
	if s, ok := stringOf(e); ok {
		b.text.WriteString(s)
		b.literals++
		return
	}
	switch n := e.(type) {
	case *ast.BinaryExpr:
		if n.Op == token.ADD {
			b.join(n.X)
			b.join(n.Y)
			return
		}
	case *ast.CallExpr:
		if b.format(n) {
			b.literals++
			return
		}
	}
	b.value(e)
}

var verb = regexp.MustCompile(`%[-+# 0]*[0-9]*(?:\.[0-9]+)?(?:\[[0-9]+\])?[a-zA-Z%]`)

// format reads a call such as fmt.Sprintf("gate %s", gate).
func (b *goMessage) format(c *ast.CallExpr) bool {
	args := c.Args
	switch calledName(c) {
	case "Sprintf", "Errorf", "sprintf":
	case "Fprintf":
		args = args[min(1, len(args)):]
	default: // a function of ours that hands a format on
		at := formatAt(args)
		if at < 0 {
			return false
		}
		b.values = append(b.values, args[:at]...)
		args = args[at:]
	}
	if len(args) == 0 {
		return false
	}
	s, ok := stringOf(args[0])
	if !ok {
		return false
	}
	at, i := 0, 1
	for _, m := range verb.FindAllStringIndex(s, -1) {
		b.text.WriteString(s[at:m[0]])
		at = m[1]
		v := s[m[0]:m[1]]
		if v == "%%" {
			b.text.WriteString("%")
			continue
		}
		var e ast.Expr = &ast.Ident{Name: "_"}
		if i < len(args) {
			e = args[i]
		}
		i++
		if strings.HasSuffix(v, "q") {
			b.text.WriteString(`"`)
			b.value(e)
			b.text.WriteString(`"`)
			continue
		}
		b.value(e)
	}
	b.text.WriteString(s[at:])
	return true
}

// formatAt returns which argument is a format with a value for each of its verbs after it, or -1.
func formatAt(args []ast.Expr) int {
	return slices.IndexFunc(args, func(e ast.Expr) bool {
		s, ok := stringOf(e)
		if !ok {
			return false
		}
		verbs := 0
		for _, v := range verb.FindAllString(s, -1) {
			if v != "%%" {
				verbs++
			}
		}
		return verbs > 0 && verbs == len(args)-1-slices.Index(args, e)
	})
}

var (
	words    = regexp.MustCompile(`\pL{2,}`)
	codeLike = regexp.MustCompile(`^(GET|POST|SELECT|INSERT|UPDATE|CREATE|DELETE) |[<>=]{1}"|^[a-z]+/[a-z]|\.(go|css|js|tmpl|webp|png|json|csv|pdf)$|^/|^[a-z-]+-[a-z-]+$|^[A-Za-z]+-[A-Z]|://|; (charset|filename)|^--|default-src|^[a-z]+[A-Z]`)
)

// add takes a message that looks like a text for people.
func (b *goMessage) add(file string, add func(file, id, plural string)) {
	id := strings.TrimSpace(blanks.ReplaceAllString(b.text.String(), " "))
	bare := placeholder.ReplaceAllString(id, "")
	if strings.ContainsFunc(id, unicode.IsControl) || strings.Contains(id, "_") || !words.MatchString(bare) || codeLike.MatchString(id) {
		return
	}
	letters := 0
	for _, r := range bare {
		if unicode.IsLetter(r) {
			letters++
		}
	}
	if letters < fewestLetters {
		return
	}
	add(file, id, "")
}

// POT writes messages as a gettext template.
func POT(all []Message) []byte {
	var b strings.Builder
	b.WriteString(`# The texts of gatefold's pages. Made by: go generate ./review/say
# A language is a copy of this file with its translations, see DEVELOPERS.md.
msgid ""
msgstr ""
"Content-Type: text/plain; charset=UTF-8\n"
"Content-Transfer-Encoding: 8bit\n"
"Language: \n"
"Plural-Forms: nplurals=INTEGER; plural=EXPRESSION;\n"
`)
	for _, m := range all {
		fmt.Fprintf(&b, "\n#: %s\nmsgid %s\n", strings.Join(m.In, " "), quoted(m.ID))
		if m.Plural != "" {
			fmt.Fprintf(&b, "msgid_plural %s\nmsgstr[0] \"\"\nmsgstr[1] \"\"\n", quoted(m.Plural))
			continue
		}
		b.WriteString("msgstr \"\"\n")
	}
	return []byte(b.String())
}

// quoted writes a text as PO files do.
func quoted(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`, "\n", `\n`, "\t", `\t`).Replace(s) + `"`
}
