package sheetmodel

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"hash/crc32"
)

// Identity is what the machine-readable code on a side says: which paper this is.
//
//	byte  0     bits 7-4 format (1), bits 3-2 run (0 spare, 1, 2), bit 1 side (0 front, 1 back), bit 0 zero
//	byte  1     course, counted from 1 in the race's order; 0 on spares
//	bytes 2-3   card number, big-endian
//	bytes 4-5   race: first 16 bits of the SHA-256 of its ID
//	bytes 6-8   layout: first 24 bits of its content hash
//	bytes 9-11  first 24 bits of the CRC-32 (IEEE 802.3) of bytes 0-8
type Identity struct {
	Run    int      `json:"run"`
	Course int      `json:"course"`
	Card   int      `json:"card"`
	Side   SideName `json:"side"`
	Race   string   `json:"race"`   // 4 hex digits
	Layout string   `json:"layout"` // 6 hex digits
}

// IdentitySize is the number of bytes of an encoded Identity.
const IdentitySize = 12

const identityFormat = 1

// ErrIdentity is returned for bytes that are no identity of ours or don't match their checksum.
var ErrIdentity = errors.New("identity does not match its checksum")

// RaceHash returns the 4 hex digits by which an identity names a race.
func RaceHash(raceID string) string {
	sum := sha256.Sum256([]byte(raceID))
	return hex.EncodeToString(sum[:2])
}

// Encode returns the bytes to print. It refuses an identity that does not fit.
func (id Identity) Encode() ([]byte, error) {
	race, err := hex.DecodeString(id.Race)
	if err != nil || len(race) != 2 {
		return nil, fmt.Errorf("identity: race %q must be 4 hex digits", id.Race)
	}
	layout, err := hex.DecodeString(id.Layout)
	if err != nil || len(layout) != 3 {
		return nil, fmt.Errorf("identity: layout %q must be 6 hex digits", id.Layout)
	}
	if id.Run < 0 || id.Run > 3 || id.Course < 0 || id.Course > 255 || id.Card < 0 || id.Card > 65535 {
		return nil, fmt.Errorf("identity: run %d, course %d, card %d do not fit", id.Run, id.Course, id.Card)
	}
	side := byte(0)
	switch id.Side {
	case Front:
	case Back:
		side = 2
	default:
		return nil, fmt.Errorf("identity: side %q must be front or back", id.Side)
	}
	b := make([]byte, 0, IdentitySize)
	b = append(b, identityFormat<<4|byte(id.Run)<<2|side, byte(id.Course), byte(id.Card>>8), byte(id.Card))
	b = append(b, race...)
	b = append(b, layout...)
	sum := crc32.ChecksumIEEE(b)
	return append(b, byte(sum>>24), byte(sum>>16), byte(sum>>8)), nil
}

// DecodeIdentity reads what Encode wrote; anything else is ErrIdentity.
func DecodeIdentity(b []byte) (Identity, error) {
	if len(b) != IdentitySize || b[0]>>4 != identityFormat || b[0]&1 != 0 {
		return Identity{}, ErrIdentity
	}
	sum := crc32.ChecksumIEEE(b[:9])
	if b[9] != byte(sum>>24) || b[10] != byte(sum>>16) || b[11] != byte(sum>>8) {
		return Identity{}, ErrIdentity
	}
	id := Identity{
		Run: int(b[0] >> 2 & 3), Course: int(b[1]), Card: int(binary.BigEndian.Uint16(b[2:4])),
		Side: Front, Race: hex.EncodeToString(b[4:6]), Layout: hex.EncodeToString(b[6:9]),
	}
	if b[0]&2 != 0 {
		id.Side = Back
	}
	return id, nil
}
