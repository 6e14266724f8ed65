package growth

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// gathered are the curves still to be fitted, with their points.
type gathered struct {
	birds, lines, samples []Curve
}

// gather sorts the weighings of a flock by bird, by line, and by pen or flock where they name no bird.
func gather(d *record.Dataset, o Options) (gathered, error) {
	var g gathered
	byBird := d.ByBird(record.Weight)
	if len(byBird) == 0 {
		return g, fmt.Errorf("%s holds no weighings: a growth curve needs weights with an age or a hatch date", nameOf(d))
	}
	birds := slices.Clone(d.Birds)
	known := make(map[string]bool)
	for _, b := range birds {
		known[b.ID] = true
	}
	var unlisted []string
	for id := range byBird {
		if id != "" && !known[id] {
			unlisted = append(unlisted, id)
		}
	}
	slices.Sort(unlisted)
	for _, id := range unlisted {
		birds = append(birds, record.Bird{ID: id, Ring: id})
	}
	if o.Bird != "" {
		b, ok := d.Bird(o.Bird)
		if !ok {
			return g, fmt.Errorf("no one bird of %s is called %q", nameOf(d), o.Bird)
		}
		birds = []record.Bird{b}
	}
	lines := make(map[record.Line]*Curve)
	for _, b := range birds {
		obs := byBird[b.ID]
		if len(obs) == 0 {
			continue
		}
		c := Curve{Of: OfBird, Key: b.ID, Label: b.Label(), Subject: analysis.Subject{Bird: b.ID}, Line: b.Group(), Birds: 1}
		for _, w := range obs {
			c.add(w, b.Hatched, o)
		}
		g.birds = append(g.birds, c)
		l := lines[c.Line]
		if l == nil {
			l = &Curve{Of: OfLine, Key: c.Line.String(), Label: c.Line.String(), Line: c.Line, Subject: analysis.Subject{Line: c.Line.String()}}
			lines[c.Line] = l
		}
		if len(c.Points) > 0 && c.suspect() == nil {
			l.Points = append(l.Points, c.Points...)
			l.Birds++
		}
	}
	if o.Bird == "" {
		g.samples = samples(d, byBird[""], o)
	}
	for _, l := range lines {
		if len(l.Points) > 0 && o.Bird == "" {
			g.lines = append(g.lines, *l)
		}
	}
	for _, list := range [][]Curve{g.birds, g.lines, g.samples} {
		for i := range list {
			slices.SortStableFunc(list[i].Points, func(a, b Point) int { return cmp.Compare(a.Age, b.Age) })
		}
	}
	slices.SortFunc(g.lines, func(a, b Curve) int { return strings.Compare(a.Key, b.Key) })
	return g, nil
}

// samples groups weighings that name no bird by pen; those that name no pen either are the flock's.
func samples(d *record.Dataset, obs []record.Observation, o Options) []Curve {
	pens := make(map[string]*Curve)
	var names []string
	for _, w := range obs {
		pen := w.Detail().Pen
		c := pens[pen]
		if c == nil {
			c = &Curve{Of: OfPen, Key: pen, Label: "pen " + pen, Subject: analysis.Subject{Pen: pen}}
			if pen == "" {
				name := nameOf(d)
				c = &Curve{Of: OfFlock, Key: name, Label: name, Subject: analysis.Subject{Flock: name}}
			}
			pens[pen] = c
			names = append(names, pen)
		}
		c.add(w, record.Date{}, o)
	}
	slices.SortFunc(names, func(a, b string) int { // the flock last
		if (a == "") != (b == "") {
			return cmp.Compare(len(b), len(a))
		}
		return strings.Compare(a, b)
	})
	var out []Curve
	for _, pen := range names {
		out = append(out, *pens[pen])
	}
	return out
}

func nameOf(d *record.Dataset) string {
	if d.Name == "" {
		return "the flock"
	}
	return d.Name
}

// Why a weighing is left out.
const (
	waiting     = "waits for the keeper's confirmation"
	ageUnknown  = "age unknown"
	ageLoose    = "age known too loosely"
	afterGrowth = "after growth"
)

// add takes a weighing as a point, or leaves it out with the reason.
func (c *Curve) add(w record.Observation, hatched record.Date, o Options) {
	out := func(why string) { c.LeftOut = append(c.LeftOut, LeftOut{w, why}) }
	age, span, known := ageAt(w, hatched)
	switch {
	case w.Form != record.Measured:
		out("not a measured weight")
	case math.IsNaN(w.Value) || math.IsInf(w.Value, 0) || w.Value <= 0:
		out("not a weight")
	case w.Flagged && !o.Unconfirmed:
		out(waiting)
	case !known:
		out(ageUnknown)
	case span > MaxAgeSpan:
		out(ageLoose)
	case age < 0:
		out("dated before hatch")
	case age > o.UpToAge:
		out(afterGrowth)
	default:
		c.Points = append(c.Points, Point{age, w.Value, w.Bird, span, w})
	}
}

// ageAt is the age in days, from what was written beside the weighing or from the hatch date, with the width of
// the interval that the dates leave.
func ageAt(w record.Observation, hatched record.Date) (age, span float64, known bool) {
	if days, ok := w.Age.Days(); ok {
		return float64(days), 0, true
	}
	if !w.On.Known() || !hatched.Known() {
		return 0, 0, false
	}
	youngest, oldest := w.On.First-hatched.Last, w.On.Last-hatched.First
	return float64(youngest+oldest) / 2, float64(oldest - youngest), true
}

// suspect finds two weighings of one day too far apart to be of one bird.
func (c *Curve) suspect() *[2]Point {
	for i, p := range c.Points {
		for _, q := range c.Points[i+1:] {
			if p.Age == q.Age && max(p.Weight, q.Weight) > MaxSameDayRatio*min(p.Weight, q.Weight) {
				return &[2]Point{p, q}
			}
		}
	}
	return nil
}

// leftOut counts the weighings left out for one reason.
func (c *Curve) leftOut(why string) int {
	n := 0
	for _, l := range c.LeftOut {
		if l.Why == why {
			n++
		}
	}
	return n
}
