package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"gatefold/review/draft"
	"gatefold/rules"
	"gatefold/sheetmodel"
	"gatefold/sheetmodel/racefolder"
)

func rulesCommand(a *app) *cobra.Command {
	var checks bool
	c := &cobra.Command{
		Use:   "rules [SET | FILE.yaml]",
		Short: "Show a rule set with the article of each setting, or all checks",
		Long: `Shows what a rule set says and what each setting rests on: a shipped set by its name, or a
league's own YAML file, which is looked over at the same time. All mistakes are named with their
line; what a referee could not look up is pointed out. Without a name the shipped sets are listed.

A league begins with a shipped set:  gatefold rules youth --yaml > rules.yaml
Put the file beside race.yaml and write there:  rule_set: rules.yaml

With --checks: every check, what it looks at, and the article or practice it rests on.`,
		Example: "  gatefold rules\n  gatefold rules school\n  gatefold rules --checks",
		Args:    cobra.MaximumNArgs(1),
	}
	var asYAML bool
	c.RunE = func(_ *cobra.Command, args []string) error {
		switch {
		case checks && len(args) > 0 || checks && asYAML:
			return errors.New("--checks stands alone: the checks are the same under every rule set")
		case checks:
			a.printChecks()
			return nil
		case len(args) == 0 && asYAML:
			return errors.New("--yaml needs the name of a shipped set: " + strings.Join(racefolder.RuleSets(), ", "))
		case len(args) == 0:
			for _, name := range racefolder.RuleSets() {
				r, err := racefolder.ShippedRules(name)
				if err != nil {
					return err
				}
				a.printf("%-14s %s\n", name, r.Name)
			}
			return nil
		case asYAML:
			text, err := racefolder.ShippedRulesText(args[0])
			a.printf("%s", text)
			return err
		}
		r, hints, err := openRuleSet(args[0])
		if err != nil {
			return err
		}
		a.printSettings(r, "")
		for _, h := range hints {
			a.printf("note: %s\n", h)
		}
		return nil
	}
	c.Flags().BoolVar(&checks, "checks", false, "list every check with its severity and what it rests on")
	c.Flags().BoolVar(&asYAML, "yaml", false, "print a shipped set as the file it is, to begin one's own with")
	return c
}

// openRuleSet takes a shipped set's name or a file.
func openRuleSet(name string) (sheetmodel.RuleSettings, []string, error) {
	if slices.Contains(racefolder.RuleSets(), name) {
		r, err := racefolder.ShippedRules(name)
		return r, nil, err
	}
	if filepath.Ext(name) == "" {
		_, err := racefolder.ShippedRules(name)
		return sheetmodel.RuleSettings{}, nil, err
	}
	if _, err := os.Stat(name); errors.Is(err, fs.ErrNotExist) {
		return sheetmodel.RuleSettings{}, nil, fmt.Errorf("rule set %s: there is no such file; begin one with: gatefold rules %s --yaml", name, racefolder.DefaultRuleSet)
	}
	text, err := readYAML("rule set", name)
	if err != nil {
		return sheetmodel.RuleSettings{}, nil, err
	}
	return racefolder.ParseRuleSet(name, text)
}

// printSettings prints one line a setting, and what it rests on below it.
func (a *app) printSettings(r sheetmodel.RuleSettings, discipline string) {
	a.printf("rules: %s\n", r.Name)
	for _, s := range r.Settings(discipline) {
		a.printf("  %-20s %s (%s)\n", s.Key, s.Words, s.Basis)
	}
	for _, n := range r.Notes {
		a.printf("  %-20s %s\n", "note", n)
	}
}

func (a *app) printChecks() {
	for _, r := range rules.All() {
		a.printf("%s (%s)\n  %s\n", r.Name, draft.BasisWords(r.Basis), r.Help)
		if len(r.Settings) > 0 {
			a.printf("  settings: %s\n", strings.Join(r.Settings, ", "))
		}
	}
}
