package decision

import (
	"fmt"
	"math"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/standard"
	"keelmark/ingest/record"
)

// Tables are one line a bird, the next looks, the doubts about cells, and the published rows in use.
func (r *Result) Tables() []analysis.Table {
	return []analysis.Table{r.sheetTable(), r.nextTable(), r.doubtTable(), r.standardTable()}
}

// sheetTable is the view of the flock: one line a bird.
func (r *Result) sheetTable() analysis.Table {
	t := analysis.Table{Name: "sheet", Caption: fmt.Sprintf("One line a bird, for %s", r.On), Columns: []analysis.Column{
		{Name: "bird", Head: "bird", Doc: "key of the bird"},
		{Name: "ring", Head: "ring", Doc: "ring as written"},
		{Name: "name", Head: "name"},
		{Name: "breed", Head: "breed", Doc: "breed, variety and size"},
		{Name: "class", Head: "class", Doc: "class on the day; two where the records or a birthday leave both open"},
		{Name: "age_w", Head: "age on the day", Unit: "weeks"},
		{Name: "weight_g", Head: "last weight", Unit: "g"},
		{Name: "weighed_on", Head: "weighed"},
		{Name: "show_low_g", Head: "on the day, from", Unit: "g", Doc: "90 % range of a weighing on the day"},
		{Name: "show_g", Head: "on the day", Unit: "g"},
		{Name: "show_high_g", Head: "on the day, to", Unit: "g"},
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
		row := make([]any, len(t.Columns))
		row[0], row[1], row[2], row[3] = s.Bird.ID, s.Bird.Ring, s.Bird.Name, breedText(s.Bird)
		row[4] = classText(s.Places)
		if h := s.Bird.Hatched; h.Known() && h.Last-h.First <= 31 && r.On > h.First {
			row[5] = int(r.On-h.Middle()) / 7
		}
		if s.Rests != nil && s.Rests.Weighed {
			row[6], row[7] = s.Rests.Last.Value, s.Rests.Last.On.String()
		}
		if a := s.Ahead; a != nil && a.Refusal == nil {
			row[8], row[9], row[10] = a.Weight.Low, a.Weight.Value, a.Weight.High
		}
		row[11], row[12] = r.writtenText(s), chanceText(s)
		row[13], row[14] = lookText(s), withdrawalText(s)
		row[15], row[16] = brief(s.Side(analysis.For)), brief(s.Side(analysis.Against))
		row[17], row[18], row[19] = len(s.Side(analysis.For)), len(s.Side(analysis.Against)), len(s.Side(analysis.Open))
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
		texts = append(texts, p.Band.Text(r.Units))
	}
	return strings.Join(texts, " or ")
}

func chanceText(s Sheet) string {
	if s.Ahead == nil || s.Ahead.Refusal != nil {
		return ""
	}
	var texts []string
	for i, p := range s.Ahead.Places {
		if p.OnTheDay && i < len(s.Ahead.Chance) && !math.IsNaN(s.Ahead.Chance[i]) {
			texts = append(texts, standard.Percent(s.Ahead.Chance[i]))
		}
	}
	return strings.Join(texts, " or ")
}

func lookText(s Sheet) string {
	if !s.Looked {
		return "no look recorded"
	}
	return fmt.Sprintf("%s, %s", s.Look.Finding, s.Look.On)
}

func withdrawalText(s Sheet) string {
	if !s.Treated {
		return ""
	}
	return s.Course.Withdrawal
}

// brief is the weightiest claim in a few words: its topic, and its number where it has one.
func brief(claims []analysis.Claim) string {
	if len(claims) == 0 {
		return ""
	}
	more := ""
	if n := len(claims) - 1; n > 0 {
		more = fmt.Sprintf(" (+%d)", n)
	}
	return topicText(claims[0]) + more
}

func topicText(c analysis.Claim) string {
	switch analysisOf(c) {
	case "forecast":
		return "chance of weight on the day"
	case "standard":
		return "last weight in its range"
	case "parasite":
		if c.Stands == analysis.For {
			return "none seen at last look"
		}
		return "found at last look"
	}
	return c.Topic
}

// analysisOf is the first part of a claim's ID: "forecast.band/R12" is of "forecast".
func analysisOf(c analysis.Claim) string {
	name, _, _ := strings.Cut(c.ID, ".")
	return name
}

func (r *Result) nextTable() analysis.Table {
	t := analysis.Table{Name: "next", Caption: "The cheapest next looks", Columns: []analysis.Column{
		{Name: "bird", Head: "bird"}, {Name: "next", Head: "next look"},
	}}
	for _, s := range r.Sheets {
		for _, n := range s.Next {
			t.Rows = append(t.Rows, []any{s.Bird.Label(), n})
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
			for _, o := range p.Choice.Others {
				if w := o.Weights[p.Class]; w.Published() {
					others = append(others, fmt.Sprintf("%s %s (%s)", w.Printed, o.Unit, standard.RowName(o)))
				}
			}
			t.Rows = append(t.Rows, []any{l.breed, l.class, p.Band.Printed.Printed + " " + p.Choice.Chosen.Unit, l.rule, l.source, strings.Join(others, "; ")})
		}
	}
	return t
}
