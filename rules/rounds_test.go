//go:build !mutants

package rules_test

// rounds is the number of random race days for each property where no flag says otherwise; the seed of a failure is in its name.
const rounds = 250

// daysUsual and raceDaysUsual are how many days are drawn where no flag says otherwise.
const daysUsual, raceDaysUsual = 3000, 40
