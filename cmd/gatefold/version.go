package main

import (
	"cmp"
	"runtime/debug"
	"time"
)

// version is what a release says of itself; .ci/release sets it. It is empty in what make build makes.
var version string

// builtFrom returns the program's version and the day of the commit that it was built from: for a program that is
// no release what Go noted of the commit, and the zero time where it noted none.
func builtFrom() (string, time.Time) {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return cmp.Or(version, "of its own"), time.Time{}
	}
	var day time.Time
	for _, s := range info.Settings {
		if s.Key != "vcs.time" {
			continue
		}
		if t, err := time.Parse(time.RFC3339, s.Value); err == nil {
			day = t.UTC()
		}
	}
	return cmp.Or(version, info.Main.Version, "(devel)"), day
}
