// Package ocr reads the marks on a straightened page, each with a certainty that means what it says.
//
//	page (8-bit grey, px/mm) --inkMap--> what is darker than paper and print
//	        |                               |
//	        |    blank form (print) --------+--> ticks, rings: by ink alone
//	        |                               +--> trouble: struck, overwritten, outside its box
//	        +--box by box--> Classifier --> two distributions a box --comb--> Belief over texts
//	        |                                                             --calib--> Reading
//	        +--cell whole--> Sequencer --> a line (ocr/ctc) --grammar--> Belief over texts, likewise
//	                                          +--digit by digit--> SignReader: the same texts once more
//
// A Reader makes a sheetmodel.SheetReading of one side. Two writings of one bib are read together
// afterwards, from Readings, by ocr/joint. Lines of the header (judge, phone, date)
// are read by the cell net if asked, other free text by Tesseract: help for a person, never clear.
//
// It knows ink and boxes; it does not know what a bib means, who is on the start list, or where a photo
// came from. It never guesses: what it can't read it keeps as doubtful, and no ink in a row is dropped.
// A Reader is closed by who opened it and serves one goroutine; pages stay the caller's, unchanged.
package ocr
