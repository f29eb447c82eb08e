package main

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"gatefold/cmd/internal/reading"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// cardOf says which card of this race a side is; plain is set for one of another make, which carries no identity. Its
// card is zero unless its header says all of it for certain. A card of another race, or one of ours whose identity
// can't be read, is why the photo can't be used: nothing of it is guessed.
func (in *intake) cardOf(c reading.Card) (card sheetmodel.CardKey, plain *store.PlainCard, why *refusal) {
	if c.Plain && len(c.Or) > 0 {
		return card, &store.PlainCard{OneSided: c.OneSided}, nil // its head, read as one form or as another, is no word on which
	}
	if c.Plain {
		return cardInHeader(in.race, c.Reading), &store.PlainCard{OneSided: c.OneSided}, nil
	}
	if c.Identity == nil {
		return card, nil, &refusal{
			Fault: "identity", Detail: "neither of the two square codes can be read",
			Remedy: "wipe them dry and retake with both in view",
		}
	}
	card = sheetmodel.CardKey{Run: c.Identity.Run, Card: c.Identity.Card}
	if c.Identity.Race != sheetmodel.RaceHash(in.race.ID) {
		return card, nil, &refusal{
			Fault: "other-race", Detail: fmt.Sprintf("card %d belongs to another race", c.Identity.Card),
			Remedy: "add it to the race that it was printed for; if it is this one, write the id in race.yaml back as it was then",
		}
	}
	if card.Run != 0 {
		n := c.Identity.Course
		if n < 1 || n > len(in.race.Courses) {
			return card, nil, &refusal{
				Fault: "course", Detail: fmt.Sprintf("card %d was printed for course no. %d, and race.yaml has %d", card.Card, n, len(in.race.Courses)),
				Remedy: "put the courses of race.yaml back in the order in which the cards were printed",
			}
		}
		card.Course = in.race.Courses[n-1]
	}
	return card, nil, nil
}

// identityOf is what a side says of itself. One of another make is taken to be of the race it was collected into.
func (in *intake) identityOf(c reading.Card) sheetmodel.Identity {
	if c.Identity != nil {
		return *c.Identity
	}
	return sheetmodel.Identity{Side: c.Side, Race: sheetmodel.RaceHash(in.race.ID), Layout: c.Layout.Hash}
}

// forkWords say of paper that was read as several forms what it may be; false for any other.
func forkWords(cards []reading.Card, i int) (string, bool) {
	if len(cards[i].Or) == 0 {
		return "", false
	}
	words := fmt.Sprintf("%s, %s", cards[i].Layout.Name, cards[i].Side)
	for _, k := range cards[i].Or {
		words += fmt.Sprintf(", or %s, %s", cards[k].Layout.Name, cards[k].Side)
	}
	return words + ": which form and which card it is, the desk asks", true
}

// words say which side of which card a photo shows.
func (in *intake) words(s store.NewSheet, layout string) string {
	if s.Read.Plain != nil && s.Card.Card == 0 {
		return fmt.Sprintf("%s, %s: which card it is, the desk asks", layout, s.Identity.Side)
	}
	return fmt.Sprintf("%s, run %d, card %d, %s", s.Card.Course, s.Card.Run, s.Card.Card, s.Identity.Side)
}

// unname takes the names from sides whose card is in already, in another photo or beside it: a judge who goes on on a
// second sheet writes the same head again, and its rows must not take the place of the first one's.
func (in *intake) unname(ctx context.Context, photo string, sheets []store.NewSheet) error {
	if !slices.ContainsFunc(sheets, func(s store.NewSheet) bool { return s.Read.Plain != nil && s.Card.Card > 0 }) {
		return nil
	}
	before, err := in.store.Sheets(ctx)
	if err != nil {
		return err
	}
	for i := range sheets {
		s := &sheets[i]
		if s.Read.Plain == nil || s.Card.Card == 0 {
			continue
		}
		taken := slices.ContainsFunc(before, func(o store.Sheet) bool {
			return o.Photo != photo && o.Card == s.Card && o.Side == s.Identity.Side
		})
		again := slices.ContainsFunc(before, func(o store.Sheet) bool { // read again: it has its name from then
			return o.Photo == photo && o.Part == s.Part && o.Card == s.Card
		})
		twice := slices.ContainsFunc(sheets[:i], func(o store.NewSheet) bool {
			return o.Card == s.Card && o.Identity.Side == s.Identity.Side
		})
		if taken && !again || twice {
			s.Card = sheetmodel.CardKey{}
		}
	}
	return nil
}

// cardInHeader returns the card that a header says its side is, zero if it leaves any doubt.
//
// Number and run must be certain, the course too unless the race has one only, and the gates, which are written apart
// from them, must be certain and those of that card's place. So no single writing that was misread can make a card
// another one.
func cardInHeader(race *sheetmodel.Race, read sheetmodel.SheetReading) sheetmodel.CardKey {
	certain := map[sheetmodel.Part]string{}
	for _, r := range read.Header {
		part := sheetmodel.Part(r.Field[strings.LastIndexByte(r.Field, '.')+1:])
		if r.State != sheetmodel.Clear {
			if r.State == sheetmodel.Doubtful && part == sheetmodel.PartCourse {
				return sheetmodel.CardKey{} // something is said of the course
			}
			continue
		}
		certain[part] = r.Text
	}
	number, err := strconv.Atoi(certain[sheetmodel.PartCard])
	run, errRun := strconv.Atoi(certain[sheetmodel.PartRun])
	if err != nil || errRun != nil {
		return sheetmodel.CardKey{}
	}
	course := certain[sheetmodel.PartCourse]
	if course == "" && len(race.Courses) == 1 {
		course = race.Courses[0]
	}
	r := race.Run(run)
	if r == nil || r.Course(course) == nil {
		return sheetmodel.CardKey{}
	}
	places := r.Course(course).Places
	i := slices.IndexFunc(places, func(p sheetmodel.Place) bool { return p.Card == number })
	if i < 0 || len(places[i].Gates) == 0 {
		return sheetmodel.CardKey{}
	}
	gates := places[i].Gates
	if certain[sheetmodel.PartGateFrom] != gates[0] || certain[sheetmodel.PartGateTo] != gates[len(gates)-1] {
		return sheetmodel.CardKey{}
	}
	return sheetmodel.CardKey{Run: run, Course: course, Card: number}
}
