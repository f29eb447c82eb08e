package main

import (
	"cmp"
	"fmt"
	"net/url"
	"runtime/debug"
	"slices"
	"strings"
)

// bill is a CycloneDX document, as far as one is needed here.
type bill struct {
	Format       string       `json:"bomFormat"`
	Spec         string       `json:"specVersion"`
	Version      int          `json:"version"`
	Metadata     metadata     `json:"metadata"`
	Components   []component  `json:"components"`
	Dependencies []dependency `json:"dependencies"`
}

type metadata struct {
	Timestamp string    `json:"timestamp"`
	Component component `json:"component"`
}

type component struct {
	Type       string     `json:"type"`
	Ref        string     `json:"bom-ref"`
	Name       string     `json:"name"`
	Version    string     `json:"version"`
	Licenses   []licence  `json:"licenses,omitempty"`
	PURL       string     `json:"purl,omitempty"`
	Properties []property `json:"properties,omitempty"`
}

type licence struct {
	License struct {
		ID string `json:"id"`
	} `json:"license"`
}

type property struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

type dependency struct {
	Ref string   `json:"ref"`
	On  []string `json:"dependsOn"`
}

// debian is one package of the distribution, and the source that it was made from.
type debian struct {
	name, version, arch, source, sourceVersion string
}

// parsePackages reads what dpkg-query was asked for.
func parsePackages(text string) ([]debian, error) {
	var all []debian
	n := 0
	for line := range strings.Lines(text) {
		n++
		f := strings.Split(strings.TrimSuffix(line, "\n"), "\t")
		if len(f) != 5 || slices.Contains(f, "") {
			return nil, fmt.Errorf("line %d: not five words between tabs: name, version, architecture, source, version of the source", n)
		}
		all = append(all, debian{f[0], f[1], f[2], f[3], f[4]})
	}
	return all, nil
}

// billOf lists the modules of info, the Go standard library and the packages. Package URLs are written as the
// types golang and deb of the package-url specification want them.
func billOf(about release, info *debug.BuildInfo, carried []debian) bill {
	b := bill{Format: "CycloneDX", Spec: "1.6", Version: 1}
	self := component{Type: "application", Ref: about.name + "@" + about.version, Name: about.name, Version: about.version, Licenses: make([]licence, 1)}
	self.Licenses[0].License.ID = "Apache-2.0"
	for _, s := range info.Settings {
		switch s.Key {
		case "GOOS", "GOARCH", "CGO_ENABLED", "vcs.revision":
			self.Properties = append(self.Properties, property{"build:" + s.Key, s.Value})
		}
	}
	b.Metadata = metadata{about.day(), self}
	goVersion := strings.TrimPrefix(info.GoVersion, "go")
	b.add(component{Type: "library", Name: "std", Version: goVersion, PURL: "pkg:golang/std@" + goVersion})
	for _, m := range info.Deps {
		if m.Replace != nil {
			m = m.Replace
		}
		c := component{Type: "library", Name: m.Path, Version: m.Version, PURL: "pkg:golang/" + strings.ToLower(m.Path) + "@" + url.PathEscape(m.Version)}
		if m.Sum != "" {
			c.Properties = []property{{"go:sum", m.Sum}}
		}
		b.add(c)
	}
	for _, p := range carried {
		b.add(component{
			Type: "library", Name: p.name, Version: p.version,
			PURL:       fmt.Sprintf("pkg:deb/debian/%s@%s?arch=%s", p.name, url.QueryEscape(p.version), p.arch),
			Properties: []property{{"debian:source", p.source}, {"debian:source:version", p.sourceVersion}},
		})
	}
	slices.SortStableFunc(b.Components, func(x, y component) int { return cmp.Compare(x.Ref, y.Ref) })
	// Who needs whom among them isn't known to the program; all of them are in it.
	of := dependency{Ref: self.Ref, On: []string{}}
	for _, c := range b.Components {
		of.On = append(of.On, c.Ref)
	}
	b.Dependencies = []dependency{of}
	return b
}

func (b *bill) add(c component) {
	c.Ref = c.PURL
	b.Components = append(b.Components, c)
}
