package slip

import (
	"fmt"
	"math"
	"slices"

	"keelmark/analysis/standard"
	"keelmark/ingest/record"
)

// Shares of the published adult weight beyond which a bird's breed, size, sex or unit is asked about.
//
// Source: Keelmark's own. Exhibitors report whole bantam breeds some 20 to 50 % above the figure, light birds in moult
// some 20 % below; twice the figure is another size, another breed or another unit.
const (
	farAbove = 1.75
	farBelow = 0.40
	nearby   = 0.35 // distance from the figure, as a share, within which another reading would explain it
	grownAge = 168  // d from which a bird may be far too light
	lastFew  = 3    // weighings that tell where a bird stands
)

// unlike is one bird far from the weight published for it.
type unlike struct {
	h     *history
	share float64 // of the published weight
	of    standard.Band
	last  record.Observation
	other []record.Reading
}

// breeds asks, once for all birds of a kind, whether breed, size, sex and unit are right where birds stand far from the
// published adult weight.
func (s *search) breeds() {
	groups := map[string][]unlike{}
	var order []string
	seen := map[string]bool{}
	for _, h := range s.all {
		u, ok := s.farFrom(h)
		if !ok || seen[h.bird.ID] {
			continue
		}
		seen[h.bird.ID] = true
		key := fmt.Sprint(u.of.Row.Breed, u.of.Class, u.of.Row.Size, u.share > 1, u.other)
		if len(groups[key]) == 0 {
			order = append(order, key)
		}
		groups[key] = append(groups[key], u)
	}
	for _, key := range order {
		s.askBreed(groups[key])
	}
}

// farFrom tells how far a bird stands from the adult weight published for its breed, size and sex, by its latest
// weighings that fit each other.
func (s *search) farFrom(h *history) (unlike, bool) {
	var logs []float64
	u := unlike{h: h}
	for i := len(h.w) - 1; i >= 0 && len(logs) < lastFew; i-- {
		if h.e.doubted[i] || h.held[i] || s.asked[h.w[i].obs.At] {
			continue
		}
		if len(logs) == 0 {
			u.last = h.w[i].obs
		}
		logs = append(logs, h.w[i].log)
	}
	band, ok := s.published(h.bird)
	if len(logs) == 0 || !ok {
		return u, false
	}
	slices.Sort(logs)
	grams := math.Exp(logs[len(logs)/2])
	target, _ := band.Target()
	u.of, u.share = band, grams/target
	days, aged := u.last.Age.Days()
	if u.share < farAbove && !(u.share <= farBelow && aged && days >= grownAge && h.bird.Sex != "") {
		return u, false
	}
	u.other = s.otherwise(h.bird, grams)
	return u, true
}

// published is the adult weight of a bird's breed, size and sex; that of cocks, the heavier, where the sex is not known.
func (s *search) published(b record.Bird) (standard.Band, bool) {
	class := record.Cock
	if b.Sex == record.Female {
		class = record.Hen
	}
	choice, refusal := standard.Find(s.c.Standards, standard.WantedFor(b, s.c.Settings, class))
	if refusal != nil {
		return standard.Band{}, false
	}
	band, refusal := standard.BandFor(choice, class, s.c.Today, standard.Terms{})
	return band, refusal == nil
}

// otherwise are the other sizes, sexes and units in which a bird of such a weight would be near the published one.
func (s *search) otherwise(b record.Bird, grams float64) []record.Reading {
	near := func(b record.Bird, grams float64) bool {
		band, ok := s.published(b)
		if !ok {
			return false
		}
		target, _ := band.Target()
		return math.Abs(grams/target-1) <= nearby
	}
	var out []record.Reading
	for _, size := range []record.Size{record.Large, record.Bantam} {
		if o := b; size != b.Size {
			if o.Size = size; near(o, grams) {
				out = append(out, record.Reading{Label: map[record.Size]string{record.Large: "large fowl", record.Bantam: "bantam"}[size], Value: string(size)})
			}
		}
	}
	for _, sex := range []record.Sex{record.Male, record.Female} {
		if o := b; sex != b.Sex {
			if o.Sex = sex; near(o, grams) {
				out = append(out, record.Reading{Label: sexWord(sex), Value: string(sex)})
			}
		}
	}
	for _, from := range units() {
		for _, to := range units() {
			if from != to && s.allIn(b.ID, from) && near(b, grams*to.grams/from.grams) {
				out = append(out, record.Reading{Label: "all its weights are in " + to.plural, Value: to.name})
			}
		}
	}
	return out
}

// allIn reports whether every weight of a bird was read in one unit.
func (s *search) allIn(bird string, u unit) bool {
	return !slices.ContainsFunc(s.own[bird], func(o record.Observation) bool { return typedAs(o).unit != u })
}

func (s *search) askBreed(group []unlike) {
	u := group[0]
	b := u.h.bird
	target, of := u.of.Target()
	f := found{Finding: Finding{Class: UnlikeBreed, Raw: u.of.Row.Breed, Bird: b.ID}}
	var cells []record.Ref
	var labels []string
	low, high := math.Inf(1), 0.0
	byUnit := slices.ContainsFunc(u.other, func(r record.Reading) bool {
		return slices.ContainsFunc(units(), func(v unit) bool { return v.name == r.Value })
	})
	for _, one := range group {
		f.rests = append(f.rests, one.last.At)
		f.birds, labels = append(f.birds, one.h.bird.ID), append(labels, one.h.bird.Label())
		low, high = min(low, one.share), max(high, one.share)
		if !byUnit && len(one.h.bird.At) > 0 {
			cells = append(cells, one.h.bird.At[0])
			continue
		}
		for _, o := range s.own[one.h.bird.ID] { // the answer may change them all
			cells = append(cells, o.At)
		}
	}
	slices.SortFunc(cells, record.Ref.Compare)
	cells = slices.Compact(cells)
	f.At, f.More = cells[0], cells[1:]
	kind := fmt.Sprintf("the %s of a %s %s, %s (%s)", of, u.of.Row.Breed, u.of.Class, weightText(target, s.units), standard.RowName(u.of.Row))
	ask := "are breed, size, sex and unit right?"
	if len(group) == 1 {
		f.Message = fmt.Sprintf("%s: %s weighed %s on %s, %.0f %% of %s; %s", f.At, b.Label(), weightText(u.last.Value, s.units), whenOf(u.last), 100*u.share, kind, ask)
	} else {
		f.Bird = ""
		f.Message = fmt.Sprintf("%s: %d birds (%s) last weighed %.0f to %.0f %% of %s; %s", f.At, len(group), some(labels), 100*low, 100*high, kind, ask)
	}
	f.Readings = append(slices.Clone(u.other), asItIs("all of it is right as it stands"))
	if !byUnit {
		f.effect = func() string { return "Until then the percentages of the published weight stand as they are." }
	}
	s.add(f)
}

// rename gives the birds of a finding the size or sex that was answered.
func (f Finding) rename(d *record.Dataset, answer string) bool {
	cells := append([]record.Ref{f.At}, f.More...)
	var change func(*record.Bird)
	switch answer {
	case string(record.Large), string(record.Bantam):
		change = func(b *record.Bird) { b.Size = record.Size(answer) }
	case string(record.Male), string(record.Female):
		change = func(b *record.Bird) { b.Sex = record.Sex(answer) }
	default:
		return false
	}
	of := map[string]bool{}
	for _, o := range d.Observations {
		if o.Trait == record.Weight && slices.Contains(cells, o.At) {
			of[o.Bird] = true
		}
	}
	done := false
	for i := range d.Birds {
		b := &d.Birds[i]
		if of[b.ID] || len(b.At) > 0 && slices.Contains(cells, b.At[0]) {
			change(b)
			done = true
		}
	}
	return done
}
