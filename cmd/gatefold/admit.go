package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"gatefold/cmd/internal/reading"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/propose"
	"gatefold/sheetmodel/racefolder"
)

func admitCommand(a *app) *cobra.Command {
	var blank string
	c := &cobra.Command{
		Use:   "admit RACE LAYOUT.yaml --blank PICTURE",
		Short: "Let a race take cards of another make, whose layout you described",
		Long: `Keeps the layout and the picture of the blank card in the race folder. From then on gatefold collect and the
desk know the card: in each photo they look for our own marks first, and then for the print of such cards. A race may
have several. A card that can't be told from itself upside down, or from another one that the race has, is refused:
its photos would be read in the wrong rows.

Such a card says to no machine which one it is. Its photos are kept, and the desk asks whose card each side is, unless
number, run, course and gates in its header are all certain and agree with the placing list.

PICTURE is what gatefold describe was given. Nothing is overwritten; admitting the same card again changes nothing.`,
		Example: "  gatefold admit spring-race league.yaml --blank league-card.pdf",
		Args:    cobra.ExactArgs(2),
		RunE: func(c *cobra.Command, args []string) error {
			if blank == "" {
				return usageErrorf("admit: name the picture of the blank card with --blank")
			}
			return a.admit(c.Context(), args[0], args[1], blank)
		},
	}
	c.Flags().StringVar(&blank, "blank", "", "picture of the blank card, as for gatefold describe")
	return c
}

func (a *app) admit(ctx context.Context, dir, file, blank string) error {
	folder, err := racefolder.Open(dir)
	if err != nil {
		return err
	}
	l, err := readLayout(file)
	if err != nil {
		return err
	}
	if slices.ContainsFunc(l.Sides, func(s sheetmodel.Side) bool { return len(s.Marks) > 0 }) {
		return fmt.Errorf("layout %s: has marks of ours; such cards are printed and kept by gatefold cards", file)
	}
	if !slices.ContainsFunc(l.Sides, hasBibs) {
		return fmt.Errorf("layout %s: no column of it is for bibs, so no row could name a racer; give one the part bib", file)
	}
	if twice := l.TwoPlaces(); len(twice) > 0 {
		return fmt.Errorf("layout %s: %s", file, twice[0])
	}
	for _, wrong := range [][]string{l.OneInk(), l.OtherRows()} {
		if len(wrong) > 0 {
			return fmt.Errorf("layout %s: %s", file, wrong[0])
		}
	}
	blanks, err := blanksOf(ctx, file, blank, l)
	if err != nil {
		return err
	}
	if err := samePictures(folder, l, blanks); err != nil {
		return fmt.Errorf("%s: %w", blank, err)
	}
	beside, err := besideNotes(l, blanks)
	if err != nil {
		return fmt.Errorf("%s: %w", blank, err)
	}
	if _, err = reading.PrepareBlank(l, blanks); err != nil {
		return fmt.Errorf("%s: %w", blank, err)
	}
	alike, err := sidesAlike(l, blanks)
	if err != nil {
		return fmt.Errorf("%s: %w", blank, err)
	}
	if alike {
		beside = append(beside, "front and back look alike: the desk asks of each photo which of the two it is; a title of its own on one of them would tell")
	}
	others, err := otherForms(folder, l)
	if err != nil {
		return err
	}
	for name, picture := range blanks {
		if others == nil {
			break
		}
		a.progress("comparing its %s with the other cards of this race", name)
		other, err := reading.Alike(others, picture)
		if err != nil || other != nil {
			a.progressDone()
		}
		if err != nil {
			return fmt.Errorf("%s: %w", blank, err)
		}
		if other != nil {
			return fmt.Errorf("%s: its %s looks like %s, which this race has already (layouts/%s): nobody could tell their photos apart; admit one of them, or print a title of its own on one",
				blank, name, other.Name, other.FileName())
		}
	}
	a.progressDone()
	path, err := folder.SaveForeign(l, blanks)
	if err != nil {
		return err
	}
	a.printf("%s: kept, with its blank %s\n", path, strings.Join(sidesOf(l), " and "))
	for _, note := range beside {
		a.printf("note: %s\n", note)
	}
	for _, f := range sheetmodel.Lint(l) {
		a.printf("note: %s\n", f)
	}
	for _, note := range codeNotes(l, folder.Race().Codes) {
		a.printf("note: %s\n", note)
	}
	a.printf("next: gatefold collect %s PHOTO…\n", racefolder.ShellWord(dir))
	return nil
}

// sidesAlike reports whether a picture of a card's back is taken for its front as well.
func sidesAlike(l *sheetmodel.Layout, blanks map[sheetmodel.SideName]*image.Gray) (bool, error) {
	front, back := blanks[sheetmodel.Front], blanks[sheetmodel.Back]
	if front == nil || back == nil {
		return false, nil
	}
	one, err := reading.PrepareBlank(l, map[sheetmodel.SideName]*image.Gray{sheetmodel.Front: front})
	if err != nil {
		return false, err
	}
	found, err := reading.Alike(one, back)
	return found != nil, err
}

// samePictures refuses other pictures of a blank card than those that a race keeps for its layout: photos that were read lie over
// those, and who gives another card's picture by mistake would lay all later ones over that. Pictures that are missing or damaged
// are kept anew.
func samePictures(folder *racefolder.Folder, l *sheetmodel.Layout, blanks map[sheetmodel.SideName]*image.Gray) error {
	kept, err := folder.Blanks(l)
	if err != nil {
		return nil //nolint:nilerr // the new ones take the place of what can't be used
	}
	for _, name := range slices.Sorted(maps.Keys(blanks)) {
		is, was := blanks[name], kept[name]
		if was.Rect.Size() != is.Rect.Size() || !bytes.Equal(was.Pix, is.Pix) {
			return fmt.Errorf("the race keeps another picture of this %s, %s, and photos are laid over it; is the new one right? Then move that file away, and give the new one again",
				name, racefolder.BlankFile(l, name))
		}
	}
	return nil
}

// codeNotes compare the letters that a card has for what happened with the race's code book. What they mean on the card,
// only people know.
func codeNotes(l *sheetmodel.Layout, book sheetmodel.CodeBook) []string {
	var known, unknown []string
	written := false
	for _, s := range l.Sides {
		for _, f := range s.Fields {
			if f.Part != sheetmodel.PartCode && f.Part != sheetmodel.PartCodeOther {
				continue
			}
			written = written || len(f.Options) == 0
			for _, o := range f.Options {
				c, ok := book.Find(o.Value)
				words := fmt.Sprintf("%s is %s", o.Value, c.Word)
				switch {
				case ok && !slices.Contains(known, words):
					known = append(known, words)
				case !ok && !slices.Contains(unknown, o.Value):
					unknown = append(unknown, o.Value)
				}
			}
		}
	}
	if written { // any letter of the book may be written there
		for _, c := range book.Codes {
			if words := fmt.Sprintf("%s is %s", c.Code, c.Word); !slices.Contains(known, words) {
				known = append(known, words)
			}
		}
	}
	var notes []string
	if len(known) > 0 {
		notes = append(notes, "in the code book "+strings.Join(known, ", ")+": does the card mean the same? If not, write the card's own codes into the book")
	}
	if len(unknown) > 0 {
		notes = append(notes, "the code book has no "+strings.Join(unknown, ", ")+"; rows with them wait until it has")
	}
	return notes
}

func hasBibs(s sheetmodel.Side) bool {
	return slices.ContainsFunc(s.Fields, func(f sheetmodel.Field) bool { return f.Part == sheetmodel.PartBib && f.Row > 0 })
}

func sidesOf(l *sheetmodel.Layout) []string {
	var all []string
	for _, s := range l.Sides {
		all = append(all, string(s.Name))
	}
	return all
}

// otherForms are the forms of all cards of other makes that a race has but one, nil if there are none. Ours show marks.
func otherForms(folder *racefolder.Folder, l *sheetmodel.Layout) (*reading.Forms, error) {
	kept, err := folder.Layouts()
	if err != nil {
		return nil, err
	}
	kept = slices.DeleteFunc(kept, func(o *sheetmodel.Layout) bool { return marked(o) || o.Hash() == l.Hash() })
	if len(kept) == 0 {
		return nil, nil
	}
	return raceFormsOf(folder, kept)
}

// raceFormsOf prepares layouts that a race keeps: those with our marks as they are drawn, the others by their pictures.
func raceFormsOf(folder *racefolder.Folder, layouts []*sheetmodel.Layout) (*reading.Forms, error) {
	var own, plain []*sheetmodel.Layout
	for _, l := range layouts {
		if marked(l) {
			own = append(own, l)
		} else {
			plain = append(plain, l)
		}
	}
	forms, err := reading.Prepare(own)
	if err != nil {
		return nil, err
	}
	for _, l := range plain {
		blanks, err := folder.Blanks(l)
		if err != nil {
			return nil, err
		}
		one, err := reading.PrepareBlank(l, blanks)
		if err != nil {
			return nil, fmt.Errorf("layout %s: %w", l.FileName(), err)
		}
		forms = forms.And(one)
	}
	return forms, nil
}

func readLayout(file string) (*sheetmodel.Layout, error) {
	text, err := readYAML("layout", file)
	if err != nil {
		return nil, err
	}
	return sheetmodel.ParseLayout(file, text)
}

// errShowsNoSide is joined to what names the side that a picture lacks.
var errShowsNoSide = errors.New("give a PDF or TIFF with both sides")

// blanksOf returns the sides of a blank card as a picture shows them, flat, upright, level and cut to the card.
func blanksOf(ctx context.Context, file, blank string, l *sheetmodel.Layout) (map[sheetmodel.SideName]*image.Gray, error) {
	picture, err := readInput("picture", blank)
	if err != nil {
		return nil, err
	}
	sides, err := flatSides(ctx, blank, picture, l.Sides[0].W, l.Sides[0].H)
	if err != nil {
		return nil, err
	}
	names := []sheetmodel.SideName{sheetmodel.Front, sheetmodel.Back}
	blanks := map[sheetmodel.SideName]*image.Gray{}
	for i, g := range sides {
		g, _ = propose.Level(g) // layouts are described on the levelled picture
		blanks[names[i]] = g
	}
	for _, s := range l.Sides {
		if blanks[s.Name] == nil {
			return nil, fmt.Errorf("%s: shows no %s, which %s describes; %w", blank, s.Name, file, errShowsNoSide)
		}
	}
	for name := range blanks {
		if l.Side(name) == nil {
			delete(blanks, name)
		}
	}
	return blanks, nil
}
