// Package split says which MNIST digits may be used for what, so that no hand is judged that taught.
//
//	539 writers of MNIST's training part --hash of writer--> train        400 writers
//	                                                         calibration   70 writers: curves, tests, demo
//	                                                         threshold     69 writers: thresholds only
//	297 writers of MNIST's test part -----------------------> reports only
//
// Select is a part of train (40 of its writers) that choices between nets are made on: no net that was
// chosen there has trained on it.
//
// The lists hold indices into MNIST's training part, from 0, ascending, and no writer ids; they were made
// by ocr/train/split from MNIST's writer ids and are frozen: whoever changes them measures every figure
// again. Nothing else is needed to use them. Safe for concurrent use.
package split
