package season

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/parasite"
	"keelmark/ingest/record"
)

// vagueDays is the longest span of a date that is still placed, at its middle: a month. Looks known to a season or a
// year only cannot say when in the year they were.
const vagueDays = 31

// gathered is what the records hold of one parasite.
type gathered struct {
	parasite string
	house    bool // it lives in the house: looks, not birds, are the units
	looks    []parasite.Look
	rounds   []Round
	at       []record.Ref // cells of all looks, also those left out
	leftOut  []string     // what was left out and why, in sentences
}

// gather reads the looks of a flock, for each parasite by itself, in the order of their first look.
func gather(ctx context.Context, c analysis.Context, d *record.Dataset) ([]gathered, error) {
	looks := parasite.Looks(d, c.Settings.Scales, c.Today)
	hatched, checks := told(d)
	var out []gathered
	for _, p := range parasite.Named(looks) {
		g := gathered{parasite: p}
		if cycle, ok := parasite.LifeCycleOf(p); ok {
			g.house = !cycle.OnBird
		}
		vague, early := 0, 0
		for _, l := range looks {
			h := hatched[l.Bird]
			if l.Parasite != p {
				continue
			}
			g.at = append(g.at, l.At)
			switch {
			case l.On.Last-l.On.First > vagueDays:
				vague++
			case l.Bird != "" && h.Known() && h.First > l.On.Last:
				early++
			default:
				g.looks = append(g.looks, l)
			}
		}
		if vague > 0 {
			g.leftOut = append(g.leftOut, fmt.Sprintf("%s dated to a year or a part of one only and left out", were(vague, "look")))
		}
		if early > 0 {
			g.leftOut = append(g.leftOut, fmt.Sprintf("%s dated before the bird hatched and left out; correct the one date or the other", were(early, "look")))
		}
		g.rounds = rounds(g.looks, g.house, checks)
		unclear := 0
		for _, r := range g.rounds {
			unclear += r.Unclear
		}
		if unclear > 0 {
			g.leftOut = append(g.leftOut, fmt.Sprintf("%s do not say whether anything was found, or stand on a scale whose \"none\" is not declared, and count neither way",
				analysis.Counted(unclear, "look")))
		}
		out = append(out, g)
	}
	return out, ctx.Err()
}

// told are the birds' dates of hatching and what checks of pens or of the flock counted.
func told(d *record.Dataset) (hatched map[string]record.Date, checks map[record.Ref]*record.CheckResult) {
	hatched = map[string]record.Date{}
	for _, b := range d.Birds {
		hatched[b.ID] = b.Hatched
	}
	checks = map[record.Ref]*record.CheckResult{}
	for _, e := range d.Events {
		if e.Kind == record.Checked && e.Check != nil {
			checks[e.At] = e.Check
		}
	}
	return hatched, checks
}

// rounds puts the looks of each day together, oldest day first. A bird that was looked at twice on a day counts once; a
// check of a pen counts as many birds as it says.
func rounds(looks []parasite.Look, house bool, checks map[record.Ref]*record.CheckResult) []Round {
	type unit struct {
		day record.Day
		who string
	}
	seen := map[unit]parasite.Finding{}
	days := map[record.Day]*Round{}
	for _, l := range looks {
		day := l.On.Middle()
		r := days[day]
		if r == nil {
			r = &Round{On: day}
			days[day] = r
		}
		r.At = append(r.At, l.At)
		if check := checks[l.At]; l.Bird == "" && check != nil && check.Birds > 0 && check.Found >= 0 {
			r.Looked += check.Birds
			r.Found += min(check.Found, check.Birds)
			continue
		}
		who := l.Bird
		if house || who == "" {
			who = "at " + l.At.Key()
		}
		u := unit{day, who}
		before, again := seen[u]
		if !again {
			seen[u] = l.Finding
		} else if l.Finding == parasite.Found || before == parasite.Unclear {
			seen[u] = l.Finding
		}
	}
	for u, f := range seen {
		r := days[u.day]
		switch f {
		case parasite.Found:
			r.Looked++
			r.Found++
		case parasite.NoneFound:
			r.Looked++
		default:
			r.Unclear++
		}
	}
	var out []Round
	for _, r := range days {
		slices.SortFunc(r.At, record.Ref.Compare)
		r.At = slices.Compact(r.At)
		out = append(out, *r)
	}
	slices.SortFunc(out, func(a, b Round) int { return int(a.On) - int(b.On) })
	return out
}

// clear are the rounds with at least one clear answer.
func clear(rs []Round) []Round {
	return slices.DeleteFunc(slices.Clone(rs), func(r Round) bool { return r.Looked == 0 })
}

// renamed says where all pens of the records change their names on one day: what looks like new pens may be old ones.
func renamed(looks []parasite.Look) string {
	first, last := map[string]record.Day{}, map[string]record.Day{}
	var pens []string
	for _, l := range looks {
		if l.Pen == "" {
			continue
		}
		if _, known := first[l.Pen]; !known {
			first[l.Pen] = l.On.First
			pens = append(pens, l.Pen)
		}
		last[l.Pen] = l.On.First
	}
	if len(pens) < 2 {
		return ""
	}
	slices.SortStableFunc(pens, func(a, b string) int { return int(first[a]) - int(first[b]) })
	end := last[pens[0]]
	for i := 1; i < len(pens); i++ {
		if first[pens[i]] > end {
			later := pens[i:]
			if slices.ContainsFunc(pens[:i], func(p string) bool { return last[p] >= first[pens[i]] }) {
				break
			}
			return fmt.Sprintf("the pens are %s until %s and %s from %s on: if they were renamed, the same birds go on; if they are others, two flocks stand one after the other",
				strings.Join(pens[:i], ", "), end, strings.Join(later, ", "), first[pens[i]])
		}
		end = max(end, last[pens[i]])
	}
	return ""
}

func were(n int, what string) string {
	if n == 1 {
		return "1 " + what + " is"
	}
	return fmt.Sprintf("%d %ss are", n, what)
}
