package plots

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/analysis"
)

// Wheel shows years as rings, the oldest inside, and months as sectors. It begins at the top with the local midwinter and
// runs clockwise, so that what comes back each year lies on one spoke.
type Wheel struct {
	Measure string        `json:"measure"`
	South   bool          `json:"south,omitempty"` // midwinter is in June
	Grades  [4]string     `json:"grades,omitempty"`
	Rings   []CalendarRow `json:"rings"`           // years, oldest first; twelve cells each, January first
	Effort  [12]int       `json:"effort"`          // days with a look, by month, all years together
	Worst   *WheelRange   `json:"worst,omitempty"` // only where a season is named
}

// WheelRange is a range of days of the year, 1 to 365; Low may lie below 1 and High above 365 where it crosses new year.
type WheelRange struct {
	At    float64 `json:"at"`
	Low   float64 `json:"low"`
	High  float64 `json:"high"`
	Level float64 `json:"level"`
}

// Kind implements Panel.
func (Wheel) Kind() string { return "wheel" }

// mostRings is how many years a wheel of a page's width can show.
const mostRings = 12

// Validate implements Panel.
func (w Wheel) Validate() error {
	var errs []error
	if n := len(w.Rings); n == 0 || n > mostRings {
		errs = append(errs, fmt.Errorf("wheel: %d years; use 1 to %d", n, mostRings))
	}
	for _, r := range w.Rings {
		if len(r.Cells) != 12 {
			errs = append(errs, fmt.Errorf("wheel: year %s has %d months", r.Label, len(r.Cells)))
		}
	}
	for m, n := range w.Effort {
		if n < 0 {
			errs = append(errs, fmt.Errorf("wheel: %d days with a look in %s", n, monthNames()[m]))
		}
	}
	if r := w.Worst; r != nil {
		if err := finite("wheel: worst time", r.At, r.Low, r.High, r.Level); err != nil {
			errs = append(errs, err)
		} else if r.Low > r.At || r.At > r.High || r.High-r.Low > 366 {
			errs = append(errs, fmt.Errorf("wheel: the worst time runs from %g over %g to %g", r.Low, r.At, r.High))
		}
	}
	if len(errs) == 0 && len(w.Rings) > 0 {
		errs = append(errs, w.calendar().Validate())
	}
	return errors.Join(errs...)
}

// calendar is the same as rows of a calendar, for what the two have in common.
func (w Wheel) calendar() Calendar {
	return Calendar{Measure: w.Measure, RowHead: "year", Columns: monthNames(), Grades: w.Grades, Rows: w.Rings}
}

// Table implements Panel.
func (w Wheel) Table() analysis.Table { return effortTable(w.calendar(), w.Effort) }

// effortTable is a calendar's table with a last row of days with a look.
func effortTable(k Calendar, effort [12]int) analysis.Table {
	t := k.Table()
	row := []any{effortLabel}
	for _, n := range effort {
		row = append(row, fmt.Sprint(n))
	}
	t.Rows = append(t.Rows, row)
	return t
}

const effortLabel = "days with a look"

// turn is the angle of a day of the year (0 at its beginning), clockwise from the top, in radians.
//
// Source: solstices near 21 December and 21 June (day 355 and day 172).
func (w Wheel) turn(day float64) float64 {
	top := 354.5
	if w.South {
		top = 171.5
	}
	return (day - top) / 365 * 2 * math.Pi
}

// monthStart is the day of the year, from 0, on which a month begins, in years of 365 days; 12 gives the end.
func monthStart(m int) float64 {
	return [13]float64{0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365}[m]
}

// polar is the point at a turn and a distance from a centre.
func polar(centre vg.Point, r vg.Length, turn float64) vg.Point {
	sin, cos := math.Sincos(turn)
	return vg.Point{X: centre.X + r*vg.Length(sin), Y: centre.Y + r*vg.Length(cos)}
}

// sectorOf is the outline of a sector. Lines stand for arcs: each backend draws arcs its own way.
func sectorOf(centre vg.Point, inner, outer vg.Length, from, to float64) []vg.Point {
	const steps = 12
	var out []vg.Point
	for i := range steps + 1 {
		out = append(out, polar(centre, outer, from+(to-from)*float64(i)/steps))
	}
	for i := range steps + 1 {
		out = append(out, polar(centre, inner, to-(to-from)*float64(i)/steps))
	}
	return out
}

func (w Wheel) plot(c draw.Canvas, t Theme) {
	small := t.style(t.Tick, t.Muted)
	width, height := c.Max.X-c.Min.X, c.Max.Y-c.Min.Y
	c.FillText(small, vg.Point{X: c.Min.X, Y: c.Max.Y - keyRow/2}, fit(w.Measure, small, width))

	room := min(height-keyRow-4, width*0.62)
	centre := vg.Point{X: c.Min.X + room/2 + 4, Y: c.Min.Y + (height-keyRow-4)/2}
	bars := vg.Length(9)                // the longest bar of effort
	names := bars + 21                  // where the months are named, from the edge
	edge := room/2 - names - 1.6*keyRow // the outside of the newest year
	inner := edge * 0.24
	thick := (edge - inner) / vg.Length(len(w.Rings))

	for j, ring := range w.Rings {
		low := inner + vg.Length(j)*thick
		for m, cell := range ring.Cells {
			drawSector(c, t, cell, len(w.Rings) <= mostFigures, centre, low, low+thick, w.turn(monthStart(m)), w.turn(monthStart(m+1)))
		}
	}
	most := 1
	for _, n := range w.Effort {
		most = max(most, n)
	}
	for m, n := range w.Effort {
		from, to := w.turn(monthStart(m)), w.turn(monthStart(m+1))
		if n > 0 {
			pad := (to - from) * 0.12
			long := max(bars*vg.Length(n)/vg.Length(most), 1)
			c.FillPolygon(t.Muted, sectorOf(centre, edge+2, edge+2+long, from+pad, to-pad))
		}
		at := polar(centre, edge+names, (from+to)/2)
		c.FillText(aligned(t.style(t.Tick, t.Ink), draw.XCenter), at, monthNames()[m])
	}
	if r := w.Worst; r != nil {
		w.drawWorst(c, t, centre, edge+bars+6, *r)
	}
	muted := aligned(small, draw.XCenter)
	c.FillText(muted, polar(centre, edge+names+keyRow, 0), "▼ midwinter")
	c.FillText(muted, polar(centre, edge+names+keyRow, math.Pi), "▲ midsummer")

	left := c.Min.X + room + 14
	key := w.key(t)
	keyWidth := c.Max.X - left
	tall := t.stackKey(nil, keyWidth, key)
	upper := centre.Y + tall/2
	t.stackKey(&draw.Canvas{Canvas: c.Canvas, Rectangle: rect(left, upper-tall, c.Max.X, upper)}, keyWidth, key)
}

// mostFigures is the most rings that have room for figures in all their sectors; the table holds them always.
const mostFigures = 5

// drawSector paints a month of a year. Not looked is an empty dotted sector, never the shade of nothing found.
func drawSector(c draw.Canvas, t Theme, cell CalendarCell, figures bool, centre vg.Point, inner, outer vg.Length, from, to float64) {
	pad := vg.Length(0.6)
	gap := float64(pad / ((inner + outer) / 2))
	outline := sectorOf(centre, inner+pad, outer-pad, from+gap, to-gap)
	closed := append(outline, outline[0])
	style := aligned(bold(t.style(7, t.Ink)), draw.XCenter)
	text := cell.Text
	switch {
	case !cell.Looked:
		c.FillPolygon(t.Paper, outline)
		c.StrokeLines(t.line(0.5, t.Muted, 1, 2), closed)
		style = aligned(t.style(7, t.Muted), draw.XCenter)
		text = "–"
	case cell.Unclear:
		c.FillPolygon(t.Paper, outline)
		c.StrokeLines(t.line(0.4, t.Muted), closed)
	default:
		c.FillPolygon(t.Ramp[cell.Grade], outline)
		c.StrokeLines(t.line(0.4, t.Muted), closed)
		style.Color = t.inkOn(cell.Grade)
	}
	// A level text fits where its extent across the ring and along it do.
	middle := (from + to) / 2
	sin, cos := math.Abs(math.Sin(middle)), math.Abs(math.Cos(middle))
	arc, deep := float64((inner+outer)/2)*(to-from)-2, float64(outer-inner)-2
	fits := func() bool {
		wide, tall := float64(style.Width(text)), 0.75*float64(style.Font.Size)
		return wide*sin+tall*cos <= deep && wide*cos+tall*sin <= arc
	}
	for !fits() && style.Font.Size > 5 {
		style.Font.Size -= 0.5
	}
	if figures && fits() {
		c.FillText(style, polar(centre, (inner+outer)/2, middle), text)
	}
	if cell.Treated {
		t.drawWedge(c, polar(centre, outer-pad, from+gap), polar(centre, outer-pad, from+math.Min((to-from)*0.35, 9/float64(outer))),
			polar(centre, outer-min(outer-inner, 7)*0.8, from+gap))
	}
}

// drawWedge marks a treatment: a black corner with a white edge, so that it shows on every shade.
func (t Theme) drawWedge(c draw.Canvas, corner, along, inward vg.Point) {
	c.FillPolygon(t.Ink, []vg.Point{corner, along, inward})
	c.StrokeLine2(t.line(0.8, t.Paper), along.X, along.Y, inward.X, inward.Y)
}

// drawWorst draws the range of the worst time outside the bars, with a tick where it is most likely.
func (w Wheel) drawWorst(c draw.Canvas, t Theme, centre vg.Point, r vg.Length, worst WheelRange) {
	from, to := w.turn(worst.Low-1), w.turn(worst.High-1)
	var line []vg.Point
	steps := max(2, int((to-from)/0.05))
	for i := range steps + 1 {
		line = append(line, polar(centre, r, from+(to-from)*float64(i)/float64(steps)))
	}
	c.StrokeLines(t.line(2.2, t.Bird), line)
	at := w.turn(worst.At - 1)
	a, b := polar(centre, r-3.5, at), polar(centre, r+3.5, at)
	c.StrokeLine2(t.line(2.2, t.Bird), a.X, a.Y, b.X, b.Y)
}

func (w Wheel) key(t Theme) []keyEntry {
	var years []string
	for _, r := range w.Rings {
		years = append(years, r.Label)
	}
	said := "one ring: " + years[0]
	if n := len(years); n > 1 {
		said = "rings from the inside: " + strings.Join(years, ", ")
		if n > 4 {
			said = fmt.Sprintf("%d rings, %s inside to %s outside", n, years[0], years[n-1])
		}
	}
	key := append([]keyEntry{{said, nil}}, w.calendar().key(t)...)
	key = append(key, keyEntry{fmt.Sprintf("days with a look (longest bar %d)", maxOf(w.Effort)), func(c draw.Canvas, t Theme) {
		r := c.Rectangle
		fill(c, rect(r.Min.X+5, r.Min.Y, r.Max.X-5, r.Max.Y), t.Muted, draw.LineStyle{})
	}})
	if r := w.Worst; r != nil {
		key = append(key, keyEntry{fmt.Sprintf("worst time, %.0f %% range", r.Level*100), func(c draw.Canvas, t Theme) {
			y := (c.Min.Y + c.Max.Y) / 2
			c.StrokeLine2(t.line(2.2, t.Bird), c.Min.X, y, c.Max.X, y)
			x := (c.Min.X + c.Max.X) / 2
			c.StrokeLine2(t.line(2.2, t.Bird), x, y-4, x, y+4)
		}})
	}
	return key
}

func maxOf(ns [12]int) int {
	most := 0
	for _, n := range ns {
		most = max(most, n)
	}
	return most
}

// stackKey draws the entries of a key one below the other and returns the height used; with a nil canvas it measures.
func (t Theme) stackKey(c *draw.Canvas, width vg.Length, entries []keyEntry) vg.Length {
	var used vg.Length
	for _, e := range entries {
		var one *draw.Canvas
		if c != nil {
			one = &draw.Canvas{Canvas: c.Canvas, Rectangle: rect(c.Min.X, c.Min.Y, c.Max.X, c.Max.Y-used)}
		}
		used += t.drawKey(one, width, []keyEntry{e}) + 3
	}
	return used
}
