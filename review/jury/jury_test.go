package jury

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

var line = Line{Run: 1, Course: "Blue/Red %", Group: "U12 girls", Bib: "14"}

func at(clock string) time.Time {
	t, err := time.Parse("2006-01-02 15:04:05", "2027-01-23 "+clock)
	if err != nil {
		panic(err)
	}
	return t
}

// What is written is read back, under the name of who entered it; what was taken back or is no record is not.
func TestRead_WhatStands(t *testing.T) {
	post, prot := Posting{At: at("12:04:00"), Gate: "7", Code: "F"}, Protest{At: at("12:10:00"), From: "team official"}
	dec := Decision{Verdict: Overruled, At: at("12:31:00"), Present: []string{"referee", "chief of race"}, Reason: "tracks"}
	answers, by := map[string]string{}, map[string]string{}
	for _, what := range []any{post, prot, dec, Coach{Allowed: true}} {
		answers[Key(line, what)], by[Key(line, what)] = Value(what), "Ada"
	}
	answers["lost-ski/1/Blue/40/14"] = "2"
	answers[Key(Line{Run: 1, Bib: "9"}, dec)] = ""
	answers[Key(Line{Run: 1, Bib: "8"}, dec)] = `{"verdict":"maybe"}`
	all := Read(answers, by)
	post.By, prot.By, dec.By, prot.No = "Ada", "Ada", "Ada", 1
	assert.Equal(t, Record{Line: line, Posted: &post, Protests: []Protest{prot}, Decision: &dec, Decisions: []Decision{dec}, Coach: &Coach{Allowed: true, By: "Ada"}}, all[line])
	assert.Nil(t, all[Line{Run: 1, Bib: "8"}].Decision)
	assert.NotContains(t, all, Line{Run: 1, Bib: "9"})
	assert.Len(t, all, 2)
}

// Source: 15 minutes from posting (officials' training, Oregon schools), 30 minutes from posting (Ontario
// schools); that the last moment is in time is our own logic.
func TestRecord_ProtestPeriod(t *testing.T) {
	for _, c := range []struct {
		minutes int
		protest string
		late    bool
	}{{15, "12:19:00", false}, {15, "12:19:01", true}, {30, "12:34:00", false}, {30, "12:34:01", true}, {15, "12:00:00", false}} {
		r := Record{Posted: &Posting{At: at("12:04:00")}, Protests: []Protest{{At: at(c.protest), No: 1}}}
		assert.Equal(t, c.late, r.Late(c.minutes), c.protest)
	}
	assert.Equal(t, at("12:19:00"), Posting{At: at("12:04:00")}.Until(15))
	assert.False(t, Record{Protests: []Protest{{At: at("23:00:00"), No: 1}}}.Late(15), "no posting, no period")
}

func TestKey_OddNamesKeepLinesApart(t *testing.T) {
	seen := map[string]bool{}
	for _, l := range []Line{line, {1, "a", "b/c", "1"}, {1, "a/b", "c", "1"}, {1, "a", "b", "c/1"}, {11, "a", "", "1"}, {1, "1/a", "", "1"}} {
		for _, what := range []any{Posting{}, Protest{}, Decision{}, Coach{}} {
			k := Key(l, what)
			assert.False(t, seen[k], k)
			seen[k] = true
			_, got, ok := parseKey(k)
			assert.True(t, ok)
			assert.Equal(t, l, got)
			assert.True(t, IsKey(k))
		}
	}
	for _, k := range []string{"jury", "jury/posted/x/a/b/1", "jury/posted/1/a/b", "jury/posted/1/%zz/b/1", "posted/1/a/b/1"} {
		_, _, ok := parseKey(k)
		assert.False(t, ok, k)
	}
}

// A racer's two faults in one run have a decision each; what is public now decides which of them is the line's.
// Source: our own logic.
func TestRead_TwoLinesOfOneRacer_EachHasItsDecision(t *testing.T) {
	first := Decision{Verdict: Overruled, At: at("12:31:00"), Present: []string{"referee"}, Gate: "7", Code: "F"}
	second := Decision{Verdict: Upheld, At: at("13:05:00"), Present: []string{"referee"}, Gate: "24", Code: "F"}
	answers := map[string]string{}
	keep := func(what any) { answers[Key(line, what)] = Value(what) }
	keep(Posting{At: at("12:04:00"), Gate: "7", Code: "F"})
	keep(first)
	r := Read(answers, nil)[line]
	assert.Equal(t, &first, r.Decision)
	assert.Equal(t, &first, r.On("7", "F").Decision)
	assert.Nil(t, r.On("24", "F").Decision, "nothing was decided of the other fault")
	assert.Nil(t, r.On("24", "F").Posted, "nor is it public")

	keep(Posting{At: at("12:50:00"), Gate: "24", Code: "F"})
	keep(Protest{At: at("12:55:00")})
	r = Read(answers, nil)[line]
	assert.Nil(t, r.Decision, "what is public now is not decided")
	assert.True(t, r.ProtestOpen())
	assert.Len(t, r.On("24", "F").Protests, 1)
	keep(second)
	r = Read(answers, nil)[line]
	assert.Equal(t, &second, r.Decision)
	assert.Equal(t, []Decision{first, second}, r.Decisions)
	assert.Equal(t, &first, r.On("7", "F").Decision)
	assert.False(t, r.ProtestOpen())
	// One that names no line was about what was public then; a newer one takes its place.
	old := Decision{Verdict: Overruled, At: at("12:31:00")}
	assert.Equal(t, "jury/decision/1/Blue%2FRed%20%25/U12%20girls/14", Key(line, old))
	r = Read(map[string]string{Key(line, old): Value(old), Key(line, second): Value(second)}, nil)[line]
	assert.Equal(t, []Decision{second}, r.Decisions)
}
