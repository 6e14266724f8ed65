package slip

import (
	"context"
	"fmt"
	"math"

	"keelmark/analysis/growth"
	"keelmark/ingest/record"
)

// effectOf says what the bird's estimate would be with and without the weighings: its expected weight at its last weighing,
// and its mature weight where a growth curve can tell that. Of several birds it names the one that changes most.
func (s *search) effectOf(places []place) string {
	var order []*history
	mine := map[*history][]int{}
	for _, p := range places {
		if mine[p.h] == nil {
			order = append(order, p.h)
		}
		mine[p.h] = append(mine[p.h], p.i)
	}
	var most *history
	with, without := 0.0, 0.0
	for _, h := range order {
		if len(mine[h]) == len(h.w) {
			continue
		}
		a, b := h.withAndWithout(mine[h])
		if most == nil || math.Abs(math.Log(a/b)) > math.Abs(math.Log(with/without)) {
			most, with, without = h, a, b
		}
	}
	if most == nil {
		return ""
	}
	last := most.w[len(most.w)-1].obs
	this := "this weight"
	if len(places) > 1 {
		this = "these weights"
	}
	a, b := weightText(with, s.units), weightText(without, s.units)
	text := fmt.Sprintf("With %s the estimate of %s at its last weighing (%s) is about %s, without about %s", this, most.bird.Label(), whenOf(last), a, b)
	if a == b {
		return fmt.Sprintf("With or without %s the estimate of %s at its last weighing (%s) is about %s.", this, most.bird.Label(), whenOf(last), a) +
			s.matureEffect(most, mine[most])
	}
	if len(order) > 1 {
		text += fmt.Sprintf(", the largest change of %d birds", len(order))
	}
	return text + "." + s.matureEffect(most, mine[most])
}

// withAndWithout is the expected weight in grams at the last weighing, with the weighings believed and with them doubted.
func (h *history) withAndWithout(mine []int) (with, without float64) {
	last := h.w[len(h.w)-1].day
	before := make([]bool, len(mine))
	for k, i := range mine {
		before[k] = h.e.doubted[i]
		h.e.believe(i)
	}
	with = math.Exp(h.e.on(last))
	for _, i := range mine {
		h.e.doubt(i)
	}
	without = math.Exp(h.e.on(last))
	for k, i := range mine {
		if !before[k] {
			h.e.believe(i)
		}
	}
	return with, without
}

// matureEffect says how the mature weight of the bird's growth curve changes, where there is one at all.
func (s *search) matureEffect(h *history, mine []int) string {
	if !h.prior.aged || len(h.w) < growth.MinWeights {
		return ""
	}
	all := record.Dataset{Name: s.d.Name, Birds: []record.Bird{h.bird}}
	rest := all
	for i, w := range h.w {
		in := false
		for _, k := range mine {
			in = in || k == i
		}
		w.obs.Flagged = false
		all.Observations = append(all.Observations, w.obs)
		if !in {
			rest.Observations = append(rest.Observations, w.obs)
		}
	}
	a, okA := s.mature(&all, h.bird.ID)
	b, okB := s.mature(&rest, h.bird.ID)
	switch {
	case okA && okB:
		return fmt.Sprintf(" The mature weight of its growth curve changes from %s to %s.", weightText(a, s.units), weightText(b, s.units))
	case okB:
		return fmt.Sprintf(" Only without is there a growth curve, with a mature weight of about %s.", weightText(b, s.units))
	case okA:
		return fmt.Sprintf(" Only with it is there a growth curve, with a mature weight of about %s.", weightText(a, s.units))
	}
	return ""
}

func (s *search) mature(d *record.Dataset, bird string) (float64, bool) {
	r, err := growth.Curves(context.Background(), s.c, d, growth.Defaults())
	if err != nil {
		return 0, false
	}
	c, ok := r.Bird(bird)
	if !ok || !c.Told() {
		return 0, false
	}
	return c.Mature.Value, true
}
