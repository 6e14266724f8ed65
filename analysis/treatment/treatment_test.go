package treatment

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"regexp"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/analysis/parasite"
	"keelmark/analysis/stat"
	"keelmark/analysis/story"
	"keelmark/ingest/record"
)

// The flocks of this file are invented.

const today = record.Day(20400) // 2025-11-08

func gatherOf(t *testing.T, d *record.Dataset, today record.Day) *gathered {
	t.Helper()
	courses, _ := parasite.Courses(d, today)
	return gather(d, parasite.Looks(d, nil, today), courses, today)
}

// flock has n birds, in the pens given by turns.
func flock(n int, pens ...string) *record.Dataset {
	d := &record.Dataset{Name: "Low Barn"}
	for i := range n {
		id := fmt.Sprintf("R%02d", i+1)
		b := record.Bird{ID: id, Ring: id}
		if len(pens) > 0 {
			b.Pen = pens[i%len(pens)]
		}
		d.Birds = append(d.Birds, b)
	}
	return d
}

func at(d *record.Dataset) record.Ref {
	return record.Ref{File: "a.csv", Row: int32(2 + len(d.Observations) + len(d.Events)), Col: 4}
}

// look adds a look some days before today.
func look(d *record.Dataset, bird int, ago record.Day, found bool, note string) {
	o := record.Observation{Bird: d.Birds[bird].ID, On: record.On(today - ago), Trait: record.Parasite, Parasite: record.Lice, Form: record.Present,
		Value: float64(one(found)), At: at(d)}
	if note != "" {
		o.More = &record.Detail{Note: note}
	}
	d.Observations = append(d.Observations, o)
}

func treat(d *record.Dataset, bird int, ago record.Day) {
	d.Events = append(d.Events, record.Event{Kind: record.Treated, Scope: record.OneBird, Bird: d.Birds[bird].ID, On: record.On(today - ago), At: at(d),
		Treatment: &record.Treatment{Product: "product as labelled", Against: "lice"}})
}

func claim(t *testing.T, r *Result, prefix string) analysis.Claim {
	t.Helper()
	for _, c := range r.Claims() {
		if strings.HasPrefix(c.ID, prefix) {
			return c
		}
	}
	t.Fatalf("no claim %s", prefix)
	return analysis.Claim{}
}

func TestUntreatedBirdsBesideTreatedOnes(t *testing.T) {
	d := flock(24, "A", "B")
	for i := range 24 {
		look(d, i, 50, true, "")
		if i%4 < 2 {
			treat(d, i, 50)
		}
		look(d, i, 30, i%4 >= 2 && i < 22 || i == 1, "")
	}
	r := analyse(t, d, today)
	e := r.Parasites[0].Effects[0]
	// 1 of 12 treated and 10 of 12 untreated are found after. By hand: Fisher's mid-p doubled over two strata is below 0.001.
	if e.Treated != 12 || e.TreatedAfter != 1 || e.Untreated != 12 || e.UntreatedAfter != 10 || e.Unit != "bird" || e.P > 0.001 {
		t.Fatalf("%+v", e)
	}
	if math.Abs(e.Lower.Value-90) > 1e-9 { // Abbott: 100 (10/12 - 1/12) / (10/12)
		t.Errorf("%v %% fewer, want 90", e.Lower.Value)
	}
	row := r.Tables()[0].Rows[0]
	if a, ok := row[12].(float64); !ok || math.Abs(a-90) > 1e-9 { // as many treated as untreated, all found before: both formulas agree
		t.Errorf("Abbott %v", row[12])
	}
	if h, ok := row[13].(float64); !ok || math.Abs(h-90) > 1e-9 {
		t.Errorf("Henderson-Tilton %v", row[13])
	}
	if c := claim(t, r, "treatment.effect"); c.Stands != analysis.For || c.N.Birds != 24 || len(c.RestsOn) != 60 || c.Estimate == nil {
		t.Errorf("%+v", c)
	}
}

// Birds treated at their worst come down by themselves; without untreated birds the records only say that findings fell.
func TestWithoutUntreatedBirdsOnlyFellAfter(t *testing.T) {
	d := flock(12, "A")
	for i := range 12 {
		for k := range 6 { // a year before, findings come and go without any treatment
			look(d, i, record.Day(400-28*k), (i+k)%3 == 0, "")
		}
		look(d, i, 60, true, "")
		treat(d, i, 60)
		look(d, i, 40, false, "")
	}
	r := analyse(t, d, today)
	c := claim(t, r, "treatment.effect")
	if c.Stands != analysis.Open || c.Refusal == nil || !strings.Contains(c.Text, "fell after") || !strings.Contains(c.Text, "repeat looks without any treatment") ||
		!strings.Contains(c.Text, "no untreated bird") {
		t.Errorf("%+v", c)
	}
	if p := r.Parasites[0].Repeats; p.Found != 20 || p.Gone != 20 {
		t.Errorf("repeats %+v", p)
	}
}

func TestOfWholePensOneAgainstOneIsRefused(t *testing.T) {
	d := flock(20, "A", "B")
	for i := range 20 {
		look(d, i, 50, true, "")
		if i%2 == 0 {
			treat(d, i, 50)
		}
		look(d, i, 30, i%2 == 1, "")
	}
	c := claim(t, analyse(t, d, today), "treatment.effect")
	if c.Stands != analysis.Open || c.Refusal == nil || !strings.Contains(strings.Join(c.Caveats, " "), "pen cannot be told apart") {
		t.Errorf("%s %v", c.Text, c.Caveats)
	}
}

// Eight whole pens, four drawn: the observed assignment is one of 70, the extreme on either side two of 70.
func TestWholePensAreTheUnits(t *testing.T) {
	d := flock(32, "A", "B", "C", "D", "E", "F", "G", "H")
	for i := range 32 {
		look(d, i, 50, true, "")
		if i%8 < 4 {
			treat(d, i, 50)
		}
		look(d, i, 30, i%8 >= 4, "")
	}
	e := analyse(t, d, today).Parasites[0].Effects[0]
	if e.Unit != "pen" || math.Abs(e.P-2./70) > 1e-9 {
		t.Errorf("by %s, chance %v, want 2/70", e.Unit, e.P)
	}
}

// The exact test of one stratum is Fisher's: his lady tasting tea, 3 of 4 right, has one-sided chances 16/70 and 1/70
// (Fisher 1935); mid-p doubled is 2 (8/70 + 1/70).
func TestExactIsFishers(t *testing.T) {
	if got, want := exact([]stat.Stratum{{TreatedWith: 3, Treated: 4, UntreatedWith: 1, Untreated: 4}}), 2*(8./70+1./70); math.Abs(got-want) > 1e-9 {
		t.Errorf("%v, want %v", got, want)
	}
	if p := permute([][]float64{{1, 1, 1, 0, 1, 0, 0, 0}}, []int{4}, 3); math.Abs(p-34./70) > 1e-9 {
		t.Errorf("permutation %v, want 34/70", p)
	}
}

func TestStoriesNeedWhatTellsThemApart(t *testing.T) {
	make := func(birds int, second bool, note string) (Story, analysis.Claim) {
		d := flock(birds, "A")
		for i := range birds {
			look(d, i, 40, true, "")
			treat(d, i, 40)
			look(d, i, 32, true, note) // day 8
			if second {
				treat(d, i, 32)
			}
			look(d, i, 26, false, "")
			look(d, i, 12, false, "")
		}
		r := analyse(t, d, today)
		return r.Parasites[0].Occasions[0].Story, claim(t, r, "treatment.after")
	}
	if s, c := make(8, true, "few small pale ones"); !s.Told || s.Best != story.Hatch || !strings.Contains(c.Text, "expected hatch") || c.Refusal != nil {
		t.Errorf("%+v %s", s, c.Text)
	}
	for name, got := range map[string]analysis.Claim{
		"one bird":            second(make(1, true, "few small pale ones")),
		"no second treatment": second(make(8, false, "few small pale ones")),
		"no stage":            second(make(8, true, "")),
	} {
		if got.Refusal == nil || !strings.Contains(got.Text, "cannot tell") || strings.Contains(got.Text, "to 1") {
			t.Errorf("%s: %s", name, got.Text)
		}
	}
}

func second[A, B any](_ A, b B) B { return b }

func TestReturnsAreIntervals(t *testing.T) {
	d := flock(8, "A", "B")
	for k := range 3 {
		day := record.Day(700 - 150*k)
		for i := range 8 {
			treat(d, i, day)
			look(d, i, day-14, false, "")
			look(d, i, day-35, false, "")
			look(d, i, day-56, i < 4, "")
		}
	}
	r := analyse(t, d, today)
	x := r.Parasites[0].Returns[0]
	if x.Seen != 6 || x.Pens != 2 || len(x.Curve.Masses) != 1 || x.Curve.Masses[0].After != 35 || x.Curve.Masses[0].By != 56 {
		t.Fatalf("%+v", x)
	}
	if c := claim(t, r, "treatment.return"); c.Refusal != nil || !strings.Contains(c.Text, "5 weeks later at the earliest and 8 weeks at the latest (6 returns, 2 pens)") {
		t.Error(c.Text)
	}
	one := flock(4, "A")
	for i := range 4 {
		treat(one, i, 90)
		look(one, i, 70, false, "")
		look(one, i, 50, i == 0, "")
	}
	if c := claim(t, analyse(t, one, today), "treatment.return"); c.Refusal == nil || !strings.Contains(c.Text, "Cannot give a usual time") {
		t.Error(c.Text)
	}
}

func treatWorms(d *record.Dataset, bird int, ago record.Day) {
	treat(d, bird, ago)
	d.Events[len(d.Events)-1].Treatment.Against = "worms"
}

// What cannot be used is said in a sentence; nothing panics.
func TestBadInputAnswersInWords(t *testing.T) {
	said := func(name string, d *record.Dataset, want string) {
		t.Helper()
		r := analyse(t, d, today)
		for _, c := range r.Claims() {
			if strings.Contains(c.Text+strings.Join(c.Caveats, " "), want) {
				return
			}
		}
		var texts []string
		for _, c := range r.Claims() {
			texts = append(texts, c.Text)
		}
		t.Errorf("%s: nothing says %q in:\n%s", name, want, strings.Join(texts, "\n"))
	}
	said("nothing", flock(0), "no dated treatment is recorded")
	said("no looks", flock(3), "no look at birds")

	d := flock(4, "A")
	look(d, 0, 200, true, "")
	d.Events = append(d.Events, record.Event{Kind: record.Died, Bird: "R01", On: record.On(today - 100), At: at(d)})
	treat(d, 0, 50)
	said("treated after death", d, "R01 had died or left on")

	d = flock(4, "A")
	d.Birds[1].Hatched = record.On(today - 40)
	look(d, 1, 10, false, "")
	treat(d, 1, 90)
	said("treated before hatch", d, "R02 hatched on")

	d = flock(9, "A")
	treat(d, 0, 10)
	look(d, 0, 1, true, "")
	said("one check", d, "too few looks")

	for name, value := range map[string]bool{"all positive": true, "none positive": false} {
		d = flock(12, "A")
		for i := range 12 {
			for k := range 6 {
				look(d, i, record.Day(200-28*k), value, "")
			}
			treat(d, i, 88)
		}
		said(name, d, "Cannot say what the treatment did because")
	}

	d = flock(9, "A")
	for i := range 9 {
		look(d, i, 40, true, "")
		treat(d, i, 40)
		d.Events[len(d.Events)-1].Treatment = &record.Treatment{}
		look(d, i, 20, false, "")
	}
	said("unknown product, nothing written", d, "a product that is not written")
	said("no withdrawal written", d, parasite.UnknownWithdrawal)

	d = flock(9, "A")
	for i := range 9 { // a step of a scale nobody declared: above 0 counts as found, 0 as none
		d.Observations = append(d.Observations, record.Observation{Bird: d.Birds[i].ID, On: record.On(today - 5), Trait: record.Parasite, Parasite: record.Lice,
			Form: record.Ordinal, Value: float64(i % 3), Scale: "not declared", At: at(d)})
	}
	said("unknown scale", d, "there are too few looks")

	d = flock(10, "Old Shed")
	for i := range 10 {
		for k := range 8 {
			look(d, i, record.Day(240-28*k), (i+k)%3 == 0, "")
			o := &d.Observations[len(d.Observations)-1]
			o.More = &record.Detail{Pen: "Old Shed"}
			if k > 3 {
				o.More = &record.Detail{Pen: "Ark"}
			}
		}
	}
	said("pen renamed", d, `Pen "Old Shed" seems to be called "Ark" later`)

	d = flock(3, "A")
	look(d, 0, 30, true, "")
	treat(d, 0, 30)
	d.Events[0].On = record.InYear(2025)
	said("a year is no day", d, "its date is not known to the day")
	if _, err := Spec().Run(context.Background(), analysis.Context{Today: today}, d, map[string]any{"parasite": "ticks"}); err == nil {
		t.Error("an unknown parasite was accepted")
	}
}

// Nothing that is printed names a product, an amount or a withdrawal time of ours, and cautions are always there.
func TestNoProductNoDoseNoWithdrawalOfOurs(t *testing.T) {
	r := analyse(t, simulate(rand.New(rand.NewPCG(9, 9)), world{birds: 25, pens: 3, years: 2, clears: 0.8, see: 0.8, policy: lots, every: 28}), simStart+2*365)
	ours := regexp.MustCompile(`(?i)permethrin|ivermectin|spinosad|fluralaner|fipronil|carbaryl|lindane|sul(f|ph)ur|pyrethr|deltamethrin|malathion|benzimidazole|levamisole|fenbendazole|flubendazole|` +
		`\d\s*(ml|mg|mcg|µg|ppm|drops?|grams?|g/|cc)\b|withdrawal (of|is|period) \d|\d+ days? withdrawal|wait \d+ days`)
	var all []string
	for _, c := range r.Claims() {
		all = append(all, c.Text, strings.Join(c.Caveats, " "))
		if c.Refusal != nil {
			all = append(all, c.Refusal.Needs, c.Refusal.Next)
		}
	}
	for _, x := range r.Tables() {
		all = append(all, x.Caption)
		for _, row := range x.Rows {
			if len(row) != len(x.Columns) {
				t.Errorf("table %s: %d cells for %d columns", x.Name, len(row), len(x.Columns))
			}
			all = append(all, fmt.Sprint(row...))
		}
	}
	for _, text := range all {
		if found := ours.FindString(text); found != "" {
			t.Errorf("%q in %q", found, text)
		}
	}
	cautions := fmt.Sprint(r.Cautions())
	for _, want := range []string{"label", "open air", "mask", "gloves", "wash", "Withdrawal"} {
		if !strings.Contains(cautions, want) {
			t.Errorf("no caution about %q", want)
		}
	}
}

func TestTheSameRecordsGiveTheSameAnswer(t *testing.T) {
	d := simulate(rand.New(rand.NewPCG(4, 9)), world{birds: 25, pens: 3, years: 2, clears: 0.8, see: 0.8, policy: lots, every: 28})
	first, again := analyse(t, d, simStart+2*365), analyse(t, d, simStart+2*365)
	if !reflect.DeepEqual(first.Claims(), again.Claims()) || !reflect.DeepEqual(first.Tables(), again.Tables()) {
		t.Error("two runs differ")
	}
}

func TestItStopsWhenAsked(t *testing.T) {
	d := simulate(rand.New(rand.NewPCG(4, 9)), world{birds: 25, pens: 3, years: 2, clears: 0.8, see: 0.8, policy: lots, every: 28})
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Spec().Run(ctx, analysis.Context{Today: simStart + 2*365}, d, nil); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

// One flock of 80 birds over three years, looked at every three weeks.
func BenchmarkFlock(b *testing.B) {
	d := simulate(rand.New(rand.NewPCG(8, 9)), world{birds: 80, pens: 4, years: 3, season: 1, clears: 0.8, see: 0.8, policy: lots, every: 21})
	for b.Loop() {
		if _, err := Spec().Run(context.Background(), analysis.Context{Today: simStart + 3*365}, d, nil); err != nil {
			b.Fatal(err)
		}
	}
}

func TestARangeOfFewerIsReadAsMoreBelowNought(t *testing.T) {
	for _, c := range []struct {
		low, high float64
		want      string
	}{{64, 93, "64 to 93 % fewer"}, {-38, 43, "from 38 % more to 43 % fewer"}, {-197, -9, "9 to 197 % more"}, {-0.2, 40, "0 to 40 % fewer"}} {
		if got := fewerOrMore(c.low, c.high); got != c.want {
			t.Errorf("%g to %g: %q, want %q", c.low, c.high, got, c.want)
		}
	}
}
