package sheetmodel

import (
	"fmt"
	"sync"
	"time"
	_ "time/tzdata" // a laptop on the hill may have no zone files
)

// Zulu is a moment as it is stored: UTC, and the offset of the race's zone from UTC at that moment.
// The pair stays right when a zone's rules change after the race.
type Zulu struct {
	UTC           time.Time `json:"utc"`
	OffsetSeconds int       `json:"utc_offset_s"` // seconds east of UTC
}

// LoadZone returns the zone with an IANA name such as Europe/Vienna. "Local" and the empty name are
// refused: they mean another zone on another laptop.
func LoadZone(name string) (*time.Location, error) {
	if name == "" || name == "Local" {
		return nil, fmt.Errorf("time zone %q names no place; write an IANA name such as Europe/Vienna", name)
	}
	if loc, ok := zones.Load(name); ok {
		return loc.(*time.Location), nil //nolint:forcetypeassert // nothing else is kept there
	}
	loc, err := time.LoadLocation(name)
	if err != nil {
		return nil, fmt.Errorf("time zone %q is not in the IANA list; write a name such as Europe/Vienna", name)
	}
	zones.Store(name, loc)
	return loc, nil
}

// zones keeps what LoadZone found, by name: reading it takes longer than all else about a moment. It holds no more than
// the IANA list does.
var zones sync.Map

// OfficialTime turns a moment of this laptop's clock into official race time, shown in the race's zone.
// It adds race.ClockOffset, official time minus laptop time. The error is that of LoadZone.
func OfficialTime(t time.Time, race *Race) (time.Time, error) {
	loc, err := LoadZone(race.Zone)
	if err != nil {
		return time.Time{}, err
	}
	return t.Add(race.ClockOffset).In(loc), nil
}

// Stored returns a moment as it is written to disk. Monotonic readings are dropped.
func Stored(t time.Time) Zulu {
	_, offset := t.Zone()
	return Zulu{UTC: t.Round(0).UTC(), OffsetSeconds: offset}
}

// Time returns the moment with the wall clock of the race, as it was when it was stored.
func (z Zulu) Time() time.Time {
	return z.UTC.In(time.FixedZone("", z.OffsetSeconds))
}
