package parasite

import (
	"fmt"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// UnknownWithdrawal is printed where the keeper entered no withdrawal time.
const UnknownWithdrawal = "unknown - do not assume none"

// Course is one treatment as the keeper wrote it, with the birds it covered and the days that the life cycle
// gives for a second one.
type Course struct {
	Event   record.Event
	Product string   // as typed; "product not written" where empty
	Against string   // one of record's parasites, else as typed ("worms"), or "" where the records do not say
	Birds   []string // IDs covered and still present at the time
	// Again is the first and last day of LifeCycle.Again after this treatment; zero Days where none is known.
	Again      [2]record.Day
	Withdrawal string // as entered, or UnknownWithdrawal
}

// Courses lists the treatments up to today, oldest first, and the cells of those without a date, which are left out.
func Courses(d *record.Dataset, today record.Day) (dated []Course, undated []record.Ref) {
	here := analysis.PresenceOf(d)
	for _, e := range d.Events {
		if e.Kind != record.Treated || e.Treatment == nil {
			continue
		}
		if !e.On.Known() {
			undated = append(undated, e.At)
			continue
		}
		if e.On.First > today {
			continue
		}
		c := Course{Event: e, Product: e.Treatment.Product, Against: parasiteIn(e.Treatment.Against, e.Treatment.Product)}
		if c.Against == "" {
			c.Against = strings.TrimSpace(e.Treatment.Against)
		}
		if c.Product == "" {
			c.Product = "product not written"
		}
		c.Withdrawal = withdrawal(e.Treatment.Withdrawal)
		if cycle, ok := LifeCycleOf(c.Against); ok && cycle.Again != (Days{}) {
			c.Again = [2]record.Day{e.On.First + record.Day(cycle.Again.Low), e.On.Last + record.Day(cycle.Again.High)}
		}
		for _, b := range d.Birds {
			if covers(e, b) && here.There(b, e.On.First) {
				c.Birds = append(c.Birds, b.ID)
			}
		}
		dated = append(dated, c)
	}
	slices.SortStableFunc(dated, func(a, b Course) int { return int(a.Event.On.First) - int(b.Event.On.First) })
	return dated, undated
}

// withdrawal is the entry as typed: "nil" and "0" are the keeper's word. Nothing entered, and signs that say nothing, are
// unknown.
func withdrawal(typed string) string {
	typed = strings.TrimSpace(typed)
	switch strings.ToLower(typed) {
	case "":
		return UnknownWithdrawal
	case "?", "-", "–", "n/a", "na", "not known", "unknown", "don't know", "tbc", "see label", "as label":
		return fmt.Sprintf("%s (%s)", typed, UnknownWithdrawal)
	}
	return typed
}

func covers(e record.Event, b record.Bird) bool {
	switch e.Scope {
	case record.WholeFlock:
		return true
	case record.WholePen:
		return e.Pen != "" && e.Pen == b.Pen
	}
	return e.Bird != "" && e.Bird == b.ID
}

// parasiteIn finds the parasite that a treatment names, in what it was against or in its own words.
func parasiteIn(texts ...string) string {
	for _, text := range texts {
		text = strings.ToLower(text)
		for _, k := range []struct{ word, parasite string }{
			{"scaly", record.ScalyLegMite}, {"red mite", record.RedMite}, {"northern", record.NorthernFowlMite},
			{"fowl mite", record.NorthernFowlMite}, {"nfm", record.NorthernFowlMite}, {"shaft lous", record.ShaftLouse},
			{"head lous", record.HeadLouse}, {"head lice", record.HeadLouse}, {"body lous", record.BodyLouse},
			{"body lice", record.BodyLouse}, {"lice", record.Lice}, {"louse", record.Lice}, {"mite", record.Mites},
		} {
			if strings.Contains(text, k.word) {
				return k.parasite
			}
		}
	}
	return ""
}

// covered is a treatment with all birds and cells that one claim speaks of.
type covered struct {
	Course
	at      []record.Ref
	number  int  // among the courses, from 1
	earlier bool // rows of single birds, each of which was treated again since
}

// together joins earlier treatments of single birds that were written on one day with the same entries.
func (r *Result) together() []covered {
	type entry struct {
		on                           record.Date
		product, against, withdrawal string
	}
	index := map[entry]int{}
	last := map[string]record.Ref{}
	for _, c := range r.Courses {
		for _, b := range c.Birds {
			last[b] = c.Event.At
		}
	}
	var out []covered
	for n, c := range r.Courses {
		one := covered{Course: c, at: []record.Ref{c.Event.At}, number: n + 1}
		if now, ok := last[c.Event.Bird]; c.Event.Scope != record.OneBird || !ok || now == c.Event.At {
			out = append(out, one)
			continue
		}
		k := entry{c.Event.On, strings.ToLower(c.Product), c.Against, c.Withdrawal}
		i, ok := index[k]
		if !ok {
			index[k] = len(out)
			one.earlier, one.Birds = true, slices.Clone(c.Birds)
			out = append(out, one)
			continue
		}
		out[i].at = append(out[i].at, c.Event.At)
		for _, b := range c.Birds {
			if !slices.Contains(out[i].Birds, b) {
				out[i].Birds = append(out[i].Birds, b)
			}
		}
	}
	return out
}

// claim is the sentence on one treatment. It states what was entered and, while they are ahead, the days that the
// life cycle gives for a second one.
func (c covered) claim(subject analysis.Subject, looks []Look, today record.Day) analysis.Claim {
	against := Plural(c.Against)
	if against == "" {
		against = "parasites"
	}
	entered := "Withdrawal as entered: " + c.Withdrawal
	if c.Withdrawal == UnknownWithdrawal {
		entered = "Withdrawal: " + UnknownWithdrawal
	}
	who := ""
	if c.earlier {
		who = " (" + analysis.Counted(len(c.Birds), "bird") + ", treated again since)"
	} else if len(c.Birds) > 1 {
		who = " (" + analysis.Counted(len(c.Birds), "bird") + ")"
	}
	text := fmt.Sprintf("Treated on %s%s: %s. %s.", c.Event.On, who, c.Product, entered)
	claim := analysis.Claim{
		ID: fmt.Sprintf("parasite.treatment/%s-%d", c.Event.On, c.number), Subject: subject, Topic: "treatments", Stands: analysis.Open,
		N: analysis.Counts{Records: len(c.at), Birds: len(c.Birds)}, RestsOn: c.at,
		Method: "as entered; no product, dose or withdrawal time is added",
	}
	if c.Again[1] >= today { // a window that has passed is of no use any more
		cycle, _ := LifeCycleOf(c.Against)
		text += fmt.Sprintf(" By the published life cycle of %s, what has hatched since would be reached on %s to %s (%s).",
			against, c.Again[0], c.Again[1], cycle.AgainReason)
		claim.Source = cycle.Source
	}
	claim.Text = text
	if !c.seen() {
		return claim
	}
	from, to := c.Event.On.First+VerifyFrom, c.Event.On.Last+VerifyTo
	covers := map[string]bool{}
	for _, b := range c.Birds {
		covers[b] = true
	}
	var after []Look
	for _, l := range looks {
		if l.On.Last >= from && l.On.First <= to && covers[l.Bird] {
			after = append(after, l)
		}
	}
	claim.RestsOn = append(slices.Clone(c.at), refs(after)...)
	slices.SortFunc(claim.RestsOn, record.Ref.Compare)
	claim.RestsOn = slices.Compact(claim.RestsOn)
	if len(after) > 0 {
		text += fmt.Sprintf(" Looks between %s and %s are recorded.", from, to)
	} else {
		text += fmt.Sprintf(" No look between %s and %s is recorded, so the records cannot say what it did.", from, to)
		if today <= to {
			claim.Refusal = &analysis.Refusal{Needs: "a look two to four weeks after the treatment",
				Next: fmt.Sprintf("look at the treated birds between %s and %s", max(from, today), to)}
		} else {
			claim.Refusal = &analysis.Refusal{Needs: "a look two to four weeks after the treatment", Next: "look at the treated birds now"}
		}
	}
	claim.Text = text
	return claim
}

// seen reports whether looks at the birds could tell what the treatment did: it was against something that lives on
// birds, or the records do not say.
func (c Course) seen() bool {
	cycle, known := LifeCycleOf(c.Against)
	return c.Against == "" || c.Against == record.Mites || known && cycle.OnBird
}

// Cautions stand beside every treatment in a report.
//
// Source: named in each; no dose, product or withdrawal time is ours.
func Cautions() []analysis.Caution {
	return []analysis.Caution{
		{Topic: "Treating parasites", Text: "Follow the label. Work in the open air or where air moves, with mask and gloves; keep the product from the " +
			"birds' eyes, nostrils and mouths, and from feed, eggs, water, bees and fish; wash your hands afterwards. Some mites and lice no longer " +
			"respond to products that used to work: where live ones remain, ask a vet.",
			Source: "extension texts; Mullens et al. 2004 (resistance in fowl mites)"},
		{Topic: "Withdrawal", Text: "Eggs and meat wait until the end that the label or the vet gives. Where nothing was entered it is " + UnknownWithdrawal +
			". A time given for meat does not hold for eggs.", Source: "common practice; label and vet decide"},
	}
}
