package condition

import (
	"fmt"
	"math"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

func (r *Result) flockClaims(d *record.Dataset) []analysis.Claim {
	subject := analysis.Subject{Flock: d.Name}
	if len(r.Scores) == 0 {
		return []analysis.Claim{{
			ID: "condition.none", Subject: subject, Topic: "condition", Stands: analysis.Open,
			Text:    "Cannot say anything of condition because no dated score is recorded.",
			Refusal: &analysis.Refusal{Needs: "scores on a declared scale", Next: "score every bird once on one scale and declare the scale with its direction in flock.toml"},
			Method:  method,
		}}
	}
	var claims []analysis.Claim
	for _, c := range r.Changes {
		claims = append(claims, c.claim(subject))
	}
	for _, m := range r.Models {
		claims = append(claims, m.claim(subject))
	}
	for _, p := range r.Pens {
		claims = append(claims, p.claim())
	}
	for _, s := range r.Scorers {
		claims = append(claims, s.claims(subject)...)
	}
	claims = append(claims, r.undeclared(subject)...)
	if r.Left > 0 {
		claims = append(claims, analysis.Claim{ID: "condition.left", Subject: subject, Topic: "condition", Stands: analysis.Open,
			Text: fmt.Sprintf("%s left out: to be confirmed, no single step of a scale, or without a date.", analysis.Counted(r.Left, "score is", "scores are")),
			N:    analysis.Counts{Records: r.Left}, Method: method})
	}
	return claims
}

// undeclared says once for each trait which scores cannot be compared for want of a scale.
func (r *Result) undeclared(subject analysis.Subject) []analysis.Claim {
	var claims []analysis.Claim
	for _, t := range traits() {
		var on []record.Ref
		for _, h := range r.Histories {
			if h.Trait == t.Trait && len(h.Scores) > 0 && !h.Declared {
				for _, s := range h.Scores {
					on = append(on, s.At)
				}
			}
		}
		if len(on) == 0 {
			continue
		}
		claims = append(claims, analysis.Claim{ID: "condition.scale/" + analysis.Slug(string(t.Trait)), Subject: subject, Topic: t.Label, Stands: analysis.Open,
			Text: fmt.Sprintf("Cannot compare %s of %s because their scale is not declared: which end is the good one is not known.", analysis.Counted(len(on), "score", "scores"), t.Label),
			N:    analysis.Counts{Records: len(on)}, RestsOn: on, Method: method,
			Refusal: &analysis.Refusal{Needs: "the scale's ends and direction", Next: fmt.Sprintf("write [scales.%s] with min, max and direction in flock.toml", t.Trait)}})
	}
	return claims
}

func (c Change) claim(subject analysis.Subject) analysis.Claim {
	out := analysis.Claim{ID: "condition.change/" + analysis.Slug(string(c.Trait.Trait)) + "/" + analysis.Slug(c.Scale.Name), Subject: subject, Topic: c.Trait.Label, Stands: analysis.Open,
		N: analysis.Counts{Records: len(c.Scores), Birds: len(c.Birds), Dates: 2}, RestsOn: refs(c.Scores),
		Method: "signed ranks of the same birds, exact over the signs", Source: "Wilcoxon 1945"}
	if c.Refusal != "" {
		out.Text = fmt.Sprintf("Cannot say whether %s of the flock moved because %s.", c.Trait.Label, c.Refusal)
		out.Refusal = &analysis.Refusal{Needs: fmt.Sprintf("%d birds scored at two dates by one person", MinPaired),
			Next: fmt.Sprintf("score the same %d or more birds again for %s on one day", MinPaired, c.Trait.Label)}
		return out
	}
	up, down := "higher", "lower"
	if c.Scale.Direction == middleBest {
		up, down = "nearer the middle", "farther from the middle"
	}
	same := len(c.Birds) - c.Ups - c.Downs
	out.Text = fmt.Sprintf("Of %d birds scored for %s on %s and on %s, %d score %s, %d %s and %d the same (%s).",
		len(c.Birds), c.Trait.Label, c.Before.To, c.After.To, c.Ups, up, c.Downs, down, same, describe(c.Scale))
	if c.P >= significant {
		out.Text += fmt.Sprintf(" The chance of so much movement without a change is about %s: no change that scoring can show.", times(c.P))
	} else {
		out.Text += fmt.Sprintf(" The chance of so much movement one way without a change is about %s.", times(c.P))
		better := c.Ups > c.Downs
		if c.Scale.Direction == highBad {
			better = !better
		}
		out.Stands = analysis.Against
		if better {
			out.Stands = analysis.For
		}
	}
	if len(c.Before.Scorers)+len(c.After.Scorers) == 0 {
		out.Caveats = append(out.Caveats, "who scored is not written: one person is taken to have scored both rounds")
	}
	return out
}

func (m Model) claim(subject analysis.Subject) analysis.Claim {
	out := analysis.Claim{ID: "condition.model/" + analysis.Slug(string(m.Trait.Trait)) + "/" + analysis.Slug(m.Scale.Name), Subject: subject, Topic: m.Trait.Label, Stands: analysis.Open,
		N: analysis.Counts{Records: len(m.Scores), Birds: m.PerMonth.N}, RestsOn: refs(m.Scores),
		Estimate: &analysis.Estimate{Value: m.PerMonth.Value, Low: m.PerMonth.Low, High: m.PerMonth.High, Level: level, Unit: "odds ratio a month"},
		Method:   "proportional odds with an intercept of each bird, Laplace", Source: "McCullagh 1980; Hedeker & Gibbons 1994",
		Caveats: []string{"birds that were taken out of the flock for their condition are not in the later scores"}}
	out.Text = fmt.Sprintf("Over the last year the odds of a higher step of %s changed by a factor of %.2f a month (%.2f to %.2f; %s, %d birds; %s)",
		m.Trait.Label, m.PerMonth.Value, m.PerMonth.Low, m.PerMonth.High, analysis.Counted(len(m.Scores), "score", "scores"), m.PerMonth.N, describe(m.Scale))
	if m.PerMonth.Low <= 1 && m.PerMonth.High >= 1 {
		out.Text += ": no movement that these scores can show."
		return out
	}
	out.Text += "."
	if m.Scale.Direction != middleBest {
		out.Stands = analysis.Against
		if m.PerMonth.Value > 1 == (m.Scale.Direction == highGood) {
			out.Stands = analysis.For
		}
	}
	return out
}

func (p PenPair) claim() analysis.Claim {
	b := p.Better
	out := analysis.Claim{ID: fmt.Sprintf("condition.pens/%s/%s-%s", analysis.Slug(string(p.Trait.Trait)), analysis.Slug(p.First), analysis.Slug(p.Second)),
		Subject: analysis.Subject{Pen: p.Second}, Topic: p.Trait.Label, Stands: analysis.Open,
		Estimate: &analysis.Estimate{Value: b.Value * 100, Low: b.Low * 100, High: b.High * 100, Level: level, Unit: "%"},
		N:        analysis.Counts{Records: len(p.Scores), Birds: b.First + b.Other, Dates: 1}, RestsOn: refs(p.Scores),
		Method: "share of pairs of one bird of each pen", Source: "McGraw & Wong 1992"}
	out.Text = fmt.Sprintf("On %s, in about %.0f of 10 pairs of a bird of pen %s (%d) and one of pen %s (%d) the bird of pen %s stands nearer the good end for %s (%.0f-%.0f %%)",
		p.On.To, 10*b.Value, p.First, b.First, p.Second, b.Other, p.Second, p.Trait.Label, 100*b.Low, 100*b.High)
	if b.Low <= 0.5 && b.High >= 0.5 {
		out.Text += ": the pens cannot be told apart."
	} else {
		out.Text += "."
	}
	out.Caveats = []string{"birds of a pen share feed, weather and company: a difference between pens is not one between birds"}
	return out
}

func (s Scorers) claims(subject analysis.Subject) []analysis.Claim {
	var at []record.Ref
	for _, p := range s.Pairs {
		at = append(at, p[0].At, p[1].At)
	}
	who := fmt.Sprintf("%s and %s", s.First, s.Second)
	if s.First == s.Second {
		who = s.First + " scoring twice"
	}
	out := analysis.Claim{ID: fmt.Sprintf("condition.agreement/%s/%s-%s", analysis.Slug(string(s.Trait.Trait)), analysis.Slug(s.First), analysis.Slug(s.Second)),
		Subject: subject, Topic: s.Trait.Label, Stands: analysis.Open, N: analysis.Counts{Records: len(at), Birds: len(s.Pairs)}, RestsOn: at,
		Method: "birds scored twice on one day", Source: "weighted kappa Cohen 1968; standard error Fleiss, Cohen & Everitt 1969"}
	if s.Refusal != "" {
		out.Text = fmt.Sprintf("Cannot say how far %s agree on %s because %s.", who, s.Trait.Label, s.Refusal)
		out.Refusal = &analysis.Refusal{Needs: fmt.Sprintf("%d birds scored by both on one day", AgreementPairs),
			Next: fmt.Sprintf("let both score the same %d birds, not seeing each other's scores", AgreementPairs)}
		return []analysis.Claim{out}
	}
	a := s.Agreement
	out.Text = fmt.Sprintf("%s scored %d birds alike for %s on the same day in %.0f of 100 cases, and within one step in %.0f of 100",
		who, a.N, s.Trait.Label, 100*a.Exact, 100*a.WithinOne)
	if s.Weighted {
		out.Text += fmt.Sprintf("; weighted kappa %.2f (standard error %.2f)", a.Kappa, a.SE)
		out.Caveats = append(out.Caveats, "kappa is low where nearly all birds lie on one step, even if the scorers agree")
	}
	out.Text += fmt.Sprintf(". On average %s scores %.1f %s.", s.Second, math.Abs(s.Higher), map[bool]string{true: "steps lower", false: "steps higher"}[s.Higher < 0])
	list := []analysis.Claim{out}
	if s.Drift != nil {
		drift := out
		drift.ID = strings.Replace(out.ID, "condition.agreement/", "condition.drift/", 1)
		drift.Method, drift.Source, drift.Caveats = "trend of the difference between two scorers over time", "Mann 1945; Sen 1968", nil
		if s.Drift.P < significant {
			drift.Text = fmt.Sprintf("The difference between %s for %s moves by about %.1f steps a year (%d double scores; the chance of such an order without a drift is about %s): scores before and after are not one scale.",
				who, s.Trait.Label, s.Drift.PerYear, a.N, times(s.Drift.P))
		} else {
			drift.Text = fmt.Sprintf("No drift between %s for %s shows in %d double scores.", who, s.Trait.Label, a.N)
		}
		list = append(list, drift)
	}
	return list
}

func (r *Result) birdClaims() []analysis.Claim {
	var claims []analysis.Claim
	for _, h := range r.Histories {
		claims = append(claims, h.last())
		if h.Trend != nil {
			claims = append(claims, h.trend())
		}
	}
	return claims
}

func (h History) last() analysis.Claim {
	label, trait := h.Bird.Label(), traitLabel(h.Trait)
	c := analysis.Claim{ID: fmt.Sprintf("condition.last/%s/%s", h.Bird.ID, analysis.Slug(string(h.Trait))), Subject: analysis.Subject{Bird: h.Bird.ID}, Topic: trait,
		Stands: analysis.Open, N: analysis.Counts{Records: len(h.Scores), Birds: 1, Dates: len(rounds(h.Scores))}, RestsOn: refs(h.Scores), Method: method}
	next := &analysis.Refusal{Needs: "one score on the declared scale", Next: fmt.Sprintf("score %s for %s", label, trait)}
	if len(h.Scores) == 0 {
		c.Text = fmt.Sprintf("Cannot say how %s stands for %s because no score is recorded; other birds of the flock are scored.", label, trait)
		c.Refusal = next
		return c
	}
	last := h.Scores[len(h.Scores)-1]
	ago := days(h.Age)
	if !h.Declared {
		c.Text = fmt.Sprintf("%s was scored %q for %s on %s, %s ago (%s in all); the scale is not declared, so what that says is not known.",
			label, last.Text, trait, last.On, ago, analysis.Counted(len(h.Scores), "score", "scores"))
		c.Refusal = &analysis.Refusal{Needs: "the scale's ends and direction", Next: fmt.Sprintf("write [scales.%s] with min, max and direction in flock.toml", h.Trait)}
		return c
	}
	text := fmt.Sprintf("%s was scored %s for %s on %s, %s ago (%s; %s in all", label, word(h.Scale, last.Value), trait, last.On, ago,
		describe(h.Scale), analysis.Counted(len(h.Scores), "score", "scores"))
	if n := len(h.Scores); n > 1 {
		text += fmt.Sprintf(", before that %s on %s", word(h.Scale, h.Scores[n-2].Value), h.Scores[n-2].On)
	}
	c.Text = text + ")."
	if h.Other > 0 {
		c.Caveats = append(c.Caveats, fmt.Sprintf("%s on another scale are not compared", analysis.Counted(h.Other, "score", "scores")))
	}
	if h.Age > ScoredDays {
		c.Text += fmt.Sprintf(" That is more than %d days old: how it stands now is not known.", ScoredDays)
		c.Refusal = &analysis.Refusal{Needs: fmt.Sprintf("a score within %d days", ScoredDays), Next: next.Next}
		return c
	}
	switch g := Goodness(h.Scale, last.Value); {
	case g >= goodFrom-1e-9:
		c.Stands = analysis.For
	case g <= badTo+1e-9:
		c.Stands = analysis.Against
	}
	return c
}

func (h History) trend() analysis.Claim {
	t, label, trait := h.Trend, h.Bird.Label(), traitLabel(h.Trait)
	c := analysis.Claim{ID: fmt.Sprintf("condition.trend/%s/%s", h.Bird.ID, analysis.Slug(string(h.Trait))), Subject: analysis.Subject{Bird: h.Bird.ID}, Topic: trait,
		Stands: analysis.Open, N: analysis.Counts{Records: len(t.Scores), Birds: 1, Dates: len(t.Scores)}, RestsOn: refs(t.Scores),
		Method: "rank trend of one bird's scores", Source: "Mann 1945; Kendall 1975; Sen 1968"}
	first, last := t.Scores[0], t.Scores[len(t.Scores)-1]
	if t.P >= significant {
		c.Text = fmt.Sprintf("The %d scores of %s for %s from %s to %s show no trend (the chance of such an order without one is about %s).", len(t.Scores), label, trait,
			first.On, last.On, times(t.P))
		return c
	}
	way := "rise"
	if t.PerYear < 0 || t.PerYear == 0 && last.Value < first.Value {
		way = "fall"
	}
	c.Text = fmt.Sprintf("The %d scores of %s for %s from %s to %s %s, from %s to %s (%s; the chance of such an order without a trend is about %s).", len(t.Scores), label, trait, first.On, last.On, way,
		word(h.Scale, first.Value), word(h.Scale, last.Value), describe(h.Scale), times(t.P))
	if t.Adjusted > falseShare {
		c.Text += fmt.Sprintf(" With %d birds looked at, some run like this is to be expected by chance.", t.Among)
		return c
	}
	switch before, after := Goodness(h.Scale, first.Value), Goodness(h.Scale, last.Value); {
	case after > before:
		c.Stands = analysis.For
	case after < before:
		c.Stands = analysis.Against
	}
	return c
}

func refs(scores []Score) []record.Ref {
	var obs []record.Observation
	for _, s := range scores {
		obs = append(obs, record.Observation{At: s.At})
	}
	return analysis.Refs(obs)
}

func traitLabel(t record.Trait) string {
	spec, _ := t.Lookup()
	return spec.Label
}

// times says a chance as so many in 100: "3 times in 100", "less than once in 1,000".
func times(p float64) string {
	switch {
	case p < 0.001:
		return "less than once in 1,000"
	case p < 0.0095:
		return fmt.Sprintf("%.0f in 1,000", 1000*p)
	}
	return fmt.Sprintf("%.0f in 100", 100*p)
}

func days(n int) string { return analysis.Counted(n, "day", "days") }
