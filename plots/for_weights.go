package plots

import (
	"fmt"
	"keelmark/analysis"
	"math"
	"slices"

	"keelmark/analysis/forecast"
	"keelmark/analysis/standard"
	"keelmark/ingest/record"
)

// birdRow is a row of Weights that knows its bird.
type birdRow struct {
	WeightRow
	bird string
}

func rowsOf(rows []birdRow, bird string) []birdRow {
	return slices.DeleteFunc(slices.Clone(rows), func(r birdRow) bool { return r.bird != bird })
}

func weightRows(rows []birdRow) []WeightRow {
	out := make([]WeightRow, len(rows))
	for i, r := range rows {
		out[i] = r.WeightRow
	}
	return out
}

// bounds are the published weight as a figure draws it: a target without a stated tolerance has both equal, an
// open side is 0.
func bounds(b standard.Band) (low, high float64) {
	if !b.Stated() {
		target, _ := b.Target()
		return target, target
	}
	if math.IsInf(b.High, 1) {
		return b.Low, 0
	}
	return b.Low, b.High
}

func standingRows(r *standard.Result) []birdRow {
	var out []birdRow
	for _, s := range r.Birds {
		row := birdRow{WeightRow{Label: s.Bird.Label()}, s.Bird.ID}
		when := ""
		if s.Weighed {
			row.Value = s.Last.Value
			when = "weighed " + s.Last.On.String()
		}
		if s.Refusal != nil {
			row.Class, row.Missing = when, "cannot say which class: "+s.Refusal.Needs
			out = append(out, row)
			continue
		}
		for i, p := range s.Places {
			row := row
			row.Class = join(string(p.Class), when)
			if !p.OnTheDay {
				row.Class = join(string(p.Class)+" until the day", when)
			}
			switch {
			case p.Refusal != nil:
				row.Missing = p.Refusal.Needs
			case !s.Weighed:
				row.Missing = "no dated weighing"
			}
			if p.Refusal == nil {
				row.StdLow, row.StdHigh = bounds(p.Band)
				if e := s.Percent[i]; s.Weighed && finite("", e.Value, e.Low, e.High) == nil {
					target, _ := p.Band.Target()
					row.Low, row.High = target*e.Low/100, target*e.High/100
				}
			}
			out = append(out, row)
		}
	}
	return out
}

func join(a, b string) string {
	if a == "" || b == "" {
		return a + b
	}
	return a + ", " + b
}

func standingFigure(r *standard.Result, rows []birdRow) Figure {
	return Figure{
		Name: name("standing", rows, len(r.Birds)), Title: "Last weight against the published weight",
		Caption: fmt.Sprintf("Last dated weighing of each bird; %s. The class is that of %s. The order is that of the records.", r.Error, r.On),
		Alt:     compared(rows, "Last weighings"), Width: pageWidth, Height: Weights{}.HeightFor(len(rows)),
		Panel: Weights{Units: r.Units, Level: rangeLevel, Rows: weightRows(rows)},
	}
}

// name tells the figure of one bird from that of the flock.
func name(what string, rows []birdRow, birds int) string {
	if birds > 1 && !slices.ContainsFunc(rows, func(r birdRow) bool { return r.bird != rows[0].bird }) {
		return what + "-" + rows[0].bird
	}
	return what
}

// compared counts what the rows show, by their estimates.
func compared(rows []birdRow, what string) string {
	var inside, outside, open int
	for _, r := range rows {
		switch {
		case r.Value == 0 || !r.published() || r.Missing != "":
			open++
		case r.Value < r.StdLow || r.StdHigh != 0 && r.Value > r.StdHigh:
			outside++
		default:
			inside++
		}
	}
	return fmt.Sprintf("%s against the published weight of the class: inside %d, outside %d, cannot be compared %d.", what, inside, outside, open)
}

func forecastRows(r *forecast.Result) []birdRow {
	var out []birdRow
	for _, f := range r.Birds {
		row := birdRow{WeightRow{Label: f.Bird.Label()}, f.Bird.ID}
		if f.Refusal == nil && finite("", f.Weight.Value, f.Weight.Low, f.Weight.High) == nil {
			row.Value, row.Low, row.High = f.Weight.Value, f.Weight.Low, f.Weight.High
		}
		if f.NoClass != nil {
			row.Missing = "cannot say which class: " + f.NoClass.Needs
			out = append(out, row)
			continue
		}
		for _, p := range f.Places {
			if !p.OnTheDay {
				continue
			}
			row := row
			row.Class = string(p.Class)
			if f.Extrapolated {
				row.Class = join(row.Class, fmt.Sprintf("%d days ahead", f.Ahead))
			}
			switch {
			case f.Refusal != nil:
				row.Missing = f.Refusal.Needs
			case p.Refusal != nil:
				row.Missing = p.Refusal.Needs
			}
			if p.Refusal == nil {
				row.StdLow, row.StdHigh = bounds(p.Band)
			}
			out = append(out, row)
		}
	}
	return out
}

func forecastFigure(r *forecast.Result, rows []birdRow) Figure {
	return Figure{
		Name: name("forecast", rows, len(r.Birds)), Title: "Weight to expect on " + r.On.String(),
		Caption: "What one good weighing on the day would show, with weighing error. The order is that of the records.",
		Alt:     compared(rows, "Expected weights"), Width: pageWidth, Height: Weights{}.HeightFor(len(rows)),
		Panel: Weights{Units: r.Units, Level: rangeLevel, Rows: weightRows(rows)},
	}
}

// around is for how many days to either side of the day a standard's outline is drawn.
const around = 14.0

// forecastOf draws one bird's weighings, the fan of its forecast, and the published weight of its class on the
// day.
func forecastOf(r *forecast.Result, f forecast.Forecast) []Figure {
	g := Growth{Label: f.Bird.Label(), Units: r.Units, ByDate: true, CurveName: "middle of the forecast", Level: rangeLevel}
	var dated []forecast.Weighing
	for _, w := range f.Weighings {
		if w.Dated {
			dated = append(dated, w)
		}
	}
	if len(dated) == 0 {
		return nil
	}
	zero := dated[0].Day
	g.Zero = zero.String()
	at := func(d record.Day) float64 { return float64(d - zero) }
	for _, w := range dated {
		g.Weighings = append(g.Weighings, Weighing{Day: at(w.Day), Grams: w.Grams})
	}
	for _, s := range f.Fan {
		if finite("", s.Median, s.Low90, s.High90) != nil {
			continue
		}
		g.Curve = append(g.Curve, CurvePoint{Day: at(s.Day), Grams: s.Median, Low: s.Low90, High: s.High90, LowHalf: s.Low50, HighHalf: s.High50})
		if !s.Extrapolated {
			g.Reliable = at(s.Day)
		}
	}
	for _, p := range f.Places {
		if !p.OnTheDay || p.Refusal != nil {
			continue
		}
		low, high := bounds(p.Band)
		g.Standards = append(g.Standards, StandardSpan{
			Label: fmt.Sprintf("%s: %s, %s", p.Class, p.Band.Text(r.Units), origin(p.Band.Row)),
			From:  at(r.On) - around, To: at(r.On) + around, Low: low, High: high,
		})
	}
	g.Show = &Mark{at(r.On), "the day: " + r.On.String()}
	alt := fmt.Sprintf("%s: %s from %s", g.Label, analysis.Counted(len(dated), "weighing"), zero)
	if f.Refusal != nil {
		alt += "; no forecast, because " + f.Refusal.Needs + "."
	} else {
		alt += fmt.Sprintf("; %s on %s in %.0f of 100 cases.", r.Units.AboutRange(f.Weight.Low, f.Weight.High), r.On, rangeLevel*100)
	}
	return []Figure{{Name: "forecast-" + f.Bird.ID, Title: "Weight of " + g.Label + " up to " + r.On.String(),
		Caption: fmt.Sprintf("%s that the forecast rests on; the last is %d days before the day.", analysis.Capital(analysis.Counted(len(dated), "weighing")), f.Ahead),
		Alt:     alt, Width: pageWidth, Height: 62, Panel: g}}
}

// origin names whose weight it is and what kind of source says so.
func origin(w record.PublishedWeight) string {
	if w.SourceKind == record.OwnTable {
		return standard.RowName(w)
	}
	s := w.Standard
	if w.Edition == "" || w.Edition == "not stated" {
		s += ", edition not stated"
	} else {
		s += ", " + w.Edition
	}
	return join(s, w.SourceKind)
}
