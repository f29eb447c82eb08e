package store

import (
	"encoding/json"
	"slices"
	"strings"

	"gatefold/review/jury"
	"gatefold/sheetmodel"
)

// Each copy of a race numbers the sides that its own reader found in a photo. Two copies that have read one photo each by itself may
// have numbered them otherwise: what was said of a number in the one was said of another sheet of paper than has it in the other.

// otherSides are disputes about what only one of two copies said of a side by its number in a photo, where that number is another
// side's in the other: it names nothing until somebody says it again.
func (w *join) otherSides() []Dispute {
	var all []Dispute
	for _, kind := range []DisputeKind{DisputeAnswer, DisputeBinding} {
		table, subject, word := "answers", func(r *kin) string { return r.text("question") }, "answer"
		if kind == DisputeBinding {
			table, subject, word = "bindings", cardOf, "gates"
		}
		for _, two := range [][2]*snapshot{{w.ours, w.theirs}, {w.theirs, w.ours}} {
			last, moved := map[string]string{}, map[string]bool{}
			for _, r := range two[0].rows[table] {
				last[subject(r)] = r.text(word)
				if !two[1].holds(r.said) && movedSides(two[0], two[1], papersOf(r)) {
					moved[subject(r)] = true
				}
			}
			for s := range moved {
				if last[s] == "" {
					continue // taken back: it names nothing anyway
				}
				d := Dispute{Kind: kind, Subject: s, Ours: last[s]}
				if two[0] == w.theirs {
					d.Ours, d.Theirs = "", last[s]
				}
				all = append(all, d)
			}
		}
	}
	return all
}

// otherPapers are disputes about a question that two copies answered otherwise, each at a photo of the card that the other hadn't: kept
// with its photo, neither answer is the other's by its key, and the one that was joined last would count. So it is where the jury's verdict
// on one line is kept with another protest in each, and a clock would choose. What is said of a question of which such a dispute waits here
// settles none in a copy that doesn't know of it.
func (w *join) otherPapers(unsettled map[string]Dispute) []Dispute {
	said := func(mine, other *snapshot) (last map[string]string, fresh map[string][]string) {
		last, fresh = map[string]string{}, map[string][]string{}
		for _, r := range mine.rows["answers"] {
			subject := r.text("question")
			key := questionOf(subject)
			if last[key] = r.text("answer"); !other.holds(r.said) && !slices.Contains(fresh[key], subject) {
				fresh[key] = append(fresh[key], subject)
			}
		}
		return last, fresh
	}
	ours, here := said(w.ours, w.theirs)
	theirs, there := said(w.theirs, w.ours)
	open := map[string]bool{}
	for _, d := range unsettled {
		if d.Kind == DisputeAnswer {
			open[questionOf(d.Subject)] = true
		}
	}
	var all []Dispute
	for key := range there {
		subjects := slices.Concat(here[key], there[key])
		slices.Sort(subjects)
		if subjects = slices.Compact(subjects); len(here[key]) == 0 || len(subjects) < 2 || sameWord(key, ours[key], theirs[key]) && !open[key] {
			continue
		}
		for _, subject := range subjects {
			all = append(all, Dispute{Kind: DisputeAnswer, Subject: subject, Ours: ours[key], Theirs: theirs[key]})
		}
	}
	return all
}

// twoOrOne are disputes about sides that one copy calls by the numbers of two papers, where the other says which of their photos shows the one
// card: they have no name until somebody says it again, who may know of both.
func (w *join) twoOrOne() []Dispute {
	fresh := func(mine, other *snapshot) map[string]string {
		last := map[string]string{}
		for _, r := range mine.rows["answers"] {
			if !other.holds(r.said) {
				last[r.text("question")] = r.text("answer")
			}
		}
		return last
	}
	var all []Dispute
	for _, two := range [][2]*snapshot{{w.ours, w.theirs}, {w.theirs, w.ours}} {
		names := fresh(two[1], two[0])
		for question, counts := range fresh(two[0], two[1]) {
			card, papers, ok := photosCompared(question)
			if !ok || counts == "" || !slices.ContainsFunc(papers, func(p string) bool { name := names[whichCard+p]; return name != "" && name != card }) {
				continue
			}
			for _, paper := range papers {
				d := Dispute{Kind: DisputeAnswer, Subject: whichCard + paper, Ours: counts, Theirs: names[whichCard+paper]}
				if d.Theirs == "" {
					continue
				}
				if two[0] == w.theirs {
					d.Ours, d.Theirs = d.Theirs, d.Ours
				}
				all = append(all, d)
			}
		}
	}
	return all
}

// TwoPhotos begins the key of the answer which of two photos of a side of a card counts: then the card, the side, and the papers in the photos.
const TwoPhotos = "two-photos"

// photosCompared takes such a key apart; false for any other.
func photosCompared(question string) (card string, papers []string, ok bool) {
	rest, ours := strings.CutPrefix(question, TwoPhotos+"/")
	parts := strings.Split(rest, "/")
	if !ours || len(parts) < 4 {
		return "", nil, false
	}
	end := len(parts) - 2
	return strings.Join(parts[:end-1], "/"), parts[end:], true
}

// questionOf is what an answer is about, whichever photo or protest it is kept with.
func questionOf(subject string) string {
	if line, _, ok := jury.DecisionOf(subject); ok {
		return line
	}
	key, _ := cutPaper(subject)
	return key
}

// sameWord reports whether two answers say the same. The jury may decide on two protests at two times, and let the line stand both times.
func sameWord(question, a, b string) bool {
	if jury.IsDecision(question) {
		return jury.VerdictIn(a) == jury.VerdictIn(b)
	}
	return a == b
}

// papersOf names the sides by which an answer or a binding says what it is about.
func papersOf(r *kin) []string {
	said := r.text("question")
	if r.table == "bindings" {
		said = r.text("source")
	}
	if photo, part, ok := ParseWhichCard(said); ok {
		return []string{PaperName(photo, part)}
	}
	if _, paper := cutPaper(said); paper != "" {
		return strings.Split(paper, "+")
	}
	return nil
}

// movedSides reports whether one of the papers is another side in one copy than in the other, or none in one of them, though
// both have read its photo.
func movedSides(a, b *snapshot, papers []string) bool {
	for _, paper := range papers {
		photo, part, ok := ParsePaperName(paper)
		if !ok {
			continue
		}
		here, readHere := a.sideAt(photo, part)
		there, readThere := b.sideAt(photo, part)
		if !readHere || !readThere || here == nil {
			continue
		}
		if there == nil || liesElsewhere(here, there) || here.text("layout") != there.text("layout") || a.forked(here) != b.forked(there) {
			return true
		}
	}
	return false
}

// sideAt is the newest reading of a side by its number in a photo, nil if nobody found one; read reports whether the photo was read.
// photo may be the beginning of its name.
func (s *snapshot) sideAt(photo string, part int) (side *kin, read bool) {
	for _, r := range s.rows["sheets"] {
		if !strings.HasPrefix(r.text("photo"), photo) {
			continue
		}
		if read = true; r.number("part") == int64(part) {
			side = r
		}
	}
	return side, read
}

// forked reports whether a side was read as one of several forms.
func (s *snapshot) forked(side *kin) bool {
	for _, r := range s.rows["reads"] {
		if r.number("sheet") == side.id && strings.Contains(r.text("body"), orInBody) {
			return true
		}
	}
	return false
}

func cornersOf(r *kin) (c [4]sheetmodel.PhotoPoint) {
	if json.Unmarshal([]byte(r.text("corners")), &c) != nil {
		return [4]sheetmodel.PhotoPoint{} // as where it isn't known
	}
	return c
}

// liesAs reports whether two sheets of one photo lie at the same place in it.
func liesAs(a, b *kin) bool { return samePlace(cornersOf(a), cornersOf(b)) }

// liesElsewhere reports whether it is known of both where they lie, and that is not the same place.
func liesElsewhere(a, b *kin) bool {
	x, y := cornersOf(a), cornersOf(b)
	none := [4]sheetmodel.PhotoPoint{}
	return x != none && y != none && !samePlace(x, y)
}
