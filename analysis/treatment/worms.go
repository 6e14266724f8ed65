package treatment

import (
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/parasite"
	"keelmark/analysis/stat"
	"keelmark/ingest/record"
)

// Minimum of the published rule for egg count reduction. Source: Coles et al. 1992, Vet. Parasitol. 44:35: at least 10
// animals a group and 150 eggs a gram before; days 10 to 14 after. The rules were made for ruminants.
const (
	LeastWormBirds = 10
	LeastEPG       = 150
	WormFrom       = 10
	WormTo         = 14
	WormBelow      = 95 // percent; with the interval's low end below 90 the rule suspects resistance
)

// WormTrial is one treatment against worms and the egg counts about it.
type WormTrial struct {
	On               record.Day
	Product          string
	Withdrawal       []string  // as entered, each once
	Treated, Control []float64 // eggs a gram, on days WormFrom to WormTo
	Before           float64   // mean of the treated before; 0 where none was counted
	Reduction        stat.Interval
	Missing          string // why the rule cannot be used; "" where it can
	At               []record.Ref
}

// wormTrials reads the egg counts about each treatment against worms.
func wormTrials(d *record.Dataset, courses []parasite.Course) []WormTrial {
	var out []WormTrial
	var birds [][]string // of each
	for _, c := range courses {
		if !strings.Contains(strings.ToLower(c.Against+" "+c.Product+" "+c.Event.Text), "worm") || c.Event.On.Last-c.Event.On.First > VagueDays {
			continue
		}
		i := slices.IndexFunc(out, func(t WormTrial) bool { return t.On == c.Event.On.First && folded(t.Product) == folded(c.Product) })
		if i < 0 {
			i = len(out)
			out = append(out, WormTrial{On: c.Event.On.First, Product: c.Product})
			birds = append(birds, nil)
		}
		birds[i] = append(birds[i], c.Birds...)
		out[i].At = append(out[i].At, c.Event.At)
		if !slices.Contains(out[i].Withdrawal, c.Withdrawal) {
			out[i].Withdrawal = append(out[i].Withdrawal, c.Withdrawal)
		}
	}
	for i := range out {
		t := &out[i]
		var before []float64
		pooled := 0
		for _, o := range d.Observations {
			if o.Trait != record.WormEggs || !o.On.Exact() || o.Form != record.Measured && o.Form != record.Count {
				continue
			}
			treated := slices.Contains(birds[i], o.Bird)
			after := o.On.First - t.On
			switch {
			case after < -BeforeDays || after > WormTo || after > 0 && after < WormFrom:
				continue
			case o.Bird == "":
				pooled++
				continue
			case after <= 0 && treated:
				before = append(before, o.Value)
			case after >= WormFrom && treated:
				t.Treated = append(t.Treated, o.Value)
			case after >= WormFrom:
				t.Control = append(t.Control, o.Value)
			default:
				continue
			}
			t.At = append(t.At, o.At)
		}
		if mean, err := stat.Mean(before); err == nil {
			t.Before = mean
		}
		switch {
		case len(before)+len(t.Treated)+len(t.Control) == 0 && pooled == 0:
			t.Missing = "no egg count of single birds stands about it"
		case pooled > 0 && len(t.Treated) == 0:
			t.Missing = "droppings were pooled, and the rule needs counts of single birds"
		case len(t.Treated) < LeastWormBirds || len(t.Control) < LeastWormBirds:
			t.Missing = "it has counts of " + analysis.Counted(len(t.Treated), "treated bird") + " and " + analysis.Counted(len(t.Control), "untreated bird") + " on days 10 to 14 after"
		case t.Before < LeastEPG:
			t.Missing = "the mean before, of the treated birds, is below 150 eggs a gram or was not counted"
		default:
			r, err := stat.EggCountReduction(t.Treated, t.Control, 0.95)
			if err != nil {
				t.Missing = "a group has no eggs at all, and the rule's interval needs some"
			}
			t.Reduction = r
		}
	}
	return out
}
