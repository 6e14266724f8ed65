package plots

import (
	"cmp"
	"fmt"
	"keelmark/analysis"
	"math"
	"slices"

	"keelmark/analysis/growth"
	"keelmark/analysis/stat"
)

const (
	// middleDays is how wide the ages are of which Residuals shows the middle, and middlePoints how many weighings one
	// needs.
	middleDays   = 14
	middlePoints = 5
)

// residualFigure sets the weighings of all birds with a curve of their own against these curves. It returns false where
// no bird has one.
func residualFigure(r *growth.Result) (Figure, bool) {
	var all []Residual
	birds := 0
	for i := range r.Birds {
		c := &r.Birds[i]
		if !c.Fitted() {
			continue
		}
		birds++
		for _, p := range c.Points {
			q := Residual{p.Age, 100 * (p.Weight/c.Weight(p.Age) - 1), c.Label}
			if finite("", q.Percent) == nil && q.Percent < 1e4 {
				all = append(all, q)
			}
		}
	}
	if len(all) == 0 {
		return Figure{}, false
	}
	slices.SortStableFunc(all, func(a, b Residual) int { return cmp.Compare(a.Day, b.Day) })
	middle := middles(all)
	alt := fmt.Sprintf("Half of the weighings lie within %.1f %% of their curves", medianOf(all, func(q Residual) float64 { return math.Abs(q.Percent) }))
	if len(middle) > 1 {
		worst := slices.MaxFunc(middle, func(a, b Residual) int { return cmp.Compare(math.Abs(a.Percent), math.Abs(b.Percent)) })
		alt += fmt.Sprintf("; the middle of those of about one age strays furthest at %.0f weeks, by %s", worst.Day/7, percent(worst.Percent/100))
	}
	return Figure{
		Name: "growth-residuals", Title: "Weighings against their curves",
		Caption: fmt.Sprintf("%s of %s, each against the bird's own curve.", analysis.Capital(analysis.Counted(len(all), "weighing")), analysis.Counted(birds, "bird")),
		Alt:     alt + ".", Width: pageWidth, Height: 70, Panel: Residuals{all, middle},
	}, true
}

// middles are the medians of the points of about one age; sorted holds points by rising age.
func middles(sorted []Residual) []Residual {
	var out []Residual
	for len(sorted) > 0 {
		from := math.Floor(sorted[0].Day/middleDays) * middleDays
		n := slices.IndexFunc(sorted, func(q Residual) bool { return q.Day >= from+middleDays })
		if n < 0 {
			n = len(sorted)
		}
		if n >= middlePoints {
			out = append(out, Residual{
				Day:     medianOf(sorted[:n], func(q Residual) float64 { return q.Day }),
				Percent: medianOf(sorted[:n], func(q Residual) float64 { return q.Percent }),
			})
		}
		sorted = sorted[n:]
	}
	return out
}

func medianOf(points []Residual, of func(Residual) float64) float64 {
	var xs []float64
	for _, q := range points {
		xs = append(xs, of(q))
	}
	m, _ := stat.Median(xs) // every caller has points
	return m
}
