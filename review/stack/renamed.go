package stack

// anyPlain reports whether a side without an identity is in.
func (l *loader) anyPlain() bool {
	for _, s := range l.sheets {
		if s.Read.Plain != nil {
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
