package condition

import (
	"context"
	"fmt"
	"strings"
	"testing"

	"keelmark/analysis"
	"keelmark/ingest/record"
)

// All flocks here are invented.

const today = record.Day(20412) // 2025-11-20

func keel() record.Scale {
	return record.Scale{Name: "condition", Min: 0, Max: 3, Direction: highGood, Words: map[string]float64{"keel sharp": 0, "well covered": 2}}
}

type book struct {
	*record.Dataset
	settings record.Settings
}

func flock(n int, scale record.Scale) book {
	d := &record.Dataset{Name: "Home"}
	for i := range n {
		d.Birds = append(d.Birds, record.Bird{ID: id(i), Ring: id(i), Pen: []string{"A", "B"}[i%2]})
	}
	b := book{Dataset: d}
	if scale.Name != "" {
		b.settings.Scales = map[string]record.Scale{scale.Name: scale}
	}
	return b
}

func id(i int) string { return fmt.Sprintf("R%02d", i+1) }

func (b book) score(bird string, ago int, value float64, scorer string) {
	pen := ""
	if x, ok := b.Bird(bird); ok {
		pen = x.Pen
	}
	b.Observations = append(b.Observations, record.Observation{Bird: bird, On: record.On(today - record.Day(ago)), Trait: record.Condition,
		Form: record.Ordinal, Value: value, Scale: "condition", Text: fmt.Sprint(value), At: record.Ref{File: "scores.csv", Row: int32(len(b.Observations) + 2), Col: 3},
		More: &record.Detail{Scorer: scorer, Pen: pen}})
}

func (b book) run(t *testing.T, ring string) *Result {
	t.Helper()
	r, err := Spec().Run(context.Background(), analysis.Context{Today: today, Settings: b.settings}, b.Dataset, map[string]any{"ring": ring})
	if err != nil {
		t.Fatal(err)
	}
	return r.(*Result)
}

func find(r *Result, prefix string) (analysis.Claim, bool) {
	for _, c := range r.Claims() {
		if strings.HasPrefix(c.ID, prefix) {
			return c, true
		}
	}
	return analysis.Claim{}, false
}

func TestTheSpecIsWhole(t *testing.T) {
	if err := Spec().Validate(); err != nil {
		t.Error(err)
	}
}

func TestDirectionDecidesTheSide(t *testing.T) {
	for _, c := range []struct {
		direction string
		value     float64
		want      analysis.Stands
	}{
		{highGood, 3, analysis.For}, {highGood, 2, analysis.For}, {highGood, 1.5, analysis.Open}, {highGood, 1, analysis.Against}, {highGood, 0, analysis.Against},
		{highBad, 3, analysis.Against}, {highBad, 0, analysis.For},
		{middleBest, 1.5, analysis.For}, {middleBest, 0, analysis.Against}, {middleBest, 3, analysis.Against}, {middleBest, 1, analysis.For},
	} {
		scale := keel()
		scale.Direction = c.direction
		b := flock(1, scale)
		b.score("R01", 3, c.value, "")
		got, _ := find(b.run(t, ""), "condition.last/R01")
		if got.Stands != c.want {
			t.Errorf("%s %v: %s, want %s (%s)", c.direction, c.value, got.Stands, c.want, got.Text)
		}
	}
}

func TestAnUndeclaredScaleIsNeverRead(t *testing.T) {
	b := flock(8, record.Scale{})
	for i := range 8 {
		b.score(id(i), 40, 3, "")
		b.score(id(i), 2, 0, "")
	}
	r := b.run(t, "")
	if _, ok := find(r, "condition.change"); ok {
		t.Error("scores on an undeclared scale were compared")
	}
	if c, ok := find(r, "condition.scale/condition"); !ok || c.Refusal == nil || c.N.Records != 16 {
		t.Errorf("%+v", c)
	}
	if c, _ := find(r, "condition.last/R01"); c.Stands != analysis.Open || c.Refusal == nil {
		t.Errorf("%+v", c)
	}
}

func TestAScoreSpeaksForScoredDaysAndNoLonger(t *testing.T) {
	for ago, speaks := range map[int]bool{0: true, ScoredDays: true, ScoredDays + 1: false} {
		b := flock(1, keel())
		b.score("R01", ago, 3, "")
		if c, _ := find(b.run(t, ""), "condition.last/R01"); (c.Stands == analysis.For) != speaks || (c.Refusal == nil) != speaks {
			t.Errorf("%d days: %+v", ago, c)
		}
	}
}

func TestAChangeNeedsTheSameSixBirds(t *testing.T) {
	for n, said := range map[int]bool{MinPaired - 1: false, MinPaired: true} {
		b := flock(n, keel())
		for i := range n {
			b.score(id(i), 40, 2, "")
			b.score(id(i), 2, 1, "")
		}
		c, ok := find(b.run(t, ""), "condition.change/condition")
		if !ok || (c.Refusal == nil) != said {
			t.Errorf("%d birds: %+v", n, c)
		}
		// Six falls of six: by chance 2/2^6 = 3 in 100, by counting.
		if said && (c.Stands != analysis.Against || !strings.Contains(c.Text, "3 in 100") || !strings.Contains(c.Text, "0 score higher, 6 lower")) {
			t.Errorf("%s %q", c.Stands, c.Text)
		}
	}
	b := flock(10, keel())
	for i := range 10 {
		b.score(id(i), 40, 2, "")
		b.score(id(i), 2, 2+float64(i%2)-float64((i/2)%2), "")
	}
	if c, _ := find(b.run(t, ""), "condition.change/condition"); c.Stands != analysis.Open || !strings.Contains(c.Text, "no change that scoring can show") {
		t.Errorf("%s %q", c.Stands, c.Text)
	}
}

func TestDifferentScorersAreComparedOnlyThroughDoubleScores(t *testing.T) {
	b := flock(8, keel())
	for i := range 8 {
		b.score(id(i), 40, 2, "Ada")
		b.score(id(i), 2, 1, "Bo")
	}
	if c, _ := find(b.run(t, ""), "condition.change/condition"); c.Refusal == nil || !strings.Contains(c.Text, "different people") {
		t.Errorf("%+v", c)
	}
	b.score("R01", 2, 1, "Ada")
	if c, _ := find(b.run(t, ""), "condition.change/condition"); c.Refusal != nil {
		t.Errorf("%+v", c)
	}
}

func TestScorersAreComparedFromFiveBirds(t *testing.T) {
	for n, said := range map[int]bool{AgreementPairs - 1: false, AgreementPairs: true} {
		b := flock(n, keel())
		for i := range n {
			b.score(id(i), 2, 2, "Ada")
			b.score(id(i), 2, 1+float64(i%2), "Bo")
		}
		c, ok := find(b.run(t, ""), "condition.agreement/condition")
		if !ok || (c.Refusal == nil) != said {
			t.Errorf("%d birds: %+v", n, c)
		}
		if said && (!strings.Contains(c.Text, "alike for condition on the same day in 40 of 100 cases") || !strings.Contains(c.Text, "Bo scores 0.6 steps lower") ||
			strings.Contains(c.Text, "kappa")) {
			t.Errorf("%q", c.Text)
		}
	}
	b := flock(KappaPairs, keel())
	for i := range KappaPairs {
		b.score(id(i), 2, float64(i%4), "Ada")
		b.score(id(i), 2, float64(i%4), "Bo")
	}
	if c, _ := find(b.run(t, ""), "condition.agreement/condition"); !strings.Contains(c.Text, "weighted kappa 1.00") {
		t.Errorf("%q", c.Text)
	}
}

func TestATrendNeedsFiveScores(t *testing.T) {
	for n, said := range map[int]bool{TrendScores - 1: false, TrendScores: true} {
		b := flock(1, record.Scale{Name: "condition", Min: 0, Max: 10, Direction: highGood})
		for i := range n {
			b.score("R01", 10*(n-i), float64(9-i), "")
		}
		c, ok := find(b.run(t, "R01"), "condition.trend/R01")
		if ok != said {
			t.Errorf("%d scores: %+v", n, c)
		}
		if said && (c.Stands != analysis.Against || !strings.Contains(c.Text, "fall, from 9 to 5") || !strings.Contains(c.Text, "2 in 100")) {
			t.Errorf("%s %q", c.Stands, c.Text)
		}
	}
}

func TestOneRunAmongManyBirdsIsExpectedByChance(t *testing.T) {
	// One perfect run of five (2 in 100) among twelve birds that do not move: adjusted 12 x 0.0167 = 0.2.
	b := flock(12, record.Scale{Name: "condition", Min: 0, Max: 10, Direction: highGood})
	for i := range 12 {
		for j := range TrendScores {
			v := []float64{5, 4, 5, 6, 5}[j]
			if i == 0 {
				v = float64(9 - j)
			}
			b.score(id(i), 10*(TrendScores-j), v, "")
		}
	}
	if c, ok := find(b.run(t, ""), "condition.trend/R01"); !ok || c.Stands != analysis.Open || !strings.Contains(c.Text, "With 12 birds looked at") {
		t.Errorf("%s %q", c.Stands, c.Text)
	}
}

func TestPensAreComparedInPairs(t *testing.T) {
	b := flock(2*MinPaired, keel())
	for i := range 2 * MinPaired {
		b.score(id(i), 2, map[bool]float64{true: 1, false: 3}[i%2 == 0], "")
	}
	c, ok := find(b.run(t, ""), "condition.pens/condition/a-b")
	if !ok || !strings.Contains(c.Text, "in about 10 of 10 pairs") || c.Estimate.Low < 50 {
		t.Errorf("%v %q", ok, c.Text)
	}
	few := flock(2*MinPaired-1, keel())
	for i := range 2*MinPaired - 1 {
		few.score(id(i), 2, 1, "")
	}
	if c, ok := find(few.run(t, ""), "condition.pens"); ok {
		t.Errorf("pens of 6 and 5 were compared: %q", c.Text)
	}
}

func TestTheModelNeedsThirtyBirds(t *testing.T) {
	for n, said := range map[int]bool{ModelBirds - 1: false, ModelBirds: true} {
		b := flock(n, keel())
		for i := range n {
			b.score(id(i), 100, float64(1+(i%3)), "")
			b.score(id(i), 10, float64(min(3, 2+(i%3)*(i%2))), "")
		}
		c, ok := find(b.run(t, ""), "condition.model/condition")
		if ok != said {
			t.Errorf("%d birds: %+v", n, c)
		}
		if said && !(c.Estimate.Value > 1 && c.Estimate.Low > 1 && c.Stands == analysis.For) {
			t.Errorf("%s %q", c.Stands, c.Text)
		}
	}
}

func TestBadInputGivesASentence(t *testing.T) {
	empty := flock(2, keel())
	if c, ok := find(empty.run(t, ""), "condition.none"); !ok || c.Refusal == nil {
		t.Errorf("%+v", c)
	}
	b := flock(2, keel())
	b.Observations = append(b.Observations,
		record.Observation{Bird: "R01", Trait: record.Condition, Form: record.Ordinal, Value: 2, At: record.Ref{File: "a", Row: 2, Col: 1}},                         // no date
		record.Observation{Bird: "R01", Trait: record.Condition, Form: record.Range, Lo: 1, Hi: 2, On: record.On(today), At: record.Ref{File: "a", Row: 3, Col: 1}}, // two steps
		record.Observation{Bird: "R01", Trait: record.Condition, Form: record.Ordinal, Value: 2, On: record.On(today + 9), At: record.Ref{File: "a", Row: 4, Col: 1}},
		record.Observation{Bird: "R01", Trait: record.Condition, Form: record.Ordinal, Value: 2, On: record.On(today), Flagged: true, At: record.Ref{File: "a", Row: 5, Col: 1}})
	b.score("R02", 2, 99, "") // beyond its scale
	r := b.run(t, "")
	if c, ok := find(r, "condition.left"); !ok || c.N.Records != 4 {
		t.Errorf("%+v", c)
	}
	if _, err := Spec().Run(context.Background(), analysis.Context{Today: today}, b.Dataset, map[string]any{"ring": "nobody"}); err == nil {
		t.Error("an unknown ring was accepted")
	}
	for _, c := range r.Claims() {
		if strings.Contains(c.Text, "NaN") || strings.Contains(c.Text, "%!") {
			t.Errorf("%q", c.Text)
		}
	}
}
