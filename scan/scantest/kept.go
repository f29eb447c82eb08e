package scantest

import (
	"fmt"
	"os"
	"path/filepath"

	"gatefold/scan/camera"
)

// Taking a photo costs five times what reading it does, and a seed always gives the same one: a measurement
// that is run again, on a later scan, can take the photos of the last from a folder. Faults laid on by hand or
// by families are not in a photo's name, so such photos are taken anew each time.

// file returns where a photo is kept, "" if it isn't. The levels' hash is in the name: another camera's photos
// are not taken for this one's.
func (k *Kind) file(seed uint64) string {
	if k.Kept == "" || k.Change != nil || len(k.Doses) > 0 || k.Orientation != 0 || k.Side != "" || k.Frame.X != 0 {
		return ""
	}
	name := fmt.Sprintf("%.8s-%s-%d", camera.LevelsHash(), k.Level, seed)
	if k.Tags != "" {
		name += "-" + string(k.Tags)
	}
	return filepath.Join(k.Kept, name+".jpg")
}

// kept returns a photo taken before, nil if there is none.
func (k *Kind) kept(seed uint64) []byte {
	name := k.file(seed)
	if name == "" {
		return nil
	}
	b, err := os.ReadFile(name)
	if err != nil {
		return nil
	}
	return b
}

// keep stores a photo under its own name only once it is whole.
func (k *Kind) keep(seed uint64, jpeg []byte) error {
	name := k.file(seed)
	if name == "" {
		return nil
	}
	part := fmt.Sprintf("%s.%d", name, os.Getpid())
	if err := os.WriteFile(part, jpeg, 0o644); err != nil {
		return fmt.Errorf("photo %s %d can't be kept: %w", k.Level, seed, err)
	}
	return os.Rename(part, name)
}
