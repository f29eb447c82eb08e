// Package propose finds where a blank card may be written on, from a flat picture of it, and what for.
//
//	grey picture --level--> upright --ink--> black or white --lines--> ruled lines --boxes--> rectangles
//	      |                                                                |                       |
//	      +--Reader--> printed words --phrases--> labels                   +--> lines to write on  +--> units --> columns
//	                                                 |                                                              |
//	                                                 +--lexicon--> parts, grammars -----------------> Proposal <----+
//
// It knows no photo, bend or perspective: a picture whose ruled lines aren't straight is refused. It reads nothing
// itself; without a Reader every part is PartUnnamed. A Proposal is a draft for a person, never a layout to read cards
// with, and Proposal.Unsure says what each field was taken for and why.
package propose
