package plots

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/analysis"
)

// Weights sets the weight of each bird against the published weight of its class: one row a bird, all on one
// scale of percent of the standard, so that cocks and pullets can be read together. The order is the
// caller's and means nothing.
type Weights struct {
	Units analysis.Units `json:"units,omitempty"` // how weights are printed; grams where empty
	Level float64        `json:"level,omitempty"` // stated chance of the intervals
	Rows  []WeightRow    `json:"rows"`
}

// WeightRow is one bird. Weights are in grams; 0 stands for what is not known.
type WeightRow struct {
	Label   string  `json:"label"`
	Class   string  `json:"class,omitempty"`    // "pullet"
	StdLow  float64 `json:"std_low,omitempty"`  // lower bound of the published weight, 0 where there is none
	StdHigh float64 `json:"std_high,omitempty"` // upper bound; a target has both equal
	Value   float64 `json:"value,omitempty"`
	Low     float64 `json:"low,omitempty"` // interval of Value; both 0 where none is known
	High    float64 `json:"high,omitempty"`
	Missing string  `json:"missing,omitempty"` // said in place of the picture: "no weight published for pullets"
}

// Glyph is one row of Weights small enough to stand in a line of a table: no type, only the picture.
type Glyph struct {
	Row WeightRow `json:"row"`
}

// reach is how far the scale goes to either side of the standard. Weights beyond end in an arrow head.
const reach = 0.40

// Kind implements Panel.
func (Weights) Kind() string { return "weights" }

// Kind implements Panel.
func (Glyph) Kind() string { return "weight-glyph" }

// Validate implements Panel.
func (w Weights) Validate() error {
	if len(w.Rows) == 0 {
		return errors.New("weights: no bird")
	}
	if len(w.Rows) > 500 {
		return fmt.Errorf("weights: %d birds do not fit one figure; use at most 500", len(w.Rows))
	}
	if err := checkUnits(w.Units); err != nil {
		return fmt.Errorf("weights: %w", err)
	}
	var errs []error
	for _, r := range w.Rows {
		errs = append(errs, r.validate())
	}
	return errors.Join(errs...)
}

// Validate implements Panel.
func (g Glyph) Validate() error { return g.Row.validate() }

func (r WeightRow) validate() error {
	if err := finite("weights: "+r.Label, r.StdLow, r.StdHigh, r.Value, r.Low, r.High); err != nil {
		return err
	}
	switch {
	case min(r.StdLow, r.StdHigh, r.Value, r.Low, r.High) < 0 || max(r.StdLow, r.StdHigh, r.Value, r.Low, r.High) > 1e5:
		return fmt.Errorf("weights: %s: not a weight of a bird", r.Label)
	case r.StdHigh != 0 && r.StdLow > r.StdHigh:
		return fmt.Errorf("weights: %s: the standard's bounds are the wrong way round", r.Label)
	case r.interval() && (r.Low > r.Value || r.High < r.Value):
		return fmt.Errorf("weights: %s: the interval %g–%g does not hold %g", r.Label, r.Low, r.High, r.Value)
	case r.Missing == "" && (r.Value == 0 || !r.published()):
		return fmt.Errorf("weights: %s: no weight or no standard, and Missing does not say why", r.Label)
	}
	return nil
}

func (r WeightRow) published() bool { return r.StdLow != 0 || r.StdHigh != 0 }
func (r WeightRow) interval() bool  { return r.Low != 0 || r.High != 0 }

// Reference is the weight at the middle of the scale, in grams: the middle of the published range, or the
// one bound that is published; 0 where none is.
func (r WeightRow) Reference() float64 {
	if r.StdLow == 0 || r.StdHigh == 0 {
		return max(r.StdLow, r.StdHigh)
	}
	return (r.StdLow + r.StdHigh) / 2
}

// share is a weight as its distance from the standard: -0.1 is 10 % lighter.
func (r WeightRow) share(grams float64) float64 { return grams/r.Reference() - 1 }

// percent prints a share as "+4 %", with a true minus sign.
func percent(share float64) string {
	n := math.Round(share * 100)
	switch {
	case n > 0:
		return fmt.Sprintf("+%.0f %%", n)
	case n < 0:
		return fmt.Sprintf("−%.0f %%", -n)
	}
	return "0 %"
}

// Table implements Panel.
func (w Weights) Table() analysis.Table {
	t := analysis.Table{
		Caption: "Weights and the published weights of their classes",
		Columns: []analysis.Column{
			{Name: "bird", Head: "bird"},
			{Name: "class", Head: "class"},
			{Name: "weight_g", Head: "weight", Unit: "g"},
			{Name: "low_g", Head: "low", Unit: "g"},
			{Name: "high_g", Head: "high", Unit: "g"},
			{Name: "standard_low_g", Head: "standard from", Unit: "g"},
			{Name: "standard_high_g", Head: "standard to", Unit: "g"},
			{Name: "note", Head: "note"},
		},
	}
	for _, r := range w.Rows {
		t.Rows = append(t.Rows, []any{r.Label, r.Class, bound(r.Value), bound(r.Low), bound(r.High), bound(r.StdLow), bound(r.StdHigh), r.Missing})
	}
	return t
}

// Table implements Panel.
func (g Glyph) Table() analysis.Table { return Weights{Rows: []WeightRow{g.Row}}.Table() }

// Glyph makes the row's small picture, 34 by 4.5 mm, for a cell of a table. Its alternative text says what
// the picture shows.
func (r WeightRow) Glyph(name string, units analysis.Units, level float64) Figure {
	return Figure{Name: name, Alt: r.sentence(units, level), Width: 34, Height: 4.5, Panel: Glyph{r}}
}

// sentence says the row in words.
func (r WeightRow) sentence(units analysis.Units, level float64) string {
	if r.Value == 0 || !r.published() {
		return r.Label + ": " + r.Missing
	}
	s := fmt.Sprintf("%s: %s", r.Label, units.Weight(r.Value))
	if r.interval() {
		s += " (" + units.Range(r.Low, r.High)
		if level > 0 {
			s += fmt.Sprintf(" in %.0f of 100 cases", level*100)
		}
		s += ")"
	}
	switch {
	case r.StdLow == 0:
		s += ", published maximum " + units.Weight(r.StdHigh)
	case r.StdHigh == 0:
		s += ", published minimum " + units.Weight(r.StdLow)
	case r.StdLow == r.StdHigh:
		s += ", published weight " + units.Weight(r.StdLow)
	default:
		s += ", published range " + units.Range(r.StdLow, r.StdHigh)
	}
	return s
}

func (g Glyph) plot(c draw.Canvas, t Theme) { g.Row.draw(c, t) }

// draw draws the glyph into the canvas: a hairline from -40 to +40 % of the standard with a short stroke at
// 0, the published range as a pale box, the interval as a bar and the estimate as a tick.
func (r WeightRow) draw(c draw.Canvas, t Theme) {
	pad := vg.Length(3) // room for arrow heads
	left, right, mid := c.Min.X+pad, c.Max.X-pad, (c.Min.Y+c.Max.Y)/2
	half := min((c.Max.Y-c.Min.Y)/2-0.5, 6)
	x := func(share float64) vg.Length {
		share = min(max(share, -reach), reach)
		return left + (right-left)*vg.Length((share+reach)/(2*reach))
	}
	if r.published() {
		lo, hi := -reach, reach // an open side runs to the end of the scale
		if r.StdLow != 0 {
			lo = r.share(r.StdLow)
		}
		if r.StdHigh != 0 {
			hi = r.share(r.StdHigh)
		}
		x0, x1 := x(lo), x(hi)
		if x1-x0 < 2 { // a target is still a box to be seen
			x0, x1 = x0-1, x1+1
		}
		fill(c, rect(x0, mid-half, x1, mid+half), t.Band, t.line(0.4, t.Edge))
	}
	if r.Value == 0 || !r.published() {
		return // the words in its place need a clear ground
	}
	hair := t.line(0.5, t.Muted)
	c.StrokeLine2(hair, left, mid, right, mid)
	for _, s := range []float64{-reach, 0, reach} {
		h := half * 0.5
		c.StrokeLine2(hair, x(s), mid-h, x(s), mid+h)
	}
	if r.interval() {
		x0, x1 := x(r.share(r.Low)), x(r.share(r.High))
		if x1-x0 < 1 {
			x0, x1 = x0-0.5, x1+0.5
		}
		h := half * 0.45
		fill(c, rect(x0, mid-h, x1, mid+h), t.Bird, draw.LineStyle{})
		r.arrows(c, t, x, mid, h)
	}
	v := r.share(r.Value)
	if math.Abs(v) > reach {
		return // the arrow head stands for it
	}
	// The tick reaches beyond the bar and is edged in white, so that it shows on the bar too.
	c.StrokeLine2(t.line(2.6, t.Paper), x(v), mid-half*0.45, x(v), mid+half*0.45)
	c.StrokeLine2(t.line(1.4, t.Bird), x(v), mid-half*0.85, x(v), mid+half*0.85)
}

// arrows marks where the interval or the estimate goes on beyond the scale.
func (r WeightRow) arrows(c draw.Canvas, t Theme, x func(float64) vg.Length, mid, h vg.Length) {
	head := func(tip, base vg.Length) {
		c.FillPolygon(t.Bird, []vg.Point{{X: tip, Y: mid}, {X: base, Y: mid + h + 1}, {X: base, Y: mid - h - 1}})
	}
	if r.share(r.Low) < -reach {
		head(x(-reach)-3, x(-reach))
	}
	if r.share(r.High) > reach {
		head(x(reach)+3, x(reach))
	}
}

// HeightFor returns the height in mm that a figure of n rows needs.
func (Weights) HeightFor(n int) float64 { return 13 + 7.6*float64(n) }

func (w Weights) plot(c draw.Canvas, t Theme) {
	label := t.style(t.Label, t.Ink)
	small := t.style(t.Tick, t.Muted)
	width := c.Max.X - c.Min.X

	// Columns: label and class | glyph | weight in figures.
	var nameWidth, figureWidth, awayWidth vg.Length
	for _, r := range w.Rows {
		nameWidth = max(nameWidth, bold(label).Width(oneLine(r.Label)))
		nameWidth = max(nameWidth, small.Width(oneLine(r.Class)))
		weight, away := w.figures(r)
		figureWidth = max(figureWidth, label.Width(weight))
		awayWidth = max(awayWidth, label.Width(away)+8)
	}
	nameWidth = min(nameWidth, width*0.3) + 6
	left, right := c.Min.X+nameWidth, c.Max.X-figureWidth-awayWidth-6

	used := t.drawKey(&c, width, w.key(t)) + 2
	axis := vg.Length(14)
	top, bottom := c.Max.Y-used-axis, c.Min.Y
	step := (top - bottom) / vg.Length(len(w.Rows))

	// The scale on top, with its lines behind the rows.
	pad := vg.Length(3)
	for _, s := range []float64{-0.4, -0.2, 0, 0.2, 0.4} {
		x := left + pad + (right-left-2*pad)*vg.Length((s+reach)/(2*reach))
		c.FillText(aligned(small, draw.XCenter), vg.Point{X: x, Y: top + axis/2}, percent(s))
		c.StrokeLine2(t.line(0.5, t.Grid), x, bottom, x, top)
	}
	for i, r := range w.Rows {
		y1 := top - vg.Length(i)*step
		y0 := y1 - step
		mid := (y0 + y1) / 2
		if i > 0 {
			c.StrokeLine2(t.line(0.4, t.Grid), c.Min.X, y1, c.Max.X, y1)
		}
		nameY := mid
		if r.Class != "" && step >= 19 {
			nameY = mid + 4.5
			c.FillText(small, vg.Point{X: c.Min.X, Y: mid - 5.5}, fit(r.Class, small, nameWidth-6))
		}
		c.FillText(bold(label), vg.Point{X: c.Min.X, Y: nameY}, fit(r.Label, bold(label), nameWidth-6))
		half := min(step/2-1.5, 6.5)
		r.draw(draw.Canvas{Canvas: c.Canvas, Rectangle: rect(left, mid-half, right, mid+half)}, t)
		if r.Missing != "" {
			words := aligned(t.style(t.Tick, t.Ink), draw.XCenter)
			said := fit(r.Missing, words, right-left-4)
			c.FillText(words, vg.Point{X: (left + right) / 2, Y: mid}, said)
		}
		weight, away := w.figures(r)
		c.FillText(aligned(label, draw.XRight), vg.Point{X: c.Max.X - awayWidth, Y: mid}, weight)
		c.FillText(aligned(label, draw.XRight), vg.Point{X: c.Max.X, Y: mid}, away)
	}
}

// figures is what the right-hand columns print: the weight, and how far it is from the standard.
func (w Weights) figures(r WeightRow) (weight, away string) {
	if r.Value == 0 {
		return "–", ""
	}
	if r.published() {
		away = percent(r.share(r.Value))
	}
	return w.Units.Weight(r.Value), away
}

func (w Weights) key(t Theme) []keyEntry {
	var bar, published bool
	for _, r := range w.Rows {
		bar = bar || r.interval()
		published = published || r.published()
	}
	var key []keyEntry
	if published {
		key = append(key, keyEntry{"published weight of the class", func(c draw.Canvas, t Theme) {
			fill(c, c.Rectangle, t.Band, t.line(0.4, t.Edge))
		}})
	}
	if bar {
		level := ""
		if w.Level > 0 {
			level = fmt.Sprintf(", %.0f of 100 cases", w.Level*100)
		}
		key = append(key, keyEntry{"weight: likely range" + level, func(c draw.Canvas, t Theme) {
			m := c.Center().Y
			fill(c, rect(c.Min.X, m-2, c.Max.X, m+2), t.Bird, draw.LineStyle{})
		}})
	}
	return append(key, keyEntry{"estimate", func(c draw.Canvas, t Theme) {
		c.StrokeLine2(t.line(1.4, t.Bird), c.Center().X, c.Min.Y, c.Center().X, c.Max.Y)
	}})
}
