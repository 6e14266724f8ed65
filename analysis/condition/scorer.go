package condition

import (
	"maps"
	"slices"

	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// Scorers is how two people, or one person twice, score the same birds on the same day.
type Scorers struct {
	Trait         record.TraitSpec
	Scale         record.Scale
	First, Second string
	Pairs         [][2]Score
	Agreement     stat.Agreement // valid where Refusal is ""
	Weighted      bool           // the kappa is defined and rests on KappaPairs
	Higher        float64        // mean difference, second less first, in steps
	Drift         *Trend         // of the difference over time; nil below DriftPairs on DriftDates
	Refusal       string
}

// doubled reports whether any bird was scored by two people on one day.
func doubled(scores []Score) bool { return len(pairsOf(scores)) > 0 }

// pairsOf finds the birds scored twice on one day, by two named people.
func pairsOf(scores []Score) map[[2]string][][2]Score {
	type key struct {
		bird string
		on   record.Date
	}
	by := map[key][]Score{}
	var order []key
	for _, s := range scores {
		k := key{s.Bird, s.On}
		if by[k] == nil {
			order = append(order, k)
		}
		by[k] = append(by[k], s)
	}
	out := map[[2]string][][2]Score{}
	for _, k := range order {
		for i, a := range by[k] {
			for _, b := range by[k][i+1:] {
				if a.Scorer == "" || b.Scorer == "" || a.Scorer == b.Scorer && a.Session == b.Session {
					continue
				}
				if b.Scorer < a.Scorer {
					a, b = b, a
				}
				who := [2]string{a.Scorer, b.Scorer}
				out[who] = append(out[who], [2]Score{a, b})
			}
		}
	}
	return out
}

func scorersOf(g group) []Scorers {
	by := pairsOf(g.scores)
	var out []Scorers
	for _, who := range slices.SortedFunc(maps.Keys(by), func(a, b [2]string) int { return slices.Compare(a[:], b[:]) }) {
		s := Scorers{Trait: g.trait, Scale: g.scale, First: who[0], Second: who[1], Pairs: by[who]}
		if len(s.Pairs) < AgreementPairs {
			s.Refusal = "fewer than 5 birds were scored by both on one day"
			out = append(out, s)
			continue
		}
		s.compare()
		out = append(out, s)
	}
	return out
}

func (s *Scorers) compare() {
	used := map[float64]bool{}
	for _, p := range s.Pairs {
		used[p[0].Value], used[p[1].Value] = true, true
	}
	steps := slices.Sorted(maps.Keys(used))
	table := make([][]int, max(2, len(steps)))
	for i := range table {
		table[i] = make([]int, len(table))
	}
	var exact, near int
	dates := map[record.Day][]float64{} // the differences of each day
	for _, p := range s.Pairs {
		i, _ := slices.BinarySearch(steps, p[0].Value)
		j, _ := slices.BinarySearch(steps, p[1].Value)
		table[i][j]++
		d := p[1].Value - p[0].Value
		if d == 0 {
			exact++
		}
		if d >= -1 && d <= 1 {
			near++
		}
		s.Higher += d / float64(len(s.Pairs))
		dates[p[0].On.Middle()] = append(dates[p[0].On.Middle()], d)
	}
	a, err := stat.Kappa(table, stat.Linear)
	s.Weighted = err == nil && len(s.Pairs) >= KappaPairs
	a.N, a.Exact, a.WithinOne = len(s.Pairs), float64(exact)/float64(len(s.Pairs)), float64(near)/float64(len(s.Pairs))
	s.Agreement = a
	if len(s.Pairs) >= DriftPairs && len(dates) >= DriftDates {
		var days, means []float64 // birds of one day share its light and mood: the day is the unit
		for _, day := range slices.Sorted(maps.Keys(dates)) {
			mean, err := stat.Mean(dates[day])
			if err != nil {
				return
			}
			days, means = append(days, float64(day)), append(means, mean)
		}
		if t, err := stat.MannKendall(days, means); err == nil {
			s.Drift = &Trend{PerYear: t.Slope * 365.25, P: t.P}
		}
	}
}
