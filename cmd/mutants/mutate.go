package main

import (
	"fmt"
	"go/ast"
	"go/importer"
	"go/parser"
	"go/token"
	"go/types"
	"os"
	"path/filepath"
	"sort"
	"strings"
)

// mutator rewrites the files of one package.
type mutator struct {
	fset  *token.FileSet
	info  *types.Info
	src   []byte
	name  string
	base  token.Pos
	all   []string
	edits []edit
}

// edit replaces src[from:to] by the result of text, which is asked once all edits inside are known.
type edit struct {
	from, to int
	text     func(inner func(from, to int) string) string
}

// mutate changes all files of a package and returns what was changed, and the build's overlay.
func mutate(dir, tmp string) (all []string, overlay string, err error) {
	fset := token.NewFileSet()
	paths, err := filepath.Glob(filepath.Join(dir, "*.go"))
	if err != nil {
		return nil, "", err
	}
	var files []*ast.File
	var kept []string
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(fset, path, nil, parser.ParseComments)
		if err != nil {
			return nil, "", err
		}
		files, kept = append(files, f), append(kept, path)
	}
	info := &types.Info{Types: map[ast.Expr]types.TypeAndValue{}}
	conf := types.Config{Importer: importer.ForCompiler(fset, "source", nil)}
	if _, err := conf.Check(dir, fset, files, info); err != nil {
		return nil, "", err
	}
	changed := map[string][]byte{}
	m := &mutator{fset: fset, info: info}
	for i, f := range files {
		if m.src, err = os.ReadFile(kept[i]); err != nil {
			return nil, "", err
		}
		m.name, m.base, m.edits = filepath.Base(kept[i]), fset.File(f.Pos()).Pos(0), nil
		for _, d := range f.Decls {
			if fn, ok := d.(*ast.FuncDecl); ok && fn.Body != nil {
				m.walk(fn.Body)
				continue
			}
			m.walk(d) // a rule's check is a function in a variable
		}
		changed[m.name] = []byte(m.render(0, len(m.src)))
	}
	overlay, err = writeOverlay(tmp, dir, files[0].Name.Name, changed)
	return m.all, overlay, err
}

func (m *mutator) at(p token.Pos) int { return int(p - m.base) }

// add notes one change and returns its number.
func (m *mutator) add(n ast.Node, what string) int {
	m.all = append(m.all, fmt.Sprintf("%s:%d: %s", m.name, m.fset.Position(n.Pos()).Line, what))
	return len(m.all)
}

func (m *mutator) replace(n ast.Node, text func(inner func(from, to int) string) string) {
	m.edits = append(m.edits, edit{m.at(n.Pos()), m.at(n.End()), text})
}

func (m *mutator) text(n ast.Node) string { return string(m.src[m.at(n.Pos()):m.at(n.End())]) }

func short(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	if len(text) > 90 {
		return text[:87] + "..."
	}
	return text
}

var opposite = map[token.Token][]token.Token{
	token.EQL: {token.NEQ}, token.NEQ: {token.EQL},
	token.LSS: {token.LEQ, token.GEQ}, token.LEQ: {token.LSS, token.GTR},
	token.GTR: {token.GEQ, token.LEQ}, token.GEQ: {token.GTR, token.LSS},
}

func (m *mutator) walk(root ast.Node) {
	ast.Inspect(root, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.GenDecl:
			return n.Tok == token.VAR
		case *ast.BinaryExpr:
			m.binary(n)
		case *ast.UnaryExpr:
			if n.Op == token.NOT {
				k := m.add(n, "! removed: "+short(m.text(n)))
				x := n.X
				m.replace(n, func(inner func(int, int) string) string {
					return fmt.Sprintf("mutantNot(%d, %s)", k, inner(m.at(x.Pos()), m.at(x.End())))
				})
			}
		case *ast.BlockStmt:
			m.statements(n.List)
		case *ast.CaseClause:
			m.statements(n.Body)
		}
		return true
	})
}

func (m *mutator) binary(n *ast.BinaryExpr) {
	x, y := n.X, n.Y
	constant := m.info.Types[n].Value != nil
	switch {
	case constant:
	case n.Op == token.LAND || n.Op == token.LOR:
		name := map[token.Token]string{token.LAND: "mutantAnd", token.LOR: "mutantOr"}[n.Op]
		k := m.add(n, n.Op.String()+" turned: "+short(m.text(n)))
		m.replace(n, func(inner func(int, int) string) string {
			return fmt.Sprintf("%s(%d, %s, func() bool { return %s })", name, k, inner(m.at(x.Pos()), m.at(x.End())), inner(m.at(y.Pos()), m.at(y.End())))
		})
	case opposite[n.Op] != nil:
		var ks []int
		for _, op := range opposite[n.Op] {
			ks = append(ks, m.add(n, n.Op.String()+" to "+op.String()+": "+short(m.text(n))))
		}
		op := n.Op
		m.replace(n, func(inner func(int, int) string) string {
			a, b := inner(m.at(x.Pos()), m.at(x.End())), inner(m.at(y.Pos()), m.at(y.End()))
			text, not := "", ""
			for i, k := range ks {
				text += fmt.Sprintf("mutant == %d && (%s %s %s) || ", k, a, opposite[op][i], b)
				not += fmt.Sprintf("mutant != %d && ", k)
			}
			return "(" + text + not + fmt.Sprintf("(%s %s %s))", a, op, b)
		})
	case n.Op == token.ADD || n.Op == token.SUB:
		basic, ok := m.info.TypeOf(n).Underlying().(*types.Basic)
		if !ok || basic.Info()&types.IsInteger == 0 {
			return
		}
		other := map[token.Token]string{token.ADD: "-", token.SUB: "+"}[n.Op]
		k := m.add(n, n.Op.String()+" to "+other+": "+short(m.text(n)))
		op := n.Op.String()
		m.replace(n, func(inner func(int, int) string) string {
			a, b := inner(m.at(x.Pos()), m.at(x.End())), inner(m.at(y.Pos()), m.at(y.End()))
			return fmt.Sprintf("mutantInt(%d, %s %s %s, %s %s %s)", k, a, other, b, a, op, b)
		})
	}
}

// statements leaves out, one at a time, whatever has an effect and whose absence still compiles.
func (m *mutator) statements(list []ast.Stmt) {
	for _, s := range list {
		switch s := s.(type) {
		case *ast.ExprStmt:
		case *ast.IncDecStmt:
		case *ast.BranchStmt:
			if s.Label != nil || s.Tok == token.FALLTHROUGH || s.Tok == token.GOTO {
				continue
			}
		case *ast.AssignStmt:
			if s.Tok == token.DEFINE {
				continue
			}
		default:
			continue
		}
		k := m.add(s, "left out: "+short(m.text(s)))
		from, to := m.at(s.Pos()), m.at(s.End())
		m.edits = append(m.edits, edit{from, to, func(inner func(int, int) string) string {
			return fmt.Sprintf("if mutant != %d { %s }", k, inner(from, to))
		}})
	}
}

// render returns src[from:to] with all edits inside made, the outermost first.
func (m *mutator) render(from, to int) string {
	return m.renderBut(from, to, -1)
}

// renderBut leaves one edit out: an edit that asks for its own text would ask for ever.
func (m *mutator) renderBut(from, to, but int) string {
	var within []int
	for i, e := range m.edits {
		if e.from < from || e.to > to || i == but {
			continue
		}
		if but >= 0 && e.from == m.edits[but].from && e.to == m.edits[but].to && i < but {
			continue
		}
		within = append(within, i)
	}
	sort.SliceStable(within, func(a, b int) bool {
		x, y := m.edits[within[a]], m.edits[within[b]]
		if x.from != y.from {
			return x.from < y.from
		}
		return x.to > y.to
	})
	var b strings.Builder
	at := from
	for _, i := range within {
		e := m.edits[i]
		if e.from < at {
			continue // inside one that was made
		}
		b.Write(m.src[at:e.from])
		b.WriteString(e.text(func(f, t int) string { return m.renderBut(f, t, i) }))
		at = e.to
	}
	b.Write(m.src[at:to])
	return b.String()
}
