package parasite

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

const method = "counts of looks; a look that found nothing counts, not having looked does not"

// flockClaims are one on each parasite's last weeks and effort, and one on whom nobody has looked at.
func (r *Result) flockClaims(d *record.Dataset) []analysis.Claim {
	subject := analysis.Subject{Flock: d.Name}
	if len(r.Looks) == 0 {
		return []analysis.Claim{{
			ID: "parasite.effort/none", Subject: subject, Topic: "parasites", Stands: analysis.Open,
			Text:    "Cannot say anything of lice or mites because no dated look is recorded, not even one that found nothing.",
			Refusal: &analysis.Refusal{Needs: "one dated look", Next: "look at every bird once and write down the date and what was found, none included"},
			Method:  method,
		}}
	}
	var claims []analysis.Claim
	for _, p := range r.Parasites {
		claims = append(claims, r.effort(subject, p))
		if c, ok := LifeCycleOf(p); ok && !c.OnBird {
			claims = append(claims, r.house(subject, p))
			continue
		}
		claims = append(claims, r.lately(subject, p))
		if c, ok := r.notSeen(subject, p); ok {
			claims = append(claims, c)
		}
	}
	if r.Undated > 0 {
		claims = append(claims, analysis.Claim{
			ID: "parasite.undated/" + d.Name, Subject: subject, Topic: "treatments", Stands: analysis.Open,
			Text: undatedText(r.Undated),
			N:    analysis.Counts{Records: r.Undated}, RestsOn: r.undatedAt,
			Refusal: &analysis.Refusal{Needs: "a date for each treatment", Next: "write the dates beside them"}, Method: method,
		})
	}
	return claims
}

func undatedText(n int) string {
	if n == 1 {
		return "1 treatment has no date and is left out of every timeline."
	}
	return fmt.Sprintf("%d treatments have no date and are left out of every timeline.", n)
}

func (r *Result) effort(subject analysis.Subject, p string) analysis.Claim {
	all := r.of(p)
	days, birds := map[record.Day]bool{}, map[string]bool{}
	for _, l := range all {
		days[l.On.First] = true
		if l.Bird != "" {
			birds[l.Bird] = true
		}
	}
	first, last := all[0].On.First, all[len(all)-1].On.First
	months := max(1, math.Round(float64(last-first+1)/30.44))
	text := fmt.Sprintf("Looks for %s: %d at %s on %s from %s to %s", Plural(p), len(all), analysis.Counted(len(birds), "bird"), analysis.Counted(len(days), "day"), first, last)
	if len(birds) > 0 {
		text += fmt.Sprintf(", about %.1f a bird and month", float64(len(all))/float64(len(birds))/months)
	}
	return analysis.Claim{
		ID: "parasite.effort/" + analysis.Slug(p), Subject: subject, Topic: "parasites", Stands: analysis.Open, Text: text + ".",
		N:       analysis.Counts{Records: len(all), Birds: len(birds), Dates: len(days)},
		RestsOn: refs(all), Method: method, Caveats: []string{"the more one looks, the more one finds"},
	}
}

// lately counts what the last SeenDays show. What looks that found nothing may have missed is the analysis of treatments'
// to say, which knows how well looks see here.
func (r *Result) lately(subject analysis.Subject, p string) analysis.Claim {
	c := analysis.Claim{ID: "parasite.lately/" + analysis.Slug(p), Subject: subject, Topic: "parasites", Stands: analysis.Open, Method: method}
	var recent []Look
	looked, found := map[string]bool{}, map[string]bool{}
	for _, l := range r.of(p) {
		if l.On.First < r.Today-SeenDays {
			continue
		}
		recent = append(recent, l)
		if l.Bird != "" && slices.ContainsFunc(r.birdsToday, func(b record.Bird) bool { return b.ID == l.Bird }) {
			looked[l.Bird] = true
			if l.Finding == Found {
				found[l.Bird] = true
			}
		}
	}
	total, n := len(r.birdsToday), len(looked)
	c.N, c.RestsOn = analysis.Counts{Records: len(recent), Birds: n}, refs(recent)
	if n == 0 {
		c.Text = fmt.Sprintf("Cannot say whether %s are there now because no bird has been looked at in the last %d days.", Plural(p), SeenDays)
		c.Refusal = &analysis.Refusal{Needs: fmt.Sprintf("looks at birds within %d days", SeenDays), Next: "look at " + analysis.Counted(enough(total), "bird") + " this week, other birds each time"}
		return c
	}
	share, err := stat.Wilson(len(found), n, level)
	if err != nil {
		c.Text = fmt.Sprintf("Cannot say what the last %d days show: %v.", SeenDays, err)
		return c
	}
	c.Estimate = &analysis.Estimate{Value: share.Value * 100, Low: share.Low * 100, High: share.High * 100, Level: level, Unit: "%"}
	c.Source = "interval: Wilson 1927"
	on := "none"
	if len(found) > 0 {
		c.Stands = analysis.Against
		on = fmt.Sprint(len(found))
	}
	c.Text = fmt.Sprintf("In the last %d days %s were seen on %s of %s looked at (%.0f to %.0f %% of such birds; the flock has %d).",
		SeenDays, Plural(p), on, analysis.Counted(n, "bird"), share.Low*100, share.High*100, total)
	return c
}

// enough is the least number of birds whose look misses ClearShare with a chance below one half: a cheap start.
func enough(total int) int {
	infested := max(1, int(math.Ceil(ClearShare*float64(total))))
	for n := 1; n < total; n++ {
		if miss, err := stat.MissProbability(total, infested, n, Sensitivity); err == nil && miss < 0.5 {
			return n
		}
	}
	return total
}

func (r *Result) notSeen(subject analysis.Subject, p string) (analysis.Claim, bool) {
	birds := r.NotSeen[p]
	if len(birds) == 0 {
		return analysis.Claim{}, false
	}
	var names []string
	for _, b := range birds {
		names = append(names, b.Label())
	}
	var last []record.Ref // a look dated anew takes a bird off the list or puts it on
	for _, h := range r.Histories {
		if h.Parasite == p && h.Last != nil {
			last = append(last, h.Last.At)
		}
	}
	slices.SortFunc(last, record.Ref.Compare)
	return analysis.Claim{
		ID: "parasite.notseen/" + analysis.Slug(p), Subject: subject, Topic: "parasites", Stands: analysis.Open,
		Text: fmt.Sprintf("Not looked at for %s in the last %d days: %d of %s (%s).", Plural(p), SeenDays, len(birds), analysis.Counted(len(r.birdsToday), "bird"),
			strings.Join(names, ", ")),
		N: analysis.Counts{Birds: len(birds)}, RestsOn: slices.Compact(last),
		Refusal: &analysis.Refusal{Needs: "a look at each", Next: "look at these birds first"},
		Method:  method,
	}, true
}

// house is the claim on a parasite that lives in the house.
func (r *Result) house(subject analysis.Subject, p string) analysis.Claim {
	all := r.of(p)
	last := all[len(all)-1]
	c := analysis.Claim{ID: "parasite.house/" + analysis.Slug(p), Subject: subject, Topic: "parasites", Stands: analysis.Open,
		N: analysis.Counts{Records: len(all)}, RestsOn: refs(all), Method: method,
		Caveats: []string{"it lives in the house and visits birds at night: a look at birds by day says little"}}
	age := int(r.Today - last.On.First)
	c.Text = fmt.Sprintf("%s: %s at the last look, on %s (%s; %s in all).", analysis.Capital(Plural(p)), last.Finding, last.On, ago(age), analysis.Counted(len(all), "look"))
	switch {
	case age > SeenDays:
		c.Refusal = &analysis.Refusal{Needs: "a recent look", Next: "look into cracks and perch ends with a torch after dark"}
	case last.Finding == Found:
		c.Stands = analysis.Against
	}
	return c
}

// birdClaims are one for each bird and parasite.
func (r *Result) birdClaims() []analysis.Claim {
	var claims []analysis.Claim
	for _, h := range r.Histories {
		claims = append(claims, r.birdClaim(h))
	}
	if len(r.onBirds()) == 0 {
		for _, b := range r.birdsToday { // nobody has looked at anything: that is open for each bird
			claims = append(claims, r.birdClaim(History{Bird: b, Parasite: "lice or mites"}))
		}
	}
	return claims
}

func (r *Result) birdClaim(h History) analysis.Claim {
	c := analysis.Claim{
		ID: fmt.Sprintf("parasite.last/%s/%s", h.Bird.ID, analysis.Slug(h.Parasite)), Subject: analysis.Subject{Bird: h.Bird.ID}, Topic: "parasites",
		Stands: analysis.Open, N: analysis.Counts{Records: len(h.Looks), Birds: 1, Dates: dates(h.Looks)}, RestsOn: refs(h.Looks), Method: method,
	}
	label, many := h.Bird.Label(), Plural(h.Parasite)
	if h.Last == nil {
		c.Text = fmt.Sprintf("Cannot say whether %s carries %s because no look is recorded.", label, many)
		c.Refusal = &analysis.Refusal{Needs: "one look", Next: lookAt(label)}
		return c
	}
	since := ""
	if treated, ok := r.LastCourse(h.Bird.ID); ok && treated.Event.On.First > h.Last.On.First {
		since = fmt.Sprintf(" Treated since, on %s; not looked at after that.", treated.Event.On)
		c.RestsOn = append(c.RestsOn, treated.Event.At)
	}
	switch {
	case !h.Seen:
		c.Text = fmt.Sprintf("%s was last looked at for %s on %s, %d days ago (%s): what is there now is not known.%s",
			label, many, h.Last.On, h.Age, h.Last.Finding, since)
		c.Refusal = &analysis.Refusal{Needs: fmt.Sprintf("a look within %d days", SeenDays), Next: lookAt(label)}
	case h.Last.Finding == Found:
		c.Stands = analysis.Against
		c.Text = fmt.Sprintf("The records show %s on %s at the last look, on %s, %s (written %q; %s on %s in all).%s",
			many, label, h.Last.On, ago(h.Age), h.Last.Text, analysis.Counted(len(h.Findings), "finding"), analysis.Counted(len(h.Looks), "look"), since)
	case h.Last.Finding == Unclear:
		c.Text = fmt.Sprintf("The last look at %s for %s, on %s, does not say whether any were there (written %q).", label, many, h.Last.On, h.Last.Text)
		c.Refusal = &analysis.Refusal{Needs: "a look that says none or some", Next: lookAt(label)}
	default:
		c.Stands = analysis.For
		c.Text = fmt.Sprintf("None seen: the last look at %s for %s, on %s, %s, found none%s (%s on %s in all).%s",
			label, many, h.Last.On, ago(h.Age), asBefore(h.NegativeSince-1), analysis.Counted(len(h.Findings), "finding"), analysis.Counted(len(h.Looks), "look"), since)
		c.Caveats = []string{fmt.Sprintf("one look misses about %.0f in 100 birds that carry them (assumed)", (1-Sensitivity)*100)}
		if h.Last.Shared {
			c.Caveats = append(c.Caveats, "the look is recorded for the whole pen or flock, not for this bird by itself")
		}
	}
	if mates, on := r.mates(h); len(mates) > 0 {
		c.Text += fmt.Sprintf(" In the same pen in that time they were seen on %s.", strings.Join(mates, ", "))
		c.RestsOn = append(c.RestsOn, refs(on)...)
		if c.Stands == analysis.For {
			c.Stands = analysis.Open
		}
	}
	slices.SortFunc(c.RestsOn, record.Ref.Compare)
	c.RestsOn = slices.Compact(c.RestsOn)
	return c
}

// mates names the other birds of the same pen on which the parasite was seen within SeenDays, with the last such look at each.
func (r *Result) mates(h History) (names []string, on []Look) {
	if h.Bird.Pen == "" {
		return nil, nil
	}
	for _, o := range r.Histories {
		if o.Bird.ID == h.Bird.ID || o.Bird.Pen != h.Bird.Pen || o.Parasite != h.Parasite {
			continue
		}
		if n := len(o.Findings); n > 0 && o.Findings[n-1].On.First >= r.Today-SeenDays {
			names, on = append(names, o.Bird.Label()), append(on, o.Findings[n-1])
		}
	}
	return names, on
}

// courseClaims are one for each treatment. Of treatments written in the row of each bird, each bird's last stands by itself,
// and earlier ones of one day and product are one claim.
func (r *Result) courseClaims(d *record.Dataset, bird string) []analysis.Claim {
	var claims []analysis.Claim
	for _, c := range r.together() {
		subject := analysis.Subject{Flock: d.Name, Bird: bird}
		if bird == "" && c.Event.Scope == record.OneBird && !c.earlier {
			subject = analysis.Subject{Bird: c.Event.Bird}
		}
		claims = append(claims, c.claim(subject, r.Looks, r.Today))
	}
	return claims
}

func (r *Result) of(p string) []Look {
	var out []Look
	for _, l := range r.Looks {
		if l.Parasite == p {
			out = append(out, l)
		}
	}
	return out
}

func refs(looks []Look) []record.Ref {
	var out []record.Ref
	for _, l := range looks {
		out = append(out, l.At)
	}
	slices.SortFunc(out, record.Ref.Compare)
	return slices.Compact(out)
}

func dates(looks []Look) int {
	n := 0
	for i, l := range looks {
		if i == 0 || l.On.First != looks[i-1].On.First {
			n++
		}
	}
	return n
}

// lookAt is the same for every parasite, so that one look answers all that is open about a bird.
func lookAt(label string) string {
	return "look at " + label + " (vent, under the wings, legs) and write down what is found, none included"
}

// ago says how many days have passed.
func ago(days int) string {
	if days == 0 {
		return "today"
	}
	return analysis.Counted(days, "day") + " ago"
}

// asBefore says how many looks in a row before the last found nothing either.
func asBefore(n int) string {
	if n == 0 {
		return ""
	}
	return ", as did the " + analysis.Counted(n, "look") + " before it"
}
