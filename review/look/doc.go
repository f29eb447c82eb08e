// Package look says how many looks a bib has, and what would give it another.
package look
