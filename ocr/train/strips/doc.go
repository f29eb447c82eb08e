// Package strips draws whole fields as a photographed card would show them, to teach the cell net and to
// measure it: free cells and combs, with what people write in them.
//
//	Text (what is meant) + Source (one part's digits, letters) --write--> bench card, 20 px/mm
//	   --scan/camera patch--> photo px --straightened, a little off--> page px --crop.TakeStrip--> Strip
//
// A field is written by one hand: all its digits are one writer's. Letters have no writer ids; they are
// split by their index in the file (Share). The bench card is no card of the product: it is the gate card's
// front with free cells of many sizes instead of its rows, so that marks, light and optics are the same.
//
// It also hands out glyphs as maps of the distance to their centre lines, from which a trainer draws any
// pen (Map). It knows no nets. Everything random comes from the caller's generator. A Source is safe for
// concurrent use, once made.
package strips
