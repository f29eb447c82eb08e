package rules

// Check looks at all facts and returns what they say. It does not keep or change f.
func Check(f Facts) Result {
	return Result{}
}
