package fertility

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

const (
	method = "counts of settings; fertile means not clear at candling, a lower bound"
	candle = "clear eggs were not broken out: some may have been fertile and dead very early"
)

func (r *Result) flockClaims(d *record.Dataset) []analysis.Claim {
	subject := analysis.Subject{Flock: d.Name}
	if len(r.Settings) == 0 {
		c := analysis.Claim{ID: "fertility.none", Subject: subject, Topic: "fertility", Stands: analysis.Open,
			Text:    "Cannot say anything of fertility because no dated setting of eggs is recorded.",
			Refusal: &analysis.Refusal{Needs: "settings of eggs", Next: "write date, male, hen, eggs set and clear ones of each setting"}, Method: method}
		return []analysis.Claim{c}
	}
	claims := []analysis.Claim{r.whole(subject)}
	if n := len(r.Years); n >= 2 {
		claims = append(claims, compareClaim("fertility.year/"+r.Years[n-1].Name, subject, "the flock", Compare(r.Years[n-2], r.Years[n-1])))
	}
	for _, p := range r.Pens {
		claims = append(claims, r.penClaims(p)...)
	}
	if r.Model != nil {
		claims = append(claims, r.modelClaims(subject)...)
	}
	if c, ok := r.lice(d, subject); ok {
		claims = append(claims, c)
	}
	if r.Left > 0 {
		claims = append(claims, analysis.Claim{ID: "fertility.left", Subject: subject, Topic: "fertility", Stands: analysis.Open, N: analysis.Counts{Records: r.Left},
			Text: fmt.Sprintf("%s left out: to be confirmed, without a date, or a hatch that fits no setting.", analysis.Counted(r.Left, "setting is", "settings are")), Method: method})
	}
	return claims
}

func (r *Result) whole(subject analysis.Subject) analysis.Claim {
	var all Tally
	for _, s := range r.Settings {
		all.add(s)
	}
	c := analysis.Claim{ID: "fertility.flock", Subject: subject, Topic: "fertility", Stands: analysis.Open, N: analysis.Counts{Records: len(r.Settings)},
		RestsOn: refs(r.Settings), Method: method, Source: "Wilson 1927", Caveats: []string{candle}}
	if all.Set == 0 {
		c.Text = fmt.Sprintf("Cannot say how many eggs were fertile in %s because eggs set and clear ones are not both written.", analysis.Counted(len(r.Settings), "setting", "settings"))
		c.Refusal = &analysis.Refusal{Needs: "eggs set and clear eggs of each setting", Next: "candle about a week after setting and write how many were clear"}
		return c
	}
	all.Share, _ = stat.Wilson(all.Fertile, all.Set, level)
	c.Text = fmt.Sprintf("In %s %d of %d eggs were fertile (%s)%s.", analysis.Counted(len(all.Settings), "setting", "settings"), all.Fertile, all.Set, span(all.Share), hatchText(all))
	c.Estimate = estimate(all.Share)
	return c
}

// hatchText adds how many of the fertile eggs hatched, where that is written.
func hatchText(t Tally) string {
	if t.HatchedOf == 0 {
		return ""
	}
	share, err := stat.Wilson(t.Hatched, t.HatchedOf, level)
	if err != nil {
		return ""
	}
	return fmt.Sprintf("; of %d fertile eggs whose hatch is written %d hatched (%s)", t.HatchedOf, t.Hatched, span(share))
}

func (r *Result) penClaims(p Tally) []analysis.Claim {
	years := map[string]*Tally{}
	var order []string
	for _, s := range p.Settings {
		y, _, _ := s.On.Middle().Date()
		key := fmt.Sprint(y)
		if years[key] == nil {
			years[key] = &Tally{Name: key}
			order = append(order, key)
		}
		years[key].add(s)
	}
	if len(order) < 2 {
		return nil
	}
	slices.Sort(order)
	before, after := years[order[len(order)-2]], years[order[len(order)-1]]
	return []analysis.Claim{compareClaim("fertility.pen/"+analysis.Slug(p.Name), analysis.Subject{Pen: p.Name}, "pen "+strings.TrimPrefix(strings.ToLower(p.Name), "pen "),
		Compare(*before, *after))}
}

// compareClaim is one sentence on two arms: counts always, "lower" or "higher" only where the interval excludes 0.
func compareClaim(id string, subject analysis.Subject, who string, c Comparison) analysis.Claim {
	out := analysis.Claim{ID: id, Subject: subject, Topic: "fertility", Stands: analysis.Open, Method: "difference of two shares, widened by the spread between settings",
		Source:  "Newcombe 1998; overdispersion McCullagh & Nelder 1989, 4.5.2",
		N:       analysis.Counts{Records: len(c.Before.Settings) + len(c.After.Settings), Years: 2},
		RestsOn: refs(slices.Concat(c.Before.Settings, c.After.Settings)), Caveats: []string{candle}}
	out.Text = fmt.Sprintf("%s: %s in %s, %s in %s", analysis.Capital(who), share(c.After), c.After.Name, share(c.Before), c.Before.Name)
	if c.Refusal != "" {
		out.Text += fmt.Sprintf(". Cannot say whether that is a change because %s.", c.Refusal)
		out.Refusal = &analysis.Refusal{Needs: fmt.Sprintf("%d eggs on each side, stored and candled alike", MinEggs), Next: more(c, who)}
		return out
	}
	out.Estimate = &analysis.Estimate{Value: 100 * c.Two.Value, Low: 100 * c.Two.Low, High: 100 * c.Two.High, Level: level, Unit: "percentage points"}
	switch {
	case !c.Differs():
		out.Text += fmt.Sprintf(": no difference that so many eggs can show (a fall from 90 to 70 %% would show %.0f times in 100).", 100*Power(0.9, 0.7, min(c.Before.Set, c.After.Set)))
	case c.Two.Value < 0:
		out.Text += ": lower."
		out.Stands = analysis.Against
	default:
		out.Text += ": higher."
		out.Stands = analysis.For
	}
	return out
}

func more(c Comparison, who string) string {
	if need := MinEggs - c.After.Set; need > 0 {
		return fmt.Sprintf("set %d more eggs of %s and candle them about a week later", need, who)
	}
	return fmt.Sprintf("set the next eggs of %s within %d days of laying, and break out the clear ones", who, StoredLong)
}

func (r *Result) modelClaims(subject analysis.Subject) []analysis.Claim {
	m := r.Model
	var claims []analysis.Claim
	base := analysis.Claim{Subject: subject, Topic: "fertility", Stands: analysis.Open, N: analysis.Counts{Records: len(m.Settings), Birds: len(m.Males) + m.Hens},
		RestsOn: refs(m.Settings), Method: fmt.Sprintf("mixed logistic model: male, storage, and intercepts of %d hens and each setting; Laplace", m.Hens),
		Source: "Breslow & Clayton 1993", Caveats: []string{candle}}
	for i, odds := range m.Odds {
		c := base
		c.ID = "fertility.model/" + m.Males[i+1]
		c.Estimate = &analysis.Estimate{Value: odds.Value, Low: odds.Low, High: odds.High, Level: level, Unit: "odds ratio"}
		c.Text = fmt.Sprintf("With hen and setting allowed for, the odds of a fertile egg from %s are %.2f times those from %s (%.2f to %.2f; %d eggs, %d hens)",
			r.label(m.Males[i+1]), odds.Value, r.label(m.Males[0]), odds.Low, odds.High, m.Eggs, m.Hens)
		if odds.Low <= 1 && odds.High >= 1 {
			c.Text += ": the two cannot be told apart."
		} else {
			c.Text += "."
		}
		claims = append(claims, c)
	}
	if s := m.PerDay; s.N > 0 {
		c := base
		c.ID = "fertility.storage"
		c.Estimate = &analysis.Estimate{Value: s.Value, Low: s.Low, High: s.High, Level: level, Unit: "odds ratio a day"}
		c.Text = fmt.Sprintf("Each day of storage goes with odds of a fertile egg %.2f times as high (%.2f to %.2f; %d eggs).", s.Value, s.Low, s.High, m.Eggs)
		claims = append(claims, c)
	}
	return claims
}

// MinLiceSettings of each kind are needed before settings with and without lice on their parents are set side by side.
// Source: ours; with fewer, one setting decides.
const (
	MinLiceSettings = 3
	liceDays        = 28
)

// lice sets the settings whose parents were seen with lice in the 4 weeks before beside those whose parents were looked at
// and had none. It names no cause.
func (r *Result) lice(d *record.Dataset, subject analysis.Subject) (analysis.Claim, bool) {
	var with, without Tally
	var cells []record.Ref
	for _, s := range r.Settings {
		looked, found := false, false
		for _, o := range d.Observations {
			if o.Trait != record.Parasite || o.Flagged || !louse(o.Parasite) || o.Bird == "" || !slices.Contains(s.Males, o.Bird) && !slices.Contains(s.Hens, o.Bird) {
				continue
			}
			if o.On.Known() && o.On.First <= s.On.First && o.On.First >= s.On.First-liceDays {
				looked, found = true, found || o.Value > 0 || o.Lo > 0
				cells = append(cells, o.At)
			}
		}
		switch {
		case found:
			with.add(s)
		case looked:
			without.add(s)
		}
	}
	if len(with.Settings) < MinLiceSettings || len(without.Settings) < MinLiceSettings || with.Set < MinEggs || without.Set < MinEggs {
		return analysis.Claim{}, false
	}
	at := append(refs(slices.Concat(with.Settings, without.Settings)), cells...)
	slices.SortFunc(at, record.Ref.Compare)
	return analysis.Claim{ID: "fertility.lice", Subject: subject, Topic: "fertility", Stands: analysis.Open,
		Text: fmt.Sprintf("Where lice were seen on parents in the 4 weeks before, %s; where parents were looked at and none seen, %s. That two things moved together says nothing of a cause: published trials disagree.",
			share(with), share(without)),
		N: analysis.Counts{Records: len(with.Settings) + len(without.Settings)}, RestsOn: slices.Compact(at), Method: "counts side by side",
		Source:  "Stockdale & Raun 1960 (no difference in fertility); a veterinary manual (males lose fertility under heavy loads)",
		Caveats: []string{candle, "season and age move both lice and fertility"}}, true
}

func louse(parasite string) bool {
	return slices.Contains([]string{record.Lice, record.BodyLouse, record.ShaftLouse, record.HeadLouse}, parasite)
}

func (r *Result) birdClaims(d *record.Dataset, birds []record.Bird) []analysis.Claim {
	var claims []analysis.Claim
	for _, b := range birds {
		for kind, list := range [][]Tally{r.Males, r.Hens} {
			if i := slices.IndexFunc(list, func(t Tally) bool { return t.Bird == b.ID }); i >= 0 {
				claims = append(claims, r.birdClaim(b, list[i], list, kind == 0)...)
			}
		}
		if c, ok := r.doubted(b); ok {
			claims = append(claims, c)
		}
	}
	return claims
}

// birdClaim says what the eggs of one male or hen show, and against the others of its kind only where that is fair.
func (r *Result) birdClaim(b record.Bird, t Tally, all []Tally, male bool) []analysis.Claim {
	kind, partner := "hen", "male"
	if male {
		kind, partner = "male", "hen"
	}
	c := analysis.Claim{ID: fmt.Sprintf("fertility.%s/%s", kind, b.ID), Subject: analysis.Subject{Bird: b.ID}, Topic: "fertility", Stands: analysis.Open,
		N: analysis.Counts{Records: len(t.Settings), Birds: 1 + len(t.Others)}, RestsOn: refs(t.Settings), Method: method, Source: "Wilson 1927", Caveats: []string{candle}}
	if t.Set == 0 {
		c.Text = fmt.Sprintf("Cannot say how many eggs of %s were fertile because eggs set and clear ones are not both written (%s).", b.Label(), analysis.Counted(len(t.Settings), "setting", "settings"))
		c.Refusal = &analysis.Refusal{Needs: "eggs set and clear eggs", Next: "candle the next setting of " + b.Label() + " and write how many were clear"}
		return []analysis.Claim{c}
	}
	c.Text = fmt.Sprintf("%s: %s in %s with %s%s.", b.Label(), share(t), analysis.Counted(len(t.Settings), "setting", "settings"), analysis.Counted(len(t.Others), partner, partner+"s"), hatchText(t))
	c.Estimate = estimate(t.Share)
	if t.Shrunken.Level > 0 {
		c.Text += fmt.Sprintf(" Drawn towards the other %ss of the flock, the next eggs are about %.0f %% fertile (%s).", kind, 100*t.Shrunken.Value, span(t.Shrunken))
		c.Source += "; Gelman et al. 2013, section 5.3"
	}
	rest := Tally{Name: "the others"}
	for _, o := range all {
		if o.Bird != t.Bird {
			for _, s := range o.Settings {
				rest.add(s)
			}
		}
	}
	next := ""
	switch {
	case male && len(t.Others) < 2:
		next = fmt.Sprintf("put %s to other hens, or its hen to another male, and set %d eggs", b.Label(), MinEggs)
		c.Text += fmt.Sprintf(" With %s only, male and hen cannot be told apart.", analysis.Counted(len(t.Others), partner, partner+"s"))
		c.Refusal = &analysis.Refusal{Needs: "eggs with two or more hens", Next: next}
	case t.Set < MinEggs:
		next = fmt.Sprintf("set %d more eggs of %s and candle them about a week later", MinEggs-t.Set, b.Label())
		c.Refusal = &analysis.Refusal{Needs: fmt.Sprintf("%d eggs", MinEggs), Next: next}
	case rest.Set > 0:
		if cmp := Compare(rest, t); cmp.Refusal != "" {
			c.Caveats = append(c.Caveats, "not compared with the others: "+cmp.Refusal)
		} else if cmp.Differs() {
			c.Stands = analysis.For
			way := "higher"
			if cmp.Two.Value < 0 {
				c.Stands, way = analysis.Against, "lower"
			}
			c.Text += fmt.Sprintf(" That is %s than the other %ss of the flock (%s).", way, kind, share(rest))
		}
	}
	return []analysis.Claim{c}
}

// doubted lists the settings of a male that are left out because another may be the father.
func (r *Result) doubted(b record.Bird) (analysis.Claim, bool) {
	var list []Setting
	var why []string
	for _, s := range r.Settings {
		if !slices.Contains(s.Males, b.ID) || s.Known && len(s.Doubts) == 0 {
			continue
		}
		list = append(list, s)
		for _, d := range s.Doubts {
			if !slices.Contains(why, d) {
				why = append(why, d)
			}
		}
	}
	if len(list) == 0 {
		return analysis.Claim{}, false
	}
	return analysis.Claim{ID: "fertility.doubted/" + b.ID, Subject: analysis.Subject{Bird: b.ID}, Topic: "fertility", Stands: analysis.Open,
		Text: fmt.Sprintf("%s not counted for %s: %s.", analysis.Counted(len(list), "setting is", "settings are"), b.Label(), strings.Join(why, "; ")),
		N:    analysis.Counts{Records: len(list)}, RestsOn: refs(list), Method: method, Source: "Mississippi State University Extension: fertile eggs up to about 3 weeks after a male leaves",
		Refusal: &analysis.Refusal{Needs: "a sure father", Next: fmt.Sprintf("keep %s alone with the hens for %d days before the next eggs are set", b.Label(), PurgeDays)}}, true
}

func (r *Result) label(id string) string {
	if l := r.labels[id]; l != "" {
		return l
	}
	return id
}

// Power is the chance that a fall of the fertile share from p to q would show, by Fisher's exact test at 5 %, with n eggs
// on each side. Eggs of one hen are not independent: the truth is lower.
//
// Source: enumeration of both binomials; Fisher 1935.
func Power(p, q float64, n int) float64 {
	if n < 1 {
		return 0
	}
	first, second := binomial(n, p), binomial(n, q)
	var power float64
	for x := range first {
		for y := range second {
			if w := first[x] * second[y]; w > 1e-9 {
				if t, err := stat.TwoShares(x, n, y, n, level); err == nil && t.Exact <= 0.05 {
					power += w
				}
			}
		}
	}
	return power
}

// binomial is the distribution of successes in n trials with the chance p.
func binomial(n int, p float64) []float64 {
	out := make([]float64, n+1)
	for k := range out {
		a, _ := math.Lgamma(float64(n + 1))
		b, _ := math.Lgamma(float64(k + 1))
		c, _ := math.Lgamma(float64(n - k + 1))
		out[k] = math.Exp(a - b - c + float64(k)*math.Log(p) + float64(n-k)*math.Log1p(-p))
	}
	return out
}

func share(t Tally) string {
	if t.Set == 0 {
		return "no counted eggs"
	}
	s, err := stat.Wilson(t.Fertile, t.Set, level)
	if err != nil {
		return "no counted eggs"
	}
	return fmt.Sprintf("%d of %d eggs fertile (%s)", t.Fertile, t.Set, span(s))
}

func span(s stat.Interval) string { return fmt.Sprintf("%.0f-%.0f %%", 100*s.Low, 100*s.High) }

func estimate(s stat.Interval) *analysis.Estimate {
	return &analysis.Estimate{Value: 100 * s.Value, Low: 100 * s.Low, High: 100 * s.High, Level: level, Unit: "%"}
}

func refs(settings []Setting) []record.Ref {
	var out []record.Ref
	for _, s := range settings {
		out = append(out, s.At...)
	}
	slices.SortFunc(out, record.Ref.Compare)
	return slices.Compact(out)
}
