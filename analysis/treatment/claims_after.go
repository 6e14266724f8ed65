package treatment

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/parasite"
	"keelmark/analysis/story"
	"keelmark/ingest/record"
)

// claim says what an occasion covered, what is due, and which story fits what was seen after it.
func (o Occasion) claim(subject analysis.Subject, p string, k int, today record.Day) analysis.Claim {
	c := analysis.Claim{ID: fmt.Sprintf("treatment.after/%s/%s-%d", analysis.Slug(p), o.First, k), Subject: subject, Topic: "treatments", Stands: analysis.Open,
		N: analysis.Counts{Records: len(o.At) + len(o.Story.At), Birds: len(o.Birds)}, RestsOn: compact(append(append([]record.Ref{}, o.At...), o.Story.At...)),
		Method: "looks after the treatment weighed under three stories, averaged over published life cycles and sensitivities from 0.5 to 0.9"}
	if cycle, ok := parasite.LifeCycleOf(p); ok {
		c.Source = cycle.Source
	}
	c.Text = fmt.Sprintf("%s treated on %s with %s", analysis.Counted(len(o.Birds), "bird was", "birds were"), o.First, quoted(o.Product))
	if o.Second != 0 {
		c.Text += fmt.Sprintf(", again on %s", o.Second)
	}
	c.Text += ". Withdrawal as entered: " + withdrawal(o.Withdrawal) + "."
	if o.Second == 0 && o.Again[1] >= today {
		c.Text += fmt.Sprintf(" By the life cycle, what hatches after it is reached on %s.", days(o.Again[0], o.Again[1]))
	}
	if until := o.Last + parasite.VerifyTo; until >= today {
		c.Text += fmt.Sprintf(" Looks that tell what it did fall on %s.", days(o.Last+parasite.VerifyFrom, until))
	}
	s := o.Story
	switch {
	case s.Birds == 0:
		c.Text += fmt.Sprintf(" No treated bird was looked at in the %d days after it.", StoryDays)
		c.Refusal = &analysis.Refusal{Needs: "looks after the treatment", Next: "look at the treated birds on days 7, 14 and 28 and write down none seen as well"}
	case s.Found == 0:
		c.Text += fmt.Sprintf(" None were seen on %s looked at in the %d days after it.", analysis.Counted(s.Birds, "treated bird"), StoryDays)
	case s.Told:
		c.Text += fmt.Sprintf(" Live ones were seen after it on %s looked at, first on %s: compatible with %s, at odds of more than %s to 1 against the other stories.",
			fmt.Sprintf("%d of %s", s.Found, analysis.Counted(s.Birds, "bird")), s.FirstSeen, story.Name(s.Best), oddsFloor(s.odds()))
		c.Caveats = append(c.Caveats, "odds above 5 to 1 still go wrong up to once in six")
		if s.Best == story.Survivors {
			c.Stands = analysis.Against
		}
	default:
		c.Text += fmt.Sprintf(" Live ones were seen after it on %s looked at, first on %s: cannot tell %s, %s and %s apart.",
			fmt.Sprintf("%d of %s", s.Found, analysis.Counted(s.Birds, "bird")), s.FirstSeen, story.Name(story.Survivors), story.Name(story.Hatch), story.Name(story.Arrival))
		c.Refusal = &analysis.Refusal{Needs: "five birds looked at, the second treatment dated, the stage noted, and odds above 5 to 1", Next: strings.Join(s.Why, "; ")}
	}
	return c
}

// withdrawal is what was entered for the treatments of a course, and that it is unknown where nothing was.
func withdrawal(entered []string) string {
	var words []string
	for _, w := range entered {
		if w != parasite.UnknownWithdrawal {
			w = fmt.Sprintf("%q", w)
		}
		words = append(words, w)
	}
	if len(words) == 0 {
		return parasite.UnknownWithdrawal
	}
	return list(words)
}

// oddsFloor prints odds without more than they are worth.
func oddsFloor(odds float64) string {
	switch {
	case odds > 50:
		return "50"
	case odds > 20:
		return "20"
	case odds > 10:
		return "10"
	}
	return "5"
}

func (t Returns) claim(subject analysis.Subject, p string, k int) analysis.Claim {
	at := slices.Clone(t.At)
	id, p := analysis.Slug(p), parasite.Plural(p)
	c := analysis.Claim{ID: fmt.Sprintf("treatment.return/%s/%d", id, k), Subject: subject, Topic: "treatments", Stands: analysis.Open,
		N: analysis.Counts{Records: len(at), Dates: len(t.Spells)}, RestsOn: compact(at),
		Method: "a pen after a course is one time, known between its last look without and its first with a finding", Source: "Turnbull 1976"}
	head := fmt.Sprintf("After %s (%s)", quoted(t.Product), analysis.Counted(len(t.Spells), "pen and course followed", "pens and courses followed"))
	if t.Early > 0 {
		c.Caveats = append(c.Caveats, analysis.Counted(t.Early, "pen")+" had findings within a week of the treatment, which is no return and is left out")
	}
	if t.Seen == 0 {
		longest := 0.0
		for _, s := range t.Spells {
			longest = max(longest, s.within.After)
		}
		c.Text = fmt.Sprintf("%s, %s were not seen again within %s, as far as looks go.", head, p, weeks(longest))
		c.Refusal = &analysis.Refusal{Needs: "looks until they are seen again", Next: "look every two weeks and write down none seen as well"}
		if len(t.Spells) == 0 {
			c.Text = fmt.Sprintf("Cannot say when %s come back after %s because no pen was looked at after it before it was treated again.", p, quoted(t.Product))
			if t.Early > 0 {
				c.Text = fmt.Sprintf("Cannot say when %s come back after %s because in all pens that were looked at they were seen within %d days of it, which is no return.", p, quoted(t.Product), CalmDays)
				c.Caveats = nil
			}
		}
		return c
	}
	low, high := math.Inf(1), 0.0
	for _, s := range t.Spells {
		if s.Seen != 0 {
			low, high = min(low, s.within.After), max(high, s.within.By)
		}
	}
	c.Text = fmt.Sprintf("%s, %s were next seen %s later at the earliest and %s at the latest (%s, %s)", head, p, weeks(low), weeks(high), analysis.Counted(t.Seen, "return"), analysis.Counted(t.Pens, "pen"))
	if t.Seen < LeastReturns || t.Pens < LeastReturnPens {
		var dates []string
		for _, s := range t.Spells {
			if s.Seen != 0 {
				dates = append(dates, s.Seen.String())
			}
		}
		c.Text += ": " + list(dates) + ". Cannot give a usual time from so few."
		c.Refusal = &analysis.Refusal{Needs: fmt.Sprintf("%d returns in %d pens", LeastReturns, LeastReturnPens), Next: "look every two weeks after a treatment, none seen included"}
		return c
	}
	from, to, err := t.Curve.Quantile(0.5)
	if err == nil && !math.IsInf(to, 1) {
		c.Text += fmt.Sprintf("; half of the pens had them again between %s and %s after it.", weeks(from), weeks(to))
	} else {
		c.Text += "; fewer than half of the pens had them again."
	}
	if t.Exact != nil {
		c.Source += "; Kaplan & Meier 1958"
	}
	c.Caveats = append(c.Caveats, "a return is a finding more than a week after the last treatment: it may be survivors that were missed")
	return c
}

func (f Freedom) claim(subject analysis.Subject, p string) analysis.Claim {
	c := analysis.Claim{ID: "treatment.freedom/" + analysis.Slug(p), Subject: subject, Topic: "parasites", Stands: analysis.Open,
		N: analysis.Counts{Records: len(f.At), Birds: f.Looked}, RestsOn: compact(f.RuleAt),
		Method: "birds taken to be picked at random", Source: "hypergeometric sum, Cameron & Baldock 1998"}
	if f.Fitted {
		c.Pool = []string{"treatment.sensitivity/" + analysis.Slug(p)}
	}
	c.Text = fmt.Sprintf("None seen on %d of %s in the last %d days: such looks would have missed %s", f.Looked, analysis.Counted(f.Flock, "bird"), parasite.SeenDays, parasite.Plural(p))
	for i, m := range f.Missed {
		if i > 0 {
			c.Text += ","
		}
		c.Text += fmt.Sprintf(" on %s with a chance of %s", analysis.Counted(m.Infested, "bird"), chance(m.Chance))
	}
	c.Text += "."
	if f.Clear {
		c.Stands = analysis.For
		c.Text += " Two rounds at least 21 days apart, each at enough birds, found none: by the rule of two rounds the looks are clear of them."
	} else {
		c.Text += fmt.Sprintf(" That does not make the flock clear: %s.", f.Rule)
		c.Refusal = &analysis.Refusal{Needs: "two full rounds with none seen, 21 days apart", Next: "look at the birds not yet seen, and at all again three weeks later"}
	}
	c.Caveats = []string{fmt.Sprintf("a look is taken to see what is there %.0f times in 100", 100*f.Sensitivity)}
	return c
}

func (s Carriers) claims(subject analysis.Subject, p string, today record.Day) []analysis.Claim {
	see := analysis.Claim{ID: "treatment.sensitivity/" + analysis.Slug(p), Subject: subject, Topic: "parasites", Stands: analysis.Open,
		Method: "hidden states of birds in continuous time, pens coupled by their mean, fitted by maximum likelihood", Source: "Jackson et al. 2003"}
	if s.Model == nil {
		see.Text = fmt.Sprintf("Cannot say how often a look misses %s, nor how likely an unseen bird carries them, because %s.", parasite.Plural(p), s.Why)
		see.Refusal = &analysis.Refusal{Needs: "repeat looks", Next: "look at the same ten birds twice within a week, some of them with findings"}
		return []analysis.Claim{see}
	}
	m := s.Model
	see.N = analysis.Counts{Records: m.Looks, Birds: m.Birds}
	see.RestsOn = compact(s.At)
	if m.Told {
		see.Estimate = &analysis.Estimate{Value: 100 * m.See.Value, Low: 100 * m.See.Low, High: 100 * m.See.High, Level: level, Unit: "%"}
		see.Text = fmt.Sprintf("A look sees %s on about %.0f in 100 birds that carry them (%.0f to %.0f %%; %s, %s).",
			parasite.Plural(p), 100*m.See.Value, 100*m.See.Low, 100*m.See.High, analysis.Counted(m.Looks, "look"), analysis.Counted(m.Repeats, "quick repeat"))
		see.Caveats = []string{"a look is taken never to see what is not there"}
	} else {
		see.Text = fmt.Sprintf("Cannot say how often a look misses %s because %s. Chances below hold for looks that see 50 to 90 in 100.", parasite.Plural(p), m.Why)
		see.Refusal = &analysis.Refusal{Needs: fmt.Sprintf("%d pairs of looks within two weeks, with a finding", 20), Next: "look at ten birds again a week after a finding, before treating"}
	}
	out := []analysis.Claim{see}
	var unseen []Carrier
	for _, b := range s.Birds {
		if !b.Seen && b.Chance.Level > 0 {
			unseen = append(unseen, b)
		}
	}
	if len(unseen) == 0 {
		return out
	}
	var names []string
	for i, b := range unseen {
		if i == 8 {
			names = append(names, fmt.Sprintf("%d more", len(unseen)-i))
			break
		}
		names = append(names, fmt.Sprintf("%s (%.0f to %.0f %%)", b.Bird.Label(), 100*b.Chance.Low, 100*b.Chance.High))
	}
	out = append(out, analysis.Claim{ID: "treatment.unseen/" + analysis.Slug(p), Subject: subject, Topic: "parasites", Stands: analysis.Open,
		Text: fmt.Sprintf("Whom to look at next for %s, by the chance of carrying them unseen today: %s. It says nothing else of a bird.", parasite.Plural(p), list(names)),
		N:    analysis.Counts{Birds: len(unseen), Records: m.Looks}, Pool: []string{see.ID}, Method: see.Method, Source: see.Source,
		Refusal: &analysis.Refusal{Needs: "a look at each", Next: "look at these first"}})
	for _, b := range unseen {
		out = append(out, b.claim(p, see, today))
	}
	return out
}

func (b Carrier) claim(p string, see analysis.Claim, today record.Day) analysis.Claim {
	c := analysis.Claim{ID: fmt.Sprintf("treatment.carries/%s/%s", b.Bird.ID, analysis.Slug(p)), Subject: analysis.Subject{Bird: b.Bird.ID}, Topic: "parasites", Stands: analysis.Open,
		Estimate: &analysis.Estimate{Value: 100 * b.Chance.Value, Low: 100 * b.Chance.Low, High: 100 * b.Chance.High, Level: level, Unit: "%"},
		N:        analysis.Counts{Records: len(b.At), Birds: 1}, RestsOn: compact(b.At), Pool: []string{see.ID}, Method: see.Method, Source: see.Source,
		Refusal: &analysis.Refusal{Needs: "a look", Next: "look at " + b.Bird.Label() + " (vent, under the wings, legs) and write down what is found, none included"}}
	last := "was never looked at"
	if b.Last != 0 {
		last = fmt.Sprintf("was last looked at %s ago", analysis.Counted(int(today-b.Last), "day"))
	}
	c.Text = fmt.Sprintf("%s %s for %s; from its looks, its pen and the flock's history, the chance that it carries them today is about %.0f %% (%.0f to %.0f %%).",
		b.Bird.Label(), last, parasite.Plural(p), 100*b.Chance.Value, 100*b.Chance.Low, 100*b.Chance.High)
	return c
}

func (w WormTrial) claim(subject analysis.Subject) analysis.Claim {
	c := analysis.Claim{ID: "treatment.worms/" + w.On.String(), Subject: subject, Topic: "treatments", Stands: analysis.Open,
		N: analysis.Counts{Records: len(w.At), Birds: len(w.Treated) + len(w.Control)}, RestsOn: compact(w.At),
		Method: "means of treated and untreated birds on days 10 to 14", Source: "Coles et al. 1992"}
	head := fmt.Sprintf("Treated against worms on %s with %s; withdrawal as entered: %s.", w.On, quoted(w.Product), withdrawal(w.Withdrawal))
	if w.Missing != "" {
		c.Text = head + fmt.Sprintf(" Cannot say how far egg counts fell because %s.", w.Missing)
		c.Refusal = &analysis.Refusal{Needs: fmt.Sprintf("egg counts of %d treated and %d untreated single birds, mean before at least %d eggs a gram", LeastWormBirds, LeastWormBirds, LeastEPG),
			Next: "ask a laboratory for counts of single birds before, and again 10 to 14 days after"}
		return c
	}
	c.Estimate = &analysis.Estimate{Value: w.Reduction.Value, Low: w.Reduction.Low, High: w.Reduction.High, Level: w.Reduction.Level, Unit: "%"}
	c.Text = head + fmt.Sprintf(" Egg counts of treated birds lay %.0f %% below those of untreated ones (%.0f to %.0f %%, chance 95 %%; %d and %d birds).",
		w.Reduction.Value, w.Reduction.Low, w.Reduction.High, len(w.Treated), len(w.Control))
	if w.Reduction.Value < WormBelow && w.Reduction.Low < 90 {
		c.Stands = analysis.Against
		c.Text += " By the rule as published for ruminants that is compatible with worms that no longer respond: ask a vet."
	}
	c.Caveats = []string{"the rule and its limits were made for ruminants"}
	return c
}

func (t Trial) claim(subject analysis.Subject) analysis.Claim {
	c := analysis.Claim{ID: "treatment.trial", Subject: subject, Topic: "treatments", Stands: analysis.Open,
		Method: "staggered start drawn by lot from the flock, its birds and the day", Source: "Hussey & Hughes 2007; Fisher 1935"}
	if t.Missing != "" {
		c.Text = fmt.Sprintf("No fair trial is proposed because %s.", t.Missing)
		c.Refusal = &analysis.Refusal{Needs: "16 birds", Next: "treat all birds alike and look on days 14 and 28"}
		return c
	}
	early, later := 0, 0
	for _, r := range t.Rows {
		if r.Early {
			early += len(r.Birds)
		} else {
			later += len(r.Birds)
		}
	}
	c.N, c.RestsOn = analysis.Counts{Birds: early + later}, compact(t.At)
	c.Text = fmt.Sprintf("If %s need treating, a fair trial could begin on %s: %s drawn by lot are treated on that day and %s on %s, so that every bird is treated (table trial). Look at all birds on both days before treating. Stop: a bird with a heavy load, or unwell, is treated at once, whichever group it is in; note it and count it in the group it was drawn into.",
		parasite.Plural(t.Parasite), t.Start, analysis.Counted(early, "bird"), analysis.Counted(later, "bird"), t.Start+TrialWait)
	c.Caveats = []string{"product, amount and repeats as the label or a vet says; the second treatment of the first group as the label gives it", t.power()}
	return c
}

// power says what the lot can show.
func (t Trial) power() string {
	if t.Unit == "pen" {
		return fmt.Sprintf("whole pens are drawn: the lot could fall in %.0f ways", t.Orders)
	}
	return "half of each pen is drawn, for so few pens cannot be told apart: birds of a pen pass lice to each other, which makes an effect look smaller than it is"
}
