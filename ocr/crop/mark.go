package crop

// Size of what the mark net sees, px.
const (
	MarkSide = 32
	MarkW    = 2 * MarkSide
	MarkH    = MarkSide
)

// Mark is a tick box as the mark net sees it, and beside it the same box as it usually looks in the other rows of the
// same card, with the letter or word that may be printed in it. Both are stretched to MarkSide px a side, with a little
// of the paper around; bytes are MarkTone of the darkness.
type Mark [MarkW * MarkH]byte

// MarkTone makes a byte of a darkness in thousandths of the paper's grey: 0 and more is from 38 on, up to 340 thousandths.
// A pale pencil makes 30 to 60; print and folds may be far darker, and how much so says nothing.
func MarkTone(dark float64) byte {
	const paper, perTone = 38, 1.57
	return byte(min(max(paper+dark/perTone, 0), 255))
}
