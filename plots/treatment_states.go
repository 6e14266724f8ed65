package plots

import (
	"errors"
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/analysis"
)

// States shows birds through time: looks that found something and looks that found none, treatments, the time nobody
// looked, and behind them the chance that the bird carried the parasite.
type States struct {
	Zero string     `json:"zero"` // ISO date of day 0
	Days float64    `json:"days"` // length of the time axis
	Rows []StateRow `json:"rows"`
}

// StateRow is one bird. Days count from the panel's Zero.
type StateRow struct {
	Label   string      `json:"label"`
	From    float64     `json:"from"` // days in the flock
	To      float64     `json:"to"`
	Looks   []StateLook `json:"looks,omitempty"`
	Treated []float64   `json:"treated,omitempty"`
	Chance  []StateStep `json:"chance,omitempty"` // empty where no model was fitted
}

// StateLook is one look.
type StateLook struct {
	Day   float64 `json:"day"`
	Found bool    `json:"found,omitempty"`
}

// StateStep is the chance, 0 to 1, from a day on, up to the next step.
type StateStep struct {
	Day    float64 `json:"day"`
	Chance float64 `json:"chance"`
}

// Kind implements Panel.
func (States) Kind() string { return "states" }

// Validate implements Panel.
func (s States) Validate() error {
	if len(s.Rows) == 0 || !(s.Days > 0) || len(s.Rows) > 120 {
		return fmt.Errorf("states: %d rows over %g days; use 1 to 120 rows and a time above 0", len(s.Rows), s.Days)
	}
	var errs []error
	for _, r := range s.Rows {
		if !(r.From <= r.To) {
			errs = append(errs, fmt.Errorf("states: %s is there from day %g to day %g", r.Label, r.From, r.To))
		}
		for _, l := range r.Looks {
			errs = append(errs, finite("a look at "+r.Label, l.Day))
		}
		for _, c := range r.Chance {
			if !(c.Chance >= 0 && c.Chance <= 1) {
				errs = append(errs, fmt.Errorf("states: %s has a chance of %g", r.Label, c.Chance))
			}
		}
	}
	return errors.Join(errs...)
}

// Table implements Panel.
func (s States) Table() analysis.Table {
	t := analysis.Table{Caption: "Looks and treatments of each bird, by day", Columns: []analysis.Column{{Name: "bird", Head: "bird"},
		{Name: "found", Head: "looks that found some"}, {Name: "none", Head: "looks that found none"}, {Name: "treated", Head: "treated"},
		{Name: "chance", Head: "chance of carrying at the end", Unit: "%"}}}
	zero := day(s.Zero)
	for _, r := range s.Rows {
		var found, none, treated []string
		for _, l := range r.Looks {
			if on := (zero + dayOf(l.Day)).String(); l.Found {
				found = append(found, on)
			} else {
				none = append(none, on)
			}
		}
		for _, d := range r.Treated {
			treated = append(treated, (zero + dayOf(d)).String())
		}
		row := []any{r.Label, strings.Join(found, ", "), strings.Join(none, ", "), strings.Join(treated, ", "), nil}
		if n := len(r.Chance); n > 0 {
			row[4] = 100 * r.Chance[n-1].Chance
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// HeightFor returns the height in mm that a figure of n birds needs.
func (States) HeightFor(n int) float64 { return 26 + 5.2*float64(n) }

// chanceGrade is the shade of a chance. Source: our own steps.
func chanceGrade(p float64) int {
	switch {
	case p < 0.1:
		return 0
	case p < 0.33:
		return 1
	case p < 0.66:
		return 2
	}
	return 3
}

func (s States) plot(c draw.Canvas, t Theme) {
	width := c.Max.X - c.Min.X
	key := s.key()
	used := t.drawKey(&c, width, key)
	label := t.style(t.Tick, t.Ink)
	names := vg.Length(0)
	for _, r := range s.Rows {
		names = max(names, label.Width(oneLine(r.Label)))
	}
	names = min(names, width*0.22) + 6
	left, right := c.Min.X+names, c.Max.X-8
	top, bottom := c.Max.Y-used-4, c.Min.Y+2*keyRow+2
	x := func(d float64) vg.Length {
		return left + (right-left)*vg.Length(min(max(d, 0), s.Days)/s.Days)
	}
	height := (top - bottom) / vg.Length(len(s.Rows))
	muted := t.style(t.Tick, t.Muted)
	for _, tick := range (dateTicks{day(s.Zero), 9}).Ticks(0, s.Days) {
		c.StrokeLine2(t.line(0.5, t.Grid), x(tick.Value), bottom, x(tick.Value), top)
		for i, line := range strings.Split(tick.Label, "\n") {
			c.FillText(aligned(muted, draw.XCenter), vg.Point{X: x(tick.Value), Y: bottom - keyRow*vg.Length(i) - keyRow/2}, line)
		}
	}
	for i, r := range s.Rows {
		y := top - height*(vg.Length(i)+0.5)
		c.FillText(label, vg.Point{X: c.Min.X, Y: y}, fit(r.Label, label, names-6))
		r.draw(c, t, x, y, height*0.62)
	}
}

// draw draws the row of one bird about a height y.
func (r StateRow) draw(c draw.Canvas, t Theme, x func(float64) vg.Length, y, high vg.Length) {
	lower, upper := y-high/2, y+high/2
	whole := rect(x(r.From), lower, x(r.To), upper)
	for i := 0; i < len(r.Chance); {
		from, to, g := r.Chance[i].Day, r.To, chanceGrade(r.Chance[i].Chance)
		for i++; i < len(r.Chance) && chanceGrade(r.Chance[i].Chance) == g; i++ { // one box for a run of one shade
		}
		if i < len(r.Chance) {
			to = r.Chance[i].Day
		}
		if to > from {
			fill(c, rect(x(from), lower, x(to), upper), t.Ramp[g], draw.LineStyle{})
		}
	}
	if len(r.Chance) == 0 {
		fill(c, whole, t.Paper, t.line(0.5, t.Muted, 1, 2))
	} else {
		fill(c, whole, nil, t.line(0.3, t.Muted))
	}
	for _, d := range r.Treated {
		t.drawDose(c, x(d), lower, upper)
	}
	size := min(high*0.36, 3.2)
	for _, l := range r.Looks {
		t.drawLook(c, vg.Point{X: x(l.Day), Y: y}, size, l.Found)
	}
}

// drawLook draws a look: full where something was found, open where none.
func (t Theme) drawLook(c draw.Canvas, at vg.Point, size vg.Length, found bool) {
	inside, edge := t.Paper, t.line(0.7, t.Ink)
	if found {
		inside, edge = t.Ink, t.line(0.7, t.Paper)
	}
	var p vg.Path
	p.Move(vg.Point{X: at.X + size, Y: at.Y})
	p.Arc(at, size, 0, 6.283185307179586)
	p.Close()
	c.SetColor(inside)
	c.Fill(p)
	c.SetLineStyle(edge)
	c.Stroke(p)
}

// drawDose draws a treatment: a line through the row with a flag above it.
func (t Theme) drawDose(c draw.Canvas, x, lower, upper vg.Length) {
	c.StrokeLine2(t.line(2, t.Paper), x, lower-1, x, upper+1)
	c.StrokeLine2(t.line(1.1, t.Bird), x, lower-1, x, upper+1)
	c.FillPolygon(t.Bird, []vg.Point{{X: x - 2.2, Y: upper + 2.4}, {X: x + 2.2, Y: upper + 2.4}, {X: x, Y: upper - 0.6}})
}

func (s States) key() []keyEntry {
	look := func(found bool) func(draw.Canvas, Theme) {
		return func(c draw.Canvas, t Theme) { t.drawLook(c, c.Center(), 2.8, found) }
	}
	key := []keyEntry{{"found", look(true)}, {"looked, none seen", look(false)}}
	modelled, treated := false, false
	for _, r := range s.Rows {
		modelled, treated = modelled || len(r.Chance) > 0, treated || len(r.Treated) > 0
	}
	if treated {
		key = append(key, keyEntry{"treated", func(c draw.Canvas, t Theme) {
			t.drawDose(c, c.Center().X, c.Min.Y+0.5, c.Max.Y-2)
		}})
	}
	if !modelled {
		return append(key, keyEntry{"between looks: not known", func(c draw.Canvas, t Theme) { fill(c, c.Rectangle, t.Paper, t.line(0.5, t.Muted, 1, 2)) }})
	}
	for g, text := range []string{"chance below 10 %", "10 to 33 %", "33 to 66 %", "over 66 %"} {
		key = append(key, keyEntry{text, func(c draw.Canvas, t Theme) { fill(c, c.Rectangle, t.Ramp[g], t.line(0.4, t.Muted)) }})
	}
	return key
}
