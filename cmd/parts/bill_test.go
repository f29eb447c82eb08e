package main

import (
	"bytes"
	"debug/buildinfo"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A small program of this project is looked at, beside what the go command says of it. (Go notes no modules in
// programs of tests.)
func TestBill_ListsEachModuleAsTheGoCommandDoes(t *testing.T) {
	self := filepath.Join(t.TempDir(), "program")
	build := exec.CommandContext(t.Context(), "go", "build", "-o", self, "../blankcards")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	out, err := build.CombinedOutput()
	require.NoError(t, err, "%s", out)
	info, err := buildinfo.ReadFile(self)
	require.NoError(t, err)
	said, err := exec.CommandContext(t.Context(), "go", "version", "-m", self).Output()
	require.NoError(t, err)

	b := billOf(release{"gatefold", "1.2", 1800000000}, info, nil)
	var want []string
	for line := range strings.Lines(string(said)) {
		if f := strings.Fields(line); len(f) >= 3 && f[0] == "dep" {
			want = append(want, f[1]+" "+f[2])
		}
	}
	require.NotEmpty(t, want)
	got := []string{}
	for _, c := range b.Components {
		if c.Name != "std" {
			got = append(got, c.Name+" "+c.Version)
		}
	}
	assert.ElementsMatch(t, want, got)
	assert.Equal(t, "2027-01-15T08:00:00Z", b.Metadata.Timestamp) // date -u -d @1800000000
}

func TestBill_PackagesOfDebian(t *testing.T) {
	all, err := parsePackages("libx1\t1:2.3+dfsg-4\tamd64\tx\t1:2.3+dfsg-4\n")
	require.NoError(t, err)
	b := billOf(release{"gatefold", "1.2", 1}, &buildinfo.BuildInfo{GoVersion: "go1.26.0"}, all)
	require.Len(t, b.Components, 2)
	// Source of the form: package-url specification, type deb; a colon and a plus are written as escapes.
	assert.Equal(t, "pkg:deb/debian/libx1@1%3A2.3%2Bdfsg-4?arch=amd64", b.Components[0].PURL)
	assert.Equal(t, []property{{"debian:source", "x"}, {"debian:source:version", "1:2.3+dfsg-4"}}, b.Components[0].Properties)
	assert.Equal(t, "pkg:golang/std@1.26.0", b.Components[1].PURL)
	assert.Equal(t, []string{b.Components[0].Ref, b.Components[1].Ref}, b.Dependencies[0].On)

	var one, two bytes.Buffer
	require.NoError(t, json.NewEncoder(&one).Encode(b))
	require.NoError(t, json.NewEncoder(&two).Encode(billOf(release{"gatefold", "1.2", 1}, &buildinfo.BuildInfo{GoVersion: "go1.26.0"}, all)))
	assert.Equal(t, one.String(), two.String())

	for _, bad := range []string{"libx1 1.2 amd64 x 1.2\n", "libx1\t1.2\tamd64\tx\n", "libx1\t\tamd64\tx\t1.2\n"} {
		_, err := parsePackages("a\tb\tc\td\te\n" + bad)
		assert.ErrorContains(t, err, "line 2: ", bad)
	}
}
