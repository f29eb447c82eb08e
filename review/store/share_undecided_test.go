package store

import (
	"context"
	"slices"
)

// Undecided names tables and columns of the newest schema of which Share doesn't know whether they may be handed around.
func Undecided(ctx context.Context, s *Store) ([]string, error) {
	known := map[string]map[string]hidden{"sequence": {"last": asItIs}, "schema_versions": {"version": asItIs, "at_utc": asItIs}}
	for _, t := range shared {
		known[t.table] = t.columns
	}
	all, err := collect(ctx, s.db, func(scan func(...any) error) (name string, err error) {
		var table, column string
		if err = scan(&table, &column); err == nil {
			if _, ok := known[table][column]; !ok && !slices.Contains(keptBack, table) {
				name = table + "." + column
			}
		}
		return name, err
	}, `SELECT m.name, c.name FROM sqlite_master m JOIN pragma_table_info(m.name) c WHERE m.type = 'table'`)
	return slices.DeleteFunc(all, func(n string) bool { return n == "" }), err
}
