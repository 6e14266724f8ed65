package treatment

import (
	"fmt"
	"slices"

	"keelmark/analysis"
	"keelmark/analysis/parasite"
	"keelmark/ingest/record"
)

// write makes all claims, the flock's first.
func (r *Result) write(d *record.Dataset) []analysis.Claim {
	subject := analysis.Subject{Flock: d.Name}
	var out []analysis.Claim
	if !r.Course {
		out = append(out, analysis.Claim{ID: "treatment.none", Subject: subject, Topic: "treatments", Stands: analysis.Open,
			Text: "Cannot say what any treatment did because no dated treatment is recorded.", Method: "as entered",
			Refusal: &analysis.Refusal{Needs: "a dated treatment and looks before and after it", Next: "when you treat, write down the day, the product and the birds, and look at all birds on the day"}})
	}
	if len(r.Parasites) == 0 {
		out = append(out, analysis.Claim{ID: "treatment.unlooked", Subject: subject, Topic: "treatments", Stands: analysis.Open,
			Text: "Cannot say what any treatment did because no look at birds for parasites is recorded.", Method: "as entered",
			Refusal: &analysis.Refusal{Needs: "looks at birds", Next: "look at every bird once and write down the date and what was found, none included"}})
	}
	for i, same := range byReason(r.LeftOut) {
		var at []record.Ref
		var dates []string
		for _, l := range same {
			at = append(at, l.At)
			if on := l.On.String(); !slices.Contains(dates, on) {
				dates = append(dates, on)
			}
		}
		out = append(out, analysis.Claim{ID: fmt.Sprintf("treatment.leftout/%d", i+1), Subject: subject, Topic: "treatments", Stands: analysis.Open,
			Text: fmt.Sprintf("Left out: %s, on %s, because %s.", analysis.Counted(len(same), "record of a treatment", "records of treatments"), list(dates), same[0].Why),
			N:    analysis.Counts{Records: len(at)}, RestsOn: compact(at), Method: "dates of treatment, hatch, death and departure compared",
			Refusal: &analysis.Refusal{Needs: "a date and birds that agree", Next: "correct the date or the bird in the sheet"}})
	}
	for _, old := range sorted(r.RenamedAs) {
		at := r.renamedAt[old]
		out = append(out, analysis.Claim{ID: "treatment.renamed/" + analysis.Slug(old), Subject: analysis.Subject{Pen: r.RenamedAs[old]}, Topic: "treatments", Stands: analysis.Open,
			Text: fmt.Sprintf("Pen %q seems to be called %q later: the looks under the one name end before those under the other begin, with the same birds. They count as one pen.", old, r.RenamedAs[old]),
			N:    analysis.Counts{Records: len(at)}, RestsOn: at, Method: "dates and birds of the looks by pen", Caveats: []string{"if they are two pens, write the move of each bird"}})
	}
	for _, j := range r.Parasites {
		out = append(out, j.claims(subject, r.Today)...)
	}
	for _, w := range r.Worms {
		out = append(out, w.claim(subject))
	}
	return append(out, r.Trial.claim(subject))
}

// byReason puts treatments that are left out for the same reason together, in the order of the first.
func byReason(all []LeftOut) [][]LeftOut {
	var out [][]LeftOut
	for _, l := range all {
		i := slices.IndexFunc(out, func(same []LeftOut) bool { return same[0].Why == l.Why })
		if i < 0 {
			out = append(out, []LeftOut{l})
			continue
		}
		out[i] = append(out[i], l)
	}
	return out
}

func sorted(m map[string]string) []string {
	var out []string
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

func (j Judged) claims(subject analysis.Subject, today record.Day) []analysis.Claim {
	var out []analysis.Claim
	for i, e := range j.Effects {
		out = append(out, e.claim(subject, j, i+1))
	}
	if j.Repeats.Found+j.Repeats.None > 0 {
		out = append(out, j.Repeats.claim(subject, j.Parasite))
	}
	for i, t := range j.Returns {
		out = append(out, t.claim(subject, j.Parasite, i+1))
	}
	for i, o := range j.Occasions {
		out = append(out, o.claim(subject, j.Parasite, i+1, today))
	}
	if j.Freedom.Looked > 0 && j.Freedom.Found == 0 { // what was seen, or that nobody looked, the analysis of parasites says
		out = append(out, j.Freedom.claim(subject, j.Parasite))
	}
	return append(out, j.Carriers.claims(subject, j.Parasite, today)...)
}

func (e Effect) refs() []record.Ref {
	var out []record.Ref
	for _, o := range e.Occasions {
		out = append(out, o.At...)
	}
	for _, p := range e.Pairs {
		out = append(out, p.at[:]...)
	}
	slices.SortFunc(out, record.Ref.Compare)
	return slices.Compact(out)
}

func (e Effect) claim(subject analysis.Subject, j Judged, k int) analysis.Claim {
	c := analysis.Claim{ID: fmt.Sprintf("treatment.effect/%s/%d", analysis.Slug(j.Parasite), k), Subject: subject, Topic: "treatments", Stands: analysis.Open,
		RestsOn: e.refs(), Caveats: slices.Clone(e.Warnings)}
	c.N = analysis.Counts{Records: len(c.RestsOn), Birds: e.birds(), Dates: len(e.Occasions)}
	courses := analysis.Counted(len(e.Occasions), "course")
	if e.Treated == 0 {
		c.Text = fmt.Sprintf("Cannot say what %s (%s) did to %s because none of the treated birds was looked at both in the %d days before and %d to %d days after.",
			quoted(e.Product), courses, parasite.Plural(j.Parasite), BeforeDays, parasite.VerifyFrom, parasite.VerifyTo)
		c.Method = "the same birds before and after"
		c.Refusal = next()
		return c
	}
	if e.Missing != "" {
		c.Text = fmt.Sprintf("After %s (%s), of %s looked at before and %d to %d days after, findings of %s were on %d before and on %d after.", quoted(e.Product), courses,
			analysis.Counted(e.Treated, "treated bird"), parasite.VerifyFrom, parasite.VerifyTo, parasite.Plural(j.Parasite), e.TreatedBefore, e.TreatedAfter)
		c.Text += e.fell(j.Repeats)
		c.Text += fmt.Sprintf(" Cannot say what the treatment did because %s.", e.Missing)
		c.Pool = []string{"treatment.repeats/" + analysis.Slug(j.Parasite)}
		if j.Repeats.Found+j.Repeats.None == 0 {
			c.Pool = nil
		}
		c.Method, c.Source = "the same birds before and after; repeat looks without treatment beside them", "regression to the mean: Ostermann et al. 2008; intervals: Wilson 1927"
		c.Refusal = next()
		return c
	}
	c.Method = "birds of one pen, occasion and earlier finding compared; treated as drawn at random among them"
	c.Source = "pooled ratio Mantel & Haenszel 1959, variance Greenland & Robins 1985; exact conditional test Gart 1970"
	where := "of the same pens on the same days"
	if e.Unit == "pen" {
		where = "of other pens on the same days"
		c.Method = "pens as units; all ways in which as many pens could have been drawn"
		c.Source = "randomisation test Fisher 1935; Henderson & Tilton 1955 with the variance between pens"
	}
	c.Text = fmt.Sprintf("After %s (%s), findings of %s went from %d to %d of %s looked at before and %d to %d days after, and from %d to %d of %s %s",
		quoted(e.Product), courses, parasite.Plural(j.Parasite), e.TreatedBefore, e.TreatedAfter, analysis.Counted(e.Treated, "treated bird"), parasite.VerifyFrom, parasite.VerifyTo,
		e.UntreatedBefore, e.UntreatedAfter, analysis.Counted(e.Untreated, "untreated bird"), where)
	if e.Lower.Level > 0 {
		c.Estimate = &analysis.Estimate{Value: e.Lower.Value, Low: e.Lower.Low, High: e.Lower.High, Level: level, Unit: "% fewer"}
		who := ""
		if e.Carriers {
			who = fmt.Sprintf(", among the %d treated and %d untreated that had findings before and stand side by side", e.Compared[0], e.Compared[1])
		}
		c.Text += fmt.Sprintf(": compatible with %s birds with findings by the treatment%s", fewerOrMore(e.Lower.Low, e.Lower.High), who)
	}
	c.Text += fmt.Sprintf("; without an effect, a difference so large has a chance of %s.", rarity(e.P))
	if e.Counts.Level > 0 {
		c.Text += fmt.Sprintf(" By the numbers written down, compatible with %s (pens as units).", fewerOrMore(e.Counts.Low, e.Counts.High))
		c.Source += "; numbers: Henderson & Tilton 1955"
	}
	lot := "who was treated is taken to have been settled without regard to the bird; the records do not say how it was"
	switch {
	case !e.differs() && len(e.Warnings) > 0:
		c.Text += e.undecided() + " Nor would a difference be evidence of the treatment alone: " + e.Warnings[0] + "."
		c.Caveats, lot = c.Caveats[1:], ""
		c.Refusal = next()
	case !e.differs():
		c.Text += e.undecided()
	case len(e.Warnings) > 0:
		c.Text += " This difference is no evidence of the treatment alone: " + e.Warnings[0] + "."
		c.Caveats, lot = c.Caveats[1:], ""
		c.Refusal = next()
	case e.Lower.Value > 0:
		c.Stands = analysis.For
		c.Text += " The records show fewer findings on treated than on untreated birds."
	default:
		c.Stands = analysis.Against
		c.Text += " The records show more findings on treated than on untreated birds."
	}
	if lot != "" { // beside a warning that says the opposite it would be no caveat
		c.Caveats = append(c.Caveats, lot)
	}
	return c
}

// undecided says that treated and untreated birds do not differ past what chance would show.
func (e Effect) undecided() string {
	if e.Lower.Level > 0 && (e.Lower.Low > 0 || e.Lower.High < 0) {
		return " That is not rare enough to tell an effect from chance."
	}
	return " No effect that these looks can show, which is not to say that there is none."
}

// differs reports whether treated and untreated birds differ past what chance would show.
func (e Effect) differs() bool {
	return e.Unit != "" && e.P < significant && e.Lower.Level > 0 && (e.Lower.Low > 0 || e.Lower.High < 0)
}

func (e Effect) birds() int {
	seen := map[int]bool{}
	for _, p := range e.Pairs {
		seen[p.Bird] = true
	}
	return len(seen)
}

// fell says how far findings fell on treated birds and how much of it repeat looks alone would show.
func (e Effect) fell(r Repeats) string {
	if e.TreatedBefore == 0 {
		return ""
	}
	gone := e.TreatedBefore - e.Stayed
	s, _ := share(gone, e.TreatedBefore)
	text := fmt.Sprintf(" On %d of the %d with findings before there were none after (%.0f to %.0f %%)", gone, e.TreatedBefore, s.Low, s.High)
	if 2*gone > e.TreatedBefore || e.TreatedAfter < e.TreatedBefore {
		text += ": they fell after it"
	}
	w, ok := share(r.Gone, r.Found)
	if !ok || r.Found < LeastUntreated {
		return text + ". How many would have had none by themselves is not known: too few repeat looks without a treatment."
	}
	text += fmt.Sprintf(". In this flock's own repeat looks without any treatment, %s with findings had none the next time (%.0f to %.0f %%)", ofN(r.Gone, r.Found), w.Low, w.High)
	if s.Low <= w.High {
		return text + ": that alone would explain as much."
	}
	return text + ": more than that alone explains, but so would an outbreak that ends or a season that turns."
}

// next is the cheapest look that would let the records tell a treatment from what passes by itself.
func next() *analysis.Refusal {
	return &analysis.Refusal{Needs: fmt.Sprintf("%d treated birds and %d untreated ones of the same pens, looked at on the day and again %d to %d days later", LeastTreated, LeastUntreated, parasite.VerifyFrom, parasite.VerifyTo),
		Next: "treat half the birds of each pen first, drawn by lot, look at all on day 14 and then treat the rest (table trial)"}
}

func (r Repeats) claim(subject analysis.Subject, p string) analysis.Claim {
	c := analysis.Claim{ID: "treatment.repeats/" + analysis.Slug(p), Subject: subject, Topic: "parasites", Stands: analysis.Open,
		N: analysis.Counts{Records: len(r.At), Birds: r.Birds, Dates: r.Rounds}, RestsOn: compact(r.At),
		Method: "the same birds looked at again without a treatment between or in the month before", Source: "regression to the mean: Ostermann et al. 2008; interval: Wilson 1927"}
	s, ok := share(r.Gone, r.Found)
	if !ok {
		c.Text = fmt.Sprintf("Cannot say how often findings of %s go by themselves because no bird with a finding was looked at again without a treatment.", parasite.Plural(p))
		c.Refusal = &analysis.Refusal{Needs: "repeat looks at birds left untreated", Next: "where loads are light, look again after two weeks before treating"}
		return c
	}
	c.Estimate = &analysis.Estimate{Value: s.Value, Low: s.Low, High: s.High, Level: level, Unit: "%"}
	c.Text = fmt.Sprintf("Without any treatment, %s with findings of %s had none at the next look (%.0f to %.0f %%)", ofN(r.Gone, r.Found), parasite.Plural(p), s.Low, s.High)
	if r.None > 0 {
		c.Text += fmt.Sprintf(", and %s with none had some", ofN(r.Came, r.None))
	}
	c.Text += ": what any treatment is held against."
	c.Caveats = []string{"birds of a pen share outbreaks, so the range is too narrow where pens are few"}
	return c
}

func compact(at []record.Ref) []record.Ref {
	out := slices.Clone(at)
	slices.SortFunc(out, record.Ref.Compare)
	return slices.Compact(out)
}
