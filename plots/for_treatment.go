package plots

import (
	"fmt"
	"keelmark/analysis"
	"math"
	"slices"

	"keelmark/analysis/parasite"
	"keelmark/analysis/treatment"
)

// stateBirds is how many birds one figure of states shows.
const stateBirds = 30

// treatmentFigures draws, for each parasite, the birds through time and the returns after each product.
func treatmentFigures(r *treatment.Result) []Figure {
	var out []Figure
	for _, j := range r.Parasites {
		out = append(out, stateFigures(r, j)...)
		for i, t := range j.Returns {
			if f, ok := returnFigure(j.Parasite, t); ok {
				f.Name = fmt.Sprintf("returns-%s-%d", j.Parasite, i+1)
				out = append(out, f)
			}
		}
	}
	return out
}

// stateRow lays one bird out on a time axis.
func stateRow(l treatment.Timeline, zero float64) StateRow {
	row := StateRow{Label: l.Bird.Label(), From: max(0, float64(l.From)-zero), To: max(0, float64(l.To)-zero)}
	for _, k := range l.Looks {
		row.Looks = append(row.Looks, StateLook{Day: float64(k.On.First) - zero, Found: k.Finding == parasite.Found})
	}
	for _, d := range l.Treated {
		if float64(d) >= zero {
			row.Treated = append(row.Treated, float64(d)-zero)
		}
	}
	for i, d := range l.ChanceOn {
		row.Chance = append(row.Chance, StateStep{Day: float64(d) - zero, Chance: l.Chance[i]})
	}
	return row
}

func stateFigures(r *treatment.Result, j treatment.Judged) []Figure {
	var lines []treatment.Timeline
	for _, l := range j.Timelines {
		if len(l.Looks) > 0 || len(l.Treated) > 0 {
			lines = append(lines, l)
		}
	}
	if len(lines) == 0 {
		return nil
	}
	zero := lines[0].From
	for _, l := range lines {
		zero = min(zero, l.From)
	}
	slices.SortStableFunc(lines, func(a, b treatment.Timeline) int { // birds of a pen stand together
		if a.Bird.Pen != b.Bird.Pen {
			if a.Bird.Pen < b.Bird.Pen {
				return -1
			}
			return 1
		}
		return 0
	})
	var out []Figure
	for part := range slices.Chunk(lines, stateBirds) {
		s := States{Zero: zero.String(), Days: max(14, float64(r.Today-zero))}
		looks, found, treated := 0, 0, 0
		for _, l := range part {
			row := stateRow(l, float64(zero))
			if l.Bird.Pen != "" {
				row.Label = l.Bird.Pen + " · " + row.Label
			}
			looks += len(l.Looks)
			treated += len(l.Treated)
			for _, k := range row.Looks {
				if k.Found {
					found++
				}
			}
			s.Rows = append(s.Rows, row)
		}
		name := "states-" + j.Parasite
		if len(out) > 0 {
			name = fmt.Sprintf("states-%s-from-%d", j.Parasite, 1+stateBirds*len(out))
		}
		caption := fmt.Sprintf("%s, %s, %s. Between looks nobody knows; the shade is the chance from looks up to that day.", analysis.Capital(analysis.Counted(len(part), "bird")), analysis.Counted(looks, "look"), analysis.Counted(treated, "treatment"))
		if j.Carriers.Model == nil {
			caption = fmt.Sprintf("%s, %s, %s. Between looks nobody knows.", analysis.Capital(analysis.Counted(len(part), "bird")), analysis.Counted(looks, "look"), analysis.Counted(treated, "treatment"))
		}
		out = append(out, Figure{Name: name, Title: analysis.Capital(j.Parasite) + ", bird by bird",
			Caption: caption, Alt: fmt.Sprintf("%s: found in %d of %s at %s.", analysis.Capital(j.Parasite), found, analysis.Counted(looks, "look"), analysis.Counted(len(part), "bird")),
			Width: pageWidth, Height: s.HeightFor(len(s.Rows)), Panel: s})
	}
	return out
}

// stateFigure is the row of one bird by itself.
func stateFigure(r *treatment.Result, bird string) []Figure {
	var out []Figure
	for _, j := range r.Parasites {
		for _, l := range j.Timelines {
			if l.Bird.ID != bird || len(l.Looks) == 0 {
				continue
			}
			zero := l.From
			s := States{Zero: zero.String(), Days: max(14, float64(r.Today-zero)), Rows: []StateRow{stateRow(l, float64(zero))}}
			out = append(out, Figure{Name: "states-" + j.Parasite + "-" + bird, Title: analysis.Capital(j.Parasite) + " on " + l.Bird.Label(),
				Caption: fmt.Sprintf("%s, %s.", analysis.Capital(analysis.Counted(len(l.Looks), "look")), analysis.Counted(len(l.Treated), "treatment")),
				Alt:     fmt.Sprintf("%s: looks and treatments for %s.", l.Bird.Label(), j.Parasite), Width: pageWidth, Height: s.HeightFor(1), Panel: s})
		}
	}
	return out
}

func returnFigure(name string, t treatment.Returns) (Figure, bool) {
	if t.Seen == 0 {
		return Figure{}, false
	}
	p := Returns{Pens: len(t.Spells)}
	for _, m := range t.Curve.Masses {
		f := ReturnFall{After: m.After, By: m.By, Share: m.Share}
		if math.IsInf(m.By, 1) {
			f.By = 0
		}
		p.Falls = append(p.Falls, f)
		p.Days = max(p.Days, f.By, f.After)
	}
	for _, s := range t.Spells {
		if s.Seen == 0 {
			d := float64(s.Clear - s.After)
			p.Open = append(p.Open, d)
			p.Days = max(p.Days, d)
		}
	}
	slices.Sort(p.Open)
	p.Days = max(28, 7*math.Ceil(p.Days/7))
	return Figure{Title: fmt.Sprintf("%s seen again after %q", analysis.Capital(name), t.Product),
		Caption: fmt.Sprintf("%s and courses followed, %s in %s. A finding within a week of the treatment is not a return.", analysis.Capital(analysis.Counted(len(t.Spells), "pen")), analysis.Counted(t.Seen, "return"), analysis.Counted(t.Pens, "pen")),
		Alt:     fmt.Sprintf("%s were seen again in %d of %s and courses after %q.", analysis.Capital(name), t.Seen, analysis.Counted(len(t.Spells), "pen"), t.Product),
		Width:   pageWidth * 0.6, Height: 62, Panel: p}, true
}
