package main

import (
	"fmt"

	"gatefold/review/stack"
)

// foreignNote says that sides of cards are kept and not used because they carry another race's id. used is
// how many sides are this race's. Where none is, the id in race.yaml was most likely changed.
func foreignNote(foreign, used int) string {
	if foreign == 0 {
		return ""
	}
	all, carry := "", "carry"
	switch {
	case foreign == 1 && used == 0:
		all, carry = ", the only one that was read,", "carries"
	case foreign == 1:
		carry = "carries"
	case used == 0:
		all = ", all that were read,"
	}
	return fmt.Sprintf("%s of cards%s %s another race's id: kept, and not used; if the id in race.yaml was changed after the cards were printed, write it back as it was",
		count(foreign, "side"), all, carry)
}

// foreignNotes is foreignNote for a stack, none if all sides are this race's.
func foreignNotes(st *stack.Stack) []string {
	used := 0
	for i := range st.Cards {
		c := &st.Cards[i]
		used += len(c.Other)
		if c.Front != nil {
			used++
		}
		if c.Back != nil {
			used++
		}
	}
	if note := foreignNote(len(st.Foreign), used); note != "" {
		return []string{note}
	}
	return nil
}
