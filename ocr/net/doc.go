// Package net runs the two digit nets and the cell net on what ocr/crop cut out.
//
//	crop.Cell  --> net A --\
//	                        two times 12 probabilities: 0 to 9, Empty, Other
//	crop.Glyph --> net B --/
//	crop.Strip --> cell net --> log-odds of 44 symbols at 80 places, as a ctc.Line
//
// The nets are of different make and see different views, so that their disagreement means something.
// What they return are claims, not certainties: calibration is somebody else's work.
//
// Nets hold OpenCV's memory: Close them. One Nets is for one goroutine at a time; a goroutine more, a
// Nets more. OpenCV would split each small layer over all cores: where several goroutines read at once,
// start the program with OPENCV_FOR_THREADS_NUM=1.
package net
