package forecast

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/standard"
	"keelmark/ingest/record"
)

const (
	growingMethod = "pooled Richards curve of the line with bird effects and a wandering growth rate, pool integrated"
	grownMethod   = "the bird's own level, swings, season and moult shared by the grown birds, integrated"
	ownSource     = "ranges checked by Keelmark's own simulations of invented flocks"
)

// Claims are, for each bird, one a class on the day and one on its mature weight, then one for each line and for the flock.
func (r *Result) Claims() []analysis.Claim {
	var out []analysis.Claim
	for i := range r.Birds {
		f := &r.Birds[i]
		out = append(out, r.onTheDay(f)...)
		if f.Kind == Growing && f.Refusal == nil {
			out = append(out, r.mature(f))
		}
	}
	for i := range r.Lines {
		out = append(out, r.line(&r.Lines[i]))
	}
	return append(out, r.flock()...)
}

// base is what all claims on a bird share.
func (r *Result) base(f *Forecast) analysis.Claim {
	claim := analysis.Claim{
		Subject: analysis.Subject{Bird: f.Bird.ID}, Topic: "weight", Stands: analysis.Open,
		N: analysis.Counts{Records: len(f.Weighings), Birds: 1, Dates: dates(f.Weighings)}, Method: grownMethod, Source: ownSource,
	}
	var obs []record.Observation
	bad := 0
	for _, w := range f.Weighings {
		obs = append(obs, w.From)
		if w.Bad > 0.5 {
			bad++
			claim.Caveats = append(claim.Caveats, fmt.Sprintf("the weighing of %s, %s (%s), is likely off and counts little",
				when(w), r.Units.Weight(w.Grams), w.From.At))
		}
	}
	claim.RestsOn = slices.Concat(f.Bird.At, analysis.Refs(obs))
	slices.SortFunc(claim.RestsOn, record.Ref.Compare)
	claim.RestsOn = slices.Compact(claim.RestsOn)
	if f.Left > 0 {
		claim.Caveats = append(claim.Caveats, fmt.Sprintf("weighings that wait for the keeper's confirmation are left out: %d", f.Left))
	}
	if f.Kind == Growing {
		claim.Method = growingMethod
		if l, ok := r.LineOf(f.Line); ok {
			claim.Pool = []string{lineID(l.Line)}
			claim.Caveats = append(claim.Caveats, l.caveats()...)
		}
	} else if f.Refusal == nil {
		claim.Caveats = append(claim.Caveats, r.Season.caveats(f.Moulting)...)
	}
	return claim
}

func when(w Weighing) string {
	if w.From.On.Known() {
		return w.From.On.String()
	}
	return fmt.Sprintf("week %.0f", w.Age)
}

func dates(ws []Weighing) int {
	var days []float64
	for _, w := range ws {
		day := 7 * w.Age
		if w.Dated {
			day = float64(w.Day)
		}
		days = append(days, day)
	}
	slices.Sort(days)
	return len(slices.Compact(days))
}

// onTheDay claims the weight on the day, once for each class.
func (r *Result) onTheDay(f *Forecast) []analysis.Claim {
	base, label := r.base(f), f.Bird.Label()
	refused := f.Refusal
	if refused == nil {
		refused = f.NoClass
	}
	if refused != nil {
		base.ID = "forecast.band/" + f.Bird.ID
		base.Text = fmt.Sprintf("%s: cannot say what it may weigh on %s, because %s.", label, r.On, refused.Needs)
		base.Refusal = refused
		return []analysis.Claim{base}
	}
	if f.Extrapolated {
		base.Caveats = append(base.Caveats, fmt.Sprintf("%s is %d days past the last weighing: beyond %d days this is extrapolation", r.On, f.Ahead, SolidDays))
	}
	if l, ok := r.LineOf(f.Line); ok && f.Kind == Growing && f.early(l) {
		base.Caveats = append(base.Caveats, l.early())
	}
	age := int(r.Today - f.Weighings[len(f.Weighings)-1].Day)
	weight := fmt.Sprintf("about %s (%s) on the day", r.Units.About(f.Weight.Value), r.Units.AboutRange(f.Weight.Low, f.Weight.High))
	estimate := f.Weight
	base.Estimate = &estimate
	base.Caveats = append(base.Caveats, standard.ClassCaveats(f.Places, r.On, r.Rule)...)
	var out []analysis.Claim
	for i, p := range f.Places {
		claim := base
		claim.Caveats = slices.Clone(base.Caveats)
		claim.ID = standard.ClaimID("forecast.band", f.Bird, f.Places, i)
		who := fmt.Sprintf("%s, %s on %s", label, p.Class, r.On)
		if !p.OnTheDay {
			who = fmt.Sprintf("%s, %s today but no longer on %s", label, p.Class, r.On)
		}
		if p.Refusal != nil {
			claim.Text = fmt.Sprintf("%s: %s; cannot say how that compares, because %s.", who, weight, p.Refusal.Needs)
			claim.Refusal = p.Refusal
			out = append(out, claim)
			continue
		}
		claim.Source = p.Band.Origin() + "; " + ownSource
		claim.Caveats = append(claim.Caveats, p.Band.Caveats...)
		claim.Text = fmt.Sprintf("%s: %s; written figure for the class %s by %s", who, weight, p.Band.Text(r.Units), p.Band.Rule)
		if chance := f.Chance[i]; !math.IsNaN(chance) {
			claim.Text += fmt.Sprintf("; chance of being inside %s", standard.About(chance))
			if p.OnTheDay && f.calibrated(r) && age <= standard.LastWeighingDays {
				claim.Stands = p.Side(chance)
			}
		}
		if age > standard.LastWeighingDays {
			claim.Refusal = &analysis.Refusal{
				Needs: fmt.Sprintf("the last weighing is %d days old and no longer tells today's weight", age),
				Next:  "weigh " + label + " again",
			}
		}
		claim.Text += "."
		out = append(out, claim)
	}
	return out
}

// calibrated reports whether simulations vouch for the stated chance.
func (f *Forecast) calibrated(r *Result) bool {
	l, ok := r.LineOf(f.Line)
	return f.Kind == Grown || ok && l.Setback == nil
}

// mature claims the weight of a growing bird when grown.
func (r *Result) mature(f *Forecast) analysis.Claim {
	claim := r.base(f)
	claim.ID = "forecast.mature/" + f.Bird.ID
	if f.MatureRefusal != nil {
		claim.Text = fmt.Sprintf("%s: cannot say what it may weigh when grown, because %s.", f.Bird.Label(), f.MatureRefusal.Needs)
		claim.Refusal = f.MatureRefusal
		return claim
	}
	claim.Estimate = f.Mature
	claim.Text = fmt.Sprintf("%s: may weigh about %s (%s) when grown, from %s of its own and %s of its line.",
		f.Bird.Label(), r.Units.About(f.Mature.Value), r.Units.AboutRange(f.Mature.Low, f.Mature.High), analysis.Counted(len(f.Weighings), "weighing"), analysis.Counted(r.lineBirds(f), "bird"))
	claim.Caveats = append(claim.Caveats, "the figure leans on growth going on as the line's curve has it")
	if l, ok := r.LineOf(f.Line); ok {
		claim.Caveats = append(claim.Caveats, l.unseen())
	}
	if l, ok := r.LineOf(f.Line); ok && l.Followed < SureRelatives {
		claim.Caveats = append(claim.Caveats, fmt.Sprintf(
			"with fewer than %d birds of the line followed to %d weeks, ranges stated as 90 %% held for 80 to 94 %% of simulated birds whose growth had another shape",
			SureRelatives, MinLineDays/7))
	}
	return claim
}

func (r *Result) lineBirds(f *Forecast) int {
	l, _ := r.LineOf(f.Line)
	return l.Birds
}

// caveats are what a forecast that leans on the line must say.
func (l *Line) caveats() []string {
	var out []string
	if l.Followed < MinLineBirds {
		basis := "based on the breed table only"
		if l.TableGrams == 0 {
			basis = "known from its weighings only, as no published weight is known"
		}
		out = append(out, fmt.Sprintf("%s of the line followed to %d weeks, fewer than %d: its mature weight is %s",
			analysis.Counted(l.Followed, "bird"), MinLineDays/7, MinLineBirds, basis))
	}
	if s := l.Setback; s != nil {
		out = append(out, fmt.Sprintf("from about %s on the whole line weighed about %.0f %% %s than its curves: chances are not calibrated past that",
			record.Day(s.Day), 100*math.Abs(s.Share), lighter(s.Share)))
	}
	return out
}

// unseen is what setback of the whole line its weighings would not show.
func (l *Line) unseen() string {
	if l.Blind > 0.5 {
		return "these weighings cannot tell a setback that the whole line shared: after one the range is not calibrated"
	}
	return fmt.Sprintf("a setback of the whole line of less than about %.0f %% may not show in these weighings: after one the range is not calibrated", 100*l.Blind)
}

// early reports whether the bird's weighings end so early that a setback of its line which they do not show would leave
// the range of the day too narrow.
func (f *Forecast) early(l *Line) bool {
	return l.Setback == nil && l.Blind >= EarlySetback && f.Weighings[len(f.Weighings)-1].Age < EarlyWeeks
}

// early says what an unseen setback does to the range of the day.
//
// Source: the program in calibrate, 24 flocks of 10 to 30 birds weighed every 2 weeks with 3 % error, all weighed 8 % low
// from week 11 on: inside the 90 % range lay 69 % of birds weighed to 12 weeks, 80 % to 16 and 92 % to 20.
func (l *Line) early() string {
	size := fmt.Sprintf("of less than about %.0f %%", 100*l.Blind)
	if l.Blind > 0.5 {
		size = "of any size"
	}
	return fmt.Sprintf("these weighings end before %d weeks and may not show a setback of the whole line %s: after one of 8 %%, about 7 in 10 simulated birds weighed to 12 weeks lay inside the 90 %% range, 8 in 10 weighed to 16",
		EarlyWeeks, size)
}

// line claims what the pool of a line rests on.
func (r *Result) line(l *Line) analysis.Claim {
	table := "no published weight is known"
	if l.TableGrams > 0 {
		table = fmt.Sprintf("published weight of the grown class %s", r.Units.Weight(l.TableGrams))
	}
	claim := analysis.Claim{
		ID: lineID(l.Line), Subject: analysis.Subject{Line: l.Line.String()}, Topic: "weight", Stands: analysis.Open,
		Estimate: &l.Mature, N: analysis.Counts{Records: weighingsOf(l), Birds: l.Birds}, RestsOn: l.Refs,
		Caveats: l.caveats(), Method: growingMethod, Source: ownSource,
		Text: fmt.Sprintf("%s: mature weight of the line about %s (%s), from %s, %d of them followed to %d weeks; %s.",
			l.Line, r.Units.About(l.Mature.Value), r.Units.AboutRange(l.Mature.Low, l.Mature.High), analysis.Counted(l.Birds, "bird"), l.Followed, MinLineDays/7, table),
	}
	if l.Setback == nil {
		claim.Caveats = append(claim.Caveats, l.unseen())
	}
	if l.TableFrom != "" {
		claim.Source = l.TableFrom + "; " + ownSource
	}
	if l.Draws < leastDraws {
		claim.Caveats = append(claim.Caveats, fmt.Sprintf("the integration rests on about %.0f effective draws, fewer than usual: ranges are rough", l.Draws))
	}
	return claim
}

// leastDraws is the effective number of draws below which a line says so.
const leastDraws = 40

func weighingsOf(l *Line) int {
	n := 0
	for _, m := range l.members {
		n += len(m.weighings)
	}
	return n
}

// lineID names the pool claim of a line: "forecast.line/Sussex-bantam-Low-Barn-F".
func lineID(l record.Line) string {
	var parts []string
	for _, p := range []string{l.Breed, string(l.Size), l.Line, string(l.Sex)} {
		if p != "" {
			parts = append(parts, strings.Join(strings.Fields(p), "-"))
		}
	}
	return "forecast.line/" + strings.Join(parts, "-")
}

// Tables are one row a bird and class on the day, one a line, and for each line what its published weight suggests by age.
func (r *Result) Tables() []analysis.Table {
	day := analysis.Table{
		Name:    "forecast",
		Caption: fmt.Sprintf("Weights foreseen for %s", r.On),
		Columns: []analysis.Column{
			{Name: "bird", Head: "bird", Doc: "ring and name"},
			{Name: "class", Head: "class", Doc: "class on the day, or held only until then"},
			{Name: "on_the_day", Head: "on the day", Doc: "whether the bird is of the class on the day"},
			{Name: "weighings", Head: "weighings", Doc: "usable weighings of the bird"},
			{Name: "weight_g", Head: "foreseen", Unit: "g", Doc: "median of one good weighing on the day"},
			{Name: "low_g", Head: "from", Unit: "g", Doc: "lower end of the 90 % range"},
			{Name: "high_g", Head: "to", Unit: "g", Doc: "upper end of the 90 % range"},
			{Name: "band_low_g", Head: "band from", Unit: "g", Doc: "lower end of the written figure; empty where open or not stated"},
			{Name: "band_high_g", Head: "band to", Unit: "g", Doc: "upper end of the written figure; empty where open or not stated"},
			{Name: "chance", Head: "chance inside", Unit: "%", Doc: "chance of being inside the written figure, shown as 0.1 to 99.9", Decimals: 1},
			{Name: "days_ahead", Head: "days ahead", Unit: "d", Doc: "days from the last weighing to the day"},
			{Name: "mature_g", Head: "grown", Unit: "g", Doc: "median weight when grown, of growing birds"},
			{Name: "note", Head: "note", Doc: "why there is no figure"},
		},
	}
	for i := range r.Birds {
		f := &r.Birds[i]
		if len(f.Places) == 0 {
			row := make([]any, len(day.Columns))
			row[0] = f.Bird.Label()
			f.fill(row)
			day.Rows = append(day.Rows, row)
		}
		for k, p := range f.Places {
			row := make([]any, len(day.Columns))
			row[0], row[1], row[2] = f.Bird.Label(), string(p.Class), p.OnTheDay
			f.fill(row)
			if p.Refusal == nil {
				row[7], row[8] = shown(p.Band.Low), shown(p.Band.High)
				if f.Refusal == nil {
					row[9] = shown(min(max(100*f.Chance[k], 0.1), 99.9))
				}
			} else if row[12] == nil {
				row[12] = p.Refusal.Needs
			}
			day.Rows = append(day.Rows, row)
		}
	}
	return []analysis.Table{day, r.lineTable(), r.ageTable()}
}

// fill sets the cells that do not depend on the class.
func (f *Forecast) fill(row []any) {
	row[3] = len(f.Weighings)
	if f.Refusal != nil {
		row[12] = f.Refusal.Needs
		return
	}
	row[4], row[5], row[6], row[10] = shown(f.Weight.Value), shown(f.Weight.Low), shown(f.Weight.High), f.Ahead
	if f.Mature != nil {
		row[11] = shown(f.Mature.Value)
	}
	if f.NoClass != nil {
		row[12] = f.NoClass.Needs
	}
}

func (r *Result) lineTable() analysis.Table {
	t := analysis.Table{
		Name:    "lines",
		Caption: "Lines that growing birds lean on",
		Columns: []analysis.Column{
			{Name: "line", Head: "line", Doc: "breed, size, strain and sex"},
			{Name: "birds", Head: "birds", Doc: "birds with growing weights of a known age"},
			{Name: "followed", Head: "followed", Doc: fmt.Sprintf("of these, to %d weeks", MinLineDays/7)},
			{Name: "mature_g", Head: "mature", Unit: "g", Doc: "mature weight of the line"},
			{Name: "mature_low_g", Head: "from", Unit: "g", Doc: "lower end of the 90 % range"},
			{Name: "mature_high_g", Head: "to", Unit: "g", Doc: "upper end of the 90 % range"},
			{Name: "inflection_weeks", Head: "fastest at", Unit: "weeks", Doc: "age at the inflection", Decimals: 1},
			{Name: "shape", Head: "shape", Doc: "0 Gompertz, 1 logistic", Decimals: 2},
			{Name: "scatter", Head: "weighing error", Unit: "%", Doc: "SD of one good weighing", Decimals: 1},
			{Name: "table_g", Head: "published", Unit: "g", Doc: "published weight of the grown class"},
		},
	}
	for i := range r.Lines {
		l := &r.Lines[i]
		t.Rows = append(t.Rows, []any{l.Line.String(), l.Birds, l.Followed, l.Mature.Value, l.Mature.Low, l.Mature.High,
			l.Inflection.Value, l.Shape.Value, 100 * l.Scatter, positive(l.TableGrams)})
	}
	return t
}

// ageTable is the age-based curve drawn from the class-based table of each line.
func (r *Result) ageTable() analysis.Table {
	t := analysis.Table{
		Name:    "by_age",
		Caption: "What the published weight of grown birds suggests by age: a curve of Keelmark's own that no standard states",
		Columns: []analysis.Column{
			{Name: "line", Head: "line", Doc: "breed, size, strain and sex"},
			{Name: "age_weeks", Head: "age", Unit: "weeks"},
			{Name: "weight_g", Head: "weight", Unit: "g", Doc: "middle of published growth"},
			{Name: "low_g", Head: "from", Unit: "g", Doc: "lower end of the 90 % range over published flocks"},
			{Name: "high_g", Head: "to", Unit: "g", Doc: "upper end of the 90 % range over published flocks"},
		},
	}
	for i := range r.Lines {
		l := &r.Lines[i]
		for _, age := range []int{4, 8, 12, 16, 20, 24, 30, 40, 52} {
			if e, refusal := standard.AtAge(l.row, l.Line.Sex, float64(age)); refusal == nil {
				t.Rows = append(t.Rows, []any{l.Line.String(), age, e.Value, e.Low, e.High})
			}
		}
	}
	return t
}

// shown is a number for a table cell, nil where there is none.
func shown(x float64) any {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return x
}

func positive(x float64) any {
	if x == 0 {
		return nil
	}
	return x
}
