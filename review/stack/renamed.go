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
