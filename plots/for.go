package plots

import (
	"fmt"
	"math"
	"slices"

	"keelmark/analysis"
	"keelmark/analysis/condition"
	"keelmark/analysis/decision"
	"keelmark/analysis/flocks"
	"keelmark/analysis/forecast"
	"keelmark/analysis/growth"
	"keelmark/analysis/parasite"
	"keelmark/analysis/season"
	"keelmark/analysis/standard"
	"keelmark/analysis/treatment"
	"keelmark/ingest/record"
)

// pageWidth is the width in mm of a figure that takes the whole text width of A4 and Letter.
const pageWidth = 180.0

// For makes the figures of a result: those of the flock and, where the result is about a single bird, the
// bird's own. A result that nothing can be drawn of has none.
func For(r analysis.Result) []Figure {
	switch r := r.(type) {
	case *growth.Result:
		return growthFigures(r)
	case *standard.Result:
		if rows := standingRows(r); len(rows) > 0 {
			return []Figure{standingFigure(r, rows)}
		}
	case *forecast.Result:
		if len(r.Birds) == 1 {
			return ForBird(r, r.Birds[0].Bird.ID)
		}
		if rows := forecastRows(r); len(rows) > 0 {
			return []Figure{forecastFigure(r, rows)}
		}
	case *parasite.Result:
		return monthFigures(r)
	case *treatment.Result:
		return treatmentFigures(r)
	case *season.Result:
		return seasonFigures(r)
	case *condition.Result:
		return scoreFigures(r)
	case *decision.Result:
		return decisionFigures(r)
	case *flocks.Result:
		return flocksFigures(r)
	case *flocks.Own:
		return ownFigures(r)
	}
	return nil
}

// ForBird makes the figures of one bird, by its ID, of a result about many.
func ForBird(r analysis.Result, bird string) []Figure {
	switch r := r.(type) {
	case *growth.Result:
		if c, ok := r.Bird(bird); ok {
			if f, ok := curveFigure(c, r.Units); ok {
				return []Figure{f}
			}
		}
	case *standard.Result:
		if rows := rowsOf(standingRows(r), bird); len(rows) > 0 {
			return []Figure{standingFigure(r, rows)}
		}
	case *forecast.Result:
		for _, f := range r.Birds {
			if f.Bird.ID == bird {
				return forecastOf(r, f)
			}
		}
	case *parasite.Result:
		return looksFigure(r, bird)
	case *treatment.Result:
		return stateFigure(r, bird)
	}
	return nil
}

// GlyphFor makes the small picture of a bird's weight against the published weight of its class, for a cell of
// a table, of a result of the analyses standard or forecast. It returns false where the result does not hold
// the bird. A bird that stands in two classes is shown in that of the day.
func GlyphFor(r analysis.Result, bird string) (Figure, bool) {
	var rows []birdRow
	var units analysis.Units
	switch r := r.(type) {
	case *standard.Result:
		rows, units = standingRows(r), r.Units
	case *forecast.Result:
		rows, units = forecastRows(r), r.Units
	}
	rows = rowsOf(rows, bird)
	if len(rows) == 0 {
		return Figure{}, false
	}
	return rows[0].Glyph("weight-"+bird, units, rangeLevel), true
}

func growthFigures(r *growth.Result) []Figure {
	var out []Figure
	for _, list := range [][]growth.Curve{r.Samples, r.Lines} {
		for i := range list {
			if f, ok := curveFigure(&list[i], r.Units); ok {
				out = append(out, f)
			}
		}
	}
	var birds []Growth
	var one Figure
	points := 0
	for i := range r.Birds {
		if f, ok := curveFigure(&r.Birds[i], r.Units); ok {
			g := f.Panel.(Growth)
			points += len(r.Birds[i].Points)
			birds, one = append(birds, g), f
		}
	}
	switch {
	case len(birds) == 1:
		return append([]Figure{one}, out...)
	case len(birds) > 1:
		const columns = 4
		for part := range slices.Chunk(birds, 5*columns) { // as many as fit a page
			rows := (len(part) + columns - 1) / columns
			name := "growth-birds"
			if part[0].Label != birds[0].Label {
				name = fmt.Sprintf("growth-birds-from-%d", 1+slices.IndexFunc(birds, func(g Growth) bool { return g.Label == part[0].Label }))
			}
			out = append(out, Figure{
				Name: name, Title: "Growth, bird by bird",
				Caption: fmt.Sprintf("%s, %s in all; the same axes for each.", analysis.Counted(len(birds), "bird"), analysis.Counted(points, "weighing")),
				Alt:     growthAlt(part), Width: pageWidth, Height: 20 + 40*float64(rows), Panel: Multiples{columns, part},
			})
		}
		if f, ok := residualFigure(r); ok {
			out = append(out, f)
		}
	}
	return out
}

func growthAlt(birds []Growth) string {
	fitted := 0
	for _, b := range birds {
		if len(b.Curve) > 0 {
			fitted++
		}
	}
	if len(birds) == fitted {
		return fmt.Sprintf("Weighings of %s, each with a curve.", analysis.Counted(len(birds), "bird"))
	}
	return fmt.Sprintf("Weighings of %s; a curve could be drawn for %d of them.", analysis.Counted(len(birds), "bird"), fitted)
}

// curveFigure draws one curve with its weighings, used and left out. It returns false where there is no
// weighing with an age.
func curveFigure(c *growth.Curve, units analysis.Units) (Figure, bool) {
	g := Growth{Label: c.Label, Units: units}
	for _, p := range c.Points {
		g.Weighings = append(g.Weighings, Weighing{Day: p.Age, Grams: p.Weight})
		if on := p.From.On; g.Zero == "" && c.Of == growth.OfBird && on.Exact() && p.Span == 0 {
			g.Zero = (on.First - record.Day(math.Round(p.Age))).String()
		}
	}
	for _, l := range c.LeftOut {
		age, known := l.From.Age.Days()
		if known && l.From.Form == record.Measured && l.From.Value > 0 {
			g.Weighings = append(g.Weighings, Weighing{Day: float64(age), Grams: l.From.Value, HeldOut: true, Note: l.Why})
		}
	}
	if len(g.Weighings) == 0 {
		return Figure{}, false
	}
	first, last := c.Ages()
	if c.Fitted() && last > first {
		until := last
		if c.Told() {
			until += growth.SolidDays
		}
		g.Reliable, g.CurveName = until, "curve"
		g.Level = rangeLevel
		const steps = 60
		for i := range steps + 1 {
			age := first + (until-first)*float64(i)/steps
			p := CurvePoint{Day: age, Grams: c.Weight(age)}
			if b, err := c.Band(age, rangeLevel); err == nil {
				p.Low, p.High = b.Low, b.High
			}
			if finite("", p.Grams, p.Low, p.High) != nil || p.Grams < p.Low || p.Grams > p.High {
				p.Low, p.High = 0, 0
			}
			if finite("", p.Grams) == nil {
				g.Curve = append(g.Curve, p)
			}
		}
	}
	caption := analysis.Counted(len(c.Points), "weighing") + " used"
	if n := len(g.Weighings) - len(c.Points); n > 0 {
		caption += fmt.Sprintf(", %d left out", n)
	}
	if c.Birds > 1 {
		caption += fmt.Sprintf(", of %d birds", c.Birds)
	}
	alt := fmt.Sprintf("%s: weighings from %.0f to %.0f days of age", c.Label, first, last)
	switch {
	case c.Told():
		m := c.Params[0]
		alt += fmt.Sprintf("; the curve is compatible with a mature weight of %s.", g.Units.AboutRange(m.Low, m.High))
	case c.Fitted():
		alt += "; the curve describes the ages seen and no others."
	default:
		alt += "; no curve can be told."
	}
	return Figure{Name: "growth-" + string(c.Of) + "-" + c.Key, Title: "Growth of " + c.Label, Caption: caption + ".", Alt: alt,
		Width: pageWidth, Height: 78, Panel: g}, true
}

// rangeLevel is the chance that ranges are stated for. Source: Keelmark's own choice, the same in all its
// analyses: nine in ten.
const rangeLevel = 0.9
