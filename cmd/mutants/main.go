// Command mutants tells whether the tests of a package would notice a change: it makes one small change
// after another and runs the tests each time. It is for developers and not in the program.
//
//	source --one switch a change--> one test binary --MUTANT=n--> killed, or a survivor to look at
//
// All changes are compiled at once, each behind a switch that the environment sets, so that a thousand of
// them cost one build. The source on disk is never touched: the changed files are an overlay of the build.
//
//	go run ./cmd/mutants -out rules/docs/mutants.txt ./rules
package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"
)

func main() {
	out := flag.String("out", "", "write the list of survivors here")
	only := flag.String("only", "", "numbers of mutants to run, such as 17,40-60")
	list := flag.Bool("list", false, "list the changes and run nothing")
	limit := flag.Duration("limit", 2*time.Minute, "a run of the tests that takes longer counts as noticed")
	flag.Parse()
	if flag.NArg() != 1 {
		fmt.Fprintln(os.Stderr, "mutants: name one package folder, such as ./rules")
		os.Exit(2)
	}
	if err := run(flag.Arg(0), *out, *only, *list, *limit); err != nil {
		fmt.Fprintln(os.Stderr, "mutants:", err)
		os.Exit(1)
	}
}

func run(dir, out, only string, list bool, limit time.Duration) error {
	tmp, err := os.MkdirTemp("", "mutants-*")
	if err != nil {
		return err
	}
	defer os.RemoveAll(tmp) //nolint:errcheck // a left-over folder for temporary files harms nobody
	all, overlay, err := mutate(dir, tmp)
	if err != nil {
		return err
	}
	wanted := wantedOf(only, len(all))
	if list {
		for i, m := range all {
			fmt.Printf("%d %s\n", i+1, m)
		}
		return nil
	}
	binary := filepath.Join(tmp, "package.test")
	build := exec.Command("go", "test", "-c", "-tags", "mutants", "-overlay", overlay, "-o", binary, dir) //nolint:noctx // it ends by itself
	build.Stderr = os.Stderr
	if err := build.Run(); err != nil {
		return fmt.Errorf("the changed package does not build: %w", err)
	}
	if ok, err := passes(binary, dir, 0, limit); err != nil || !ok {
		return errors.Join(errors.New("the tests fail without any change; mend them first"), err)
	}
	var alive []string
	killed := 0
	for _, n := range wanted {
		ok, err := passes(binary, dir, n, limit)
		if err != nil {
			return err
		}
		if ok {
			alive = append(alive, fmt.Sprintf("%d %s", n, all[n-1]))
			fmt.Printf("alive %d %s\n", n, all[n-1])
		} else {
			killed++
		}
		if n%100 == 0 {
			fmt.Printf("%d of %d: %d killed\n", n, len(all), killed)
		}
	}
	line := fmt.Sprintf("%d changes, %d noticed by a test, %d not: %.1f %%", len(wanted), killed, len(alive), 100*float64(killed)/float64(max(1, len(wanted))))
	fmt.Println(line)
	if out == "" {
		return nil
	}
	return os.WriteFile(out, []byte(line+"\n\n"+strings.Join(alive, "\n")+"\n"), 0o600)
}

// passes runs the tests with one change on; 0: none. The quick tests run first.
func passes(binary, dir string, n int, limit time.Duration) (bool, error) {
	for _, which := range []string{"^TestCases$", "."} {
		ctx, cancel := context.WithTimeout(context.Background(), limit)
		c := exec.CommandContext(ctx, binary, "-test.failfast", "-test.run", which)
		c.Dir, c.Env = dir, append(os.Environ(), "MUTANT="+strconv.Itoa(n))
		err := c.Run()
		cancel()
		var exit *exec.ExitError
		switch {
		case err == nil:
		case errors.As(err, &exit), ctx.Err() != nil:
			return false, nil //nolint:nilerr // a test that fails, or runs for ever, is what is asked for
		default:
			return false, err
		}
	}
	return true, nil
}

// wantedOf reads "17,40-60"; empty: all.
func wantedOf(text string, n int) []int {
	var all []int
	for part := range strings.SplitSeq(text, ",") {
		from, to, isRange := strings.Cut(part, "-")
		a, err := strconv.Atoi(from)
		if err != nil {
			continue
		}
		b := a
		if isRange {
			b, _ = strconv.Atoi(to)
		}
		for i := a; i <= min(b, n); i++ {
			all = append(all, i)
		}
	}
	if len(all) == 0 {
		for i := 1; i <= n; i++ {
			all = append(all, i)
		}
	}
	return all
}

// writeOverlay puts the changed files into tmp and names them for the build.
func writeOverlay(tmp, dir, pkg string, files map[string][]byte) (string, error) {
	abs, err := filepath.Abs(dir)
	if err != nil {
		return "", err
	}
	replace := map[string]string{}
	files["zz_mutants.go"] = []byte(switchFile(pkg))
	names := []string{}
	for name := range files {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		path := filepath.Join(tmp, name)
		if err := os.WriteFile(path, files[name], 0o600); err != nil {
			return "", err
		}
		replace[filepath.Join(abs, name)] = path
	}
	var b bytes.Buffer
	if err := json.NewEncoder(&b).Encode(map[string]any{"Replace": replace}); err != nil {
		return "", err
	}
	path := filepath.Join(tmp, "overlay.json")
	return path, os.WriteFile(path, b.Bytes(), 0o600)
}

func switchFile(pkg string) string {
	return "package " + pkg + `

import (
	"os"
	"strconv"
)

var mutant, _ = strconv.Atoi(os.Getenv("MUTANT"))

func mutantAnd(n int, x bool, y func() bool) bool {
	if mutant == n {
		return x || y()
	}
	return x && y()
}

func mutantOr(n int, x bool, y func() bool) bool {
	if mutant == n {
		return x && y()
	}
	return x || y()
}

func mutantNot(n int, x bool) bool { return (mutant == n) == x }

func mutantInt[T ~int | ~int64](n int, changed, x T) T {
	if mutant == n {
		return changed
	}
	return x
}
`
}
