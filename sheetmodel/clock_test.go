package sheetmodel

import (
	"encoding/json"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Source of the zone changes: IANA time zone database, Europe/Vienna follows the EU rule (last Sunday
// of March and October, 01:00 UTC); Asia/Kathmandu is 5:45 ahead.
func TestOfficialTime_AddsTheOffset_AndShowsTheZone(t *testing.T) {
	at := func(text string) time.Time {
		m, err := time.Parse(time.RFC3339, text)
		require.NoError(t, err)
		return m
	}
	cases := []struct {
		zone   string
		offset time.Duration
		laptop string
		want   string
	}{
		{"Europe/Vienna", 0, "2027-01-23T09:00:00Z", "2027-01-23T10:00:00+01:00"},
		{"Europe/Vienna", -63 * time.Second, "2027-01-23T09:00:00Z", "2027-01-23T09:58:57+01:00"},
		{"Europe/Vienna", 0, "2027-01-23T02:00:00-07:00", "2027-01-23T10:00:00+01:00"},
		{"Europe/Vienna", 0, "2027-03-28T00:59:59Z", "2027-03-28T01:59:59+01:00"},
		{"Europe/Vienna", time.Second, "2027-03-28T00:59:59Z", "2027-03-28T03:00:00+02:00"}, // the offset carries it over the spring gap
		{"Europe/Vienna", 0, "2027-10-31T00:30:00Z", "2027-10-31T02:30:00+02:00"},           // the first 02:30 of that night
		{"Europe/Vienna", 0, "2027-10-31T01:30:00Z", "2027-10-31T02:30:00+01:00"},           // the second
		{"Asia/Kathmandu", 0, "2027-01-23T00:00:00Z", "2027-01-23T05:45:00+05:45"},
	}
	for _, c := range cases {
		got, err := OfficialTime(at(c.laptop), &Race{Zone: c.zone, ClockOffset: c.offset})
		require.NoError(t, err)
		assert.Equal(t, c.want, got.Format(time.RFC3339))

		// Stored and read back it is the same moment with the same wall clock, the doubled hour too.
		b, err := json.Marshal(Stored(got))
		require.NoError(t, err)
		var z Zulu
		require.NoError(t, json.Unmarshal(b, &z))
		assert.Equal(t, c.want, z.Time().Format(time.RFC3339))
		assert.True(t, got.Equal(z.Time()))
		assert.Equal(t, time.UTC, z.UTC.Location())
	}
}

func TestLoadZone_RefusesNamesThatMeanAnotherZoneElsewhere(t *testing.T) {
	for _, name := range []string{"", "Local", "CEST", "../etc/passwd", "Europe/Nowhere"} {
		_, err := LoadZone(name)
		require.ErrorContains(t, err, "IANA", name)
	}
}
