package decision

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/parasite"
	"keelmark/analysis/standard"
	"keelmark/ingest/record"
)

// Tables are one line a bird, the looks of the coming week, what refusals ask for next, the courses that are open to the keeper,
// what has expired and is missing, where birds could stand, what was muted, what was looked for and treated, the doubts about cells, and the published rows in use.
func (r *Result) Tables() []analysis.Table { return r.tables }

func (r *Result) makeTables() []analysis.Table {
	return []analysis.Table{r.sheetTable(), r.weekTable(), r.nextTable(), r.coursesTable(), r.lapsedTable(), r.rankTable(), r.mutedTable(), r.looksTable(), r.doubtTable(), r.standardTable()}
}

// sheetTable is the view of the flock: one line a bird.
func (r *Result) sheetTable() analysis.Table {
	t := analysis.Table{Name: "sheet", Caption: fmt.Sprintf("One line a bird, for %s", r.On), Columns: []analysis.Column{
		{Name: "bird", Head: "bird", Doc: "key of the bird"},
		{Name: "ring", Head: "ring", Doc: "ring as written"},
		{Name: "name", Head: "name"},
		{Name: "also", Head: "also written", Doc: "other spellings that were taken for this bird"},
		{Name: "breed", Head: "breed", Doc: "breed, variety and size"},
		{Name: "class", Head: "class", Doc: "class on the day; two where the records or a birthday leave both open"},
		{Name: "age_w", Head: "age on the day", Unit: "weeks"},
		{Name: "weight_g", Head: "last weight", Unit: "g"},
		{Name: "weighed_on", Head: "weighed"},
		{Name: "show_low_g", Head: "on the day, from", Unit: "g", Doc: "90 % range of a weighing on the day"},
		{Name: "show_g", Head: "on the day", Unit: "g"},
		{Name: "show_high_g", Head: "on the day, to", Unit: "g"},
		{Name: "on_the_day", Head: "weight on the day", Doc: "90 % range in the keeper's units"},
		{Name: "last", Head: "last weighing", Doc: "in the keeper's units, with its date and percent of the listed weight"},
		{Name: "written", Head: "written for the class", Doc: "the published figure with its rule"},
		{Name: "chance", Head: "chance inside", Doc: "of a weighing on the day"},
		{Name: "look", Head: "lice and mites, last look"},
		{Name: "withdrawal", Head: "withdrawal of the last treatment, as entered"},
		{Name: "speaks_for", Head: "speaks for"},
		{Name: "speaks_against", Head: "speaks against"},
		{Name: "n_for", Head: "for", Doc: "number of claims"},
		{Name: "n_against", Head: "against", Doc: "number of claims"},
		{Name: "n_open", Head: "open", Doc: "number of claims"},
	}}
	for _, s := range r.Sheets {
		var age, weight, weighed, low, on, high any
		if h := s.Bird.Hatched; h.Known() && h.Last-h.First <= 31 && r.On > h.First {
			age = int(r.On-h.Middle()) / 7
		}
		if s.Rests != nil && s.Rests.Weighed {
			weight, weighed = s.Rests.Last.Value, s.Rests.Last.On.String()
		}
		if a := s.Ahead; a != nil && a.Refusal == nil {
			low, on, high = a.Weight.Low, a.Weight.Value, a.Weight.High
		}
		row := []any{s.Bird.ID, s.Bird.Ring, s.Bird.Name, strings.Join(s.Bird.Aliases, ", "), breedText(s.Bird), classText(s.Places), age, weight, weighed, low, on, high,
			r.onTheDay(s), r.lastText(s), r.writtenText(s), chanceText(s), r.lookText(s), withdrawalText(s),
			brief(s.Side(analysis.For)), brief(s.Side(analysis.Against)),
			len(s.Side(analysis.For)), len(s.Side(analysis.Against)), len(s.Side(analysis.Open))}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func breedText(b record.Bird) string {
	return strings.Join(strings.Fields(b.Breed+" "+b.Variety+" "+string(b.Size)), " ")
}

// classText names the classes on the day; a class held only until then does not count.
func classText(places []standard.Place) string {
	var names []string
	for _, p := range places {
		if p.OnTheDay {
			names = append(names, string(p.Class))
		}
	}
	if len(names) == 0 {
		return "not known"
	}
	return strings.Join(names, " or ")
}

func (r *Result) onTheDay(s Sheet) string {
	if s.Ahead == nil || s.Ahead.Refusal != nil {
		return "no forecast"
	}
	return r.Units.AboutRange(s.Ahead.Weight.Low, s.Ahead.Weight.High)
}

func (r *Result) lastText(s Sheet) string {
	if s.Rests == nil || !s.Rests.Weighed {
		return ""
	}
	text := fmt.Sprintf("%s on %s", r.Units.Weight(s.Rests.Last.Value), s.Rests.Last.On)
	for i, p := range s.Places {
		if p.OnTheDay && i < len(s.Rests.Percent) && !math.IsNaN(s.Rests.Percent[i].Value) {
			return text + fmt.Sprintf(", %.0f %% of the listed weight", s.Rests.Percent[i].Value)
		}
	}
	return text
}

func (r *Result) writtenText(s Sheet) string {
	var texts []string
	for _, p := range s.Places {
		if !p.OnTheDay {
			continue
		}
		if p.Refusal != nil {
			texts = append(texts, "none published")
			continue
		}
		text := p.Band.Text(r.Units)
		if !p.Band.Stated() {
			text += ", tolerance not stated"
		}
		texts = append(texts, text)
	}
	return strings.Join(texts, " or ")
}

func chanceText(s Sheet) string {
	shorter := strings.NewReplacer("more than ", "> ", "less than ", "< ")
	if s.Ahead == nil || s.Ahead.Refusal != nil {
		return ""
	}
	var texts []string
	for i, p := range s.Ahead.Places {
		if p.OnTheDay && i < len(s.Ahead.Chance) && !math.IsNaN(s.Ahead.Chance[i]) {
			texts = append(texts, shorter.Replace(standard.Percent(s.Ahead.Chance[i])))
		}
	}
	return strings.Join(texts, " or ")
}

// lookText says what the looks of the last day found: "no lice or mites seen, 2025-11-22".
func (r *Result) lookText(s Sheet) string {
	if !s.Looked {
		return "no look recorded"
	}
	var found findings
	for _, h := range r.Parasites.Histories {
		if h.Bird.ID == s.Bird.ID && h.Last != nil && h.Last.On == s.Look.On {
			found.add(h.Parasite, h.Last.Finding)
		}
	}
	return strings.Join(found.texts(), ", ") + ", " + s.Look.On.String()
}

// findings are parasites by what a look for them found.
type findings [3][]string

func (f *findings) add(name string, what parasite.Finding) {
	if !slices.Contains(f[what], name) {
		f[what] = append(f[what], name)
	}
}

// texts are "mites found", "no lice seen", what was found first.
func (f findings) texts() []string {
	var out []string
	if names := f[parasite.Found]; len(names) > 0 {
		out = append(out, listed(names)+" found")
	}
	if names := f[parasite.Unclear]; len(names) > 0 {
		out = append(out, listed(names)+" unclear")
	}
	if names := f[parasite.NoneFound]; len(names) > 0 {
		n := len(names) - 1
		text := names[n]
		if n > 0 {
			text = strings.Join(names[:n], ", ") + " or " + text
		}
		out = append(out, "no "+text+" seen")
	}
	return out
}

func withdrawalText(s Sheet) string {
	if !s.Treated {
		return ""
	}
	return s.Course.Event.On.String() + ": " + s.Course.Withdrawal
}

// brief names what the claims of one side are about, each once: "weight, no lice or mites seen".
func brief(claims []analysis.Claim) string {
	var topics []string
	var found findings
	for _, c := range claims {
		if name, of := strings.CutPrefix(c.ID, "parasite.last/"+c.Subject.Bird+"/"); of {
			what := parasite.Found
			if c.Stands == analysis.For {
				what = parasite.NoneFound
			}
			found.add(strings.ReplaceAll(name, "-", " "), what)
		} else if !slices.Contains(topics, c.Topic) {
			topics = append(topics, c.Topic)
		}
	}
	return strings.Join(append(topics, found.texts()...), ", ")
}

// nextTable has one line a sentence, with all the birds that it is about.
func (r *Result) nextTable() analysis.Table {
	t := analysis.Table{Name: "next", Caption: "The cheapest next looks", Columns: []analysis.Column{
		{Name: "n", Head: "birds", Doc: "how many birds it is about"}, {Name: "next", Head: "next look"},
	}}
	for _, n := range r.NextLooks() {
		t.Rows = append(t.Rows, []any{len(n.Birds), n.Text})
	}
	return t
}

// coursesTable lists what is open to the keeper, what can be undone first.
func (r *Result) coursesTable() analysis.Table {
	t := analysis.Table{Name: "courses", Caption: "What is open to you: what can be undone stands first", Columns: []analysis.Column{{Name: "course", Head: "course"}}}
	if len(r.Sheets) == 0 {
		return t
	}
	for _, c := range r.Courses {
		t.Rows = append(t.Rows, []any{c})
	}
	return t
}

// looksTable is what happened to each bird in looks and treatments, one row a day, the latest first.
func (r *Result) looksTable() analysis.Table {
	t := analysis.Table{Name: "looks", Caption: "Looks and treatments, the latest first", Columns: []analysis.Column{
		{Name: "id", Head: "key"}, {Name: "on", Head: "date"}, {Name: "what", Head: "looked for, found, treated"},
	}}
	histories := map[string][]parasite.History{}
	for _, h := range r.Parasites.Histories {
		histories[h.Bird.ID] = append(histories[h.Bird.ID], h)
	}
	for _, s := range r.Sheets {
		type entry struct {
			on   record.Date
			what []string
		}
		var days []entry
		at := map[record.Date]int{}
		add := func(on record.Date, what string) {
			i, ok := at[on]
			if !ok {
				i, at[on] = len(days), len(days)
				days = append(days, entry{on, nil})
			}
			days[i].what = append(days[i].what, what)
		}
		for _, h := range histories[s.Bird.ID] {
			for _, l := range h.Looks {
				if l.Finding == parasite.NoneFound {
					add(l.On, h.Parasite+": none")
				} else {
					add(l.On, fmt.Sprintf("%s: %s (%s)", h.Parasite, l.Finding, l.Text))
				}
			}
		}
		for _, c := range r.Parasites.Courses {
			if slices.Contains(c.Birds, s.Bird.ID) {
				add(c.Event.On, "treated: "+c.Product)
			}
		}
		slices.SortStableFunc(days, func(a, b entry) int { return int(b.on.First) - int(a.on.First) })
		for _, e := range days {
			t.Rows = append(t.Rows, []any{s.Bird.ID, e.on.String(), strings.Join(e.what, ", ")})
		}
	}
	return t
}

func (r *Result) doubtTable() analysis.Table {
	t := analysis.Table{Name: "doubts", Caption: "Cells of these birds that are not settled", Columns: []analysis.Column{
		{Name: "id", Head: "key"}, {Name: "bird", Head: "bird"}, {Name: "cell", Head: "cell"}, {Name: "doubt", Head: "doubt"},
	}}
	for _, s := range r.Sheets {
		for _, d := range s.Doubts {
			t.Rows = append(t.Rows, []any{s.Bird.ID, s.Bird.Label(), d.At.Key(), d.Text})
		}
	}
	return t
}

// standardTable lists each published row in use once, with those that disagree.
func (r *Result) standardTable() analysis.Table {
	t := analysis.Table{Name: "standards", Caption: "Published weights in use, and others that were found", Columns: []analysis.Column{
		{Name: "breed", Head: "breed"}, {Name: "class", Head: "class"}, {Name: "written", Head: "written"}, {Name: "rule", Head: "rule"},
		{Name: "source", Head: "standard, edition and source"}, {Name: "others", Head: "other sources print"},
	}}
	type line struct{ breed, class, rule, source string }
	seen := map[line]bool{}
	for _, s := range r.Sheets {
		for _, p := range s.Places {
			if p.Refusal != nil {
				continue
			}
			l := line{p.Choice.Chosen.Breed + " " + p.Choice.Chosen.SizeText, string(p.Class), p.Band.Rule, p.Band.Origin()}
			if seen[l] {
				continue
			}
			seen[l] = true
			var others []string
			for _, o := range p.Choice.Differing(p.Class) {
				others = append(others, fmt.Sprintf("%s %s (%s)", o.Weights[p.Class].Printed, o.Unit, standard.RowName(o)))
			}
			t.Rows = append(t.Rows, []any{l.breed, l.class, p.Band.Printed.Printed + " " + p.Choice.Chosen.Unit, l.rule, l.source, strings.Join(others, "; ")})
		}
	}
	return t
}
