package camera

import (
	"crypto/sha256"
	_ "embed" // levels.yaml is part of the program
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"sync"

	"go.yaml.in/yaml/v3"

	"gatefold/scan/camera/hand"
)

//go:embed levels.yaml
var levelsYAML []byte

// Span is a range from which a value is drawn uniformly.
type Span struct {
	Min float64 `yaml:"min" json:"min"`
	Max float64 `yaml:"max" json:"max"`
}

// Draw returns a value of the span.
func (s Span) Draw(rng *rand.Rand) float64 { return s.Min + (s.Max-s.Min)*rng.Float64() }

// drawInt returns a whole number of the span, both ends included.
func (s Span) drawInt(rng *rand.Rand) int {
	return int(s.Min) + rng.IntN(int(s.Max)-int(s.Min)+1)
}

// Holds reports whether v lies in the span.
func (s Span) Holds(v float64) bool { return v >= s.Min && v <= s.Max }

// FaultKind is one thing that can be wrong with a photo beyond its level's ordinary blur and tilt.
type FaultKind string

// The kinds of fault; levels.yaml says what the amount of each means.
const (
	Shadow     FaultKind = "shadow"
	Glare      FaultKind = "glare"
	Motion     FaultKind = "motion"
	Dusk       FaultKind = "dusk"
	Fingertip  FaultKind = "fingertip"
	Clip       FaultKind = "clip"
	SecondCard FaultKind = "second-card"
	Damp       FaultKind = "damp"
	Fold       FaultKind = "fold"
)

// FaultKinds lists all kinds.
func FaultKinds() []FaultKind {
	return []FaultKind{Shadow, Glare, Motion, Dusk, Fingertip, Clip, SecondCard, Damp, Fold}
}

// Reason says why an impossible photo is impossible.
type Reason string

// The reasons.
const (
	TooBlurred Reason = "too-blurred"
	TooSmall   Reason = "too-small"
	RowOutside Reason = "row-outside"
)

// Level is one level of the file; see there for the meaning and unit of each value.
type Level struct {
	Name            string             `yaml:"-"`
	Like            string             `yaml:"like"`
	TiltDeg         Span               `yaml:"tilt_deg"`
	TurnDeg         Span               `yaml:"turn_deg"`
	BlurSigmaMM     Span               `yaml:"blur_sigma_mm"`
	PxPerMM         Span               `yaml:"px_per_mm"`
	PencilDarker    Span               `yaml:"pencil_darker"`
	BallpointShare  float64            `yaml:"ballpoint_share"`
	BallpointDarker Span               `yaml:"ballpoint_darker"`
	BendMM          Span               `yaml:"bend_mm"`
	MarginShare     Span               `yaml:"margin_share"`
	LightFall       Span               `yaml:"light_fall"`
	WhiteGrey       Span               `yaml:"white_grey"`
	NoiseShare      Span               `yaml:"noise_share"`
	CastShare       Span               `yaml:"cast_share"`
	LensK1          Span               `yaml:"lens_k1"`
	Sharpen         Span               `yaml:"sharpen"`
	JPEGQuality     Span               `yaml:"jpeg_quality"`
	MarksCovered    Span               `yaml:"marks_covered"`
	Faults          Span               `yaml:"faults"`
	Fault           map[FaultKind]Span `yaml:"fault"`
	Reason          map[Reason]Span    `yaml:"reason"`
}

// The names of the levels.
const (
	Ordinary   = "ordinary"
	Hard       = "hard"
	Impossible = "impossible"
)

// Pens says how dark the writers of this level press, for hand.DrawWriter.
func (l Level) Pens() hand.Pens {
	return hand.Pens{
		PencilDarker:    [2]float64{l.PencilDarker.Min, l.PencilDarker.Max},
		BallpointDarker: [2]float64{l.BallpointDarker.Min, l.BallpointDarker.Max},
		BallpointShare:  l.BallpointShare,
	}
}

var parsed = sync.OnceValues(func() (map[string]Level, error) { return parseLevels(levelsYAML) })

// Levels returns the levels by name. The file is embedded and a test parses it: it doesn't fail.
func Levels() map[string]Level {
	levels, err := parsed()
	if err != nil {
		panic(err)
	}
	out := make(map[string]Level, len(levels))
	for name, l := range levels {
		out[name] = l
	}
	return out
}

// LevelsHash returns the SHA-256 of levels.yaml in hex; figures quote it.
func LevelsHash() string {
	sum := sha256.Sum256(levelsYAML)
	return hex.EncodeToString(sum[:])
}

func parseLevels(text []byte) (map[string]Level, error) {
	var file struct {
		Format int              `yaml:"format"`
		Levels map[string]Level `yaml:"levels"`
	}
	if err := yaml.Unmarshal(text, &file); err != nil {
		return nil, fmt.Errorf("levels.yaml: %w", err)
	}
	if file.Format != 1 {
		return nil, fmt.Errorf("levels.yaml: format %d is not known; this program reads format 1", file.Format)
	}
	for name, l := range file.Levels {
		if l.Like != "" {
			base, ok := file.Levels[l.Like]
			if !ok || base.Like != "" {
				return nil, fmt.Errorf("levels.yaml: level %s: no plain level %q to be like; name one", name, l.Like)
			}
			reason := l.Reason
			base.Like, base.Reason = l.Like, reason
			l = base
		}
		l.Name = name
		file.Levels[name] = l
	}
	return file.Levels, nil
}
