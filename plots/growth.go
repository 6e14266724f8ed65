package plots

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Growth is one bird's weighings over its age, with the curve and the band that were fitted, the standard
// and the day of the show. Any part may be missing, not all of them.
//
// Ages are in days after day 0 (hatching, or the first weighing where no hatch date is known), weights in
// grams.
type Growth struct {
	Label     string         `json:"label,omitempty"` // the bird
	Zero      string         `json:"zero,omitempty"`  // ISO date of day 0, "" where only ages are known
	ByDate    bool           `json:"by_date,omitempty"`
	Units     analysis.Units `json:"units,omitempty"` // how weights are printed; grams where empty
	Weighings []Weighing     `json:"weighings,omitempty"`
	Curve     []CurvePoint   `json:"curve,omitempty"`      // by rising Day
	CurveName string         `json:"curve_name,omitempty"` // "own curve", "curve of the line"
	Level     float64        `json:"level,omitempty"`      // stated chance of the band: 0.9
	Reliable  float64        `json:"reliable,omitempty"`   // day after which the curve is extrapolated and drawn dashed; 0 draws none of it solid
	Standards []StandardSpan `json:"standards,omitempty"`
	Show      *Mark          `json:"show,omitempty"`
}

// Weighing is one weight as recorded.
type Weighing struct {
	Day     float64 `json:"day"`
	Grams   float64 `json:"grams"`
	HeldOut bool    `json:"held_out,omitempty"` // not used by the curve
	Note    string  `json:"note,omitempty"`     // why it was held out
}

// CurvePoint is the fitted weight on one day with its prediction interval. Low and High are both 0 where
// there is no interval.
type CurvePoint struct {
	Day   float64 `json:"day"`
	Grams float64 `json:"grams"`
	Low   float64 `json:"low,omitempty"`
	High  float64 `json:"high,omitempty"`
	// LowHalf and HighHalf hold one weighing in half of all cases, as the inner band of a fan; both 0 where none is drawn.
	LowHalf  float64 `json:"low_half,omitempty"`
	HighHalf float64 `json:"high_half,omitempty"`
}

// StandardSpan is a published weight over the days in which the bird is of its class. A bound of 0 is not
// published; a target has Low equal to High.
type StandardSpan struct {
	Label string  `json:"label"` // class, breed, whose standard, edition
	From  float64 `json:"from"`
	To    float64 `json:"to"`
	Low   float64 `json:"low,omitempty"`
	High  float64 `json:"high,omitempty"`
}

// Mark is a day worth a line.
type Mark struct {
	Day   float64 `json:"day"`
	Label string  `json:"label"` // "show 2025-12-06"
}

// Kind implements Panel.
func (Growth) Kind() string { return "growth" }

// Validate implements Panel.
func (g Growth) Validate() error {
	if len(g.Weighings)+len(g.Curve)+len(g.Standards) == 0 {
		return errors.New("growth: no weighing, no curve and no standard")
	}
	if g.Zero != "" {
		if _, err := record.ParseDay(g.Zero); err != nil {
			return fmt.Errorf("growth: day 0: %w", err)
		}
	} else if g.ByDate {
		return errors.New("growth: an axis of dates needs the date of day 0")
	}
	if err := checkUnits(g.Units); err != nil {
		return fmt.Errorf("growth: %w", err)
	}
	var errs []error
	check := func(what string, days []float64, grams []float64) {
		errs = append(errs, finite("growth: "+what, append(slices.Clone(days), grams...)...))
		for _, d := range days {
			if math.Abs(d) > 40000 {
				errs = append(errs, fmt.Errorf("growth: %s: day %g is no day of a bird's life", what, d))
			}
		}
		for _, x := range grams {
			if x < 0 || x > 1e5 {
				errs = append(errs, fmt.Errorf("growth: %s: %g g is no weight of a bird", what, x))
			}
		}
	}
	for _, w := range g.Weighings {
		check("weighing", []float64{w.Day}, []float64{w.Grams})
	}
	last := math.Inf(-1)
	for _, p := range g.Curve {
		check("curve", []float64{p.Day}, []float64{p.Grams, p.Low, p.High, p.LowHalf, p.HighHalf})
		if p.Day < last {
			errs = append(errs, errors.New("growth: the curve's days do not rise"))
		}
		if p.banded() && (p.Low > p.Grams || p.High < p.Grams) {
			errs = append(errs, fmt.Errorf("growth: the band on day %g does not hold the curve", p.Day))
		}
		if p.fanned() && !(p.Low <= p.LowHalf && p.LowHalf <= p.Grams && p.Grams <= p.HighHalf && p.HighHalf <= p.High) {
			errs = append(errs, fmt.Errorf("growth: the inner band on day %g does not lie about the curve and within the outer", p.Day))
		}
		last = p.Day
	}
	for _, s := range g.Standards {
		check("standard", []float64{s.From, s.To}, []float64{s.Low, s.High})
		if s.From > s.To || (s.High != 0 && s.Low > s.High) || (s.Low == 0 && s.High == 0) {
			errs = append(errs, fmt.Errorf("growth: standard %q: days %g to %g, %g to %g g", s.Label, s.From, s.To, s.Low, s.High))
		}
	}
	if g.Show != nil {
		check("show day", []float64{g.Show.Day}, nil)
	}
	return errors.Join(errs...)
}

func (p CurvePoint) banded() bool { return p.Low != 0 || p.High != 0 }
func (p CurvePoint) fanned() bool { return p.LowHalf != 0 || p.HighHalf != 0 }

// Table implements Panel.
func (g Growth) Table() analysis.Table {
	t := analysis.Table{
		Caption: "Weighings and curve",
		Columns: []analysis.Column{
			{Name: "what", Head: "what"},
			{Name: "date", Head: "date"},
			{Name: "age_d", Head: "age", Unit: "d"},
			{Name: "weight_g", Head: "weight", Unit: "g"},
			{Name: "low_g", Head: "low", Unit: "g"},
			{Name: "high_g", Head: "high", Unit: "g"},
			{Name: "low_half_g", Head: "half: low", Unit: "g"},
			{Name: "high_half_g", Head: "half: high", Unit: "g"},
			{Name: "note", Head: "note"},
		},
	}
	date := func(d float64) any {
		if g.Zero == "" {
			return nil
		}
		return (day(g.Zero) + record.Day(math.Round(d))).String()
	}
	for _, w := range g.sorted() {
		note := w.Note
		if w.HeldOut && note == "" {
			note = "held out"
		}
		t.Rows = append(t.Rows, []any{"weighing", date(w.Day), w.Day, w.Grams, nil, nil, nil, nil, note})
	}
	for _, p := range thinned(g.Curve) {
		row := []any{cmp.Or(g.CurveName, "curve"), date(p.Day), p.Day, p.Grams, nil, nil, nil, nil, ""}
		if p.banded() {
			row[4], row[5] = p.Low, p.High
		}
		if p.fanned() {
			row[6], row[7] = p.LowHalf, p.HighHalf
		}
		if p.Day > g.Reliable {
			row[8] = "extrapolated"
		}
		t.Rows = append(t.Rows, row)
	}
	for _, s := range g.Standards {
		row := []any{"standard", date(s.From), s.From, nil, bound(s.Low), bound(s.High), nil, nil, s.Label}
		t.Rows = append(t.Rows, row)
	}
	if g.Show != nil {
		t.Rows = append(t.Rows, []any{g.Show.Label, date(g.Show.Day), g.Show.Day, nil, nil, nil, nil, nil, ""})
	}
	return t
}

// thinned keeps the first, the last and at most 14 points between, evenly spread: a curve is drawn through
// more points than anyone would read.
func thinned(curve []CurvePoint) []CurvePoint {
	const most = 16
	if len(curve) <= most {
		return curve
	}
	out := make([]CurvePoint, most)
	for i := range out {
		out[i] = curve[(i*(len(curve)-1)+(most-1)/2)/(most-1)]
	}
	return out
}

func bound(g float64) any {
	if g == 0 {
		return nil
	}
	return g
}

func (g Growth) sorted() []Weighing {
	ws := slices.Clone(g.Weighings)
	slices.SortStableFunc(ws, func(a, b Weighing) int { return cmp.Compare(a.Day, b.Day) })
	return ws
}

// extent is the range of days and grams that a growth figure spans.
type extent struct{ day0, day1, low, high float64 }

func (g Growth) extent() extent {
	e := extent{math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)}
	days := func(d float64) { e.day0, e.day1 = min(e.day0, d), max(e.day1, d) }
	grams := func(x float64) { e.low, e.high = min(e.low, x), max(e.high, x) }
	for _, w := range g.Weighings {
		days(w.Day)
		grams(w.Grams)
	}
	for _, p := range g.Curve {
		days(p.Day)
		grams(p.Grams)
		if p.banded() {
			grams(p.Low)
			grams(p.High)
		}
	}
	if g.Show != nil {
		days(g.Show.Day)
	}
	for _, s := range g.Standards {
		if math.IsInf(e.day0, 0) { // nothing but the standard
			days(s.From)
			days(s.To)
		}
		for _, x := range []float64{s.Low, s.High} {
			if x != 0 {
				grams(x)
			}
		}
	}
	return e
}

func (e extent) join(o extent) extent {
	return extent{min(e.day0, o.day0), max(e.day1, o.day1), min(e.low, o.low), max(e.high, o.high)}
}

// padded leaves air around the data, and starts the weights at zero unless that would waste half the figure.
func (e extent) padded() extent {
	days := max(e.day1-e.day0, 7)
	e.day0, e.day1 = e.day0-0.03*days, e.day1+0.03*days
	span := max(e.high-e.low, 0.05*e.high, 1)
	e.high += 0.06 * span
	if e.low < 0.5*e.high {
		e.low = 0
	} else {
		e.low = max(0, e.low-0.06*span)
	}
	return e
}
