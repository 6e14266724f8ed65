package growth

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/fit"
)

// Claims states what the curves say: of each bird, line, pen and flock its mature weight or why that cannot be
// said, and where it can, how fast it grew.
func (r *Result) Claims() []analysis.Claim {
	var out []analysis.Claim
	for _, list := range [][]Curve{r.Birds, r.Lines, r.Samples} {
		for i := range list {
			out = append(out, r.of(&list[i])...)
		}
	}
	if c, ok := r.namesNoBird(); ok {
		out = append(out, c)
	}
	return out
}

// of states the claims of one curve.
func (r *Result) of(c *Curve) []analysis.Claim {
	if c.Refusal != nil {
		return []analysis.Claim{r.refused(c)}
	}
	return []analysis.Claim{r.mature(c), r.pace(c)}
}

// claim is what all claims of a curve share.
func (r *Result) claim(c *Curve, kind string) analysis.Claim {
	return analysis.Claim{
		ID: "growth." + kind + "/" + c.slug(), Subject: c.Subject, Topic: "weight", Stands: analysis.Open,
		N: c.counts(), RestsOn: c.refs(), Caveats: c.caveats(),
		Method: r.method(c), Source: c.Family.Source,
	}
}

// slug names the subject of a claim: the bird's ID, "line-Sussex-bantam-F" without what is not stated, "pen-3",
// "flock-Low Barn".
func (c *Curve) slug() string {
	switch c.Of {
	case OfBird:
		return c.Key
	case OfLine:
		parts := []string{"line"}
		for _, s := range []string{c.Line.Breed, string(c.Line.Size), c.Line.Line, string(c.Line.Sex)} {
			if s != "" {
				parts = append(parts, strings.ReplaceAll(s, " ", "-"))
			}
		}
		return strings.Join(parts, "-")
	}
	return string(c.Of) + "-" + c.Key
}

func (r *Result) mature(c *Curve) analysis.Claim {
	out := r.claim(c, "mature")
	m := c.Mature
	_, last := c.Ages()
	open := ""
	if c.ShapeOpen {
		open = " with the shape of the curve left open"
		out.Method += ", averaged over shapes of the Richards curve"
		out.Source += "; Buckland, Burnham & Augustin 1997, Biometrics 53:603"
	} else {
		out.Caveats = append(out.Caveats, "the range takes the "+c.Family.Title+" curve for certain; under another shape the mature weight may lie well outside it")
	}
	out.Text = fmt.Sprintf("%s: %s %s compatible with a mature weight of about %s (%s, %.0f %% range%s); the last, at %s, stands at about %.0f %% of it.",
		c.Label, r.seen(c), isAre(len(c.Points)), r.Units.About(m.Value), r.Units.AboutRange(m.Low, m.High), 100*m.Level, open,
		ageText(last), 100*min(1, c.Weight(last)/m.Value))
	out.Estimate = &analysis.Estimate{Value: m.Value, Low: m.Low, High: m.High, Level: m.Level, Unit: m.Unit}
	return out
}

func (r *Result) pace(c *Curve) analysis.Claim {
	out := r.claim(c, "pace")
	gain, fastest := c.Quantity(GreatestGain)
	age, hasAge := c.Quantity(inflection.Name)
	half, hasHalf := c.Quantity(AgeHalf)
	most, hasMost := c.Quantity(AgeMost)
	var parts []string
	if fastest && hasAge {
		parts = append(parts, fmt.Sprintf("growth was fastest at about %s (%s), at about %s (%.1f to %.1f)",
			ageText(age.Value), ageRange(age.Low, age.High), gainText(gain.Value), gain.Low, gain.High))
		out.Estimate = &analysis.Estimate{Value: gain.Value, Low: gain.Low, High: gain.High, Level: gain.Level, Unit: gain.Unit}
	}
	if hasHalf && hasMost {
		parts = append(parts, fmt.Sprintf("half of the mature weight at about %s, 95 %% of it at about %s (%s)",
			ageText(half.Value), ageText(most.Value), ageRange(most.Low, most.High)))
	}
	if len(parts) == 0 {
		parts = append(parts, "no age of fastest growth can be told from this curve")
	}
	out.Caveats = append(out.Caveats, "these ranges take the "+c.Family.Title+" curve for certain")
	out.Text = fmt.Sprintf("%s: %s (%s; %.0f %% ranges).", c.Label, strings.Join(parts, "; "), r.seen(c), 100*c.level)
	return out
}

// refused states what cannot be told, and what the curve still describes within the ages seen.
func (r *Result) refused(c *Curve) analysis.Claim {
	out := r.claim(c, "mature")
	refusal := c.Refusal.Refusal
	out.Refusal = &refusal
	text := c.Label + ": cannot say what the mature weight is, because " + c.Refusal.Text + "."
	if len(c.Points) > 0 {
		first, last := c.Points[0], c.Points[len(c.Points)-1]
		text += fmt.Sprintf(" Records show %s", r.seen(c))
		switch {
		case c.Of != OfBird:
			text += fmt.Sprintf(" at %s of age", ageRange(first.Age, last.Age))
		case len(c.Points) > 1:
			text += fmt.Sprintf(", from %s at %s to %s at %s", r.Units.About(first.Weight), ageText(first.Age),
				r.Units.About(last.Weight), ageText(last.Age))
		}
		text += "."
		if c.Fitted() {
			if b, err := c.Band(last.Age, c.level); err == nil {
				text += fmt.Sprintf(" Within these ages a %s curve describes them: about %s (%s) at %s.", c.Family.Title,
					r.Units.About(b.Weight), r.Units.AboutRange(b.CurveLow, b.CurveHigh), ageText(last.Age))
			}
		}
	} else if n := len(c.LeftOut); n > 0 {
		for _, l := range c.LeftOut {
			out.RestsOn = append(out.RestsOn, l.From.At)
		}
		out.N = analysis.Counts{Records: n, Birds: c.Birds}
		text += fmt.Sprintf(" Records show %s of it.", analysis.Counted(n, "weighing"))
	}
	out.Text = text
	return out
}

// namesNoBird refuses curves of single birds where weighings name none.
func (r *Result) namesNoBird() (analysis.Claim, bool) {
	n, dates := 0, 0
	out := analysis.Claim{ID: "growth.birds/unnamed", Topic: "weight", Stands: analysis.Open, Method: "none", Source: "common practice, no source"}
	for i := range r.Samples {
		c := &r.Samples[i]
		n += len(c.Points)
		dates += c.counts().Dates
		out.RestsOn = append(out.RestsOn, c.refs()...)
		if out.Subject.Flock == "" {
			out.Subject = c.Subject
		}
	}
	if n == 0 {
		return out, false
	}
	out.N = analysis.Counts{Records: n, Dates: dates}
	out.Text = fmt.Sprintf("Cannot draw a curve of single birds from %s that name no bird: a number within a day's sample is not the same bird on another day. The curve above is of the group.",
		analysis.Counted(n, "weighing"))
	out.Refusal = &analysis.Refusal{Needs: "the same ring at each weighing", Next: "ring a few birds and weigh those each time"}
	return out, true
}

// seen is what a curve rests on: "9 weighings on 9 days", "120 weighings of 14 birds".
func (r *Result) seen(c *Curve) string {
	n := c.counts()
	switch c.Of {
	case OfBird:
		return fmt.Sprintf("%s on %s", analysis.Counted(n.Records, "weighing"), analysis.Counted(n.Dates, "day"))
	case OfLine:
		return fmt.Sprintf("%s of %s", analysis.Counted(n.Records, "weighing"), analysis.Counted(n.Birds, "bird"))
	}
	return fmt.Sprintf("%s on %s (birds not named)", analysis.Counted(n.Records, "weighing"), analysis.Counted(n.Dates, "day"))
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

func (r *Result) method(c *Curve) string {
	how := c.Family.Title + " curve by nonlinear least squares"
	if c.Errors == fit.LogNormal {
		how += " on log weight"
	}
	if r.Options.Robust {
		how += ", t errors"
	}
	switch c.Of {
	case OfLine:
		how += ", standard errors clustered by bird"
	case OfPen, OfFlock:
		how += ", standard errors clustered by day"
	}
	return how
}

// caveats are what limits a curve beside its range.
func (c *Curve) caveats() []string {
	var out []string
	if len(c.Points) > 0 && len(c.LeftOut) > 0 {
		out = append(out, fmt.Sprintf("%s left out: %s", analysis.Counted(len(c.LeftOut), "weighing"), c.whyLeftOut()))
	}
	if span := c.widestAge(); span > 1 {
		out = append(out, fmt.Sprintf("ages are known to within %.0f days, and so is every age said here", span))
	}
	if len(c.onEdge) > 0 {
		out = append(out, "the "+strings.Join(c.onEdge, " and the ")+" ran to the edge of what the curve allows, and the ranges take it for certain")
	}
	if c.Of == OfLine && c.Line.Sex == "" {
		out = append(out, "sex not stated: males and females may be mixed in this curve")
	}
	if c.Of != OfBird && c.Fitted() {
		out = append(out, "the range is of the group's curve; single birds scatter more widely around it")
	}
	if c.Of == OfPen || c.Of == OfFlock {
		out = append(out, "if the lighter or heavier birds left between weighings, the curve shows that and not growth")
	}
	return out
}

func (c *Curve) widestAge() float64 {
	widest := 0.0
	for _, p := range c.Points {
		widest = max(widest, p.Span)
	}
	return widest
}

// whyLeftOut counts the reasons: "2 after growth, 1 waits for the keeper's confirmation".
func (c *Curve) whyLeftOut() string {
	var reasons []string
	for _, l := range c.LeftOut {
		if !slices.Contains(reasons, l.Why) {
			reasons = append(reasons, l.Why)
		}
	}
	for i, why := range reasons {
		reasons[i] = fmt.Sprintf("%d %s", c.leftOut(why), why)
	}
	return strings.Join(reasons, ", ")
}
