// Package fill writes a whole card as one judge would, with a truth for every field.
//
//	Layout + Plan (what the judge means) --Side--> inked sheet + Truth (what each field says)
//	       + Digits (one writer's glyphs) + hand.Writer (their pen)
//
// A Plan names fields as the layout does, so any layout can be filled. It knows no photo: the
// camera takes the picture. All randomness comes from the caller.
package fill
