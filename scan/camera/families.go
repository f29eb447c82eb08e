package camera

import (
	"crypto/sha256"
	_ "embed" // families.yaml is part of the program
	"encoding/hex"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"

	"go.yaml.in/yaml/v3"
)

//go:embed families.yaml
var familiesYAML []byte

// FamilySteps is the number of steps of each family, 1 to FamilySteps.
const FamilySteps = 5

// FamilyName names a family of faults, as families.yaml does.
type FamilyName string

// Family is one family of faults; families.yaml says what its amount means.
type Family struct {
	Name   FamilyName      `yaml:"name"`
	Group  string          `yaml:"group"`  // no two of a group in one photo; empty: goes with all
	Level  string          `yaml:"level"`  // the value of levels.yaml that its amount is, or none
	Beyond int             `yaml:"beyond"` // first step that leaves the hard level; 0 if none does
	Edges  []float64       `yaml:"steps"`
	With   map[string]Span `yaml:"with"`
}

// Step returns the span of amounts of a step, 1 to FamilySteps. Where worse means smaller, as with a JPEG's
// quality, Min is the larger.
func (f *Family) Step(step int) Span { return Span{Min: f.Edges[step-1], Max: f.Edges[step]} }

// draw returns a value of one of the ranges under with. The file is embedded and tested: the range is there.
func (f *Family) draw(key string, rng *rand.Rand) float64 { return f.With[key].Draw(rng) }

// Dose is one family at one of its steps.
type Dose struct {
	Family FamilyName `json:"family"`
	Step   int        `json:"step"`
	Amount float64    `json:"amount"` // in the unit that families.yaml gives for the family
}

var parsedFamilies = sync.OnceValues(func() ([]Family, error) { return parseFamilies(familiesYAML) })

// Families returns all families in the file's order. The file is embedded and a test parses it: it doesn't fail.
func Families() []Family {
	all, err := parsedFamilies()
	if err != nil {
		panic(err)
	}
	return slices.Clone(all)
}

// FamiliesBut returns all families but those named, for training and tuning on what a report leaves out.
func FamiliesBut(names ...FamilyName) []Family {
	return slices.DeleteFunc(Families(), func(f Family) bool { return slices.Contains(names, f.Name) })
}

// DrawDoses draws up to n families of all that go together in one photo, each at a step inside the hard
// level; a card is always there to be found. For each family by itself, loop over Families and their steps;
// for training that leaves one out, pass FamiliesBut of it.
func DrawDoses(all []Family, n int, rng *rand.Rand) []Dose {
	taken := map[string]bool{}
	var out []Dose
	for _, i := range rng.Perm(len(all)) {
		f := &all[i]
		if len(out) == n {
			break
		}
		if f.Name == "one-sided" || f.Group != "" && taken[f.Group] || f.Beyond == 1 {
			continue
		}
		steps := FamilySteps
		if f.Beyond > 0 {
			steps = f.Beyond - 1
		}
		step := 1 + rng.IntN(steps)
		out = append(out, Dose{Family: f.Name, Step: step, Amount: f.Step(step).Draw(rng)})
		taken[f.Group] = true
	}
	return out
}

// FamilyOf returns the family of that name.
func FamilyOf(name FamilyName) (Family, error) {
	for _, f := range Families() {
		if f.Name == name {
			return f, nil
		}
	}
	return Family{}, fmt.Errorf("fault family %q is not in families.yaml", name)
}

// FamiliesHash returns the SHA-256 of families.yaml in hex; figures quote it.
func FamiliesHash() string {
	sum := sha256.Sum256(familiesYAML)
	return hex.EncodeToString(sum[:])
}

func parseFamilies(text []byte) ([]Family, error) {
	var file struct {
		Format   int      `yaml:"format"`
		Families []Family `yaml:"families"`
	}
	if err := yaml.Unmarshal(text, &file); err != nil {
		return nil, fmt.Errorf("families.yaml: %w", err)
	}
	if file.Format != 1 {
		return nil, fmt.Errorf("families.yaml: format %d is not known; this program reads format 1", file.Format)
	}
	seen := map[FamilyName]bool{}
	for _, f := range file.Families {
		switch {
		case seen[f.Name]:
			return nil, fmt.Errorf("families.yaml: family %s stands twice; remove one", f.Name)
		case stagers[f.Name] == nil:
			return nil, fmt.Errorf("families.yaml: family %s can't be drawn by this program; remove it", f.Name)
		case len(f.Edges) != FamilySteps+1:
			return nil, fmt.Errorf("families.yaml: family %s has %d edges; give %d", f.Name, len(f.Edges), FamilySteps+1)
		case f.Beyond < 0 || f.Beyond > FamilySteps:
			return nil, fmt.Errorf("families.yaml: family %s leaves the level at step %d; give 0 to %d", f.Name, f.Beyond, FamilySteps)
		}
		seen[f.Name] = true
	}
	if len(seen) != len(stagers) {
		return nil, fmt.Errorf("families.yaml: %d families of %d; add the missing ones", len(seen), len(stagers))
	}
	return file.Families, nil
}
