package stack

// anyNamed reports whether a side is in that may have had another number.
func (l *loader) anyNamed() bool {
	for _, s := range l.sheets {
		if s.Renamable() {
			return true
		}
	}
	return false
}

// anyTwice reports whether a side is in more than one photo.
func (l *loader) anyTwice() bool {
	seen := map[sideKey]bool{}
	for _, s := range l.sheets {
		k := sideKey{s.Card, s.Side}
		if seen[k] {
			return true
		}
		seen[k] = true
	}
	return false
}

// anyReplaced reports whether somebody has looked at a sheet that is in no more as it was.
func (l *loader) anyReplaced() bool {
	in := map[int64]bool{0: true}
	for _, s := range l.sheets {
		in[s.ID] = true
	}
	for _, d := range l.Decisions {
		if !in[d.Sheet] {
			return true
		}
	}
	return false
}
