// Package cells draws single boxes as a photographed card would show them, to teach the nets and to
// measure them one character at a time.
//
//	strokes of one part of the split --hand.Writer--> box, lines, neighbours, dirt  (12 px/mm)
//	   --camera patch: light, blur, tilt, noise, sharpening, JPEG--> photo px
//	   --straightened by the true map, a little off--> page px --crop.Take--> Sample
//
// The classes are the ten digits, Empty (nothing written: blank, smudged, a neighbour peeking in) and
// Other (written, but no digit: dashes, question marks, letters, struck out, overwritten, two in a box).
//
// The camera here is a patch of the one in scan/camera: the same causes and ranges (scan/camera/levels.yaml),
// without a card around them, so that millions of boxes can be drawn. It knows no nets. Everything random
// comes from the caller's generator. A Source is safe for concurrent use, once made.
package cells
