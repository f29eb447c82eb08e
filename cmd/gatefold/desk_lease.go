package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"
)

// deskLeaseName is the file in a race folder that the open desk holds.
const deskLeaseName = "desk.lock"

// deskLease keeps a second desk off a race: two desks would each believe to know what they have shown.
//
//	desk A --lock--> desk.lock {process, address, since}
//	desk B --lock--> taken: says where A is, and ends
//
// The lock is the operating system's. It goes with the process, however that ends, so a file that is
// left behind blocks nobody.
type deskLease struct {
	file *os.File
	left deskHolder // who held the race before and didn't take the file away; zero: nobody
}

// deskHolder is what the file says of the desk that holds it.
type deskHolder struct {
	Process  int       `json:"process"`
	Computer string    `json:"computer,omitempty"`
	Address  string    `json:"address,omitempty"` // empty: it is just being opened
	Since    time.Time `json:"since"`
}

// deskTakenError says that another desk is open on the race.
type deskTakenError struct {
	Race   string
	Holder deskHolder
}

func (e *deskTakenError) Error() string {
	at := "just being opened"
	if e.Holder.Address != "" {
		at = "open at " + e.Holder.Address
	}
	who := ""
	if e.Holder.Process != 0 {
		who = fmt.Sprintf(" (process %d", e.Holder.Process)
		if e.Holder.Computer != "" {
			who += " on " + e.Holder.Computer
		}
		who += e.Holder.Since.Format(", since 15:04)")
	}
	return fmt.Sprintf("race %s: another desk is %s%s; use that page, or close that desk with Ctrl-C and open this one again", e.Race, at, who)
}

// takeDeskLease takes the race for one desk. The caller closes the lease. The error is a
// *deskTakenError if another desk has it.
func takeDeskLease(race string, now time.Time) (*deskLease, error) {
	name := filepath.Join(race, deskLeaseName)
	for {
		f, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE, 0o644)
		if err != nil {
			return nil, fmt.Errorf("race %s: %w; check that the folder may be written", race, err)
		}
		taken, err := lockFile(f)
		switch {
		case err != nil:
			return nil, errors.Join(fmt.Errorf("race %s: %s can't be locked: %w; put the race on a disk of this computer", race, deskLeaseName, err), f.Close())
		case taken:
			holder := readHolder(f)
			return nil, errors.Join(&deskTakenError{Race: race, Holder: holder}, f.Close())
		}
		// The desk before may have taken its file away between opening and locking.
		mine, err1 := f.Stat()
		there, err2 := os.Stat(name)
		if err1 == nil && err2 == nil && os.SameFile(mine, there) {
			l := &deskLease{file: f, left: readHolder(f)}
			if err = l.say("", now); err != nil {
				return nil, errors.Join(err, l.Close())
			}
			return l, nil
		}
		if err = f.Close(); err != nil {
			return nil, err
		}
	}
}

// takenOver says that another computer's desk was on this race and didn't close it, or "".
func (l *deskLease) takenOver() string {
	here, err := os.Hostname()
	if err != nil || l.left.Computer == "" || l.left.Computer == here {
		return ""
	}
	return fmt.Sprintf("this race was last open on %s, %s, and wasn't closed there; it goes on here. "+
		"If that computer works on it again, bring the two copies together later: gatefold join", l.left.Computer, l.left.Since.Format("2006-01-02 15:04"))
}

// say writes into the file where the desk is.
func (l *deskLease) say(address string, now time.Time) error {
	computer, err := os.Hostname()
	if err != nil {
		computer = "" // the process and the address must do
	}
	b, err := json.Marshal(deskHolder{Process: os.Getpid(), Computer: computer, Address: address, Since: now})
	if err == nil {
		err = l.file.Truncate(0)
	}
	if err == nil {
		_, err = l.file.WriteAt(append(b, '\n'), 0)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", l.file.Name(), err)
	}
	return nil
}

// Close gives the race free and takes the file away.
func (l *deskLease) Close() error {
	gone := os.Remove(l.file.Name()) // while it is locked: nobody else's is taken away
	err := l.file.Close()
	if gone != nil { // some systems keep an open file
		gone = os.Remove(l.file.Name())
	}
	return errors.Join(gone, err)
}

// readHolder reads who has the file; an unreadable one says nothing.
func readHolder(f *os.File) deskHolder {
	var h deskHolder
	b, err := io.ReadAll(io.LimitReader(f, 4096))
	if err != nil || json.Unmarshal(b, &h) != nil {
		return deskHolder{}
	}
	return h
}
