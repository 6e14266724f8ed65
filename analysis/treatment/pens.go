package treatment

import (
	"math"
	"slices"

	"keelmark/analysis/stat"
)

// penUnit is one pen on one occasion: what its birds had after, less what birds alike before had after in all pens.
type penUnit struct {
	occasion  int
	treated   bool
	score     float64
	n, before int
	after     int
}

func (e *Effect) pens() []penUnit {
	var with, all [2]float64 // by finding before
	for _, p := range e.Pairs {
		all[one(p.Before)]++
		with[one(p.Before)] += float64(one(p.After))
	}
	type key struct {
		occasion int
		pen      string
		treated  bool
	}
	index := map[key]int{}
	var out []penUnit
	for _, p := range e.Pairs {
		k := key{p.occasion, p.Pen, p.Treated}
		i, ok := index[k]
		if !ok {
			i = len(out)
			index[k] = i
			out = append(out, penUnit{occasion: p.occasion, treated: p.Treated})
		}
		b := one(p.Before)
		out[i].score += float64(one(p.After)) - with[b]/all[b]
		out[i].n++
		out[i].before += b
		out[i].after += one(p.After)
	}
	// Only occasions with pens on both sides say anything.
	return slices.DeleteFunc(out, func(u penUnit) bool {
		return !slices.ContainsFunc(out, func(w penUnit) bool { return w.occasion == u.occasion && w.treated != u.treated })
	})
}

// byPens returns the chance, over all ways to have drawn as many pens of each occasion, of a difference at least as
// large after the treatment, and of one at least as large before it.
func (e *Effect) byPens() (after, before float64, ok bool) {
	units := e.pens()
	var sides [2]int
	for _, u := range units {
		sides[one(u.treated)]++
	}
	if min(sides[0], sides[1]) < LeastPens {
		return 1, 1, false
	}
	after = drawn(units, func(u penUnit) float64 { return u.score / float64(u.n) })
	return after, drawn(units, func(u penUnit) float64 { return float64(u.before) / float64(u.n) }), true
}

// drawn is the chance, had the lot fallen otherwise within each occasion, of scores of the treated as far from the mean.
func drawn(units []penUnit, score func(penUnit) float64) float64 {
	index := map[int]int{}
	var groups [][]float64
	var treated []int
	seen := 0.0
	for _, u := range units {
		g, ok := index[u.occasion]
		if !ok {
			g = len(groups)
			index[u.occasion] = g
			groups, treated = append(groups, nil), append(treated, 0)
		}
		s := score(u)
		groups[g] = append(groups[g], s)
		if u.treated {
			treated[g]++
			seen += s
		}
	}
	return permute(groups, treated, seen)
}

// lowerByPens is the reduction over all pens with pens as units.
func (e *Effect) lowerByPens() stat.Interval {
	var pens []stat.Counts
	for _, u := range e.pens() {
		if u.treated {
			pens = append(pens, stat.Counts{TB: float64(u.before), TA: float64(u.after)})
		} else {
			pens = append(pens, stat.Counts{CB: float64(u.before), CA: float64(u.after)})
		}
	}
	r, err := stat.HendersonTiltonByPen(pens, level)
	if err != nil {
		return stat.Interval{}
	}
	return r
}

// counts is Henderson and Tilton's reduction where enough looks wrote numbers.
func (e *Effect) counts() {
	var order []string
	pens := map[string]stat.Counts{}
	n := [2]int{}
	for _, p := range e.Pairs {
		if math.IsNaN(p.CB) {
			continue
		}
		if _, ok := pens[p.Pen]; !ok {
			order = append(order, p.Pen)
		}
		c := pens[p.Pen]
		if p.Treated {
			c.TB, c.TA = c.TB+p.CB, c.TA+p.CA
		} else {
			c.CB, c.CA = c.CB+p.CB, c.CA+p.CA
		}
		pens[p.Pen] = c
		n[one(p.Treated)]++
	}
	// Pairs without a single number above 0 are looks of the kind "seen or not", and no counts.
	numbers := slices.ContainsFunc(e.Pairs, func(p Pair) bool { return p.CB > 1 || p.CA > 1 })
	if !numbers || n[1] < LeastTreated || n[0] < LeastUntreated || len(pens) < LeastPens {
		return
	}
	var list []stat.Counts
	slices.Sort(order)
	for _, p := range order {
		list = append(list, pens[p])
	}
	if r, err := stat.HendersonTiltonByPen(list, level); err == nil {
		e.Counts = r
	}
}
