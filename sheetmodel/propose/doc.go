// Package propose finds where a blank card may be written on, from a flat scan of it.
//
//	grey picture --level--> upright --ink--> black or white --lines--> ruled lines --boxes--> rectangles --fields--> Proposal
//
// It sees ruled lines and print, and reads no word: what a column is for, a person says. Every part is
// therefore PartUnnamed, and Proposal.Unsure lists what else may be otherwise. A Proposal is a draft for a
// person, never a layout to read cards with. The package knows no photo, bend or perspective.
package propose
