package treatment

import (
	"math"
	"slices"

	"keelmark/analysis/parasite"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// Minimum data for a median time to return. Source: Keelmark's domain notes 4.4 and 4.9.
const (
	LeastReturns    = 4
	LeastReturnPens = 2
)

// Return is one pen after one course of treatment: the last round of looks without a finding and the first with one.
type Return struct {
	Pen    string
	After  record.Day // the course's last treatment
	Clear  record.Day // last look in the pen before any finding; After where there was none
	Seen   record.Day // first finding; 0 where none was seen before the pen was treated again or the records end
	At     []record.Ref
	within stat.Censored // days after the treatment
}

// Returns are the times until a parasite was seen again after one product.
type Returns struct {
	Product string
	Spells  []Return
	Seen    int // spells that ended in a finding
	Pens    int // pens among those
	Curve   stat.Turnbull
	Exact   *stat.SurvivalCurve // where all returns are known to ExactDays
	At      []record.Ref        // cells of the courses and of all looks that were followed
	Early   int                 // pens with a finding within CalmDays, which is no return
}

// ExactDays is how wide the interval of a return may be to count as known.
const ExactDays = 1

// returns follows each pen after each occasion. A pen is the unit: its birds share one outbreak.
func (v *view) returns(product string, occasions []Occasion) Returns {
	out := Returns{Product: product}
	var pens []string
	for _, o := range occasions {
		out.At = append(out.At, o.At...)
		byPen := map[string][]int{}
		var order []string
		for _, i := range o.birds {
			name := v.birds[i].Pen
			if l, ok := last(v.looks[i], o.First-365, o.First); ok {
				name = v.pen(l)
			}
			if byPen[name] == nil {
				order = append(order, name)
			}
			byPen[name] = append(byPen[name], i)
		}
		slices.Sort(order)
		for _, name := range order {
			r, ok := v.follow(o, byPen[name])
			if !ok {
				continue
			}
			r.Pen = name
			out.At = append(out.At, r.At...)
			if r.Seen != 0 && r.Seen <= o.Last+CalmDays { // survivors or the expected hatch: not a return
				out.Early++
				continue
			}
			out.Spells = append(out.Spells, r)
			if r.Seen != 0 {
				out.Seen++
				if !slices.Contains(pens, name) {
					pens = append(pens, name)
				}
			}
		}
	}
	out.Pens = len(pens)
	var times []stat.Censored
	var spells []stat.Spell
	exact := true
	for _, s := range out.Spells {
		times = append(times, s.within)
		w := s.within
		exact = exact && (math.IsInf(w.By, 1) || w.By-w.After <= ExactDays)
		if math.IsInf(w.By, 1) {
			spells = append(spells, stat.Spell{Time: max(w.After, 0.5)})
		} else {
			spells = append(spells, stat.Spell{Time: w.By, Event: true})
		}
	}
	if curve, err := stat.FitTurnbull(times); err == nil {
		out.Curve = curve
	}
	if exact && out.Seen > 0 {
		if k, err := stat.KaplanMeier(spells, level); err == nil {
			out.Exact = &k
		}
	}
	return out
}

// follow reads the looks at a pen's treated birds after an occasion until one of them is treated again.
func (v *view) follow(o Occasion, birds []int) (Return, bool) {
	until := v.today + 1
	for _, i := range birds {
		for _, d := range v.doses[i] {
			if d.on > o.Last {
				until = min(until, d.on+1) // a look on the day of the next treatment came before it
			}
		}
	}
	r := Return{After: o.Last, Clear: o.Last}
	looked := false
	for _, i := range birds {
		for _, l := range v.looks[i] {
			if l.On.First <= o.Last || l.On.Last >= until {
				continue
			}
			looked = true
			if l.Finding == parasite.Found && (r.Seen == 0 || l.On.Last < r.Seen) {
				r.Seen = l.On.Last
			}
		}
	}
	if !looked {
		return r, false
	}
	for _, i := range birds {
		for _, l := range v.looks[i] {
			if l.On.First <= o.Last || l.On.Last >= until || r.Seen != 0 && l.On.Last > r.Seen {
				continue
			}
			r.At = append(r.At, l.At)
			if r.Seen == 0 || l.On.First < r.Seen {
				r.Clear = max(r.Clear, l.On.First)
			}
		}
	}
	r.within = stat.Censored{After: float64(r.Clear - o.Last), By: math.Inf(1)}
	if r.Seen != 0 { // a return lies after the calm days by its meaning; what came earlier is counted in Early
		r.within.By = float64(r.Seen - o.Last)
		r.within.After = min(max(r.within.After, CalmDays), r.within.By)
	}
	return r, true
}
