package flocks

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/stat"
)

// Own is one flock beside the band of all: what its keeper is shown. It holds no number of any other flock.
type Own struct {
	Code  string
	Birds int
	Among int // flocks compared
	Lines []Line
	habit analysis.Claim
	traps []analysis.Claim
}

// Line is one measure of a flock beside the band.
type Line struct {
	Measure Measure
	Scale   string
	Row     Row
	Flocks  int           // that have the measure
	Pool    float64       // their rate together
	Band    stat.Interval // of differences, within which 9 of 10 flocks of this size lie if they differ as these do
}

// Own picks one flock out of a comparison. Measures that fewer than SmallGroup flocks have are left out, because the band would
// tell of the others.
func (r *Result) Own(code string) (*Own, error) {
	at := slices.IndexFunc(r.Flocks, func(f Flock) bool { return f.Code == code })
	if at < 0 {
		var known []string
		for _, f := range r.Flocks {
			known = append(known, f.Code)
		}
		return nil, fmt.Errorf("no flock has the code %q; there are: %s", code, strings.Join(known, ", "))
	}
	z, err := stat.Multiplier(level, math.Inf(1))
	if err != nil {
		return nil, err
	}
	o := &Own{Code: code, Birds: r.Flocks[at].Birds, Among: len(r.Flocks), habit: r.habit(at)}
	for _, c := range r.Comparisons {
		i := slices.IndexFunc(c.Rows, func(row Row) bool { return row.Flock == at })
		if i < 0 || c.Hidden != "" || len(c.Rows) < SmallGroup {
			continue
		}
		row := c.Rows[i]
		half := row.Funnel * z / funnelZ
		o.Lines = append(o.Lines, Line{c.Measure, c.Scale, row, len(c.Rows), c.Pool.Rate(), stat.Interval{Value: c.Usual.Value, Low: c.Usual.Value - half, High: c.Usual.Value + half, Level: level, N: len(c.Rows)}})
	}
	for _, t := range r.traps() {
		if t.ID != "flocks.trap/scales" {
			o.traps = append(o.traps, t)
		}
	}
	return o, nil
}

// Claims are what the own records say beside the band, and one habit that would let them say more.
func (o *Own) Claims() []analysis.Claim {
	var out []analysis.Claim
	for _, l := range o.Lines {
		what, counts, unit := l.Measure.Named()
		c := analysis.Claim{ID: "flocks.own/" + strings.ReplaceAll(string(l.Measure), " ", "-"), Subject: analysis.Subject{Flock: o.Code}, Topic: what, Stands: analysis.Open, Method: method, Source: source,
			N: analysis.Counts{Birds: l.Row.Cell.Birds, Records: int(math.Round(l.Row.Cell.N))}}
		p := l.Measure.Points
		switch {
		case l.Measure == Growth:
			c.Text = fmt.Sprintf("Weight for age, %s below 24 weeks", analysis.Counted(l.Row.Cell.Birds, "bird", "birds"))
		case unit == "%":
			rate, pool := p(l.Row.Rate), p(l.Pool)
			c.Text = fmt.Sprintf("%s: %.0f %% here, %.0f %% over %d flocks", analysis.Capital(counts), rate, pool, l.Flocks)
		default:
			c.Text = fmt.Sprintf("%s: %.1f here, %.1f over %d flocks", analysis.Capital(counts), l.Row.Rate, l.Pool, l.Flocks)
		}
		if l.Measure.Judged() {
			d := l.Row.Difference
			c.Estimate = &analysis.Estimate{Value: p(d.Value), Low: p(d.Low), High: p(d.High), Level: level, Unit: "points"}
			c.Text += fmt.Sprintf("; with the mix of birds allowed for %s points (%s to %s)", signed(p(d.Value)), tenth(p(d.Low)), tenth(p(d.High)))
			c.Text += fmt.Sprintf(", where 9 of 10 flocks of this size would lie between %s and %s: %s.", tenth(p(l.Band.Low)), tenth(p(l.Band.High)), l.Row.Side.words())
			if l.Row.Crude {
				c.Caveats = append(c.Caveats, "the mix of size, sex, age and season could not be allowed for here: its groups are hidden or not told apart")
			}
		} else {
			c.Text += "."
		}
		out = append(out, c)
	}
	if len(o.Lines) == 0 {
		out = append(out, analysis.Claim{ID: "flocks.own/none", Subject: analysis.Subject{Flock: o.Code}, Topic: "flocks", Stands: analysis.Open, Method: method,
			Text:    fmt.Sprintf("Cannot set this flock beside a band because fewer than %d flocks share a measure with it; a band of fewer would tell of the others.", SmallGroup),
			Refusal: &analysis.Refusal{Needs: "more flocks", Next: "ask more keepers for a share: keelmark share"}})
	}
	return append(append(out, o.habit), o.traps...)
}

// words says a side in a sentence.
func (s Side) words() string {
	switch s {
	case Above, Below:
		return string(s) + " the others"
	case Untold:
		return "it cannot be told apart from the others"
	}
	return fmt.Sprintf("fewer than %d birds, which is too few to tell", MinBirds)
}

// Tables hold the numbers of the claims.
func (o *Own) Tables() []analysis.Table {
	t := analysis.Table{Name: "own", Caption: "Your flock beside the band", Columns: []analysis.Column{{Name: "measure", Head: "measure"}, {Name: "scale", Head: "scale"}, {Name: "flocks", Head: "flocks"}, {Name: "birds", Head: "your birds"},
		{Name: "n", Head: "counted of"}, {Name: "rate", Head: "as counted", Decimals: 2}, {Name: "pool", Head: "all flocks", Decimals: 2}, {Name: "difference", Head: "difference", Decimals: 1}, {Name: "low", Head: "from", Decimals: 1},
		{Name: "high", Head: "to", Decimals: 1}, {Name: "band_low", Head: "band from", Decimals: 1}, {Name: "band_high", Head: "band to", Decimals: 1}, {Name: "side", Head: "beside the others"}}}
	for _, l := range o.Lines {
		p := l.Measure.Points
		row := []any{string(l.Measure), l.Scale, l.Flocks, l.Row.Cell.Birds, l.Row.Cell.N, l.Row.Rate, l.Pool, nil, nil, nil, nil, nil, nil}
		if l.Measure.Judged() {
			row[7], row[8], row[9], row[10], row[11], row[12] = p(l.Row.Difference.Value), p(l.Row.Difference.Low), p(l.Row.Difference.High), p(l.Band.Low), p(l.Band.High), string(l.Row.Side)
		}
		t.Rows = append(t.Rows, row)
	}
	return []analysis.Table{t}
}

// Cautions stand beside it.
func (o *Own) Cautions() []analysis.Caution {
	return []analysis.Caution{{Topic: "Signs of disease", Text: "A number on this page is no sign of health or illness. Signs of notifiable disease are told to a vet or the authority at once, whatever a comparison says.", Source: "common practice"}}
}
