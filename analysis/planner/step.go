package planner

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// Step is one thing to do before or after a show, in a window of days before it; negative days lie after the show.
type Step struct {
	Name     string // as flock.toml names it under [plan]
	From, To int    // days before the show, From first
	Do       string
	Why      string
	Late     string // what still makes sense once the window has passed; "" where it can be done until the show
	Topic    string // of its caution; "" where none is needed
	Team     bool   // done once for the team, not bird by bird
	Again    bool   // comes round again before the show: once its days have passed it is missed, not late
	done     func(bird string, from, to record.Day, d *record.Dataset) []record.Ref
}

// practice marks every default window.
const practice = "common practice, no source"

// Topics of cautions.
const (
	trimming = "Trimming"
	treating = "Treating parasites"
	welfare  = "Before entering"
)

// steps are the defaults, in the order in which they fall.
//
// Source: common practice, no source, for every window; the second look and the looks after a treatment follow from the
// life cycles of analysis/parasite; new feather takes 6 to 10 weeks (a breed club's page); isolation of 14 days or more
// after a gathering is recommended by England's gathering licence of 2025; a bath about 3 days before, so that feathers
// set (a show-preparation page).
func steps() []Step {
	return []Step{
		{Name: "bring_in", From: 84, To: 56, Do: "bring in and cage", Why: "a bird needs eight weeks or more to settle; a feather lost later than about ten weeks before may not be back",
			Late: "bring it in now; it has fewer weeks to settle, and feathers that are missing today may not be back", done: events(record.Moved)},
		{Name: "first_look", From: 84, To: 56, Do: "look for lice and mites: vent, under the wings, neck, legs; write down none too",
			Why: "leaves room for two treatments and the looks after them", Topic: treating, done: observed(record.Parasite)},
		{Name: "droppings", From: 80, To: 56, Do: "take droppings for a worm egg count; worm only on what it shows", Why: "worming on evidence", Topic: treating,
			Late: "take droppings now; ask a vet whether a treatment still fits before the show", Team: true, done: observed(record.WormEggs)},
		{Name: "trim", From: 70, To: 35, Do: "nails, spur tips and beak edge: little, in good light, with something to stop blood at hand",
			Why: "edges need weeks to wear smooth", Late: "leave them: a fresh edge shows, and a cut now has no time to heal", Topic: trimming, done: events(record.Trimmed)},
		{Name: "condition_1", From: 56, To: 50, Do: "condition comb, face, beak and legs; handle calmly", Why: "four or five sessions spread over two months", Again: true, done: events(record.Conditioned)},
		{Name: "weigh_1", From: 56, To: 50, Do: "weigh", Why: "the first of four weighings in the cage", Again: true, done: observed(record.Weight)},
		{Name: "condition_2", From: 45, To: 39, Do: "condition comb, face, beak and legs", Why: "every ten days to a fortnight", Again: true, done: events(record.Conditioned)},
		{Name: "second_look", From: 38, To: 32, Do: "look for lice and mites again", Why: "the last look after which two treatments and a look still fit", Topic: treating,
			Late: "look now; if any are found, two treatments and the look after them may not fit before the show", done: observed(record.Parasite)},
		{Name: "condition_3", From: 34, To: 28, Do: "condition comb, face, beak and legs", Why: "every ten days to a fortnight", Again: true, done: events(record.Conditioned)},
		{Name: "weigh_2", From: 30, To: 26, Do: "weigh", Why: "a loss in the cage shows here while feed can still mend it", Again: true, done: observed(record.Weight)},
		{Name: "condition_4", From: 22, To: 16, Do: "condition comb, face, beak and legs", Why: "every ten days to a fortnight", Again: true, done: events(record.Conditioned)},
		{Name: "papers", From: 21, To: 10, Do: "papers: entry, health certificate or blood test where asked, the rules on gatherings and movement of that week", Why: "rules change, in outbreaks from week to week", Team: true},
		{Name: "weigh_3", From: 15, To: 13, Do: "weigh", Why: "two weeks before", Again: true, done: observed(record.Weight)},
		{Name: "condition_5", From: 11, To: 8, Do: "the last conditioning", Why: "every ten days to a fortnight", done: events(record.Conditioned)},
		{Name: "last_look", From: 8, To: 6, Do: "the last look for lice and mites", Why: "many shows turn a bird away at the gate on which they are found", Topic: treating, done: observed(record.Parasite)},
		{Name: "weigh_4", From: 7, To: 5, Do: "weigh", Why: "the weight that the entry rests on", done: observed(record.Weight)},
		{Name: "bath", From: 5, To: 3, Do: "bath, and dry in the warm", Why: "feathers need about three days to set", Late: "no full bath now: feathers would not set; sponge what is soiled"},
		{Name: "face", From: 2, To: 1, Do: "tidy face, comb and feet", Why: "shortly before, so that it lasts"},
		{Name: "show", From: 0, To: 0, Do: "the show", Topic: welfare, Team: true, done: events(record.Shown)},
		{Name: "apart", From: -1, To: -14, Do: "keep apart from the flock and watch, 14 days or more", Why: "what a bird brings home shows within two weeks", Topic: welfare},
		{Name: "look_after_1", From: -7, To: -9, Do: "look for lice and mites", Why: "brought home from the show", Topic: treating, done: observed(record.Parasite)},
		{Name: "look_after_2", From: -14, To: -16, Do: "look for lice and mites; back to the flock if none", Why: "eggs brought home have hatched by now", Topic: treating, done: observed(record.Parasite)},
		{Name: "look_after_3", From: -21, To: -23, Do: "look for lice and mites once more", Why: "one life cycle after the show", Topic: treating, done: observed(record.Parasite)},
	}
}

// planned are the steps with the keeper's own windows from [plan] in flock.toml. A name that is no step, and a window that
// ends before it begins, is an error that names the cure.
func planned(plan map[string]map[string]int) ([]Step, error) {
	out := steps()
	var names []string
	for _, s := range out {
		names = append(names, s.Name)
	}
	for _, name := range slices.Sorted(maps.Keys(plan)) {
		i := slices.Index(names, name)
		if i < 0 {
			return nil, fmt.Errorf("flock.toml, [plan]: there is no step %q; the steps are %s", name, strings.Join(names, ", "))
		}
		s := &out[i]
		if from, ok := plan[name]["from"]; ok {
			s.From = from
		}
		if to, ok := plan[name]["to"]; ok {
			s.To = to
		}
		if s.From < s.To {
			return nil, fmt.Errorf("flock.toml, [plan] %s: from %d to %d days before the show runs backwards; write the larger number as from", name, s.From, s.To)
		}
	}
	return out, nil
}

// events finds events of a kind that cover a bird within some days.
func events(kind record.EventKind) func(string, record.Day, record.Day, *record.Dataset) []record.Ref {
	return func(bird string, from, to record.Day, d *record.Dataset) []record.Ref {
		b, _ := d.Bird(bird)
		var at []record.Ref
		for _, e := range d.Events {
			covers := e.Bird == bird || e.Bird == "" && (e.Scope == record.WholeFlock || e.Scope == record.WholePen && e.Pen == b.Pen)
			if e.Kind == kind && covers && !e.Flagged && e.On.Known() && e.On.First >= from && e.On.Last <= to {
				at = append(at, e.At)
			}
		}
		return at
	}
}

// observed finds observations of a trait of a bird, or of its flock, within some days.
func observed(trait record.Trait) func(string, record.Day, record.Day, *record.Dataset) []record.Ref {
	return func(bird string, from, to record.Day, d *record.Dataset) []record.Ref {
		var seen []record.Observation
		for _, o := range d.Observations {
			if o.Trait == trait && (o.Bird == bird || bird == "" && trait == record.WormEggs) && !o.Flagged && o.On.Known() && o.On.First >= from && o.On.Last <= to {
				seen = append(seen, o)
			}
		}
		return analysis.Refs(seen)
	}
}

// cautions stand beside the steps that can hurt.
//
// Source: named in each; no dose, product or withdrawal time is ours.
func cautions() []analysis.Caution {
	return []analysis.Caution{
		{Topic: trimming, Text: "Nails, spurs and beak have a living core that bleeds and hurts: take little, in good light, with something to stop blood at hand, and stop at the first drop. " +
			"If it does not stop bleeding, ask a vet. What may be trimmed, and by whom, differs by country: check your law. A bird with a shortened beak preens less well: look it over three to four weeks later.",
			Source: "codes for the welfare of fowl (England, Northern Ireland); common practice"},
		{Topic: welfare, Text: "A bird that moults hard, is in poor condition or was treated lately is better off at home, and showing is a strain for any bird. " +
			"Rules on gatherings and on registering birds change: check them in the week before. Birds that come back are best housed apart and watched for two weeks or more.",
			Source: "government licence conditions for poultry gatherings (England, 2025); common practice"},
	}
}
