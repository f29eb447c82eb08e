// Package crop cuts one character's box out of a straightened page, the same way for teaching nets and
// for reading.
//
//	page, box in mm --resample--> darkness (1 - grey/paper) --+--> Cell   grey, box lines and all, 40x48
//	                  4 px/mm      paper: robust plane fit    |
//	                  6 px/mm                                 +--> Glyph  ink alone, lines taken off, one size, 28x28
//	                                                          +--> Ink    how much of it, for empty or written
//
// Two readers of different make need two views: what fools the one (a printed line left standing, a
// digit cut by its box) should not fool the other. All sizes are in mm, so combs of any box size do;
// 7 to 8 mm wide and 9 to 10 mm high are what the nets have seen.
//
// Frames: boxes are sheetmodel.Rect in sheet mm; pixels follow sheetmodel.PageFromSheet.
// It knows no nets and no layouts, holds no state and is safe for concurrent use.
package crop
