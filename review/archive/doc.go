// Package archive puts a race away so that anyone can read and check it in ten years.
//
//	Store + Stack + rules.Result --Write--> folder (BagIt 1.0, RFC 8493) --Verify--> what is wrong, file by file
//
//	bagit.txt  bag-info.txt  manifest-sha256.txt  tagmanifest-sha256.txt
//	data/README.txt          in plain words, for someone without this program
//	data/originals/          the photos as they were sent, named by their SHA-256 (full)
//	data/originals-sha256.txt  their sums (to be handed around)
//	data/sheets/             the straightened sides; black but for rows and panels in one that is handed around
//	data/cards.pdf           all sides in one file, the readings as hidden text where the ink is
//	data/alto/               the same texts with places, certainties and rivals, as ALTO 4 (XML)
//	data/race/               race, start list, layouts
//	data/readings.json       what was read, with certainties and rivals
//	data/decisions.json      who settled what, when and on what basis; nothing is left out
//	data/records.json        what cards were used for, answers, reasons for gaps, what was shown to whom
//	data/findings.json       what the rules said
//	data/draft.json .csv .pdf
//	data/readings.csv decisions.csv calls.csv findings.csv spot-check.csv
//	data/schemas/            JSON Schemas of the files above
//	data/logbook.jsonl       only with names: every row of the store; with race/folder.json and replaced/ a
//	                         race can be made from it again: folder --Restore--> race folder
//
// Any tool checks it: cd FOLDER && sha256sum -c manifest-sha256.txt. There are two kinds. The full one holds
// everything. The other may be handed around: it is made from a copy of the race that has no names, phones
// and notes in it, and no ink but that of rows and panels, so that nothing of them can get into any file.
// It reads the store and never changes it. Nothing needs closing.
package archive
