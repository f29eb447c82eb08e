// Package hand writes on cards as people do: real handwriting drawn anew with a pencil or a ballpoint.
//
//	MNIST glyph 28x28 --Trace--> Strokes (centre lines, widths) --.
//	letters, ticks, rings of our own pen strokes -----------------+--Writer--> Ink --Over--> paper
//
// A glyph of 20 px blown up is a grey blur that no pencil makes. Here its centre line and width are
// found, and a pen with pressure, grain and skips draws them at 20 px/mm or more. No glyph is dropped.
//
// Frames: Strokes are in a unit frame, origin at the top left of the ink, y down, height 1. Ink is a
// raster over a rectangle of the sheet; its pixels are those of a page at the same px/mm.
//
// It knows neither layouts nor cameras. Everything random comes from the caller's generator: the same
// seed draws the same ink. Nothing needs closing.
package hand
