package racefolder

import "strings"

// ShellWord writes a path so that a POSIX shell takes it as one word, for commands that a person copies
// from a message. A plain path stays as it is.
func ShellWord(path string) string {
	plain := func(r rune) bool {
		return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || strings.ContainsRune("/._-+,:@%", r)
	}
	if path != "" && strings.IndexFunc(path, func(r rune) bool { return !plain(r) }) < 0 {
		return path
	}
	return "'" + strings.ReplaceAll(path, "'", `'\''`) + "'"
}
