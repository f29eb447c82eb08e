package ocr

import (
	"sync"

	"gatefold/sheetmodel/print"
)

// sharedForms are the prepared prints of all Readers: one takes 4.5 MB, a stack brings a dozen, and Readers side by side
// are given the same sides. Each is made once, and goes with the last Reader that has asked for it.
type sharedForms struct {
	mu   sync.Mutex
	made map[formKey]*sharedForm
}

type sharedForm struct {
	readers int
	made    func() (*printed, error)
}

var shared = sharedForms{made: map[formKey]*sharedForm{}}

// form returns a side's print as pages of a step of blur show it. Nobody may change it. Another Reader that wants the
// same one at the same time waits until it is made; none waits for another print.
func (r *Reader) form(key formKey) (*printed, error) {
	f := r.forms[key]
	if f == nil {
		f = shared.take(key)
		if r.forms == nil {
			r.forms = map[formKey]*sharedForm{}
		}
		r.forms[key] = f
	}
	return f.made()
}

func (s *sharedForms) take(key formKey) *sharedForm {
	s.mu.Lock()
	defer s.mu.Unlock()
	f := s.made[key]
	if f == nil {
		f = &sharedForm{made: sync.OnceValues(func() (*printed, error) {
			return newPrinted(print.RasterBlank(key.side, inkPxPerMM), key.side, key.step, key.broad)
		})}
		s.made[key] = f
	}
	f.readers++
	return f
}

// drop gives back what a Reader has asked for.
func (s *sharedForms) drop(forms map[formKey]*sharedForm) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for key, f := range forms {
		if f.readers--; f.readers == 0 {
			delete(s.made, key)
		}
	}
}
