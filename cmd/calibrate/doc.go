// Command calibrate makes ocr/calib/curves.json: how often a reading of a given score is wrong, and from
// which score on a text is clear.
//
//	hands (one part of the split) --render--> straightened parts of cards, with truth   slow, once
//	parts --read (the weights in use)--> readings.jsonl                                 again for new weights
//	calibration's readings --curves--.
//	threshold's readings -------------+--fit--> curves.json, report.md
//
//	strips (ocr/train/makestrips) --cells--> cells.json, cells.md     free cells, by the cell net
//	lines of a header, drawn --header--> header.md                     phone, date and judge, by the cell net
//	cards, drawn and read --marks--> tick boxes                        to teach the mark net
//	parts --read -mute, voice--> what the cell net adds on combs
//
// It also holds the layout study, sheetmodel/docs/layout-study.md, which keeps nothing of the program's:
//
//	variants of the shipped card --layouts--> readings of the same writing --layouts-report--> tables
//	                             --layouts-picture--> all of them side by side
//
// Only the part of a card that is read is photographed, with the optics, light and faults of a whole
// photo; straightening is imitated by an error of the size that scan's report gives. It needs
// GATEFOLD_DATA for writer ids. It is for developers; nothing of it is in the program.
package main
