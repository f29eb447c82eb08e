package say

import (
	"fmt"
	"strings"
)

// Pseudo writes a language file in which every Latin letter is a wide one (U+FF21 to U+FF5A): whatever is left in plain
// letters on a page didn't go through the catalogue. It is for tests, and for whoever wants to see how pages bear other words.
func Pseudo(all []Message) []byte {
	var b strings.Builder
	b.WriteString("msgid \"\"\nmsgstr \"\"\n\"Content-Type: text/plain; charset=UTF-8\\n\"\n\"Language: en-x-wide\\n\"\n\"Plural-Forms: nplurals=2; plural=(n != 1);\\n\"\n")
	for _, m := range all {
		fmt.Fprintf(&b, "\nmsgid %s\n", quoted(m.ID))
		if m.Plural != "" {
			fmt.Fprintf(&b, "msgid_plural %s\nmsgstr[0] %s\nmsgstr[1] %s\n", quoted(m.Plural), quoted(Wide(m.ID)), quoted(Wide(m.Plural)))
			continue
		}
		fmt.Fprintf(&b, "msgstr %s\n", quoted(Wide(m.ID)))
	}
	return []byte(b.String())
}

// Wide writes a text in wide letters.
func Wide(s string) string {
	return strings.Map(func(r rune) rune {
		if 'A' <= r && r <= 'Z' || 'a' <= r && r <= 'z' {
			return r - 'A' + 'Ａ'
		}
		return r
	}, s)
}
