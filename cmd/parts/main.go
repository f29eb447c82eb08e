// Command parts lists what a built program consists of, as a bill of materials in CycloneDX 1.6 (ECMA-424).
//
//	program --debug/buildinfo--> the Go modules linked into it, as `go version -m` names them
//	packages of Debian --dpkg-query--> the libraries that lie beside it
//
// It knows nothing of gatefold: .ci/release calls it for each program of a release. The same input gives the same
// bytes; the time in it is the commit's.
package main

import (
	"debug/buildinfo"
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"time"
)

func main() {
	var about release
	var packages string
	flag.StringVar(&about.name, "name", "", "name of the program")
	flag.StringVar(&about.version, "version", "", "its version")
	flag.Int64Var(&about.epoch, "epoch", 0, "time of the commit, in seconds since 1970")
	flag.StringVar(&packages, "packages", "", "Debian's packages carried beside it: a line each, with name, version, architecture, source and its version, between tabs")
	flag.Parse()
	if flag.NArg() != 1 || about.name == "" || about.version == "" || about.epoch == 0 {
		fmt.Fprintln(os.Stderr, "usage: parts -name NAME -version VERSION -epoch SECONDS [-packages FILE] PROGRAM")
		os.Exit(2)
	}
	if err := write(about, flag.Arg(0), packages); err != nil {
		fmt.Fprintln(os.Stderr, "parts:", err)
		os.Exit(1)
	}
}

func write(about release, program, packages string) error {
	info, err := buildinfo.ReadFile(program)
	if err != nil {
		return fmt.Errorf("%s: %w", program, err)
	}
	var carried []debian
	if packages != "" {
		text, err := os.ReadFile(packages)
		if err != nil {
			return err
		}
		if carried, err = parsePackages(string(text)); err != nil {
			return fmt.Errorf("%s: %w", packages, err)
		}
	}
	e := json.NewEncoder(os.Stdout)
	e.SetIndent("", "  ")
	e.SetEscapeHTML(false)
	return e.Encode(billOf(about, info, carried))
}

// release is what a bill is made for.
type release struct {
	name, version string
	epoch         int64
}

func (r release) day() string { return time.Unix(r.epoch, 0).UTC().Format(time.RFC3339) }
