package main

import (
	"fmt"
	"strings"
)

// rivalsPart is what RESULTS.md says of other methods.
func rivalsPart(b *strings.Builder, methods []rivalMethod) {
	b.WriteString("\n## Other methods on the same photos\n\n")
	if len(methods) == 0 {
		b.WriteString("Not measured.\n")
		return
	}
	var commits []string
	for _, m := range methods {
		if !strings.Contains(strings.Join(commits, " "), m.Commit) {
			commits = append(commits, m.Commit)
		}
	}
	fmt.Fprintf(b, "By `%s`, of commit %s; what each method does, and how settings were chosen for it: scan/scantest/rivals/README.md.\n", methods[0].Command, strings.Join(commits, " and "))
	b.WriteString("One shot a card, taken with our marks, with ArUco tags and with AprilTags. All are judged alike: where the corners of every field land, mm on the paper.\n")
	b.WriteString("*Right*: no corner off by 3 mm, half of them by less than 1 mm. The outlines are told which way round the card lies, and all other methods which card it is.\n")
	b.WriteString("gatefold's errors leave out fields that it flags as hidden; its second line counts them.\n\n")
	b.WriteString("| method | level | photos | right | wrong | none | median, right ones | 99th percentile | median, right and wrong | 99th percentile |\n|---|---|---|---|---|---|---|---|---|---|\n")
	for _, m := range methods {
		for _, l := range []struct {
			name string
			c    *rivalCounts
		}{{"ordinary", m.Ordinary}, {"hard", m.Hard}} {
			if l.c != nil && l.c.Total > 0 {
				fmt.Fprintf(b, "| %s | %s | %d | %d | %d | %d | %s | %s | %s | %s |\n", m.Name, l.name, l.c.Total, l.c.Found, l.c.Wrong, l.c.Refused,
					mm(l.c.FoundMM.P50), mm(l.c.FoundMM.P99), mm(l.c.AllMM.P50), mm(l.c.AllMM.P99))
			}
		}
	}
	b.WriteString("\nOf impossible photos, which all should be refused, straightened all the same:")
	for i, m := range methods {
		if c := m.Impossible; c != nil {
			if i > 0 {
				b.WriteString(";")
			}
			fmt.Fprintf(b, " %s %d of %d", m.Name, c.Total-c.Refused, c.Total)
		}
	}
	b.WriteString(".\n")
}

// mm is one cell of a length.
func mm(v *float64) string {
	switch {
	case v == nil:
		return "-"
	case *v >= 100:
		return "over 100"
	default:
		return fmt.Sprintf("%.2f", *v)
	}
}
