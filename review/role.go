package review

import "strings"

// role is what somebody at a phone may do, as a set of bits.
type role uint8

// The roles. One person may hold all of them; whoever sits at the laptop does.
const (
	rolePhotos role = 1 << iota // take photos, say who stands where
	roleSettle                  // settle what waits, as at the desk
	roleView                    // look at the stack and the draft, without names and phone numbers
	roleHear                    // type what judges read aloud of their own rows
	roleAsk                     // settle, and enter what a judge says when asked: for the chief gate judge and the referee

	anybody  role = 0
	allRoles      = rolePhotos | roleSettle | roleView | roleHear | roleAsk
)

// roles lists the roles with the names that forms use and the words for people.
var roles = []struct {
	Name  string
	Bit   role
	Words string
}{
	{"photos", rolePhotos, "take photos"},
	{"hear", roleHear, "hear rows read back"},
	{"settle", roleSettle, "settle"},
	{"ask", roleAsk | roleSettle, "settle, and ask judges (chief gate judge, referee)"},
	{"view", roleView, "view"},
}

// parseRoles reads the names of roles; others than ours are left out.
func parseRoles(names []string) role {
	var all role
	for _, name := range names {
		for _, r := range roles {
			if r.Name == name {
				all |= r.Bit
			}
		}
	}
	return all
}

func (r role) String() string {
	var words []string
	for _, one := range roles {
		if one.Bit&roleSettle != 0 && (one.Bit == roleSettle) == r.Ask() {
			continue // the other of the two says it
		}
		if r&one.Bit != 0 {
			words = append(words, one.Words)
		}
	}
	return strings.Join(words, ", ")
}

// Photos reports whether photos may be taken. Templates ask these.
func (r role) Photos() bool { return r&rolePhotos != 0 }

// Hear reports whether judges' rows may be heard.
func (r role) Hear() bool { return r&(roleHear|roleSettle) != 0 }

// Settle reports whether entries may be settled.
func (r role) Settle() bool { return r&roleSettle != 0 }

// Ask reports whether what a judge says when asked may be entered.
func (r role) Ask() bool { return r&roleAsk != 0 }

// Look reports whether stack and draft may be looked at.
func (r role) Look() bool { return r&(roleSettle|roleView) != 0 }

// Nameless reports whether names and phone numbers stay hidden.
func (r role) Nameless() bool { return r&roleSettle == 0 }
