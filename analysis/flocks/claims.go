package flocks

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"keelmark/analysis"
)

const (
	method = "sums by stratum; indirect standardisation for size class, sex, age and season; flocks as units"
	source = "Breslow & Day 1987, 2.3; DerSimonian & Laird 1986; Higgins, Thompson & Spiegelhalter 2009; Benjamini & Hochberg 1995; Spiegelhalter 2005 (funnel)"
)

// Named is how a sentence calls a measure, what it counts, and its unit.
func (m Measure) Named() (what, counts, unit string) {
	switch m {
	case Effort:
		return "looks for lice and mites", "looks a bird and month", ""
	case Lice:
		return "lice", "looks that found lice", "%"
	case Mites:
		return "mites on birds", "looks that found mites", "%"
	case Weight:
		return "weight", "percent of the listed weight", "%"
	case Growth:
		return "weight for age", "weight of birds below 24 weeks beside all flocks' of that age", "%"
	case Condition:
		return "condition", "birds in the good third of the scale", "%"
	case Fertile:
		return "fertility", "eggs not clear at candling", "%"
	case Verified:
		return "looks after treatments", "treatments with a look two to four weeks later", "%"
	case Treated:
		return "treatments", "birds treated, each time, a bird and month", ""
	}
	return "hatch dates", "birds with a known hatch date", "%"
}

// Points turns a difference of rates into what is printed: percentage points, percent of the listed weight, percent of
// weight for age, or looks a month.
func (m Measure) Points(x float64) float64 {
	switch m {
	case Weight, Effort, Treated:
		return x
	case Growth:
		return 100 * (math.Exp(x) - 1) // of weight, out of logarithms
	}
	return 100 * x
}

// Claims are: effort, then each measure over the flocks, then the traps, then one habit for each flock. No flock is ranked.
func (r *Result) Claims() []analysis.Claim {
	if len(r.Flocks) < 2 {
		return []analysis.Claim{{ID: "flocks.none", Topic: "flocks", Stands: analysis.Open, Text: fmt.Sprintf("Cannot compare because %s given; a comparison needs two flocks, and %d before any is called above or below.",
			analysis.Counted(len(r.Flocks), "flock is", "flocks are"), MinFlocks), Method: method, Refusal: &analysis.Refusal{Needs: "more flocks", Next: "ask other keepers for a share: keelmark share"}}}
	}
	var claims []analysis.Claim
	for _, c := range r.Comparisons {
		claims = append(claims, r.over(c)...)
	}
	claims = append(claims, r.traps()...)
	for i := range r.Flocks {
		claims = append(claims, r.habit(i))
	}
	return claims
}

func (r *Result) over(c Comparison) []analysis.Claim {
	what, counts, unit := c.Measure.Named()
	id := "flocks." + strings.ReplaceAll(string(c.Measure), " ", "-")
	if c.Scale != "" {
		id += "/" + strings.ReplaceAll(c.Scale, " ", "-")
		what += " (" + c.Scale + ")"
	}
	out := analysis.Claim{ID: id, Topic: what, Stands: analysis.Open, Method: method, Source: source, N: analysis.Counts{Records: int(math.Round(c.Pool.N)), Birds: c.Pool.Birds}}
	switch {
	case c.Hidden != "":
		out.Text = fmt.Sprintf("%s: %s.", analysis.Capital(what), c.Hidden)
		return []analysis.Claim{out}
	case c.Measure == Treated:
		return nil
	case len(c.Rows) < 2:
		if len(c.Rows) == 1 {
			out.Text = fmt.Sprintf("%s: only %s has it; there is nothing to set it beside.", analysis.Capital(what), c.Rows[0].Code)
			return []analysis.Claim{out}
		}
		return nil
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, row := range c.Rows {
		low, high = min(low, row.Rate), max(high, row.Rate)
	}
	format := func(x float64) string {
		if unit == "%" && c.Measure != Weight {
			x *= 100
		}
		return fmt.Sprintf("%.*f", map[bool]int{true: 1, false: 0}[unit == ""], x)
	}
	if c.Measure == Growth {
		out.Text = fmt.Sprintf("%s, %d flocks, %d birds: beside birds of the same age in all flocks", analysis.Capital(what), len(c.Rows), c.Pool.Birds)
	} else {
		out.Text = fmt.Sprintf("%s, %d flocks: %s %s over all, %s to %s as counted", analysis.Capital(counts), len(c.Rows), format(c.Pool.Rate()), unit, format(low), format(high))
		out.Text = strings.ReplaceAll(out.Text, "  ", " ")
	}
	if !c.Measure.Judged() {
		out.Text += "."
		if c.Measure == Effort {
			out.Text += " The more one looks, the more one finds: findings are set beside looks, never beside flocks."
		}
		return []analysis.Claim{out}
	}
	out.Estimate = &analysis.Estimate{Value: c.Measure.Points(math.Sqrt(c.Tau2)), Low: math.NaN(), High: math.NaN(), Unit: "points between flocks"}
	switch spread := c.Measure.Points(math.Sqrt(c.Tau2)); {
	case c.Tau2 == 0:
		out.Text += ". Once the mix of birds is allowed for, the flocks differ no more than chance would have them differ."
	default:
		out.Text += fmt.Sprintf(". Once the mix of birds is allowed for, flocks differ by about %.1f points (standard deviation) beyond chance; %.0f %% of the variation lies between flocks.", spread, 100*c.ICC)
	}
	if n := len(c.Rows); n < MinFlocks {
		out.Text += fmt.Sprintf(" With %d flocks none is called above or below.", n)
	}
	if crude := codesOf(c.Rows, func(r Row) bool { return r.Crude }); len(crude) > 0 && len(crude) < len(c.Rows) {
		out.Caveats = append(out.Caveats, "the mix is not allowed for in "+strings.Join(crude, ", ")+": its groups are hidden or not told apart")
	} else if len(crude) > 0 {
		out.Caveats = append(out.Caveats, "the mix of size, sex, age and season could not be allowed for in any flock")
	}
	if small := codesOf(c.Rows, func(r Row) bool { return r.Side == TooSmall }); len(small) > 0 {
		out.Caveats = append(out.Caveats, fmt.Sprintf("fewer than %d birds in %s: shown, not judged", MinBirds, strings.Join(small, ", ")))
	}
	claims := []analysis.Claim{out}
	for _, row := range c.Rows {
		if row.Side != Above && row.Side != Below {
			continue
		}
		way := "above"
		if row.Side == Below {
			way = "below"
		}
		claims = append(claims, analysis.Claim{ID: id + "/" + row.Code, Subject: analysis.Subject{Flock: row.Code}, Topic: what, Stands: analysis.Open, Method: method, Source: source,
			N:        analysis.Counts{Birds: row.Cell.Birds, Records: int(math.Round(row.Cell.N))},
			Estimate: &analysis.Estimate{Value: c.Measure.Points(row.Difference.Value), Low: c.Measure.Points(row.Difference.Low), High: c.Measure.Points(row.Difference.High), Level: level, Unit: "points"},
			Text: fmt.Sprintf("%s lies clearly %s the others for %s: %s points with the mix of its birds allowed for (%s to %s; %s). What makes the difference is not in these numbers.",
				row.Code, way, what, signed(c.Measure.Points(row.Difference.Value)), tenth(c.Measure.Points(row.Difference.Low)), tenth(c.Measure.Points(row.Difference.High)), analysis.Counted(row.Cell.Birds, "bird", "birds"))})
	}
	return claims
}

func codesOf(rows []Row, is func(Row) bool) []string {
	var out []string
	for _, r := range rows {
		if is(r) {
			out = append(out, r.Code)
		}
	}
	return out
}

func (r *Result) measure(m Measure) (Comparison, bool) {
	for _, c := range r.Comparisons {
		if c.Measure == m {
			return c, true
		}
	}
	return Comparison{}, false
}

func (r *Result) birds() int {
	n := 0
	for _, f := range r.Flocks {
		n += f.Birds
	}
	return n
}

// habit says what a flock's records could answer, and the one habit that would answer most more.
func (r *Result) habit(i int) analysis.Claim {
	f := r.Flocks[i]
	sum := map[Measure]Cell{}
	for _, c := range f.Summary.Total {
		x := sum[c.Measure]
		x.add(c)
		sum[c.Measure] = x
	}
	var can []string
	for _, m := range Measures() {
		if m.Judged() && sum[m].N > 0 {
			what, _, _ := m.Named()
			can = append(can, what)
		}
	}
	has := "nothing that can be compared"
	if len(can) > 0 {
		has = strings.Join(can, ", ")
	}
	share := func(m Measure) float64 { return sum[m].Rate() }
	next := "go on as before; a second scorer for ten birds would tell how far the scores can be trusted"
	switch {
	case sum[Lice].N+sum[Mites].N == 0:
		next = "look every bird over once a month and write down the date and what was found, none included"
	case sum[HatchDay].N > 0 && share(HatchDay) < 0.8:
		next = "write the hatch date, or at least its month, beside each bird"
	case sum[Weight].N+sum[Growth].N == 0:
		next = "weigh each bird once a month and write the date"
	case sum[Verified].N >= 1 && share(Verified) < 0.5:
		next = "look at the treated birds two to four weeks after each treatment and write down none too"
	case sum[Condition].N == 0:
		next = "score condition on one scale and declare it with its direction in flock.toml"
	case sum[Fertile].N == 0:
		next = "candle a week after setting and write eggs set and clear ones"
	}
	return analysis.Claim{ID: "flocks.habit/" + f.Code, Subject: analysis.Subject{Flock: f.Code}, Topic: "records", Stands: analysis.Open, Method: method, N: analysis.Counts{Birds: f.Birds},
		Text:    fmt.Sprintf("%s (%s): the records can answer for %s.", f.Code, analysis.Counted(f.Birds, "bird", "birds"), has),
		Refusal: &analysis.Refusal{Needs: "one habit more", Next: next}}
}

// Tables hold one row a flock and measure, flocks in the order given, never by rank.
func (r *Result) Tables() []analysis.Table {
	t := analysis.Table{Name: "flocks", Caption: "Each flock beside the others, in the order given", Columns: []analysis.Column{
		{Name: "measure", Head: "measure"}, {Name: "scale", Head: "scale"}, {Name: "flock", Head: "flock"}, {Name: "birds", Head: "birds"}, {Name: "n", Head: "counted of", Decimals: 0},
		{Name: "rate", Head: "as counted", Decimals: 2}, {Name: "expected", Head: "expected for its mix", Decimals: 2}, {Name: "difference", Head: "difference", Decimals: 2},
		{Name: "low", Head: "from", Decimals: 2}, {Name: "high", Head: "to", Decimals: 2}, {Name: "shrunken", Head: "drawn to the others", Decimals: 2},
		{Name: "ratio", Head: "counted over expected", Decimals: 2}, {Name: "ratio_low", Head: "from", Decimals: 2}, {Name: "ratio_high", Head: "to", Decimals: 2},
		{Name: "direct", Head: "with the mix of all", Decimals: 2}, {Name: "could_rank_from", Head: "could be ranked from"}, {Name: "could_rank_to", Head: "to"}, {Name: "side", Head: "beside the others"},
	}}
	for _, c := range r.Comparisons {
		for _, row := range c.Rows {
			cells := []any{string(c.Measure), c.Scale, row.Code, row.Cell.Birds, row.Cell.N, row.Rate, row.Expected, row.Difference.Value, row.Difference.Low, row.Difference.High, nil, nil, nil, nil, nil, nil, nil, nil}
			if c.Measure.Judged() {
				cells[10], cells[15], cells[16], cells[17] = row.Shrunken.Value, row.Ranks[0], row.Ranks[1], string(row.Side)
			}
			if row.Ratio.Level > 0 {
				cells[11], cells[12], cells[13] = row.Ratio.Value, row.Ratio.Low, row.Ratio.High
			}
			if !math.IsNaN(row.Direct) {
				cells[14] = row.Direct
			}
			t.Rows = append(t.Rows, cells)
		}
	}
	pool := analysis.Table{Name: "pool", Caption: "All flocks together", Columns: []analysis.Column{
		{Name: "measure", Head: "measure"}, {Name: "scale", Head: "scale"}, {Name: "flocks", Head: "flocks"}, {Name: "n", Head: "counted of"}, {Name: "rate", Head: "rate", Decimals: 3},
		{Name: "mean_difference", Head: "mean of the differences", Decimals: 3}, {Name: "tau", Head: "spread between flocks", Decimals: 3}, {Name: "icc", Head: "share between flocks", Decimals: 2},
		{Name: "dispersion", Head: "dispersion", Decimals: 2},
	}}
	for _, c := range r.Comparisons {
		if c.Hidden == "" && len(c.Rows) > 0 {
			pool.Rows = append(pool.Rows, []any{string(c.Measure), c.Scale, len(c.Rows), c.Pool.N, c.Pool.Rate(), c.Mean.Value, math.Sqrt(c.Tau2), c.ICC, c.Dispersion})
		}
	}
	return []analysis.Table{t, pool}
}

// Cautions stand beside every comparison.
func (r *Result) Cautions() []analysis.Caution {
	return []analysis.Caution{{Topic: "Flocks and keepers", Text: "A comparison teaches; it does not rank. Small flocks lie at the ends of any list by chance alone. Show each keeper the own flock beside the band, " +
		"and others' only with their consent. Signs of notifiable disease are told to a vet or the authority, not to a meeting.", Source: "Goldstein & Spiegelhalter 1996; common practice"}}
}

// tenth prints a number to one decimal, without a minus before nought.
func tenth(x float64) string {
	return strings.Replace(strconv.FormatFloat(math.Round(10*x)/10+0, 'f', 1, 64), "-", "−", 1)
}

func signed(x float64) string {
	if math.Round(10*x) > 0 {
		return "+" + tenth(x)
	}
	return tenth(x)
}
