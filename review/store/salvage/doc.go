// Package salvage reads rows out of a SQLite database that SQLite itself refuses, page by page.
//
//	file + log --pages--> walk from the roots in page 1 --rows--> tables, indices
//	                  \--> leaves that no walk reached --shape--> their table
//
// A page that can't be understood is named and left out; all others are read. It writes nothing, and knows nothing of
// races: what rows mean is for review/store. Damage inside a text that leaves its page in shape isn't seen here.
//
// Source: the SQLite project, "Database File Format" (sqlite.org/fileformat2.html).
package salvage
