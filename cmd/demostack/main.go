// Demostack makes the bundled stack of photos: it prints the cards of testdata/demo-race, fills
// them as testdata/demo-stack/story.yaml says, in the handwriting of calibration writers, and
// photographs them with the simulated camera.
//
//	GATEFOLD_DATA=... go run ./cmd/demostack -race testdata/demo-race -stack testdata/demo-stack
//
// The same seed gives the same photos; GATEFOLD_DATA names the folder with MNIST's writer ids, so
// that one card is in one person's hand.
package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"image"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"

	"go.yaml.in/yaml/v3"

	"gatefold/cmd/internal/hands"
	"gatefold/scan/camera"
	"gatefold/scan/camera/fill"
	"gatefold/scan/camera/hand"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/print"
	"gatefold/sheetmodel/racefolder"
)

// story is story.yaml.
type story struct {
	Cards []storyCard `yaml:"cards"`
}

type storyCard struct {
	Card     int          `yaml:"card"`
	Course   string       `yaml:"course"`
	Gates    [2]int       `yaml:"gates"`
	Count    int          `yaml:"count"`
	Sketched bool         `yaml:"sketched"`
	Rows     []storyRow   `yaml:"rows"`
	Panels   []storyPanel `yaml:"panels"`
}

type storyRow struct {
	Bib    string     `yaml:"bib"`
	Code   string     `yaml:"code"`
	Gate   string     `yaml:"gate"`
	Panel  string     `yaml:"panel"`
	Spoil  fill.Spoil `yaml:"spoil"`
	Struck bool       `yaml:"struck"`
}

type storyPanel struct {
	Letter string   `yaml:"letter"`
	Bibs   []string `yaml:"bibs"`
	Path   bool     `yaml:"path"`
}

// truth is truth.json: what every photo shows.
type truth struct {
	Layout string       `json:"layout"`
	Photos []photoTruth `json:"photos"`
}

type photoTruth struct {
	File   string              `json:"file"`
	Card   int                 `json:"card"`
	Course string              `json:"course"`
	Side   sheetmodel.SideName `json:"side"`
	Level  string              `json:"level"`
	Faults []camera.Fault      `json:"faults"`
	Fields fill.Truth          `json:"fields"`
}

func main() {
	race := flag.String("race", "testdata/demo-race", "race folder")
	stack := flag.String("stack", "testdata/demo-stack", "folder of story.yaml; photos go below it")
	seed := flag.Uint64("seed", 20270123, "seed of all randomness")
	flag.Parse()
	if err := run(*race, *stack, *seed); err != nil {
		fmt.Fprintln(os.Stderr, "demostack:", err)
		os.Exit(1)
	}
}

func run(raceDir, stackDir string, seed uint64) error {
	data := os.Getenv("GATEFOLD_DATA")
	if data == "" {
		return errors.New("GATEFOLD_DATA is not set: it names the folder with MNIST's writer ids")
	}
	text, err := os.ReadFile(filepath.Join(stackDir, "story.yaml"))
	if err != nil {
		return err
	}
	var s story
	if err := yaml.Unmarshal(text, &s); err != nil {
		return err
	}
	folder, err := racefolder.Open(raceDir)
	if err != nil {
		return err
	}
	race := folder.Race()
	layout, err := sheetmodel.GateCard().BindRace(race, "a5", false)
	if err != nil {
		return err
	}
	if err := folder.SavePrinted(); err != nil {
		return err
	}
	if _, err := folder.SaveLayout(layout); err != nil {
		return err
	}
	mnist, err := hand.FindMNIST(context.Background())
	if err != nil {
		return err
	}
	writers, _, err := hands.Load(hands.Calibration, mnist, data)
	if err != nil {
		return err
	}
	photos := filepath.Join(stackDir, "photos")
	if err := os.MkdirAll(photos, 0o755); err != nil {
		return err
	}
	all := truth{Layout: layout.Hash()}
	for i, c := range s.Cards {
		rng := rand.New(rand.NewPCG(seed, uint64(c.Card)))
		// One photo in six is taken under hard conditions, as on a hill.
		level := camera.Ordinary
		if i%6 == 5 {
			level = camera.Hard
		}
		w := fill.Writer{Pen: hand.DrawWriter(camera.Levels()[level].Pens(), rng), Digits: writers[(i*5+3)%len(writers)]}
		for _, side := range []sheetmodel.SideName{sheetmodel.Front, sheetmodel.Back} {
			p, err := shoot(race, layout, c, side, level, w, rng)
			if err != nil {
				return err
			}
			p.truth.File = fmt.Sprintf("card-%02d-%s.jpg", c.Card, side)
			if err := os.WriteFile(filepath.Join(photos, p.truth.File), p.jpeg, 0o644); err != nil {
				return err
			}
			all.Photos = append(all.Photos, p.truth)
			fmt.Printf("%s  %d kB  %s\n", p.truth.File, len(p.jpeg)/1000, level)
		}
	}
	out, err := json.MarshalIndent(all, "", " ")
	if err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(stackDir, "truth.json"), append(out, '\n'), 0o644)
}

type shotPhoto struct {
	jpeg  []byte
	truth photoTruth
}

func shoot(race *sheetmodel.Race, layout *sheetmodel.Layout, c storyCard, name sheetmodel.SideName, level string,
	w fill.Writer, rng *rand.Rand,
) (*shotPhoto, error) {
	course := race.CourseIndex(c.Course)
	card := print.CardPrint{
		Race: race.Name, Date: race.Date, Discipline: race.Discipline, Course: c.Course,
		Identity: sheetmodel.Identity{
			Run: 1, Course: course, Card: c.Card, Side: name,
			Race: sheetmodel.RaceHash(race.ID), Layout: layout.HashStart(),
		},
	}
	side := layout.Side(name)
	written, err := fill.Write(side, card, planOf(race, c), w, rng)
	if err != nil {
		return nil, err
	}
	l := camera.Levels()[level]
	// The coarse end of the level's range and tight margins keep the stack small.
	l.PxPerMM.Max = l.PxPerMM.Min + 0.6
	l.MarginShare.Max = l.MarginShare.Min + 0.3*(l.MarginShare.Max-l.MarginShare.Min)
	shot := l.Draw(fill.SceneOf(side, image.Point{}), rng)
	shot.JPEGQuality = min(shot.JPEGQuality, 82)
	photo, err := shot.View().Take(written.Sheet, 1)
	if err != nil {
		return nil, err
	}
	return &shotPhoto{jpeg: photo.JPEG, truth: photoTruth{
		Card: c.Card, Course: c.Course, Side: name, Level: level, Faults: shot.Faults, Fields: written.Truth,
	}}, nil
}

// planOf says what the judge of a card writes.
func planOf(race *sheetmodel.Race, c storyCard) fill.Plan {
	p := fill.Plan{GatesSketched: c.Sketched, Header: map[string]string{
		"header.gate-from": strconv.Itoa(c.Gates[0]),
		"header.gate-to":   strconv.Itoa(c.Gates[1]),
		"foot.row-count":   strconv.Itoa(c.Count),
		"foot.card-of":     "1",
		"foot.card-total":  "1",
		"header.course":    c.Course,
	}}
	for _, place := range race.Run(1).Course(c.Course).Places {
		if place.Card == c.Card {
			p.Header["header.judge"] = place.Judge
		}
	}
	for _, g := range race.Groups {
		if g.Course == c.Course {
			p.Header["header.group"] = g.Name
		}
	}
	for i, r := range c.Rows {
		p.Rows = append(p.Rows, fill.Row{
			Number: i + 1, Bib: r.Bib, Code: r.Code, Gate: r.Gate, Panel: r.Panel, BibSpoil: r.Spoil, Struck: r.Struck,
		})
	}
	for _, q := range c.Panels {
		p.Panels = append(p.Panels, fill.Panel{Letter: q.Letter, Bibs: q.Bibs, Path: q.Path})
	}
	return p
}
