// Package store keeps a race's photos, sheets, readings and decisions so that nothing
// acknowledged is ever lost or changed.
//
//	photo bytes --AddPhoto--> originals/<sha256>.jpg + row --> Photo
//	what was found in it --AddSheets--> pages/<sha256>.png + sheets, readings
//	what both sides show together --AddTies--> ties
//	what is sent to a person --Serve--> log --.
//	what a person types --------------Settle--+--> Decision, blind only if the log proves it
//	Bind, Answer, CloseGap, TypeFromPaper --> rows; the last one counts, all stay
//
// Everything lies in the race folder: one SQLite file, gatefold.db, and two folders of files named by
// their SHA-256. A reading is named by the paper it is on (see Key), so a better reader or a second
// photo never loses a human decision.
//
// A race folder that many machines share may hold database.url instead of gatefold.db: one line, the address
// of a PostgreSQL database with a schema for this race alone. Files stay in the folder. A password belongs
// into PGPASSFILE, not into that line.
//
// It does not know what a bib means, which of two photos counts, or how many looks a row has: that is
// package look and package stack. The caller closes the Store and every file it opens.
// Decisions hold bibs; names of judges are in bindings only, names of racers nowhere.
package store
