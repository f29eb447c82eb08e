package scantest

import (
	"fmt"
	"image"
	"math/rand/v2"

	"gatefold/scan/camera"
	"gatefold/sheetmodel"
)

// stage photographs the sample with fault families laid on a photo of the level.
func (s *Sample) stage(kind Kind, level camera.Level, layouts []*sheetmodel.Layout, rng *rand.Rand) error {
	base := level
	if kind.PxPerMM > 0 {
		base.PxPerMM = camera.Span{Min: kind.PxPerMM, Max: kind.PxPerMM}
	}
	shot, err := base.DrawFamilies(sceneOf(s.Side, kind.Frame), kind.Doses, rand.New(rand.NewPCG(s.Seed, 0xca3e)))
	if err != nil {
		return err
	}
	if kind.Change != nil {
		kind.Change(&shot)
	}
	pxPerMM := min(max(1.4*shot.PxPerMM, 12), 20)
	cards, back := shot.Needs()
	pictures := make([]camera.Pictures, cards)
	if pictures[0], err = s.picture(&shot, level, pxPerMM, back, rng); err != nil {
		return err
	}
	plain := shot
	plain.Staging = nil
	for i := 1; i < cards; i++ {
		// Another card of the same print run, now and then of another paper's layout but never of another size.
		o := &Sample{Level: s.Level, Seed: s.Seed, Layout: s.Layout, Side: s.Side, Identity: s.Identity}
		if rng.IntN(3) == 0 {
			if l := layouts[rng.IntN(len(layouts))]; l.Side(s.Side.Name).W == s.Side.W {
				o.Layout, o.Side = l, l.Side(s.Side.Name)
				o.Identity.Layout = l.HashStart()
				if l.Spare {
					o.Identity.Run, o.Identity.Course = 0, 0
				} else if o.Identity.Run == 0 {
					o.Identity.Run, o.Identity.Course = 1, 1
				}
			}
		}
		o.Identity.Card = (s.Identity.Card+i*7)%60 + 1
		if pictures[i], err = o.picture(&plain, level, pxPerMM, false, rng); err != nil {
			return err
		}
		s.Others = append(s.Others, o)
	}
	photo, err := shot.View().TakeCards(pictures, kind.Orientation)
	if err != nil {
		return fmt.Errorf("sample %s %d: %w", kind.Level, s.Seed, err)
	}
	s.JPEG = photo.JPEG
	views := photo.View.Cards()
	s.View = views[0]
	for i, o := range s.Others {
		o.View = views[i+1]
	}
	return nil
}

// picture prints and fills the sample's side, and what is behind it if that shows.
func (s *Sample) picture(shot *camera.Shot, level camera.Level, pxPerMM float64, back bool, rng *rand.Rand) (camera.Pictures, error) {
	var out camera.Pictures
	side, err := s.composed(shot, level, pxPerMM, rng)
	if err != nil {
		return out, err
	}
	out.Seen = side
	if !back {
		return out, nil
	}
	if shot.Staging.Blank {
		// The printed side is the one behind.
		out.Behind = &camera.Sheet{Image: side.Image, PxPerMM: pxPerMM}
		empty := image.NewGray(side.Image.Rect)
		for i := range empty.Pix {
			empty.Pix[i] = 255
		}
		out.Seen.Image = empty
		return out, nil
	}
	behind := *s
	name := sheetmodel.Back
	if s.Side.Name == sheetmodel.Back {
		name = sheetmodel.Front
	}
	behind.Side, behind.Identity.Side = s.Layout.Side(name), name
	if shot.Staging.BackOther {
		behind.Identity.Card = behind.Identity.Card%60 + 1
	}
	clean := *shot
	clean.Staging = nil
	const enough = 8 // px/mm: paper lets no finer detail through
	under, err := behind.composed(&clean, level, enough, rng)
	out.Behind = &under
	return out, err
}

func (s *Sample) composed(shot *camera.Shot, level camera.Level, pxPerMM float64, rng *rand.Rand) (camera.Sheet, error) {
	paper, ink, err := s.layers(level, pxPerMM, rng)
	if err != nil {
		return camera.Sheet{}, err
	}
	white := image.NewGray(paper.Rect)
	for i := range white.Pix {
		white.Pix[i] = 255
	}
	ink.Over(white)
	return shot.Compose(paper, white, pxPerMM), nil
}
