package archive

import (
	"fmt"
	"strings"
)

// readme explains the archive to someone who has only the folder.
func readme(in Input, leftOut []string) string {
	r := in.Stack.Race
	names := `Names of racers, names of judges, clubs and phone numbers were LEFT OUT of the data files. The photos
and the straightened sides, also in cards.pdf, were not changed: whatever a judge wrote on a card, such as a name or a phone
number, can still be seen there. People who typed at the laptop appear under the name they gave.
Remarks that they typed are kept as they are.`
	if in.Names {
		names = `Names of racers (many of them children), names of judges, clubs and phone numbers ARE IN this archive.
Keep it as you would keep a start list with phone numbers: give it only to those who need it.`
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
	return strings.NewReplacer("{whole}", more, "{damaged}", damaged, "{race}", oneLine(r.Name), "{date}", oneLine(r.Date), "{discipline}", oneLine(r.Discipline), "{names}", names,
		"{made}", in.At.Format("2006-01-02 15:04 -0700")).Replace(readmeText)
}

var readmeText = fmt.Sprintf(`%[1]s
{race}, {date}, {discipline}
Archive of the gate judges' cards, made %[2]s
%[1]s

WHAT THIS IS
The cards that gate judges filled in by hand, photographed; what was read on them; what people decided;
and the draft list of proposed disqualifications as it was when this archive was made. The draft is a
proposal. What counts is what referee and jury decided and posted. All files tell what the program read,
also in rows that nobody had typed unseen by then: who has opened this must not be a second look at those.

IS IT COMPLETE AND UNALTERED?
Go to the folder above this one and let a standard tool check every file:

    sha256sum -c manifest-sha256.txt
    sha256sum -c tagmanifest-sha256.txt

The folder follows BagIt 1.0 (RFC 8493); any BagIt tool can check it too. The sums find damage and
careless changes. They are no signature: whoever can change the files can change the sums.

WHAT IS WHERE
originals/       the photos as they were sent, each named by its SHA-256
sheets/          the sides of the cards, straightened; run, course, card and side are in the name
cards.pdf        all sides in one file that can be searched: under each picture lies what was read, where the
                 ink is. A text with a question mark after it was not sure; decisions.json may say more
alto/            the same for each side as ALTO 4 (XML, Library of Congress): place in tenths of a
                 millimetre, certainty (WC), other texts it might be (ALTERNATIVE), field and doubts (tags)
race/race.json   the race: groups, courses, gates and places, code book, rule settings, lists
race/bibs.csv    the bibs of the start list
race/layouts/    the geometry of the printed cards, in millimetres
readings.json    for each side: which card it is and what was read in each field, with every other
                 text it might be and how certain the reader was (1 is certain)
decisions.json   who settled which field, when and on what basis; also what was later replaced or undone
decisions.csv    the same as a table
records.json     what cards were used for, answers to questions, reasons for missing cards, and what was
                 shown to whom before they typed: it proves that an entry was typed unseen; with names
                 also what came by radio or voice, which is no call
findings.json    what the rules said about the rows together
draft.pdf        the draft for the referee; draft.csv and draft.json hold the same
schemas/         JSON Schemas (2020-12) of the JSON files
{whole}
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
