package archive

import (
	"bytes"
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"image"
	"image/png"
	"io"
	"os"
	"slices"
	"strings"

	"gatefold/review/crop"
	"gatefold/review/jury"
	"gatefold/review/look"
	"gatefold/review/stack"
	"gatefold/review/store"
	"gatefold/rules"
	"gatefold/sheetmodel"
)

// leftOutText stands where a person wrote something in their own words.
const leftOutText = "(left out)"

// shareable makes a copy of the race in a folder of its own that tells no name, phone number or note, with
// pages on which only rows and panels are left, and returns the input for an archive of it. Everything is
// then made from that copy as it is from a race: what isn't in it can't get into the archive. done removes
// the copy. Pages that are damaged are added to the bag's left out if they may be.
func (b *bag) shareable(ctx context.Context, in Input) (share Input, done func() error, err error) {
	dir, err := os.MkdirTemp(b.dir, ".share-*")
	if err != nil {
		return in, nil, err
	}
	others := newAliases(in.Stack.Race)
	bindings, err := in.Store.Bindings(ctx)
	if err != nil {
		return in, nil, errors.Join(err, os.RemoveAll(dir))
	}
	for _, b := range bindings { // before anybody who typed is called by a number
		others.judge(b.Judge, b.Card.Card)
	}
	blacked := blackener(in)
	copied, err := in.Store.Share(ctx, dir, store.Hide{
		Person: others.person, Judge: others.judge, Answer: answer,
		Note: func(string) string { return leftOutText },
		Page: func(s store.Sheet) ([]byte, error) {
			if b.leaveOut && !sound(in.Store, s.Page, s.PageSHA256) {
				b.leftOut = append(b.leftOut, s.Page)
				return nil, nil
			}
			return blacked(s)
		},
	})
	if err != nil {
		return in, nil, errors.Join(err, os.RemoveAll(dir))
	}
	done = func() error { return errors.Join(copied.Close(), os.RemoveAll(dir)) }
	share = in
	race := others.race(*in.Stack.Race)
	share.Store, share.Folder = copied, cmp.Or(in.Folder, in.Store.Dir())
	if share.Stack, err = stack.Load(ctx, &race, copied); err != nil {
		return in, nil, errors.Join(err, done())
	}
	share.Result = rules.Check(share.Stack.Facts())
	share.Result.Incomplete = append(share.Result.Incomplete, rules.HeardOpen(in.Result)...)
	return share, done, nil
}

// aliases gives every person another name, the same each time.
type aliases struct {
	people map[string]string
	judges map[string]string
}

// newAliases calls the judges of the placing list by the number of their card, the first if they have several.
func newAliases(race *sheetmodel.Race) *aliases {
	n := &aliases{people: map[string]string{}, judges: map[string]string{}}
	for _, r := range race.Runs {
		for _, c := range r.Courses {
			for _, p := range c.Places {
				n.judge(p.Judge, p.Card)
			}
			for _, p := range c.Places {
				for _, x := range p.Relief {
					n.judge(x.Judge, p.Card)
				}
			}
		}
	}
	return n
}

// person calls somebody who typed by a number, and a judge who typed as judges are called: who is whom counts for looks.
func (n *aliases) person(name string) string {
	k := look.Person(name)
	if n.judges[k] != "" {
		return n.judges[k]
	}
	if n.people[k] == "" {
		n.people[k] = fmt.Sprintf("person %d", len(n.people)+1)
	}
	return n.people[k]
}

func (n *aliases) judge(name string, card int) string {
	if name == "" {
		return ""
	}
	k := look.Person(name)
	if n.judges[k] == "" {
		label := fmt.Sprintf("judge of card %d", card)
		taken := 1
		for _, l := range n.judges {
			if l == label || strings.HasPrefix(l, label+", ") {
				taken++
			}
		}
		if taken > 1 {
			label = fmt.Sprintf("%s, no. %d", label, taken) // one took over from another
		}
		n.judges[k] = label
	}
	return n.judges[k]
}

// race copies a race without names of racers, clubs and phones, and with judges by their cards.
func (n *aliases) race(race sheetmodel.Race) sheetmodel.Race {
	race.Starters = slices.Clone(race.Starters)
	for i := range race.Starters {
		race.Starters[i].Name, race.Starters[i].Club = "", ""
	}
	race.Runs = slices.Clone(race.Runs)
	for i := range race.Runs {
		race.Runs[i].Heard = nil // hearsay about racers
		race.Runs[i].Courses = slices.Clone(race.Runs[i].Courses)
		for j := range race.Runs[i].Courses {
			c := &race.Runs[i].Courses[j]
			c.Places = slices.Clone(c.Places)
			for k := range c.Places {
				p := &c.Places[k]
				if names(p.Name, p.Judge) || slices.ContainsFunc(p.Relief, func(x sheetmodel.Relief) bool { return names(p.Name, x.Judge) }) {
					p.Name = ""
				}
				p.Judge, p.Phone = n.judge(p.Judge, p.Card), ""
				p.Relief = slices.Clone(p.Relief)
				for m := range p.Relief {
					p.Relief[m].Judge, p.Relief[m].Phone = n.judge(p.Relief[m].Judge, p.Card), ""
				}
			}
		}
	}
	return race
}

// names reports whether a place is called after somebody.
func names(place, who string) bool {
	k := look.Person(who)
	return k != "" && strings.Contains(look.Person(place), k)
}

// answer leaves out what somebody wrote in their own words; the answers of questions are fixed words.
func answer(question, value string) string {
	if value == "" || !jury.IsKey(question) {
		return value
	}
	var v map[string]any
	if json.Unmarshal([]byte(value), &v) != nil {
		return leftOutText
	}
	for _, free := range []string{"why", "from", "reason", "present"} {
		switch x := v[free].(type) {
		case string:
			if x != "" {
				v[free] = leftOutText
			}
		case []any:
			for i := range x {
				x[i] = leftOutText
			}
		}
	}
	text, err := json.Marshal(v)
	if err != nil {
		return leftOutText
	}
	return string(text)
}

// blackener returns a function that blackens the page of a sheet but for its rows and its panels, before anything is
// encoded. What was written across a row's edge is cut off 1 mm beyond it. A page whose layout isn't at hand is
// none: nobody knows where on it a name stands.
func blackener(in Input) func(store.Sheet) ([]byte, error) {
	cutter := &crop.Cutter{Open: func(file string) (io.ReadCloser, error) { return in.Store.OpenFile(file) }}
	return func(s store.Sheet) ([]byte, error) {
		var side *sheetmodel.Side
		if in.Layout != nil {
			if l := in.Layout(s.Layout); l != nil {
				side = l.Side(s.Side)
			}
		}
		if side == nil || s.PagePxPerMM <= 0 {
			return nil, nil
		}
		stored, err := readStored(in.Store, s.Page)
		if err != nil {
			return nil, err
		}
		size, _, err := image.DecodeConfig(bytes.NewReader(stored))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", s.Page, err)
		}
		k := crop.Crop{
			Sheet: s.ID, Side: s.Side, Page: s.Page, SHA256: s.PageSHA256, PxPerMM: s.PagePxPerMM, Show: crop.ShownParts(side),
			Rect: sheetmodel.Rect{W: sheetmodel.MM(float64(size.Width) / s.PagePxPerMM), H: sheetmodel.MM(float64(size.Height) / s.PagePxPerMM)},
		}
		page, err := cutter.Cut(k)
		if err != nil {
			return nil, err
		}
		var out bytes.Buffer
		if err = png.Encode(&out, page); err != nil {
			return nil, fmt.Errorf("%s: %w", s.Page, err)
		}
		return out.Bytes(), nil
	}
}
