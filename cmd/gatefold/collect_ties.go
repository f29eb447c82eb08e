package main

import (
	"context"
	"errors"
	"slices"

	"gatefold/cmd/internal/reading"
	"gatefold/ocr/joint"
	"gatefold/review/look"
	"gatefold/review/store"
	"gatefold/sheetmodel"
)

// tie reads the two writings of each row together, for every front with every back of its card: a person
// may say of any two photos which one counts.
func (in *intake) tie(ctx context.Context, forms *reading.Forms) (err error) {
	r, err := reading.Open(forms, reading.Options{})
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, r.Close()) }()
	return in.tieAll(ctx, r.Version(), r.Judge())
}

func (in *intake) tieAll(ctx context.Context, reader string, judge joint.Judge) error {
	sheets, err := in.store.Sheets(ctx)
	if err != nil {
		return err
	}
	before, err := in.store.Ties(ctx)
	if err != nil {
		return err
	}
	backs := map[sheetmodel.CardKey][]store.Sheet{}
	for _, s := range sheets {
		if s.Side == sheetmodel.Back && s.Named() {
			backs[s.Card] = append(backs[s.Card], s)
		}
	}
	for _, front := range sheets {
		if front.Side != sheetmodel.Front || !front.Named() {
			continue
		}
		all := backs[front.Card]
		if len(all) == 0 {
			all = []store.Sheet{{}} // second boxes need none
		}
		for _, back := range all {
			if slices.ContainsFunc(before, func(t store.CardTies) bool { return t.Front == front.ID && t.Back == back.ID && t.Reader == reader }) {
				continue
			}
			ties := store.CardTies{Front: front.ID, Back: back.ID, Reader: reader}
			second := back.Read.Reading
			// A card of another make may have its panels beside its rows, whatever its back is for.
			second.Strips = slices.Concat(front.Read.Reading.Strips, second.Strips)
			for _, pair := range joint.Card(front.Read.Reading, second, judge) {
				ties.Ties = append(ties.Ties, tiedOf(pair, front.Read.Reading, second))
			}
			if err := in.store.AddTies(ctx, ties); err != nil {
				return err
			}
		}
	}
	return nil
}

// tiedOf says what a pair lends to its row.
func tiedOf(p joint.Pair, front, back sheetmodel.SheetReading) look.Tied {
	t := look.Tied{
		Row: p.Row, Panel: p.Panel, Entry: p.Entry, Text: p.Both.Text,
		Clear: p.Fault == "" && p.Both.State == sheetmodel.Clear, Certainty: p.Both.Certainty,
		Differs: p.Fault == sheetmodel.DoubtWritings, Detail: p.Detail,
	}
	if !t.Clear && t.Detail == "" && len(p.Both.Doubts) > 0 {
		t.Detail = p.Both.Doubts[0].Detail
	}
	if p.Kind == sheetmodel.LookSecondBox {
		for _, r := range front.Rows {
			if r.Number == p.Row {
				t.Second = r.BibAgain.Text
			}
		}
		return t
	}
	for _, s := range back.Strips {
		if s.Panel == p.Panel && s.Entry == p.Entry {
			t.Second = s.Bib.Text
		}
	}
	return t
}
