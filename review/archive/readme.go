package archive

import (
	"fmt"
	"slices"
	"strings"

	"gatefold/review/store"
)

// readme explains the archive to someone who has only the folder.
func readme(in Input, sheets []store.Sheet, leftOut []string) string {
	r := in.Stack.Race
	kind, names, originals, pictures := shareKind, shareNames, shareOriginals, "the sides of the cards, straightened, black but for rows and drawings"
	if in.Names {
		kind, names, originals, pictures = fullKind, fullNames, fullOriginals, "the sides of the cards, straightened"
	}
	more := ""
	if in.Names {
		more = "logbook.jsonl    every row of the database as text, one JSON object a line; race/folder.json and replaced/ belong\n" +
			"                 to it. With them the program makes a working race again: gatefold restore ARCHIVE FOLDER\n"
	}
	damaged := ""
	if len(leftOut) > 0 {
		damaged = "\nLEFT OUT\nThese files were damaged or missing in the race folder when this archive was made, and are not in it:\n\n    " +
			strings.Join(leftOut, "\n    ") + "\n"
	}
	return strings.NewReplacer("{whole}", more, "{kind}", kind, "{originals}", originals, "{pictures}", pictures, "{columns}", columnsText(), "{with}", madeWith(in, sheets), "{damaged}", damaged, "{race}", oneLine(r.Name), "{date}", oneLine(r.Date), "{discipline}", oneLine(r.Discipline), "{names}", names,
		"{made}", in.At.Format("2006-01-02 15:04 -0700")).Replace(readmeText)
}

// madeWith names reader, rule set and code book.
func madeWith(in Input, sheets []store.Sheet) string {
	r := in.Stack.Race
	var readers []string
	for _, s := range sheets {
		if v := oneLine(s.Read.Reading.Reader); !slices.Contains(readers, v) {
			readers = append(readers, v)
		}
	}
	if len(readers) == 0 {
		readers = []string{"none: no photo was read"}
	}
	return fmt.Sprintf("Reader, nets and thresholds: %s\nRule set: %s\nCode book: %s\n", strings.Join(readers, "; "), oneLine(r.Rules.Name), oneLine(r.Codes.Name))
}

const (
	shareKind = `This is the archive that may be HANDED AROUND. The full one, with photos and names, stays with the organiser.
Its originals have the sums in originals-sha256.txt: with it, a copy of a photo can be checked.`
	fullKind = `This is the FULL archive, for the organiser alone.`

	shareOriginals = `originals-sha256.txt
                 the SHA-256 of each photo as it was sent; the photos are not here`
	fullOriginals = `originals/       the photos as they were sent, each named by its SHA-256`

	shareNames = `Racers are in it by bib and group, not by name. Judges are called by the number of their card, also where they
typed; other people who typed are called person 1, person 2 and so on. Phone numbers, clubs, notes and reasons in people's own words, names of photo files and
what a camera wrote into them were LEFT OUT; "(left out)" stands for a note. The straightened sides, also in
cards.pdf and draft.pdf, are black but for the rows and the drawings, 1 mm around. Whatever a judge wrote inside those can be
seen: look through sheets/ once before you hand this to strangers.`
	fullNames = `Names of racers (many of them children), names of judges, clubs, phone numbers and notes ARE IN this archive, and
photos show whatever was written on a card. Keep it as you would keep a start list with phone numbers: give it only to
those who need it.`
)

var readmeText = fmt.Sprintf(`%[1]s
{race}, {date}, {discipline}
Archive of the gate judges' cards, as they stood at %[2]s
%[1]s

WHAT THIS IS
The cards that gate judges filled in by hand, photographed; what was read on them; what people decided;
and the draft list of proposed disqualifications as it was when this archive was made. The draft is a
proposal. What counts is what referee and jury decided and posted. All files tell what the program read,
also in rows that nobody had typed unseen by then: who has opened this must not be a second look at those.

{kind}

IS IT COMPLETE AND UNALTERED?
Go to the folder above this one and let a standard tool check every file:

    sha256sum -c manifest-sha256.txt
    sha256sum -c tagmanifest-sha256.txt

The folder follows BagIt 1.0 (RFC 8493); any BagIt tool can check it too. The sums find damage and
careless changes. They are no signature: whoever can change the files can change the sums. Against that
only this helps: whoever packed it may have noted the sum of the last list somewhere else. Compare it with

    sha256sum tagmanifest-sha256.txt

The same sum is the same archive, to the byte.

WHAT IS WHERE
{originals}
sheets/          {pictures}; run,
                 course, card and side are in the name
cards.pdf        all sides in one file that can be searched: under each picture lies what was read, where the
                 ink is. A text with a question mark after it was not sure; decisions.json may say more
alto/            the same for each side as ALTO 4 (XML, Library of Congress): place in tenths of a
                 millimetre, certainty (WC), other texts it might be (ALTERNATIVE), field and doubts (tags)
race/race.json   the race: groups, courses, gates and places, code book, rule settings, lists
race/bibs.csv    the bibs of the start list
race/layouts/    the geometry of the printed cards, in millimetres; blank cards of another make as pictures
readings.json    for each side: which card it is and what was read in each field, with every other
                 text it might be and how certain the reader was (1 is certain)
decisions.json   who settled which field, when and on what basis; also what was later replaced or undone
records.json     what cards were used for, answers to questions, reasons for missing cards, and what was
                 shown to whom before they typed: it proves that an entry was typed unseen; with names
                 also what came by radio or voice, which is no call
findings.json    what the rules said about the rows together
draft.pdf        the draft for the referee; draft.csv and draft.json hold the same
readings.csv     readings.json as a table; so decisions.csv
calls.csv        the proposed disqualifications of findings.json as a table; findings.csv the rest of it
spot-check.csv   how often bibs that were certain without a person were typed otherwise by one
schemas/         JSON Schemas (2020-12) of the JSON files
{whole}

TEN QUESTIONS, AND WHERE THE ANSWER STANDS
 1. Which bibs are proposed, at which gate, for what?       calls.csv: bib, gate, code, meaning, status
 2. On which rows of which cards does a proposal rest?      calls.csv: rows
 3. Where is the ink of such a row?                         readings.csv: field, picture, x mm and so on
 4. How certain was the reader, what else might it be?      readings.csv: certainty, rivals
 5. Who settled a field, when, on what basis?               decisions.csv: by, at, basis
 6. Was it typed without knowing what the machine read?     decisions.csv: typed unseen; records.json: served
 7. What is still open?                                     calls.csv: waits for; findings.json: incomplete
 8. What contradicts each other, what was answered?         findings.csv: sentence, question, answer
 9. Which card stood at which gates?                        race/race.json: runs, courses, places
10. With what was it read and checked?                      below, and readings.csv: reader; race/race.json: rules

WITH WHAT IT WAS MADE
{with}
THE COLUMNS OF THE TABLES
CSV as in RFC 4180: UTF-8, commas, the first record names the columns. A cell that a spreadsheet might run as
a formula has an apostrophe before it.

{columns}

HOW A FIELD IS NAMED
run1/Blue/card-4/front/row-03.bib is the bib in the third row on the front of card 4, printed for run 1
on course Blue. Spares begin with spare/ instead of run and course. Times carry their offset from UTC.

WHAT A "LOOK" IS
No proposal rests on one reading of one number. A bib needs two looks that agree: written twice on the
card; or written and read aloud, or named when asked, by its judge; or written once and typed by a person
who had not seen what the machine read, where the ink has no second reading; or, without a photo, typed
from the paper by two people. draft.pdf says for each line which it was.

NAMES
{names}
{damaged}`, strings.Repeat("=", 78), "{made}")
