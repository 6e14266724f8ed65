package main

import (
	"bytes"
	"context"
	"math"
	"strings"
	"testing"

	"keelmark/analysis/forecast/invent"
)

// Ranges and chances hold as often as they say, through the analysis as it is called from outside. With 6 flocks of 10 to
// 30 birds the standard error of a share, birds of a flock going together, is about 4 points at 90 and 8 at 50; the
// allowance is three of these.
func TestRangesAndChancesComeTrue(t *testing.T) {
	m, err := measure(context.Background(), invent.Design{Step: 4, Last: 14, Noise: 0.03, Bad: 0.05}, 7, 6)
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]*coverage{"four weeks ahead": &m.later, "mature": &m.mature} {
		if got, _ := c.share(2); got < 78 {
			t.Errorf("%s: %.0f %% inside the 90 %% range", name, got)
		}
		if got, _ := c.share(0); got < 26 || got > 74 {
			t.Errorf("%s: %.0f %% inside the 50 %% range", name, got)
		}
	}
	// 120 birds in 6 flocks: a bin of 20 has a standard error of about 10 points, and they cancel in part.
	if g := gap(m.told.bin()); g > 15 || math.IsNaN(g) {
		t.Errorf("stated chances of being on weight lie %.0f points from what came true", g)
	}
}

// A setback of the whole flock leaves no mature weight.
func TestASetbackRefusesTheMatureWeight(t *testing.T) {
	m, err := measure(context.Background(), invent.Design{Step: 2, Last: 20, Noise: 0.02, Setback: 0.25}, 1, 2)
	if err != nil {
		t.Fatal(err)
	}
	if m.setbacks != 2 || m.refused != 30 || len(m.mature.errors) != 0 {
		t.Errorf("setback found in %d of 2 flocks, mature weights stated: %d", m.setbacks, len(m.mature.errors))
	}
}

// Two flocks of ten, 8 and 6 inside: 70 %, standard error by hand sqrt(2 (1² + 1²) / (2-1)) / 20 = 10 points.
func TestTheStandardErrorTakesAFlockTogether(t *testing.T) {
	percent, se := clustered(map[int]int{0: 8, 1: 6}, map[int]int{0: 10, 1: 10})
	if math.Abs(percent-70) > 1e-9 || math.Abs(se-10) > 1e-9 {
		t.Errorf("%v (%v)", percent, se)
	}
}

func TestBinsAndGap(t *testing.T) {
	var s tally
	for i := range 10 {
		s.add(0.95, i < 9)
		s.add(0.2, i < 4)
	}
	b := s.bin()
	if len(b) != 2 || b[0].Cases != 10 || math.Abs(b[0].Share-0.4) > 1e-9 || math.Abs(b[1].Share-0.9) > 1e-9 {
		t.Fatalf("%+v", b)
	}
	if g := gap(b); math.Abs(g-12.5) > 1e-9 { // (20 + 5) / 2 points
		t.Errorf("gap %v", g)
	}
	f, err := s.figure()
	if err == nil {
		err = f.Validate()
	}
	if err != nil || !strings.Contains(f.Alt, "12.5 points") {
		t.Errorf("%v %v", f.Alt, err)
	}
	if _, err := new(tally).figure(); err == nil {
		t.Error("a figure of nothing")
	}
}

func TestNoFlocksAreRefused(t *testing.T) {
	if err := run(new(bytes.Buffer), 0, 1, "", ""); err == nil {
		t.Error("no error")
	}
}
