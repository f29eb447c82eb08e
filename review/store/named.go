package store

import (
	"context"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"gatefold/sheetmodel"
)

// A card of another make carries no identity that a machine reads. Which card it is, its header says, or a person does:
// as an answer to a question of its own, so that it is kept, joined and taken back like any other.
//
//	which-card/0f3a8e21c97b-1    run1/Blue/card-4

// PlainCard is what a reader says of a side whose card carries no identity.
type PlainCard struct {
	OneSided bool `json:"one_sided,omitempty"` // its layout has no other side on which there is anything to fill
	// Or are the parts of the same photo that are the same paper, read as other forms whose print fits about as well. Which
	// of them it is, a person says by naming that one's card; the others are then nothing.
	Or []int `json:"or,omitempty"`
}

// WhichCard is the key of the question which card a side is: the part-th of those found in a photo.
func WhichCard(photo string, part int) string { return whichCard + PaperName(photo, part) }

const whichCard = "which-card/"

// ParseWhichCard takes such a key apart; photo is the beginning of the photo's name.
func ParseWhichCard(key string) (photo string, part int, ok bool) {
	rest, found := strings.CutPrefix(key, whichCard)
	photo, number, cut := strings.Cut(rest, "-")
	part, err := strconv.Atoi(number)
	return photo, part, found && cut && err == nil
}

// ParseCardName takes apart what CardName wrote; false for anything else.
func ParseCardName(name string) (sheetmodel.CardKey, bool) {
	var k sheetmodel.CardKey
	parts := strings.Split(name, "/")
	if parts[0] == "spare" && len(parts) == 2 {
		parts = []string{"run0", "", parts[1]}
	}
	if len(parts) != 3 {
		return k, false
	}
	run, err1 := strconv.Atoi(strings.TrimPrefix(parts[0], "run"))
	course, err2 := url.PathUnescape(parts[1])
	card, err3 := strconv.Atoi(strings.TrimPrefix(parts[2], "card-"))
	k = sheetmodel.CardKey{Run: run, Course: course, Card: card}
	return k, err1 == nil && err2 == nil && err3 == nil && card > 0 && CardName(k) == name
}

// OtherForms are the parts of the same photo that are the same paper, read as other forms. A side with an identity has none,
// also where two papers carry it.
func (s Sheet) OtherForms() []int {
	if s.Read.Plain == nil {
		return nil
	}
	return s.Read.Plain.Or
}

// Undecided reports whether the paper was read as several forms, and nobody has said which of them it is.
func (s Sheet) Undecided() bool { return len(s.OtherForms()) > 0 && !s.Named() }

// Named reports whether it is known which card the side is. One that isn't has no rows for anybody.
func (s Sheet) Named() bool { return s.Read.Plain == nil && s.Code.Card == 0 || s.Card.Card > 0 }

// Renamable reports whether people say which card the side is: it carries no identity, or one that two papers carry.
func (s Sheet) Renamable() bool { return s.Read.Plain != nil || s.Code.Card > 0 }

// CardAsRead returns the card that a side was read as, whatever people said since.
func (s *Store) CardAsRead(ctx context.Context, id int64) (sheetmodel.CardKey, error) {
	sheet, err := s.sheetAsRead(ctx, id)
	return sheet.Card, err
}

// A card was copied, or a spare was numbered twice: then two papers carry one identity, and a person says so.
//
//	two-papers/run1/Blue/card-4    yes
//
// From then on no side with that identity is taken for a card by its code. Which one each is, a person says, as of a side without
// an identity; until then it has no rows for anybody.
const twoPapers = "two-papers/"

// TwoPapers is the key of the answer that two papers carry a card's identity.
func TwoPapers(card sheetmodel.CardKey) string { return twoPapers + CardName(card) }

// ParseTwoPapers takes such a key apart.
func ParseTwoPapers(key string) (sheetmodel.CardKey, bool) {
	name, found := strings.CutPrefix(key, twoPapers)
	card, ok := ParseCardName(name)
	return card, found && ok
}

// AnswerTwoPapers is its value.
const AnswerTwoPapers = "yes"

// name gives sides the cards that people say they are: those without an identity, and those whose identity two papers carry. What
// two copies of the race say differently names nothing until somebody says it again. Of one paper that was read as several forms,
// and of which two have a name, none has it; passed holds those of which another one has it.
func (s *Store) name(ctx context.Context, sheets []Sheet) (passed map[int64]bool, err error) {
	answers, err := s.whichSaid(ctx)
	if err != nil {
		return nil, err
	}
	last := map[string]string{}
	ever := map[string]bool{} // two papers had it, as somebody said once
	for _, a := range answers {
		last[a.Question] = a.Value
		ever[a.Question] = true
	}
	if len(answers) > 0 {
		disputes, err := s.disputesBut(ctx, DisputeReading)
		if err != nil {
			return nil, err
		}
		for _, d := range disputes {
			if d.Kind == DisputeAnswer {
				last[d.Subject] = disputed
			}
		}
	}
	passed = map[int64]bool{}
	for i := range sheets {
		sheet := &sheets[i]
		said := last[WhichCard(sheet.Photo, sheet.Part)]
		if sheet.Read.Plain == nil {
			two := TwoPapers(sheet.Card)
			if !ever[two] {
				continue
			}
			sheet.Code = sheet.Card
			if last[two] == "" {
				continue // one card again; what was typed meanwhile comes back to it
			}
			if said == "" {
				said = disputed
			}
		}
		if k, ok := ParseCardName(said); ok {
			sheet.Card = k
		} else if said != "" || len(sheet.OtherForms()) > 0 {
			sheet.Card = sheetmodel.CardKey{} // two copies differ, or somebody said that it isn't the card it was taken for
		}
		if slices.ContainsFunc(sheet.OtherForms(), func(part int) bool {
			_, ok := ParseCardName(last[WhichCard(sheet.Photo, part)])
			return ok
		}) {
			passed[sheet.ID] = !sheet.Named()
			sheet.Card = sheetmodel.CardKey{}
		}
	}
	return passed, nil
}

// disputed stands for an answer that two copies give differently.
const disputed = "?"
