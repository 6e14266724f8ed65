package season

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/parasite"
	"keelmark/ingest/record"
)

const (
	byCounting = "counts of years and months; a look that found nothing counts, not having looked does not"
	byTest     = "year-rotation test and harmonic model with a wandering deviation; birds looked at on one day are one observation"
	published  = "published seasons contradict each other (see the table), so none is assumed"
)

// tell writes the claims.
func (r *Result) tell(d *record.Dataset) []analysis.Claim {
	subject := analysis.Subject{Flock: d.Name}
	if len(r.Patterns) == 0 {
		return []analysis.Claim{{ID: "season.counted/none", Subject: subject, Topic: "parasites", Stands: analysis.Open,
			Text:    "Cannot say when in the year lice or mites come because no dated look is recorded, not even one that found nothing.",
			Refusal: &analysis.Refusal{Needs: "dated looks", Next: "look at ten birds every four weeks and write down the date and what was found, none included"}, Method: byCounting}}
	}
	var out []analysis.Claim
	for i := range r.Patterns {
		p := &r.Patterns[i]
		add := func(kind string, c analysis.Claim) {
			c.ID, c.Subject, c.Topic, c.Stands = "season."+kind+"/"+analysis.Slug(p.Parasite), subject, "parasites", analysis.Open
			if c.N == (analysis.Counts{}) {
				c.N = p.counts()
			}
			if c.RestsOn == nil {
				c.RestsOn = p.refs()
			}
			out = append(out, c)
		}
		add("counted", p.countedClaim(r))
		add("recurs", p.recursClaim(r.Today))
		if p.Named {
			add("peak", p.peakClaim())
			add("risk", p.riskClaim())
			add("start", p.startClaim(r.Today))
		} else if c, ok := p.outlookClaim(); ok {
			add("outlook", c)
		}
		if c, ok := p.onsetClaim(); ok {
			add("onsets", c)
		}
		if len(p.Rounds) > 0 {
			add("effort", p.effortClaim())
		}
	}
	return out
}

func (p *Pattern) counts() analysis.Counts {
	n := analysis.Counts{Dates: len(p.Rounds), Years: p.Rotation.Years}
	for _, r := range p.Rounds {
		n.Records += r.Looked
	}
	return n
}

// refs are the cells of its looks, and others that a claim counts.
func (p *Pattern) refs(more ...record.Ref) []record.Ref {
	out := slices.Concat(p.at, more)
	slices.SortFunc(out, record.Ref.Compare)
	return slices.Compact(out)
}

// doubts are what was left out of every count, and what may have been counted as something else.
func (p *Pattern) doubts() []string {
	out := slices.Clone(p.LeftOut)
	if p.Renamed != "" {
		out = append(out, p.Renamed)
	}
	return out
}

// confounded says what else than the time of year may lie behind a recurrence.
func (p *Pattern) confounded() []string {
	var out []string
	if p.Grown {
		out = append(out, "told from looks at birds of a year or more only: in all looks together age and time of year are the same thing")
	} else if !p.House && p.Ages.Known > 0 && 5*p.Ages.Young >= p.Ages.Known && !p.Ages.Aliased() {
		out = append(out, fmt.Sprintf("%d of %d looks of known age are at birds under a year; part of what looks like the time of year may be their age", p.Ages.Young, p.Ages.Known))
	}
	if !p.House && p.Ages.Known == 0 {
		out = append(out, "no hatch date is known for the birds looked at, so their age cannot be set apart from the time of year")
	}
	return out
}

// countedClaim is the sentence that comes first: what was found when, and where nobody looked.
func (p *Pattern) countedClaim(r *Result) analysis.Claim {
	c := analysis.Claim{Method: byCounting, Caveats: p.doubts()}
	var text string
	days, withAny := 0, 0
	for _, x := range p.Rounds {
		if p.Mark.reached(x) {
			days++
		}
		if x.Found > 0 {
			withAny++
		}
	}
	w := p.Window
	switch {
	case len(p.Rounds) == 0:
		text = fmt.Sprintf("Cannot say when %s come: no look gives a clear answer.", parasite.Plural(p.Parasite))
		c.Refusal = &analysis.Refusal{Needs: "looks that say none or some", Next: "write down what is found at the next look, none included, and declare the scale in flock.toml"}
	case withAny == 0 && len(p.Rounds) == 1:
		text = fmt.Sprintf("%s were not found on the one day of looks, %s.", analysis.Capital(parasite.Plural(p.Parasite)), p.Rounds[0].On)
	case withAny == 0:
		text = fmt.Sprintf("%s were not found on any of %s from %s to %s.", analysis.Capital(parasite.Plural(p.Parasite)), analysis.Counted(len(p.Rounds), "day"), p.Rounds[0].On, p.Rounds[len(p.Rounds)-1].On)
	case len(p.Rounds) == 1:
		x := p.Rounds[0]
		text = fmt.Sprintf("%s were found on %d of %d looked at on the one day, %s.", analysis.Capital(parasite.Plural(p.Parasite)), x.Found, x.Looked, x.On)
	case days == 0: // every day alike: none above the middle
		text = fmt.Sprintf("%s were found on %d of %s, on much the same share each time.", analysis.Capital(parasite.Plural(p.Parasite)), withAny, analysis.Counted(len(p.Rounds), "day"))
	case w == nil:
		text = fmt.Sprintf("%s were %s on %d of %d days, at all times of the year: no six months hold most of it.", analysis.Capital(parasite.Plural(p.Parasite)), p.Mark.Text, days, len(p.Rounds))
	default:
		of := len(w.Found) + len(w.Clear)
		when := between(w.First, w.Last)
		if name := seasonOfYear(*w, r.South, r.Told); name != "" {
			when += " (" + name + ")"
		}
		if w.Months == 1 {
			when = "in " + when
		} else {
			when = "between " + strings.Replace(when, " to ", " and ", 1)
		}
		text = fmt.Sprintf("In %d of %s %s were %s %s (%s", len(w.Found), analysis.Counted(of, "year"), parasite.Plural(p.Parasite), p.Mark.Text, when, numbers(w.Found))
		if len(w.Clear) > 0 {
			text += "; looked and not in " + numbers(w.Clear)
		}
		if len(w.NotLooked) > 0 {
			text += "; not or hardly looked in " + numbers(w.NotLooked)
		}
		text += ")."
		if w.OtherLooked > 0 {
			text += fmt.Sprintf(" In the other months: in %d of %s with a look.", w.OtherFound, analysis.Counted(w.OtherLooked, "month"))
		} else {
			text += " Nobody looked in the other months."
		}
	}
	if never := p.never(); len(never) > 0 && len(never) < 12 && len(p.Rounds) > 1 {
		text += " Never looked in " + list(never) + "."
	}
	c.Text = text
	return c
}

func (p *Pattern) never() []string {
	var out []string
	for _, m := range p.Months {
		if len(m.Looked) == 0 {
			out = append(out, m.Month.String())
		}
	}
	return out
}

// recursClaim says whether the bad time comes back, or why that cannot be said.
func (p *Pattern) recursClaim(today record.Day) analysis.Claim {
	c := analysis.Claim{Method: byTest, Caveats: append(p.confounded(), published), RestsOn: p.refs(p.treatedAt...),
		Source: "domain notes 4.5; Harvey 1989; cut by simulation: " + Measured().Alarms}
	if len(p.Treated) > 0 {
		c.Caveats = append(c.Caveats, fmt.Sprintf("treatments on %s lie in these records: a fall after one is not the end of a bad time by itself", analysis.Counted(len(p.Treated), "day")))
	}
	if p.refused != "" {
		c.Text = fmt.Sprintf("Cannot say whether %s come back at one time of the year: %s.", parasite.Plural(p.Parasite), p.refused)
		if w := p.Window; w != nil && p.Rotation.Years < LeastYears && !p.Ages.Aliased() && len(w.Found) == 2 {
			c.Text = fmt.Sprintf("Twice %s were %s in %s; two years cannot tell that from chance.", parasite.Plural(p.Parasite), p.Mark.Text, between(w.First, w.Last))
		}
		c.Refusal = p.refusal(today)
		return c
	}
	evidence := fmt.Sprintf("evidence %.1f, more than %.4g needed; year-rotation p %.2g, floor %.2g; %d usable years", p.Evidence, Cut, p.Rotation.P, p.Rotation.Floor, p.Rotation.Years)
	if p.Named {
		c.Text = fmt.Sprintf("The records show a season for %s: the bad time falls at the same part of the year more than outbreaks at random would (%s). Of flocks without one, about %s would be called so. It speaks of these years, not of why.",
			parasite.Plural(p.Parasite), evidence, Measured().Typical)
		return c
	}
	c.Text = fmt.Sprintf("The records do not tell a season for %s from outbreaks at random (%s). That is not to say that there is none.", parasite.Plural(p.Parasite), evidence)
	c.Refusal = p.refusal(today)
	return c
}

// refusal names the cheapest look that would help.
func (p *Pattern) refusal(today record.Day) *analysis.Refusal {
	units := "ten birds"
	if p.House {
		units = "the same cracks and perch ends"
	}
	if p.Ages.Aliased() && !p.House && !p.Grown {
		return &analysis.Refusal{Needs: "looks at grown birds, or at young of two times of hatching, in the same rounds",
			Next: "in the next round look also at birds over a year old and write down each bird's ring"}
	}
	needs := fmt.Sprintf("%d years with a look in at least %d of their 13 four-week slots", LeastYears, LeastSlots)
	if p.refused == "" {
		needs = "more years like these"
	}
	n := fmt.Sprintf("look at %s every four weeks, none found included; the next by %s", units, today+28)
	if never := p.never(); len(never) > 0 && len(never) < 7 {
		n += "; above all in " + list(never)
	}
	return &analysis.Refusal{Needs: needs, Next: n}
}

func (p *Pattern) peakClaim() analysis.Claim {
	k := p.Peak
	c := analysis.Claim{Method: "years as units: Fieller's range for the time of the yearly wave", Source: "Fieller 1954",
		Caveats: []string{fmt.Sprintf("%s years are %s; where a season is named at all, this range held the true time in %s of simulated flocks", number(k.Years), enough(k.Years), Measured().PeakNamed)}}
	if k.Whole {
		c.Text = fmt.Sprintf("When %s are worst cannot be narrowed: the years differ too much among themselves (about %s fits best).", parasite.Plural(p.Parasite), dayAndMonth(k.Angle))
		c.Refusal = &analysis.Refusal{Needs: "further years", Next: "go on looking every four weeks"}
		return c
	}
	c.Text = fmt.Sprintf("The worst time for %s is compatible with %s to %s, about %s at best (90 %%, %d years as units).", parasite.Plural(p.Parasite),
		dayAndMonth(k.Low), dayAndMonth(k.High), dayAndMonth(k.Angle), k.Years)
	at, low, high := k.Days()
	c.Estimate = &analysis.Estimate{Value: at, Low: low, High: high, Level: k.Level, Unit: "day of the year"}
	return c
}

func enough(n int) string {
	if n < 5 {
		return "few"
	}
	return "not many"
}

func number(n int) string {
	if words := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight"}; n < len(words) {
		return analysis.Capital(words[n])
	}
	return fmt.Sprint(n)
}

func (p *Pattern) riskClaim() analysis.Claim {
	c := analysis.Claim{Method: "share of years, with Wilson's interval; years are the units", Source: "Wilson 1927"}
	w := p.Window
	if w == nil {
		c.Text = fmt.Sprintf("No six months hold most of what was found of %s: the bad time comes back, but no months are without risk.", parasite.Plural(p.Parasite))
		return c
	}
	share, err := w.ofYears()
	if err != nil {
		c.Text = fmt.Sprintf("Cannot say which months are at risk: %v.", err)
		return c
	}
	c.Estimate = &share
	c.Text = fmt.Sprintf("Months at risk here, by these years: %s; %s in %d of %d years (%.0f to %.0f %% of years).", between(w.First, w.Last), p.Mark.Text, len(w.Found),
		len(w.Found)+len(w.Clear), share.Low, share.High)
	if never := p.never(); len(never) > 0 {
		c.Caveats = append(c.Caveats, "nobody looked in "+list(never)+": they are not without risk")
	}
	return c
}

func (p *Pattern) startClaim(today record.Day) analysis.Claim {
	c := analysis.Claim{Method: "first finding of each year, one-sided prediction for a further year with years as units, no later than the clear look before the earliest",
		Source: "Hahn & Meeker 1991, Statistical Intervals, 4.7"}
	s := p.Start
	if s == nil {
		c.Text = fmt.Sprintf("Cannot say from when on to look for %s: in fewer than %d years a clear look came before the first finding.", parasite.Plural(p.Parasite), LeastOnsets)
		c.Refusal = &analysis.Refusal{Needs: "a clear look in the quiet time and looks every four weeks after it", Next: "look before the months at risk begin, and write down none"}
		return c
	}
	basis := fmt.Sprintf("basis: the first findings of %d years; the earliest in its year was on %s, after a clear look on %s", s.Onsets, s.Earliest.Found, s.Earliest.Clear)
	if s.Early {
		c.Text = fmt.Sprintf("Look for %s all year: a further year's first finding could fall at any time (%s).", parasite.Plural(p.Parasite), basis)
		return c
	}
	from := next(s.Angle, today)
	_, month, day := from.Date()
	c.Text = fmt.Sprintf("Start checking for %s from %d %s on, next from %s (%s; in about 1 year of 10 it would come before that).", parasite.Plural(p.Parasite), day, month, from, basis)
	return c
}

func (p *Pattern) onsetClaim() (analysis.Claim, bool) {
	o := p.Onsets
	if len(o.List) == 0 {
		return analysis.Claim{}, false
	}
	var days []string
	for _, x := range o.List {
		days = append(days, x.Found.String())
	}
	text := fmt.Sprintf("First findings of %s after a clear look at most %d days before: %s.", parasite.Plural(p.Parasite), LongestGap, list(days))
	if len(o.List) >= LeastOnsets {
		text += fmt.Sprintf(" Drawn at random from the days on which somebody looked, as many would gather as closely in %s of draws.", draws(o.P))
	}
	return analysis.Claim{Text: text, N: analysis.Counts{Records: len(o.List), Dates: len(o.List)}, Method: "Rayleigh's statistic against the days looked; it supports, and does not decide",
		Source: "Mardia & Jupp 2000, 6.3", Caveats: []string{"each began on some day since the clear look before it"}}, true
}

// draws prints a share of draws at random; that none did does not say that none can.
func draws(p float64) string {
	if p < 0.01 {
		return "less than 1 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

func (p *Pattern) effortClaim() analysis.Claim {
	c := analysis.Claim{Method: byCounting, RestsOn: p.refs(p.shown...)}
	most, least := p.Months[0], p.Months[0]
	for _, m := range p.Months[1:] {
		if m.Rounds > most.Rounds {
			most = m
		}
		if m.Rounds < least.Rounds {
			least = m
		}
	}
	c.Text = fmt.Sprintf("Looked for %s on %s from %s to %s; most in %s (%s)", parasite.Plural(p.Parasite), analysis.Counted(len(p.Rounds), "day"), p.Rounds[0].On,
		p.Rounds[len(p.Rounds)-1].On, most.Month, analysis.Counted(most.Rounds, "day"))
	if never := p.never(); len(never) > 0 {
		c.Text += ", never in " + list(never)
	} else {
		c.Text += fmt.Sprintf(", least in %s (%s)", least.Month, analysis.Counted(least.Rounds, "day"))
	}
	c.Text += "."
	if e := p.Shows; e.Times > 0 {
		c.Text += fmt.Sprintf(" In the 8 weeks before shows: %.1f times as often as otherwise.", e.Times)
		if e.Times > 1.5 {
			c.Caveats = []string{"who looks more before shows finds more before shows"}
		}
	}
	return c
}

func (p *Pattern) outlookClaim() (analysis.Claim, bool) {
	o := p.Outlook
	if len(o.Prospects) == 0 || p.Ages.Aliased() && !p.Grown && !p.House {
		return analysis.Claim{}, false
	}
	var chances []string
	for _, x := range o.Prospects {
		if x.Years <= 6 || x.Years == mostYears {
			chances = append(chances, fmt.Sprintf("%d years %.0f %%", x.Years, 100*x.Chance))
		}
	}
	whose := "outbreaks as long as yours (about %.0f days, every %.0f)"
	if !o.Own {
		whose = "outbreaks as usual (about %.0f days, every %.0f)"
	}
	text := fmt.Sprintf("If %s did follow the year strongly, looks like yours would tell it with a chance of about: %s (%s).", parasite.Plural(p.Parasite), strings.Join(chances, ", "),
		fmt.Sprintf(whose, o.OutbreakDays, o.OutbreakDays+o.GapDays))
	first := len(usable(p.Years))
	switch {
	case o.Settles == 0:
		text += " Not even eight years would settle it, so far apart are the outbreaks."
	case o.Settles > first:
		text += fmt.Sprintf(" It takes about %d usable years to settle it; you have %d.", o.Settles, first)
	default:
		text += fmt.Sprintf(" You have %d usable years: so strong a season would by now most likely have shown.", first)
	}
	return analysis.Claim{Text: text, Method: "simulated flocks with a strong season, by the year-rotation test alone", Source: "Monte Carlo; season and shares of domain notes 4.5",
		Caveats: []string{"the lengths of outbreaks are rough: each look stands for half the time to its neighbours"}}, true
}
