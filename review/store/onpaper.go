package store

import (
	"context"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

// What people say of a card by its number (a row is struck out or added, where its judge stood), they say of a sheet of paper.
// A card of another make may get another number, and two papers may carry one: so it is kept with the photo of the paper at
// which it was said, behind the key of the question or the source of a binding:
//
//	row-struck/run1/Blue/card-4/row-01@0f3a8e21c97b-1
//
// Package stack holds it against the number that the paper has now.

// PaperName names the sheet of paper that is the part-th side found in a photo.
func PaperName(photo string, part int) string { return fmt.Sprintf("%.12s-%d", photo, part) }

// Paper returns the name of the sheet of paper that a side was found on.
func (s Sheet) Paper() string { return PaperName(s.Photo, s.Part) }

// ParsePaperName takes such a name apart; photo is the beginning of the photo's name.
func ParsePaperName(name string) (photo string, part int, ok bool) {
	photo, number, cut := strings.Cut(name, "-")
	part, err := strconv.Atoi(number)
	return photo, part, cut && err == nil
}

// papersSaid is the end of a key that names papers: those of one card, or of two.
var papersSaid = regexp.MustCompile(`^[0-9a-f]{1,12}-[0-9]{1,3}(\+[0-9a-f]{1,12}-[0-9]{1,3})*$`)

func withPaper(said, paper string) string {
	if paper == "" {
		return said
	}
	return said + "@" + paper
}

// cutPaper is the way back from withPaper.
func cutPaper(said string) (key, paper string) {
	if at := strings.LastIndexByte(said, '@'); at >= 0 && papersSaid.MatchString(said[at+1:]) {
		return said[:at], said[at+1:]
	}
	return said, ""
}

// Said is the answer's key as it is kept: a dispute about it names it by this.
func (a Answer) Said() string { return withPaper(a.Question, a.Paper) }

// Naming says under which number a side was known from some moment on: as a reader or a person had it. Its Card is zero where
// nobody knew any more.
type Naming struct {
	ID   int64 // of the row that says so; what was said later has a larger one
	Ink  Ink
	Side sheetmodel.SideName
	Card sheetmodel.CardKey
	By   bool // a person says it, which goes before what any reader sees
	Back bool // the person's word is taken back
}

// Namings returns all numbers that sides ever had, in order. Of a person's word Side is empty, and Ink.Photo is the beginning of
// the photo's name.
func (s *Store) Namings(ctx context.Context) ([]Naming, error) {
	read, err := collect(ctx, s.db, func(scan func(...any) error) (n Naming, err error) {
		return n, scan(&n.ID, &n.Ink.Photo, &n.Ink.Part, &n.Side, &n.Card.Run, &n.Card.Course, &n.Card.Card)
	}, `SELECT id, photo, part, side, run, course, card FROM sheets ORDER BY id`)
	if err != nil {
		return nil, err
	}
	said, err := s.whichSaid(ctx)
	if err != nil {
		return nil, err
	}
	for _, a := range said {
		photo, part, ok := ParseWhichCard(a.Question)
		if !ok {
			continue
		}
		n := Naming{ID: a.ID, Ink: Ink{photo, part}, By: true, Back: a.Value == ""}
		n.Card, _ = ParseCardName(a.Value)
		read = append(read, n)
	}
	slices.SortStableFunc(read, func(a, b Naming) int { return int(a.ID - b.ID) })
	return read, nil
}

// whichSaid are the answers to questions which card a side is, and whether two papers carry one identity, in order.
func (s *Store) whichSaid(ctx context.Context) ([]Answer, error) {
	return collect(ctx, s.db, func(scan func(...any) error) (a Answer, err error) {
		return a, scan(&a.ID, &a.Question, &a.Value)
	}, `SELECT id, question, answer FROM answers WHERE question LIKE 'which-card/%' OR question LIKE 'two-papers/%' ORDER BY id`)
}
