package salvage

import (
	"slices"
	"strings"
	"unicode/utf8"
)

// Column is a column as its table was declared.
type Column struct {
	Name    string
	Kind    Kind
	NotNull bool
	// Before is what it holds in rows that were written before the table had it; nil: the table always had it.
	Before any
}

// Kind is what a column may hold beside nothing.
type Kind int

// The kinds.
const (
	Int Kind = iota
	Text
	Real
)

// Table is what to look for.
type Table struct {
	Name    string
	Columns []Column
	// Is, where set, tells apart rows of tables with the same columns.
	Is func(values []any) bool
}

// Row is one row, its values in the order of the columns.
type Row struct {
	Rowid  int64
	Values []any
}

// Found is what could be read.
type Found struct {
	Rows map[string][]Row // by table
	// Keys are the entries of indices, by the index's name, the number of the row last; also of rows that are lost.
	Keys    map[string][][]any
	Pages   int
	Broken  []Page // in their order
	Schema  bool   // page 1 told which table lies where; without it rows are told by their shape alone
	Strays  int    // rows found on leaves that no walk reached
	Unknown int    // such rows that could not be told to belong to one table; they are lost
}

// Page is a page that could not be read, or not all of it. Number 0 is the head of the file.
type Page struct {
	Number int
	Why    string
}

// Read reads what can be read of a database file and its write-ahead log, which may be empty. It never fails:
// what is broken stands in Found.
func Read(file, wal []byte, tables []Table) Found {
	r := &reader{pages: newPages(file, wal), found: Found{Rows: map[string][]Row{}, Keys: map[string][][]any{}}, tables: map[string]Table{}}
	for _, t := range tables {
		r.tables[t.Name] = t
	}
	r.master()
	r.strays(tables)
	r.found.Pages = r.count
	if r.first != "" {
		r.found.Broken = append(r.found.Broken, Page{0, r.first})
	}
	for n := range r.bad {
		r.found.Broken = append(r.found.Broken, Page{n, r.bad[n]})
	}
	slices.SortFunc(r.found.Broken, func(a, b Page) int { return a.Number - b.Number })
	return r.found
}

type reader struct {
	*pages
	found  Found
	tables map[string]Table
}

// master reads the list of tables and indices in page 1, and then those.
func (r *reader) master() {
	var all []entry
	if !r.walk(1, 0, true, func(e entry) bool { all = append(all, e); return true }) {
		r.bad[1] = orElse(r.bad[1], errShape.Error())
		return
	}
	for _, e := range all {
		if len(e.values) < 4 {
			continue
		}
		kind, _ := e.values[0].(string)
		name, _ := e.values[1].(string)
		root, _ := e.values[3].(int64)
		if root < 2 || root > int64(r.count) {
			continue
		}
		switch t, known := r.tables[name]; {
		case kind == "table" && known:
			r.found.Schema = true
			r.walk(int(root), 0, true, func(e entry) bool {
				values := t.whole(e.values)
				if !t.fits(values) {
					return false
				}
				r.found.Rows[name] = append(r.found.Rows[name], Row{e.rowid, values})
				return true
			})
		case kind == "index":
			r.walk(int(root), 0, false, func(e entry) bool {
				r.found.Keys[name] = append(r.found.Keys[name], e.values)
				return true
			})
		}
	}
}

// walk goes through a tree. It reports whether its first page could be read.
func (r *reader) walk(n, depth int, table bool, take func(entry) bool) bool {
	if r.used[n] || depth > maxDepth || r.holes[n] {
		return false
	}
	nd, err := r.node(n)
	if err == nil && table != (nd.kind == tableLeaf || nd.kind == tableNode) {
		err = errShape
	}
	if err != nil {
		if n >= 1 && n <= r.count {
			r.bad[n] = orElse(r.bad[n], err.Error())
		}
		return false
	}
	r.used[n] = true
	for _, e := range nd.entries {
		if !take(e) {
			nd.broken++
		}
	}
	if nd.broken > 0 {
		r.bad[n] = orElse(r.bad[n], "part of it makes no sense")
	}
	for _, c := range nd.children {
		r.walk(c, depth+1, table, take)
	}
	return true
}

// strays looks at leaves that no walk reached, because what leads to them is broken.
func (r *reader) strays(tables []Table) {
	if len(r.bad) == 0 && r.first == "" && r.found.Schema {
		return
	}
	for n := 2; n <= r.count; n++ {
		if b := r.page(n); r.used[n] || r.holes[n] || r.bad[n] != "" || b == nil || b[0] != tableLeaf {
			continue
		}
		nd, err := r.node(n)
		if err != nil {
			continue // free or overflow, as far as can be told
		}
		var may []Table
		for _, t := range tables {
			if !slices.ContainsFunc(nd.entries, func(e entry) bool { return !t.fits(t.whole(e.values)) }) {
				may = append(may, t)
			}
		}
		if nd.broken > 0 {
			r.bad[n] = "part of it makes no sense"
		}
		if len(may) != 1 {
			r.found.Unknown += len(nd.entries)
			continue
		}
		for _, e := range nd.entries {
			r.found.Rows[may[0].Name] = append(r.found.Rows[may[0].Name], Row{e.rowid, may[0].whole(e.values)})
			r.found.Strays++
		}
	}
}

// whole returns the values of a row with those of columns that the table got only after the row was written.
func (t Table) whole(values []any) []any {
	for n := len(values); n < len(t.Columns) && n > 0; n++ {
		if t.Columns[n].Before == nil {
			return values
		}
		values = append(values[:n:n], t.Columns[n].Before)
	}
	return values
}

// fits reports whether values can be a row of the table.
func (t Table) fits(values []any) bool {
	if len(values) != len(t.Columns) {
		return false
	}
	for i, c := range t.Columns {
		switch v := values[i].(type) {
		case nil:
			if c.NotNull || c.Name == "id" {
				return false
			}
		case int64:
			if c.Kind == Text {
				return false
			}
		case float64:
			if c.Kind != Real {
				return false
			}
		case string:
			// A zeroed page in a text's overflow leaves zeros, which no text of ours has.
			if c.Kind != Text || strings.ContainsRune(v, 0) || !utf8.ValidString(v) {
				return false
			}
		default:
			return false
		}
	}
	return t.Is == nil || t.Is(values)
}

func orElse(a, b string) string {
	if a != "" {
		return a
	}
	return b
}
