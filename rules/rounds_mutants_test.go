//go:build mutants

package rules_test

// With the tag mutants, tests run on fewer days: mutation testing runs them once for every change it makes.
const rounds, daysUsual, raceDaysUsual = 12, 60, 2
