// Package print draws cards: as pixels and as PDF, from one list of shapes.
//
//	Layout + Card --draw--> shapes in mm --.--> Raster: 8-bit grey, px/mm of your choice
//	                                       '--> Cards: PDF pages, and where each side lies on them
//
// It knows paper, ink and type; it does not know what a judge writes on it, and reads nothing.
// It is pure Go. Nothing in it needs closing, and everything is safe for concurrent use.
package print
