package review

import (
	"context"
	"net/http"
)

// tourView is one screen for somebody who has never sat here.
type tourView struct {
	frame
}

// showTour tells on one screen how a run goes at this desk. It shows nothing of what the cards say.
func (d *Desk) showTour(w http.ResponseWriter, r *http.Request, s *session) error {
	_, f, err := d.view(r.Context(), s, "How a run goes here", "tour")
	if err != nil {
		return err
	}
	return d.render(w, "tour", http.StatusOK, tourView{frame: f})
}

// nobodyYet reports whether nobody has sat at this race's desk so far: whoever comes first is shown around.
func (d *Desk) nobodyYet(ctx context.Context) (bool, error) {
	known, err := d.opt.Store.People(ctx)
	if err != nil {
		return false, err
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	return len(known) == 0 && len(d.sessions) == 0, nil
}
