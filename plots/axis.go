package plots

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg/draw"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Source: international avoirdupois pound, 0.45359237 kg exactly (1959 agreement); 16 oz to the pound.
const (
	gramsPerPound = 453.59237
	gramsPerOunce = gramsPerPound / 16
)

// axes sets the lines and the type of a plot's axes.
func (t Theme) axes(p *plot.Plot) {
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		x, y := a.Tick.Label.XAlign, a.Tick.Label.YAlign
		a.Padding = 0
		a.LineStyle = t.line(0.6, t.Muted)
		a.Tick.LineStyle = t.line(0.6, t.Muted)
		a.Tick.Length = 3
		a.Tick.Label = t.style(t.Tick, t.Ink)
		a.Tick.Label.XAlign, a.Tick.Label.YAlign = x, y
		a.Label.TextStyle = aligned(t.style(t.Tick, t.Muted), draw.XCenter)
		a.Label.TextStyle.YAlign = draw.YBottom
		a.Label.Padding = 2
	}
}

// percentTicks labels an axis of shares or percentages with about n ticks.
func percentTicks(lo, hi float64, n int) plot.Ticker {
	step := stepFor(hi-lo, n, 1, 2, 5, 10, 20, 25, 50, 100)
	return ticker{step, func(x float64) string {
		return strings.Replace(strconv.FormatFloat(math.Round(x), 'f', 0, 64), "-", "−", 1)
	}}
}

// ticker places labelled ticks at multiples of a step.
type ticker struct {
	step  float64
	label func(float64) string
}

// Ticks implements plot.Ticker.
func (t ticker) Ticks(lo, hi float64) []plot.Tick {
	var ticks []plot.Tick
	for k := math.Ceil(lo/t.step - 1e-9); k*t.step <= hi+1e-9*t.step && len(ticks) < 200; k++ {
		x := k*t.step + 0 // adding zero turns -0 into 0
		ticks = append(ticks, plot.Tick{Value: x, Label: t.label(x)})
	}
	return ticks
}

// stepFor returns the smallest of the steps that divides a span into at most n parts; beyond the last it
// doubles.
func stepFor(span float64, n int, steps ...float64) float64 {
	for _, s := range steps {
		if span/s <= float64(n) {
			return s
		}
	}
	s := steps[len(steps)-1]
	for span/s > float64(n) {
		s *= 2
	}
	return s
}

// weightTicks labels a weight axis in the keeper's units.
func weightTicks(lo, hi float64, units analysis.Units, n int) plot.Ticker {
	if units == analysis.PoundsOz {
		step := stepFor(hi-lo, n, gramsPerOunce, 2*gramsPerOunce, 4*gramsPerOunce, 8*gramsPerOunce, gramsPerPound, 2*gramsPerPound)
		return ticker{step, func(g float64) string { return units.Weight(g) }}
	}
	step := stepFor(hi-lo, n, 1, 2, 5, 10, 20, 50, 100, 200, 250, 500, 1000, 2000)
	return ticker{step, func(g float64) string { return strconv.FormatFloat(math.Round(g), 'f', 0, 64) }}
}

// weekTicks labels an axis of ages in days by weeks.
func weekTicks(lo, hi float64, n int) plot.Ticker {
	step := 7 * stepFor((hi-lo)/7, n, 1, 2, 4, 8, 13, 26, 52)
	return ticker{step, func(d float64) string { return strconv.FormatFloat(math.Round(d/7), 'f', 0, 64) }}
}

// dateTicks labels an axis of days after an ISO date by months, with the year at its first label and at
// every January.
type dateTicks struct {
	zero record.Day
	n    int
}

// Ticks implements plot.Ticker.
func (t dateTicks) Ticks(lo, hi float64) []plot.Tick {
	months := int(stepFor((hi-lo)/30.44, t.n, 1, 2, 3, 6, 12))
	if hi-lo < 45 {
		return t.days(lo, hi)
	}
	y, m, _ := (t.zero + record.Day(math.Floor(lo))).Date()
	first := int(m-1) / months * months
	var ticks []plot.Tick
	lastYear := 0
	for i := 0; len(ticks) < 200; i++ {
		month := time.Date(y, time.Month(first+1+i*months), 1, 0, 0, 0, 0, time.UTC)
		d, _ := record.DayOf(month.Year(), month.Month(), 1)
		x := float64(d - t.zero)
		if x < lo {
			continue
		}
		if x > hi {
			break
		}
		label := month.Format("Jan")
		if month.Year() != lastYear {
			label += "\n" + month.Format("2006")
			lastYear = month.Year()
		}
		ticks = append(ticks, plot.Tick{Value: x, Label: label})
	}
	return ticks
}

func (t dateTicks) days(lo, hi float64) []plot.Tick {
	step := stepFor(hi-lo, t.n, 1, 2, 7, 14)
	var ticks []plot.Tick
	lastYear := 0
	for x := math.Ceil(lo); x <= hi; x += step {
		d := t.zero + record.Day(x)
		y, m, n := d.Date()
		label := fmt.Sprintf("%d %s", n, m.String()[:3])
		if y != lastYear {
			label += "\n" + strconv.Itoa(y)
			lastYear = y
		}
		ticks = append(ticks, plot.Tick{Value: x, Label: label})
	}
	return ticks
}
