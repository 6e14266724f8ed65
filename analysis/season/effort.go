package season

import (
	"slices"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// beforeShow is how long before a show looking counts as looking for the show. Source: Keelmark's domain notes 4.5.
const beforeShow = 56

// ShowEffort compares looking before shows with looking at other times.
type ShowEffort struct {
	Shows          int
	Before, Others int     // days with a look
	Times          float64 // looks a day before shows over looks a day at other times; 0 where it cannot be told
}

// showDays are the days on which birds were shown, with their cells, and the show that the flock prepares for.
func showDays(c analysis.Context, d *record.Dataset) (out []record.Day, at []record.Ref) {
	for _, e := range d.Events {
		if e.Kind == record.Shown && e.On.Known() && e.On.Last-e.On.First <= vagueDays {
			out, at = append(out, e.On.Middle()), append(at, e.At)
		}
	}
	if on := c.Settings.Show.Date; on.Exact() {
		out = append(out, on.First)
	}
	slices.Sort(out)
	return slices.Compact(out), at
}

func showEffort(rounds []Round, shows []record.Day) ShowEffort {
	e := ShowEffort{Shows: len(shows)}
	if len(rounds) < 2 || len(shows) == 0 {
		return e
	}
	before := func(d record.Day) bool {
		return slices.ContainsFunc(shows, func(s record.Day) bool { return d <= s && s-d <= beforeShow })
	}
	first, last := rounds[0].On, rounds[len(rounds)-1].On
	days, other := 0, 0
	for d := first; d <= last; d++ {
		if before(d) {
			days++
		} else {
			other++
		}
	}
	for _, r := range rounds {
		if before(r.On) {
			e.Before++
		} else {
			e.Others++
		}
	}
	if days > 0 && other > 0 && e.Others > 0 {
		e.Times = float64(e.Before) / float64(days) / (float64(e.Others) / float64(other))
	}
	return e
}
