package plots

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Returns shows the share of pens in which a parasite has not been seen again, by time after a treatment. Between the
// last look without and the first with a finding nobody knows where the curve falls: a box stands there.
type Returns struct {
	Days  float64      `json:"days"`  // length of the time axis
	Pens  int          `json:"pens"`  // pens and courses followed
	Falls []ReturnFall `json:"falls"` // oldest first
	Open  []float64    `json:"open"`  // days up to which pens were followed without a finding
}

// ReturnFall is a share of the pens that had it again between two times. By 0 means later than followed.
type ReturnFall struct {
	After float64 `json:"after"`
	By    float64 `json:"by"`
	Share float64 `json:"share"`
}

// Kind implements Panel.
func (Returns) Kind() string { return "returns" }

// Validate implements Panel.
func (r Returns) Validate() error {
	if !(r.Days > 0) || r.Pens < 1 {
		return errors.New("returns: no time or no pen")
	}
	left := 1.0
	for _, f := range r.Falls {
		if !(f.Share >= 0) || f.By != 0 && f.By < f.After {
			return fmt.Errorf("returns: a fall of %g from %g to %g", f.Share, f.After, f.By)
		}
		left -= f.Share
	}
	if left < -1e-6 {
		return errors.New("returns: the falls add up to more than all")
	}
	return nil
}

// Table implements Panel.
func (r Returns) Table() analysis.Table {
	t := analysis.Table{Caption: "Share of pens that had it again, by days after the treatment", Columns: []analysis.Column{
		{Name: "after_d", Head: "after more than", Unit: "d"}, {Name: "by_d", Head: "by", Unit: "d"}, {Name: "share", Head: "share of pens", Unit: "%"}}}
	for _, f := range r.Falls {
		row := []any{f.After, nil, 100 * f.Share}
		if f.By != 0 {
			row[1] = f.By
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func (r Returns) plot(c draw.Canvas, t Theme) {
	width := c.Max.X - c.Min.X
	key := []keyEntry{
		{"share of pens not seen with it again", func(c draw.Canvas, t Theme) {
			c.StrokeLine2(t.line(1.6, t.Bird), c.Min.X, c.Center().Y, c.Max.X, c.Center().Y)
		}},
		{"falls somewhere here: between looks", func(c draw.Canvas, t Theme) { fill(c, c.Rectangle, t.Band, t.line(0.5, t.Edge)) }},
	}
	if len(r.Open) > 0 {
		key = append(key, keyEntry{"followed so far, none seen", func(c draw.Canvas, t Theme) {
			c.StrokeLine2(t.line(1, t.Ink), c.Center().X, c.Min.Y, c.Center().X, c.Max.Y)
		}})
	}
	used := t.drawKey(&c, width, key)
	small := t.style(t.Tick, t.Ink)
	left, right := c.Min.X+small.Width("100 %")+8, c.Max.X-10
	bottom, top := c.Min.Y+2*keyRow+4, c.Max.Y-used-8
	x := func(d float64) vg.Length { return left + (right-left)*vg.Length(d/r.Days) }
	y := func(p float64) vg.Length { return bottom + (top-bottom)*vg.Length(p) }

	for _, p := range []float64{0, 0.25, 0.5, 0.75, 1} {
		c.StrokeLine2(t.line(0.5, t.Grid), left, y(p), right, y(p))
		s := small
		s.XAlign = draw.XRight
		c.FillText(s, vg.Point{X: left - 5, Y: y(p)}, fmt.Sprintf("%.0f %%", 100*p))
	}
	step := 7 * stepFor(r.Days/7, 10, 1, 2, 4, 8, 13, 26)
	for d := 0.0; d <= r.Days+1e-9; d += step {
		c.StrokeLine2(t.line(0.6, t.Muted), x(d), bottom, x(d), bottom-3)
		c.FillText(aligned(small, draw.XCenter), vg.Point{X: x(d), Y: bottom - 3 - keyRow/2}, strconv.FormatFloat(d/7, 'f', 0, 64))
	}
	c.FillText(aligned(t.style(t.Tick, t.Muted), draw.XCenter), vg.Point{X: (left + right) / 2, Y: c.Min.Y + keyRow/2}, "weeks after the last treatment of a course")
	c.StrokeLine2(t.line(0.6, t.Muted), left, bottom, left, top)

	at, share := 0.0, 1.0
	for _, f := range r.Falls {
		if f.By == 0 {
			continue
		}
		after, by := min(f.After, r.Days), min(f.By, r.Days)
		c.StrokeLine2(t.line(1.6, t.Bird), x(at), y(share), x(after), y(share))
		fill(c, rect(x(after), y(share-f.Share), max(x(by), x(after)+0.8), y(share)), t.Band, t.line(0.5, t.Edge))
		at, share = by, share-f.Share
	}
	end := at // beyond the last look at a pen nothing is known
	for _, d := range r.Open {
		end = max(end, d)
	}
	c.StrokeLine2(t.line(1.6, t.Bird), x(at), y(share), x(min(end, r.Days)), y(share))
	for _, d := range r.Open {
		if d <= r.Days {
			p := r.left(d)
			c.StrokeLine2(t.line(1, t.Ink), x(d), y(p)-3.5, x(d), y(p)+3.5)
		}
	}
}

// left is the upper bound of the curve at a day.
func (r Returns) left(d float64) float64 {
	p := 1.0
	for _, f := range r.Falls {
		if f.By != 0 && f.By <= d {
			p -= f.Share
		}
	}
	return p
}

func dayOf(d float64) record.Day { return record.Day(math.Round(d)) }
