// Package sheetmodel holds the nouns of gatefold: races, printed cards, readings, looks, calls and findings.
//
//	race.yaml, start list --parse--> Race ---.
//	layout YAML ----------parse--> Layout ---+--> Identity of each printed Sheet
//	                                         |
//	Reading, Row, Look, Decision, Call, Finding: what the other rooms hand to each other
//
// It imports no other room and knows no pixels of a photo beyond the three frames in frame.go,
// no database and no page. Nothing in it needs closing.
package sheetmodel
