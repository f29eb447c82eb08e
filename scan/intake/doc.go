// Package intake turns photo files that came from outside into grey pictures, in a process of its own.
//
//	file bytes --Pictures--> worker process: unpack --pipe--> grey picture, upright, one for each page
//	                              |   limits on memory, processor time, size, pages;
//	                              |   no other file, no network, no other process
//	                              '--> *scan.FileError: what is wrong with this file, and what to do
//
// JPEG and PNG are unpacked by scan.Decode, TIFF by OpenCV, HEIC by libheif, PDF by poppler's tools. What a
// file is, its first bytes say, never its name. Unpackers of pictures have a row of known holes: whatever a
// file does to one of them costs that file, and the next gets a fresh worker.
//
// A worker is this very program, started anew with the one argument of WorkerArgument: the program's start
// must call Serve for it before anything else. A Decoder is closed by who opened it, a Picture's Mat by who
// took it. Before main a worker gives up what it doesn't need (lock_linux.c). What it costs and what it
// withstands: scan/intake/report.md.
package intake
