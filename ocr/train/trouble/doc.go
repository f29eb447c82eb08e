// Package trouble draws combs of the gate card, or of forms of no make, as photographed cards show them, with what goes
// wrong while people write in them, to teach the nets that tell plain writing from trouble, and to measure them.
//
//	digits of one part of the split --scan/camera/fill, and Other ink of our own--> a few rows of a card, 20 px/mm
//	   --scan/camera patch--> photo px --straightened, a little off--> page px --crop.TakeComb--> Sample
//
// A block is some rows of one side with all their fields, so that what stands beside a comb is what stands there on a
// card: the row's number, ticks, the other writing, the rows above and below and what was spoilt there.
//
// It knows no nets. Everything random comes from the caller's generator.
package trouble
