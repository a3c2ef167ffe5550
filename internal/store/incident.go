package store

import (
	"cmp"
	"context"
	"slices"

	"firstcue/internal/training"
)

// incidents reads those of one dog (0 = of all) up to the day, with those closed
// by then; in order of day.
//
// What was noted in any form of a session counts, also when the form in force no
// longer says it or the session was withdrawn: an incident goes off the list by
// being closed and in no other way. Of the same words in one session, the form
// that says them most often counts.
func (t *tx) incidents(dog int64, asOf training.Day) ([]training.Incident, error) {
	var out []training.Incident
	add := func(x training.Incident, day int64, closed *int64) {
		x.Day, x.Closed = training.Day(day), training.Day(deref(closed))
		if asOf != 0 {
			if x.Day > asOf {
				return
			}
			if x.Closed > asOf {
				x.Closed, x.Outcome = 0, ""
			}
		}
		out = append(out, x)
	}
	type noted struct {
		training.Incident
		day    int64
		closed *int64
	}
	type words struct{ session, text string }
	forms := map[words]map[int64][]noted{} // by number of the revision
	shown := map[words]int{}               // how often the form in force says it
	var order []words
	// The order of the joins is that of the rows to look at: few sessions of one
	// dog, or the few remarks that are incidents.
	from, args := "noted m CROSS JOIN revision r ON r.n = m.revision CROSS JOIN session s ON s.n = r.session", []any{}
	mine, entered := "", ""
	if dog != 0 {
		from, args = "session s CROSS JOIN revision r ON r.session = s.n CROSS JOIN noted m ON m.revision = r.n", []any{dog}
		mine, entered = "s.dog IN (SELECT n FROM name WHERE shown = ?) AND", "WHERE i.dog IN (SELECT n FROM name WHERE shown = ?)"
	}
	err := t.each(func(scan func(...any) error) error {
		var x noted
		var rev int64
		var force bool
		if err := scan(&rev, &force, &x.ID, &x.Session, &x.Dog, &x.day, &x.Text, &x.closed, &x.Outcome); err != nil {
			return err
		}
		w := words{x.Session, x.Text}
		if forms[w] == nil {
			forms[w] = map[int64][]noted{}
			order = append(order, w)
		}
		forms[w][rev] = append(forms[w][rev], x)
		if force {
			shown[w]++
		}
		return nil
	}, `SELECT r.n, r.n = s.shown AND s.standing = 1, m.incident, s.id, e.name, s.day, m.text, c.closed, coalesce(c.outcome, '')
		FROM `+from+` JOIN name d ON d.n = s.dog JOIN name e ON e.n = d.shown LEFT JOIN closing c ON c.incident = m.incident
		WHERE `+mine+` 1 = 1 ORDER BY r.n, m.position`, args...)
	if err != nil {
		return nil, err
	}
	for _, w := range order {
		var most []noted
		for _, list := range forms[w] {
			if len(list) > len(most) { // as many give the same ids
				most = list
			}
		}
		for i, x := range most {
			x.Dropped = i >= shown[w]
			add(x.Incident, x.day, x.closed)
		}
	}
	err = t.each(func(scan func(...any) error) error {
		var x training.Incident
		var day int64
		var closed *int64
		err := scan(&x.ID, &x.Dog, &day, &x.Text, &closed, &x.Outcome)
		if err == nil {
			add(x, day, closed)
		}
		return err
	}, `SELECT i.id, e.name, i.day, i.text, c.closed, coalesce(c.outcome, '')
		FROM incident i JOIN name d ON d.n = i.dog JOIN name e ON e.n = d.shown LEFT JOIN closing c ON c.incident = i.id `+entered, args...)
	slices.SortFunc(out, func(a, b training.Incident) int {
		return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.ID, b.ID))
	})
	return out, err
}

// Incidents returns the incidents of a dog, or of all dogs for "", in order of
// day: those noted with "!" in any form of a session, and those entered by
// themselves.
func (s *Store) Incidents(ctx context.Context, dog string) ([]training.Incident, error) {
	var out []training.Incident
	err := s.read(ctx, func(t *tx) error {
		e, err := t.need(aDog, dog)
		if err != nil {
			return err
		}
		out, err = t.incidents(e.n, 0)
		return err
	})
	return out, err
}

// AddIncident enters an incident outside any session.
func (s *Store) AddIncident(ctx context.Context, dog string, day training.Day, text string) (training.Incident, error) {
	x := training.Incident{Day: day, Text: text}
	err := s.withDog(ctx, dog, func(t *tx, d training.Dog) error {
		if day == 0 || text == "" {
			return fail(ErrInvalid, "an incident needs a day and what happened")
		}
		id, err := t.newEntity(incident, d.ID, day.String(), text)
		if err != nil {
			return err
		}
		x.ID, x.Dog = id, d.Name
		_, err = t.set(incident, id, &incidentFields{Dog: d.ID, Day: day, Text: text}, "incident of "+d.Name+" on "+day.String()+": "+text)
		return err
	})
	return x, err
}

// CloseIncident records the day on which an incident was dealt with, and how. A
// zero day opens it again.
func (s *Store) CloseIncident(ctx context.Context, id string, closed training.Day, outcome string) error {
	return s.write(ctx, func(t *tx) error {
		list, err := t.incidentByID(id)
		if err != nil {
			return err
		}
		if closed != 0 && closed < list.Day {
			return fail(ErrInvalid, "an incident of %s can't be closed on %s", list.Day, closed)
		}
		said := "incident of " + list.Dog + " on " + list.Day.String() + " closed on " + closed.String() + ": " + outcome
		if closed == 0 {
			said = "incident of " + list.Dog + " on " + list.Day.String() + " opened again"
		}
		_, err = t.set(closing, list.ID, &closingFields{Closed: closed, Outcome: outcome}, said)
		return err
	})
}

func (t *tx) incidentByID(id string) (training.Incident, error) {
	all, err := t.incidents(0, 0)
	if err != nil {
		return training.Incident{}, err
	}
	var fit []training.Incident
	for _, x := range all {
		if x.ID == id {
			return x, nil
		}
		if len(id) >= 4 && len(x.ID) >= len(id) && x.ID[len(x.ID)-len(id):] == id {
			fit = append(fit, x)
		}
	}
	switch len(fit) {
	case 0:
		return training.Incident{}, fail(ErrNotFound, "no incident has the id %s", id)
	case 1:
		return fit[0], nil
	}
	return training.Incident{}, fail(ErrAmbiguous, "%d incidents end in %s; give more of the id", len(fit), id)
}
