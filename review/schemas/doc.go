// Package schemas holds the JSON Schemas (2020-12) of what gatefold writes, and checks files against them.
//
//	draft.json, findings.json, readings.json, ... --Validate--> nil, or every place that doesn't fit
//
// The schemas are embedded and go into every archive. They refer to each other by file name only, so a
// folder with all of them works anywhere.
package schemas
