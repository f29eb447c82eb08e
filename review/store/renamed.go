package store

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"gatefold/review/look"
	"gatefold/sheetmodel"
)

// A side without an identity has the name that its header or a person gives it, and may get another. The ink stays what
// it was: whoever was shown what stands there, or has typed it, knows it under every name.

// names returns the keys under which the ink of a reading was ever known, by readers and by people; key is among them. Another
// photo of the same paper has a name in common with it, though perhaps another than key: its other names are among them too.
// They are too many rather than too few where a name went from one side to another: then somebody types once more.
func (j *journal) names(key string) ([]string, error) {
	keys, err := j.namesOfInk(key)
	for _, name := range slices.Clone(keys) {
		if err != nil {
			return nil, err
		}
		if name == key {
			continue
		}
		var more []string
		more, err = j.namesOfInk(name)
		for _, k := range more {
			if !slices.Contains(keys, k) {
				keys = append(keys, k)
			}
		}
	}
	return keys, err
}

// namesOfInk are the names of all ink that was ever called by key.
func (j *journal) namesOfInk(key string) ([]string, error) {
	card, side, field, err := ParseKey(key)
	if err != nil {
		return nil, err
	}
	type ink struct {
		photo string // its name, or the beginning of it
		part  int
	}
	var inks []ink
	err = j.each(func(scan func(...any) error) error {
		var i ink
		err := scan(&i.photo, &i.part)
		inks = append(inks, i)
		return err
	}, `SELECT DISTINCT photo, part FROM sheets WHERE run = $1 AND course = $2 AND card = $3 AND side = $4`, card.Run, card.Course, card.Card, string(side))
	said := j.each(func(scan func(...any) error) error {
		var question string
		err := scan(&question)
		if photo, part, ok := ParseWhichCard(question); ok {
			inks = append(inks, ink{photo, part})
		}
		return err
	}, `SELECT DISTINCT question FROM answers WHERE answer = $1`, CardName(card))
	if err = errors.Join(err, said); err != nil {
		return nil, err
	}
	for _, i := range slices.Clone(inks) {
		forms, err := j.otherForms(i.photo, i.part)
		if err != nil {
			return nil, err
		}
		for _, part := range forms {
			inks = append(inks, ink{i.photo, part})
		}
	}
	keys := []string{key}
	add := func(k sheetmodel.CardKey) {
		if name := Key(k, side, field); k.Card > 0 && !slices.Contains(keys, name) {
			keys = append(keys, name)
		}
	}
	for _, i := range inks {
		of := 0
		err = j.each(func(scan func(...any) error) error {
			var k sheetmodel.CardKey
			err := scan(&k.Run, &k.Course, &k.Card)
			add(k)
			of++
			return err
		}, `SELECT DISTINCT run, course, card FROM sheets WHERE photo LIKE $1 AND part = $2 AND side = $3`, i.photo+"%", i.part, string(side))
		if err == nil && of > 0 {
			err = j.each(func(scan func(...any) error) error {
				var answer string
				err := scan(&answer)
				if k, ok := ParseCardName(answer); ok {
					add(k)
				}
				return err
			}, `SELECT DISTINCT answer FROM answers WHERE question = $1`, WhichCard(i.photo, i.part))
		}
		if err != nil {
			return nil, err
		}
	}
	return keys, nil
}

// otherForms are the parts of a photo that are the same paper as one of them, as any reader took it for several forms. Whoever was
// shown what stands on a paper that was taken for one of them has seen its ink. photo may be the beginning of its name.
func (j *journal) otherForms(photo string, part int) (parts []int, err error) {
	err = j.each(func(scan func(...any) error) error {
		var of int
		var body string
		if err := scan(&of, &body); err != nil {
			return err
		}
		forms, err := formsIn(body)
		if err != nil || len(forms) == 0 || of != part && !slices.Contains(forms, part) {
			return err
		}
		for _, o := range append(forms, of) {
			if o != part && !slices.Contains(parts, o) {
				parts = append(parts, o)
			}
		}
		return nil
	}, `SELECT s.part, r.body FROM sheets s JOIN reads r ON r.sheet = s.id WHERE s.photo LIKE $1 AND r.body LIKE '%' || $2 || '%' ORDER BY s.id`, photo+"%", orInBody)
	return parts, err
}

// orInBody is in the body of every reading that names other forms, and seldom in another's.
const orInBody = `"or":[`

// formsIn are the other forms that the body of a reading names.
func formsIn(body string) ([]int, error) {
	var read struct {
		Plain *PlainCard `json:"plain"`
	}
	if err := json.Unmarshal([]byte(body), &read); err != nil {
		return nil, fmt.Errorf("store: %w", err)
	}
	if read.Plain == nil {
		return nil, nil
	}
	return read.Plain.Or, nil
}

// seenElsewhere takes the blindness from entries about a side that gets the number of another photo of the same paper, and from
// those about that other photo, where their typist had been shown the text on the other of the two: typed of one photo
// and shown on the other, it was one ink all along. So it is where they had written down a call on the course that the card
// turns out to be of. photo may be the beginning of its name. It returns how many there are.
func (j *journal) seenElsewhere(photo string, part int, card sheetmodel.CardKey) (found int, err error) {
	type typed struct {
		id int64
		e  Entry
	}
	var all []typed
	err = j.each(func(scan func(...any) error) error {
		var t typed
		err := scan(&t.id, &t.e.Reading, &t.e.By, &t.e.Session)
		all = append(all, t)
		return err
	}, `SELECT d.id, d.reading, d.person, d.session FROM decisions d LEFT JOIN sheets s ON s.id = d.sheet
		WHERE (s.photo LIKE $1 AND s.part = $2 OR d.reading LIKE $3) AND (d.blind = 1 OR d.read_back = 1) ORDER BY d.id`, photo+"%", part, CardName(card)+"/%")
	if err != nil {
		return 0, err
	}
	calls, err := j.callsOn(card)
	if err != nil {
		return 0, err
	}
	at := stampOf(j.at)
	for _, t := range all {
		told, err := j.didAny(t.e, `SELECT session, person FROM served WHERE reading = $1 AND reveals = 1 AND id < $2`, t.id)
		if err != nil {
			return found, err
		}
		told = told || calls[look.Person(t.e.By)] > 0 && calls[look.Person(t.e.By)] < t.id && bibElsewhere(t.e.Reading, card)
		var known int
		if err = j.tx.QueryRowContext(j.ctx, `SELECT COUNT(*) FROM sighted WHERE decision = $1`, t.id).Scan(&known); err != nil {
			return found, fmt.Errorf("store: %w", err)
		}
		if !told || known > 0 {
			continue
		}
		if _, err = j.add(`INSERT INTO sighted (id, decision, why, at_utc, at_offset_s) VALUES ($1, $2, $3, $4, $5)`,
			t.id, "known to the same person under another number of its card", at.utc, at.offset); err != nil {
			return found, err
		}
		found++
	}
	return found, nil
}

// callsOn returns who wrote down a call that names a bib where a card was used, by person, with the number of the first one. A
// spare may have been used anywhere.
func (j *journal) callsOn(card sheetmodel.CardKey) (map[string]int64, error) {
	calls := map[string]int64{}
	err := j.each(func(scan func(...any) error) error {
		var id int64
		var h HeardEntry
		err := scan(&id, &h.Run, &h.Course, &h.Gate, &h.Bib.Number, &h.Words, &h.Strikes, &h.By)
		here := card.Run == 0 || h.Run == card.Run && h.Course == card.Course
		if by := look.Person(h.By); err == nil && here && h.NamesBib() && calls[by] == 0 {
			calls[by] = id
		}
		return err
	}, `SELECT id, run, course, gate, bib, words, strikes, person FROM heard ORDER BY id`)
	return calls, err
}

// bibElsewhere reports whether a reading was a bib's on another course than a card's: on the same one, whether a call was known was
// looked at gate by gate when it was typed.
func bibElsewhere(reading string, card sheetmodel.CardKey) bool {
	k, _, _, err := ParseKey(reading)
	return err == nil && ofBib(reading) && (k.Run != card.Run || k.Course != card.Course)
}

func ofBib(reading string) bool {
	return strings.HasSuffix(reading, "."+string(sheetmodel.PartBib))
}

// called does what follows from an answer to the question which card a side is of; of any other answer nothing does.
func (j *journal) called(a Answer) (seen int, err error) {
	photo, part, ok := ParseWhichCard(a.Question)
	card, named := ParseCardName(a.Value)
	if !ok || !named {
		return 0, nil
	}
	return j.seenElsewhere(photo, part, card)
}

// each hands out the rows of a query.
func (j *journal) each(do func(scan func(...any) error) error, query string, args ...any) error {
	rows, err := j.tx.QueryContext(j.ctx, query, args...)
	if err != nil {
		return fmt.Errorf("store: %w", err)
	}
	defer rows.Close() //nolint:errcheck // rows.Err below tells of any fault of reading
	for rows.Next() {
		if err = do(rows.Scan); err != nil {
			return fmt.Errorf("store: %w", err)
		}
	}
	if err = rows.Err(); err != nil {
		return fmt.Errorf("store: %w", err)
	}
	return nil
}

// Ink is where a sheet was found: the part-th side in a photo, whichever reader found it and whatever it is called.
type Ink struct {
	Photo string
	Part  int
}

// Follow gives the decisions about sides without an identity, or with one that two papers carry, the names that their sides have now, in place: what was typed
// of such a side was typed of its ink. It goes with the ink when the side gets another name, and never counts for another
// sheet of paper that has the old name now, for nobody has typed that. Decisions of a side of which nobody knows the card
// get a name that is no reading's, so that they count nowhere and stay in the log. sheets and inks are the store's.
func Follow(decisions []Decision, sheets []Sheet, inks map[int64]Ink) {
	plain := map[Ink]*Sheet{}
	for i := range sheets {
		if s := &sheets[i]; s.Renamable() {
			plain[Ink{Photo: s.Photo, Part: s.Part}] = s
		}
	}
	for i := range decisions {
		d := &decisions[i]
		s := plain[inks[d.Sheet]]
		card, side, field, err := ParseKey(d.Reading)
		switch {
		case s == nil, err != nil, side != s.Side, s.Named() && card == s.Card:
		case s.Named():
			d.Reading = s.Key(field)
		default:
			d.Reading = WhichCard(s.Photo, s.Part) + "/" + string(side) + "/" + field
		}
	}
}

// called says by which names the ink of two copies of a race was ever known, in either.
type called struct {
	inks  map[sideAt][]inkAt
	cards map[inkAt][]sheetmodel.CardKey
}

type sideAt struct {
	card sheetmodel.CardKey
	side string
}

type inkAt struct {
	photo string
	part  int64
	side  string
}

func calledIn(copies ...*snapshot) called {
	c := called{inks: map[sideAt][]inkAt{}, cards: map[inkAt][]sheetmodel.CardKey{}}
	call := func(ink inkAt, card sheetmodel.CardKey) {
		if card.Card > 0 && !slices.Contains(c.cards[ink], card) {
			c.cards[ink] = append(c.cards[ink], card)
			at := sideAt{card, ink.side}
			c.inks[at] = append(c.inks[at], ink)
		}
	}
	found := map[string][]inkAt{} // by the question which card they are of
	for _, s := range copies {
		for _, r := range s.rows["sheets"] {
			ink := inkAt{r.text("photo"), r.number("part"), r.text("side")}
			call(ink, sheetmodel.CardKey{Run: int(r.number("run")), Course: r.text("course"), Card: int(r.number("card"))})
			which := WhichCard(ink.photo, int(ink.part))
			if !slices.Contains(found[which], ink) {
				found[which] = append(found[which], ink)
			}
		}
	}
	for _, s := range copies {
		for _, r := range s.rows["answers"] {
			card, ok := ParseCardName(r.text("answer"))
			for _, ink := range found[r.text("question")] {
				if ok {
					call(ink, card)
				}
			}
		}
	}
	for _, s := range copies { // one paper, read as several forms, had all their names
		for _, r := range s.rows["reads"] {
			sheet, body := s.byID["sheets"][r.number("sheet")], r.text("body")
			if sheet == nil || !strings.Contains(body, orInBody) {
				continue
			}
			forms, err := formsIn(body)
			if err != nil {
				continue // it can't be looked at anyway
			}
			here := inkAt{sheet.text("photo"), sheet.number("part"), sheet.text("side")}
			for _, part := range forms {
				there := inkAt{here.photo, int64(part), here.side}
				for _, card := range slices.Clone(c.cards[there]) {
					call(here, card)
				}
				for _, card := range slices.Clone(c.cards[here]) {
					call(there, card)
				}
			}
		}
	}
	return c
}

// names does for two copies what journal.names does for one.
func (c called) names(key string) []string {
	keys := c.namesOfInk(key)
	for _, name := range slices.Clone(keys) {
		for _, k := range c.namesOfInk(name) {
			if !slices.Contains(keys, k) {
				keys = append(keys, k)
			}
		}
	}
	return keys
}

func (c called) namesOfInk(key string) []string {
	keys := []string{key}
	card, side, field, err := ParseKey(key)
	if err != nil {
		return keys
	}
	for _, ink := range c.inks[sideAt{card, string(side)}] {
		for _, k := range c.cards[ink] {
			if name := Key(k, side, field); !slices.Contains(keys, name) {
				keys = append(keys, name)
			}
		}
	}
	return keys
}

// Forms returns as which form every sheet was read, by the content hash of its layout, also those that a later reader replaced.
func (s *Store) Forms(ctx context.Context) (map[int64]string, error) {
	all := map[int64]string{}
	_, err := collect(ctx, s.db, func(scan func(...any) error) (id int64, err error) {
		var layout string
		err = scan(&id, &layout)
		all[id] = layout
		return id, err
	}, `SELECT id, layout FROM sheets ORDER BY id`)
	return all, err
}

// Inks returns where every sheet was found, also those that a later reader replaced.
func (s *Store) Inks(ctx context.Context) (map[int64]Ink, error) {
	all := map[int64]Ink{}
	_, err := collect(ctx, s.db, func(scan func(...any) error) (id int64, err error) {
		var i Ink
		err = scan(&id, &i.Photo, &i.Part)
		all[id] = i
		return id, err
	}, `SELECT id, photo, part FROM sheets ORDER BY id`)
	return all, err
}

// PhotosOfTwo names the photos in which a reader found one side of one card twice: as of two papers with one number. Their sides keep
// their parts by where they lie.
func (s *Store) PhotosOfTwo(ctx context.Context) (map[string]bool, error) {
	all := map[string]bool{}
	_, err := collect(ctx, s.db, func(scan func(...any) error) (photo string, err error) {
		err = scan(&photo)
		all[photo] = true
		return photo, err
	}, `SELECT DISTINCT a.photo FROM sheets a JOIN sheets b ON b.outcome = a.outcome AND b.id > a.id AND
		b.run = a.run AND b.course = a.course AND b.card = a.card AND b.side = a.side`)
	return all, err
}
