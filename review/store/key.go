package store

import (
	"fmt"
	"net/url"
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

// Key names one reading for as long as the paper exists, whoever reads or photographs it again:
//
//	run1/Blue/card-4/front/row-03.bib     printed for a run and course
//	spare/card-201/front/row-01.bib       a numbered spare, wherever it was used
//
// card is the identity as printed, not what the card was bound to later; field is the layout's name.
// The course is escaped like a part of a URL path, so a key has four slashes, a spare's three.
func Key(card sheetmodel.CardKey, side sheetmodel.SideName, field string) string {
	return CardName(card) + "/" + string(side) + "/" + field
}

// callWord begins the key of a call.
const callWord = "call/"

// CallKey names what was heard of a gate, in a Served that reveals: whoever was sent a call that names a bib knows what may stand in any row
// at its gate, also on a card that nobody has seen yet. It is no reading's key. No gate: it may be any.
func CallKey(run int, course, gate string) string {
	return fmt.Sprintf("%s%d/%s/%s", callWord, run, url.PathEscape(course), url.PathEscape(gate))
}

// parseCallKey is the way back from CallKey, without the gate; false for any other key.
func parseCallKey(key string) (run int, course string, ok bool) {
	rest, call := strings.CutPrefix(key, callWord)
	parts := strings.Split(rest, "/")
	if !call || len(parts) != 3 {
		return 0, "", false
	}
	run, err1 := strconv.Atoi(parts[0])
	course, err2 := url.PathUnescape(parts[1])
	return run, course, err1 == nil && err2 == nil
}

// CardName is the front part of a card's keys, "run1/Blue/card-4" or "spare/card-201".
func CardName(card sheetmodel.CardKey) string {
	if card.Run == 0 {
		return "spare/card-" + strconv.Itoa(card.Card)
	}
	return fmt.Sprintf("run%d/%s/card-%d", card.Run, url.PathEscape(card.Course), card.Card)
}

// ParseKey takes a key apart.
func ParseKey(key string) (card sheetmodel.CardKey, side sheetmodel.SideName, field string, err error) {
	bad := func() (sheetmodel.CardKey, sheetmodel.SideName, string, error) {
		return sheetmodel.CardKey{}, "", "", fmt.Errorf("reading %q: not a reading's name, such as run1/Blue/card-4/front/row-03.bib", key)
	}
	parts := strings.Split(key, "/")
	spare := parts[0] == "spare"
	if spare && len(parts) == 4 {
		parts = append([]string{"run0", ""}, parts[1:]...)
	}
	if len(parts) != 5 || parts[4] == "" {
		return bad()
	}
	run, isRun := strings.CutPrefix(parts[0], "run")
	number, isCard := strings.CutPrefix(parts[2], "card-")
	if !isRun || !isCard {
		return bad()
	}
	var errs [3]error
	card.Run, errs[0] = strconv.Atoi(run)
	card.Course, errs[1] = url.PathUnescape(parts[1])
	card.Card, errs[2] = strconv.Atoi(number)
	side = sheetmodel.SideName(parts[3])
	for _, e := range errs {
		if e != nil {
			return bad()
		}
	}
	if (card.Run == 0) != spare || (side != sheetmodel.Front && side != sheetmodel.Back) || Key(card, side, parts[4]) != key {
		return bad()
	}
	return card, side, parts[4], nil
}
