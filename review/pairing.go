package review

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"slices"
	"strings"
	"sync"
	"time"
)

// Pairing lasts so long. A code is typed or scanned at once; a session covers a day of racing, and ends
// earlier when its phone has gone.
const (
	codeLife    = 10 * time.Minute
	sessionLife = 16 * time.Hour
	sessionIdle = 4 * time.Hour
)

// Guessing is held up by these, within guessWindow. A code has 31^8 forms, about 2^39: at 50 guesses in
// ten minutes, somebody who guesses all day at one open code finds it with a chance of 1 in 10^8.
const (
	guessWindow     = 10 * time.Minute
	guessesAddress  = 5  // wrong codes from one address
	guessesTogether = 50 // wrong codes from all addresses
)

// mostCodes and mostPhones bound what a desk keeps in mind.
const (
	mostCodes  = 20
	mostPhones = 50
)

// codeSigns are the signs of a code: no 0, 1, I, L, O, which are taken for each other.
const codeSigns = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"

const codeLength = 8

// pairing knows which phones may come in. It is kept in memory only: a desk that was closed knows no
// phone any more.
type pairing struct {
	now    func() time.Time
	random io.Reader

	mu      sync.Mutex
	codes   []*pairCode
	phones  []*phone
	guesses []guess // wrong ones of the last window, oldest first
}

// pairCode lets one phone in, once.
type pairCode struct {
	ID    string // names it in forms; not secret
	code  string
	Roles role
	made  time.Time
	Ends  time.Time
}

// phone is one that was let in.
type phone struct {
	ID      string
	Person  string
	Roles   role
	From    string // its address when it was paired
	Since   time.Time
	Seen    time.Time
	revoked bool
}

type guess struct {
	address string
	at      time.Time
}

// errNoSuchCode says that a code is wrong, used or too old; which of these, a guesser isn't told.
var errNoSuchCode = errors.New("no such code")

// errTooManyGuesses says that no code is looked at for now.
var errTooManyGuesses = errors.New("too many wrong codes")

// offer makes a code.
func (p *pairing) offer(roles role) (*pairCode, error) {
	code, err := p.draw()
	if err != nil {
		return nil, err
	}
	id, err := p.name()
	if err != nil {
		return nil, err
	}
	now := p.now()
	c := &pairCode{ID: id, code: code, Roles: roles, made: now, Ends: now.Add(codeLife)}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.tidy()
	p.codes = append(p.codes, c)
	if len(p.codes) > mostCodes {
		p.codes = slices.Delete(p.codes, 0, len(p.codes)-mostCodes)
	}
	return c, nil
}

// draw returns a code of signs that are all equally likely.
func (p *pairing) draw() (string, error) {
	var code strings.Builder
	b := make([]byte, 1)
	for code.Len() < codeLength {
		if _, err := io.ReadFull(p.random, b); err != nil {
			return "", err
		}
		if n := int(b[0]); n < 256/len(codeSigns)*len(codeSigns) { // the rest would favour the first signs
			code.WriteByte(codeSigns[n%len(codeSigns)])
		}
	}
	return code.String(), nil
}

func (p *pairing) name() (string, error) {
	b := make([]byte, 8)
	if _, err := io.ReadFull(p.random, b); err != nil {
		return "", err
	}
	return hex.EncodeToString(b), nil
}

// tidy forgets what has run out. The lock is held.
func (p *pairing) tidy() {
	now := p.now()
	p.codes = slices.DeleteFunc(p.codes, func(c *pairCode) bool { return gone(now, c.made) >= codeLife })
	p.phones = slices.DeleteFunc(p.phones, func(h *phone) bool { return h.over(now) })
	p.guesses = slices.DeleteFunc(p.guesses, func(g guess) bool { return now.Sub(g.at) >= guessWindow })
}

func (h *phone) over(now time.Time) bool {
	return h.revoked || gone(now, h.Since) >= sessionLife || gone(now, h.Seen) >= sessionIdle
}

// gone is how long ago a moment was, by whichever of the computer's two clocks says more: the steady one stands still
// while a laptop is asleep, and the one on the wall may be set back.
func gone(now, then time.Time) time.Duration {
	return max(now.Sub(then), now.Round(0).Sub(then.Round(0)))
}

// join lets a phone in for a code. The error is errNoSuchCode or errTooManyGuesses, or that of drawing a
// name.
func (p *pairing) join(typed, person, address string) (*phone, error) {
	id, err := p.name()
	if err != nil {
		return nil, err
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.tidy()
	if p.shut(address) {
		return nil, errTooManyGuesses
	}
	// Hashes are compared: how long it takes says nothing of how much of a guess was right.
	want := sha256.Sum256([]byte(plainCode(typed)))
	at := slices.IndexFunc(p.codes, func(c *pairCode) bool { return sha256.Sum256([]byte(c.code)) == want })
	if at < 0 {
		p.guesses = append(p.guesses, guess{address, p.now()})
		return nil, errNoSuchCode
	}
	h := &phone{ID: id, Person: person, Roles: p.codes[at].Roles, From: address, Since: p.now(), Seen: p.now()}
	p.codes = slices.Delete(p.codes, at, at+1)
	p.phones = append(p.phones, h)
	if len(p.phones) > mostPhones {
		p.phones[0].revoked = true
		p.phones = p.phones[1:]
	}
	return h, nil
}

// shut reports whether an address has to wait. The lock is held.
func (p *pairing) shut(address string) bool {
	n := 0
	for _, g := range p.guesses {
		if g.address == address {
			n++
		}
	}
	return n >= guessesAddress || len(p.guesses) >= guessesTogether
}

// still reports whether a phone may still come in, and notes that it was seen.
func (p *pairing) still(h *phone) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	if h.over(p.now()) {
		h.revoked = true
		return false
	}
	h.Seen = p.now()
	return true
}

// revoke shuts a phone out, and forgets a code that was not used yet.
func (p *pairing) revoke(id string) (person string, found bool) {
	p.mu.Lock()
	defer p.mu.Unlock()
	for _, h := range p.phones {
		if h.ID == id {
			h.revoked, person, found = true, h.Person, true
		}
	}
	p.codes = slices.DeleteFunc(p.codes, func(c *pairCode) bool {
		found = found || c.ID == id
		return c.ID == id
	})
	p.tidy()
	return person, found
}

// allowAgain forgets the wrong codes: somebody at the laptop knows whose they were.
func (p *pairing) allowAgain() {
	p.mu.Lock()
	p.guesses = nil
	p.mu.Unlock()
}

// standing returns copies of what holds now, and the number of wrong codes of the last minutes.
func (p *pairing) standing() (codes []pairCode, phones []phone, wrong int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.tidy()
	for _, c := range p.codes {
		codes = append(codes, *c)
	}
	for _, h := range p.phones {
		phones = append(phones, *h)
	}
	return codes, phones, len(p.guesses)
}

// rename notes who holds a phone now.
func (p *pairing) rename(h *phone, person string) {
	p.mu.Lock()
	h.Person = person
	p.mu.Unlock()
}

// plainCode is a code as it was drawn, however it was typed.
func plainCode(typed string) string {
	return strings.Map(func(r rune) rune {
		if r == '-' || r == ' ' || r == '.' || r == '–' {
			return -1
		}
		return r
	}, strings.ToUpper(strings.TrimSpace(typed)))
}

// spelled is a code as people read it.
func spelled(code string) string { return code[:codeLength/2] + "-" + code[codeLength/2:] }
