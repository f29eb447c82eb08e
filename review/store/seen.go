package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"slices"
	"strings"
)

// What a photo shows may be newer than what somebody said, and the other way round. Within one copy of the race the numbers of the log tell
// which came first. When another copy is joined, what was said there gets numbers from here, and the clocks of two laptops needn't agree.
// So each decision, answer and reason for a gap is kept with what its own copy held at that moment: which photos had come in, which sides had
// been found in them, and as which forms. A photo that isn't among them was not known to whoever said it. So it is with the rows that people
// had added to cards by hand, for what is typed of one is typed of the box that was drawn around it, and with what people had said of such rows.
//
// Such sets are named by their content, so that two copies name the same one alike, and each is kept once, as what it has more than an
// older one.

// nothingSeen names the empty set, which needs no row.
const nothingSeen = "nothing"

// AddedRow and EnteredRow begin the keys of the answers that a row which no reader saw stands on a card, and whether one that was entered does.
const (
	AddedRow   = "row-added"
	EnteredRow = "row-entered"
)

// Sights are the sets of photos, papers and words about rows that no reader saw that copies of the race held when something was said, by their names.
type Sights map[string]sight

type sight struct {
	base  string // the set that it has all of; empty: none
	items map[string]bool
}

// Photo reports whether a photo had come in, in the copy in which something was said; known is false where nobody kept that, as older
// programs didn't. Where the row that would tell is lost, it hadn't: what is said without a photo counts for less.
func (t Sights) Photo(seen, photo string) (in, known bool) { return t.has(seen, photoItem(photo)) }

// Paper does the same for a side that was found in a photo, by any reader.
func (t Sights) Paper(seen string, at Ink) (in, known bool) {
	return t.has(seen, PaperName(at.Photo, at.Part))
}

// Form reports whether a side that was found in a photo had been taken for a form, by its layout, in the copy in which something was said;
// known is false where nobody kept that, as older programs didn't.
func (t Sights) Form(seen string, at Ink, layout string) (in, known bool) {
	if known = t.keepsForms(seen); known {
		in, _ = t.has(seen, formItem(at, layout))
	}
	return in, known
}

// keepsForms reports whether a set was kept since it names forms, and what was said of rows. The empty one has none of either.
func (t Sights) keepsForms(seen string) bool {
	kept, _ := t.has(seen, formsKept)
	return kept || seen == nothingSeen
}

// Answer does the same for an answer about a row that no reader saw, under AddedRow or EnteredRow.
func (t Sights) Answer(seen string, a Answer) (in, known bool) {
	if known = t.keepsForms(seen); known {
		in, _ = t.has(seen, answerItem(a))
	}
	return in, known
}

func (t Sights) has(seen, item string) (in, known bool) {
	known = seen != ""
	for range len(t) { // no chain is longer
		if in = t[seen].items[item]; in || t[seen].base == "" {
			break
		}
		seen = t[seen].base
	}
	return in, known
}

// whole lists a set, sorted; false where a part of it is lost.
func (t Sights) whole(seen string) ([]string, bool) {
	var all []string
	for range len(t) {
		s, ok := t[seen]
		if !ok {
			return nil, false
		}
		for item := range s.items {
			all = append(all, item)
		}
		if seen = s.base; seen == "" {
			slices.Sort(all)
			return slices.Compact(all), true
		}
	}
	return nil, false
}

// photoItem is how a photo stands in a set: as papers begin, see PaperName.
func photoItem(photo string) string { return photo[:min(12, len(photo))] }

// formsKept is in each set that names the forms of its sides.
const formsKept = "forms"

// formItem is how a side that was taken for a form stands in a set.
func formItem(at Ink, layout string) string {
	sum := sha256.Sum256([]byte(layout))
	return PaperName(at.Photo, at.Part) + "=" + hex.EncodeToString(sum[:6])
}

// answerItem is how such an answer stands in a set: by what it says and when, for its card may get another number, and people may be forgotten.
func answerItem(a Answer) string {
	at := stampOf(a.At)
	sum := sha256.Sum256(fmt.Appendf(nil, "%s\x00%s\x00%d", a.Value, at.utc.String, at.offset.Int64))
	return "said-" + hex.EncodeToString(sum[:6])
}

const selectSights = `SELECT name, base, items FROM sights ORDER BY id`

type namedSight struct {
	name string
	sight
}

func scanSight(scan func(...any) error) (s namedSight, err error) {
	var items string
	err = scan(&s.name, &s.base, &items)
	s.items = map[string]bool{}
	for item := range strings.FieldsSeq(items) {
		s.items[item] = true
	}
	return s, err
}

// Sights returns all sets that were ever named.
func (s *Store) Sights(ctx context.Context) (Sights, error) {
	all, err := collect(ctx, s.db, scanSight, selectSights)
	t := Sights{}
	for _, one := range all {
		t[one.name] = one.sight
	}
	return t, err
}

// seen names what this copy holds now, and keeps that set where nobody has named it yet.
func (j *journal) seen() (string, error) {
	if j.sight != "" {
		return j.sight, nil
	}
	photos, err := collect(j.ctx, j.tx, func(scan func(...any) error) (photo string, err error) {
		err = scan(&photo)
		return photoItem(photo), err
	}, `SELECT sha256 FROM photos`)
	if err != nil {
		return "", err
	}
	papers, err := collect(j.ctx, j.tx, func(scan func(...any) error) (string, error) {
		var at Ink
		err := scan(&at.Photo, &at.Part)
		return PaperName(at.Photo, at.Part), err
	}, `SELECT DISTINCT photo, part FROM sheets`)
	if err != nil {
		return "", err
	}
	forms, err := collect(j.ctx, j.tx, func(scan func(...any) error) (string, error) {
		var at Ink
		var layout string
		err := scan(&at.Photo, &at.Part, &layout)
		return formItem(at, layout), err
	}, `SELECT DISTINCT photo, part, layout FROM sheets`)
	if err != nil {
		return "", err
	}
	said, err := collect(j.ctx, j.tx, func(scan func(...any) error) (string, error) {
		var a Answer
		var at stamp
		err := scan(&a.Value, &at.utc, &at.offset)
		if err == nil {
			a.At, err = at.time()
		}
		return answerItem(a), err
	}, `SELECT answer, at_utc, at_offset_s FROM answers WHERE question LIKE '`+AddedRow+`/%' OR question LIKE '`+EnteredRow+`/%'`)
	if err != nil {
		return "", err
	}
	items := slices.Concat(photos, papers, forms, said)
	if len(items) == 0 {
		return nothingSeen, nil
	}
	items = append(items, formsKept)
	slices.Sort(items)
	items = slices.Compact(items)
	sum := sha256.Sum256([]byte(strings.Join(items, "\n")))
	name := hex.EncodeToString(sum[:16])
	kept, err := collect(j.ctx, j.tx, scanSight, selectSights)
	if err != nil {
		return "", err
	}
	t := Sights{}
	for _, s := range kept {
		t[s.name] = s.sight
	}
	if _, ok := t[name]; !ok {
		base, more := t.largestIn(kept, items)
		at := stampOf(j.at)
		if _, err = j.add(`INSERT INTO sights (id, name, base, items, at_utc, at_offset_s) VALUES ($1, $2, $3, $4, $5, $6)`,
			name, base, strings.Join(more, " "), at.utc, at.offset); err != nil {
			return "", err
		}
	}
	j.sight = name
	return name, nil
}

// largestIn finds the newest set that holds nothing but items, and what they have more. One that came from another copy may hold what was
// found there only.
func (t Sights) largestIn(kept []namedSight, items []string) (base string, more []string) {
	for _, s := range slices.Backward(kept) {
		all, ok := t.whole(s.name)
		if !ok || slices.ContainsFunc(all, func(item string) bool { _, in := slices.BinarySearch(items, item); return !in }) {
			continue
		}
		return s.name, slices.DeleteFunc(slices.Clone(items), func(item string) bool { _, in := slices.BinarySearch(all, item); return in })
	}
	return "", items
}
