package identity

import (
	"testing"

	"keelmark/ingest/parse"
	"keelmark/ingest/record"
)

// seen makes a sighting on days counted from an arbitrary one.
func seen(ring, name string, days ...record.Day) *Sighting {
	s := &Sighting{Ring: ring, Name: name, RingKey: parse.RingKey(ring), NameKey: parse.NameKey(name), Measured: true,
		RingAt: record.Ref{File: "a.csv", Row: 2, Col: 1}, NameAt: record.Ref{File: "a.csv", Row: 2, Col: 2}}
	for _, d := range days {
		s.See(record.On(20000 + d))
	}
	return s
}

// The birds and rings are invented.
func TestIdentify(t *testing.T) {
	for name, c := range map[string]struct {
		all    []*Sighting
		birds  int
		of     []string // bird of each sighting, "" for held
		doubts []string
	}{
		"one ring, one name":                       {[]*Sighting{seen("R1", "Bess", 1, 2, 3)}, 1, []string{"R1"}, []string{""}},
		"the name alone is the bird with the ring": {[]*Sighting{seen("R1", "Bess", 1, 2, 3), seen("", "Bess", 4)}, 1, []string{"R1", "R1"}, []string{"", ""}},
		"two spellings under one ring": {[]*Sighting{seen("N20", "Plum Duff", 1, 2, 3, 4), seen("N20", "Plumb Duff", 5)}, 1,
			[]string{"N20", "N20"}, []string{"", "bird_alias_suspect"}},
		"a ring worn twice": {[]*Sighting{seen("7", "Old Tansy", 1, 2, 3), seen("7", "Nettle", 700, 710, 720)}, 2,
			[]string{"7", "7/Nettle"}, []string{"", "ring_reuse"}},
		"the ring of one beside the name of another": {[]*Sighting{seen("P101", "Quince", 1, 2, 3), seen("P102", "Rook", 1, 2, 3), seen("P102", "Quince", 4)}, 2,
			[]string{"P101", "P102", ""}, []string{"", "", "ring_name_mismatch"}},
		"O for 0": {[]*Sighting{seen("P103", "Mabel", 1, 2, 3), seen("P1O3", "Mabel", 4)}, 1,
			[]string{"P103", "P103"}, []string{"", "ring_misspelt"}},
		"rings that differ in a figure are two birds": {[]*Sighting{seen("P101", "", 1, 2, 3), seen("P102", "", 4)}, 2,
			[]string{"P101", "P102"}, []string{"", ""}},
		"a name nearly known":                          {[]*Sighting{seen("", "Sloe", 1, 2, 3), seen("", "Slow", 4)}, 1, []string{"Sloe", "Sloe"}, []string{"", "bird_unknown"}},
		"nearly the same, but weighed on the same day": {[]*Sighting{seen("", "Daisy", 1, 2, 3), seen("", "Maisy", 3)}, 2, []string{"Daisy", "Maisy"}, []string{"", ""}},
	} {
		t.Run(name, func(t *testing.T) {
			id := Identify(c.all, nil)
			birds := 0
			for i := range id.All {
				if id.Known(i) {
					birds++
				}
			}
			if birds != c.birds {
				t.Errorf("%d birds, want %d", birds, c.birds)
			}
			for i, s := range c.all {
				class, bird := "", ""
				if s.Doubt != nil {
					class = s.Doubt.Class
				}
				if n := id.Of(s, record.Date{}); n >= 0 && (s.Doubt == nil || !s.Doubt.Hold) {
					bird = id.All[n].ID
				}
				if bird != c.of[i] || class != c.doubts[i] {
					t.Errorf("%s %s is %q, doubt %q; want %q, %q", s.Ring, s.Name, bird, class, c.of[i], c.doubts[i])
				}
			}
		})
	}
}

func TestRingWithoutNameFollowsTheDate(t *testing.T) {
	all := []*Sighting{seen("7", "Old Tansy", 1, 2, 3), seen("7", "Nettle", 700, 710), seen("7", "", 2, 705)}
	id := Identify(all, nil)
	for day, want := range map[record.Day]string{2: "Old Tansy", 705: "Nettle"} {
		if i := id.Of(all[2], record.On(20000+day)); i < 0 || id.All[i].Name != want {
			t.Errorf("ring 7 on day %d is bird %d, want %s", day, i, want)
		}
	}
}

func TestSettingsNameBirds(t *testing.T) {
	all := []*Sighting{seen("", "Bessie", 1), seen("R1", "", 2)}
	id := Identify(all, map[string]record.BirdSettings{"R1": {Ring: "R1", Name: "Bess", Aliases: []string{"Bessie"}, Sex: record.Female}})
	if a, b := id.Of(all[0], record.Date{}), id.Of(all[1], record.Date{}); a != b || a < 0 || id.All[a].Sex != record.Female {
		t.Errorf("birds %d and %d of %v", a, b, id.All)
	}
}

func TestSpelling(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want bool
	}{{"plum duff", "plumb duff", true}, {"sloe", "slow", true}, {"p103", "p1o3", true}, {"p101", "p102", false}, {"bess", "bert", false}, {"tansy", "old tansy", false}} {
		if got := alike(c.a, c.b); got != c.want {
			t.Errorf("alike(%q, %q) is %v", c.a, c.b, got)
		}
	}
	if d := distance([]rune("nettle"), []rune("netlte"), 2); d != 1 {
		t.Errorf("a swap counts %d", d)
	}
}

func TestWhatWasTakenAsOneIsTold(t *testing.T) {
	s := seen("r-13", "", 1, 2, 3)
	s.Spelt("R 13", "")
	s.Spelt("r-13", "")
	s.Spelt("R13", "")
	id := Identify([]*Sighting{s}, nil)
	if got := id.All[0].Aliases; len(got) != 2 || got[0] != "R 13" || got[1] != "R13" {
		t.Errorf("also written %q", got)
	}
}

func TestRingsThatDifferByZerosAreAskedAboutEvenWhenBothWereWeighedOnADay(t *testing.T) {
	all := []*Sighting{seen("R13", "", 1, 2, 3), seen("R013", "", 3)}
	id := Identify(all, nil)
	if a, b := id.Of(all[0], record.Date{}), id.Of(all[1], record.Date{}); a == b || a < 0 || b < 0 {
		t.Fatalf("birds %d and %d", a, b)
	}
	d := all[0].Doubt
	if d == nil || d.Class != "ring_zeros_lost" || d.Hold || len(d.Readings) != 2 || d.Readings[1].Value != "R013" {
		t.Errorf("asked: %+v", d)
	}
}

func TestTwoSexesUnderOneRingAreAskedAboutUnlessSettled(t *testing.T) {
	told := func() []*Sighting {
		s := seen("R1", "", 1, 2, 3)
		s.Facts.Fill(Facts{Sex: record.Male, At: []record.Ref{{Row: 2, Col: 1}}})
		s.Facts.Fill(Facts{Sex: record.Female, At: []record.Ref{{Row: 4, Col: 1}}})
		return []*Sighting{s}
	}
	all := told()
	id := Identify(all, nil)
	if d := all[0].Doubt; d == nil || d.Class != "bird_facts_conflict" {
		t.Errorf("asked: %+v", d)
	}
	if got := id.All[0].Told; len(got) != 2 || got[0].Sex != record.Male || got[1].At.Row != 4 {
		t.Errorf("told %+v", got)
	}
	all = told()
	Identify(all, map[string]record.BirdSettings{"R1": {Ring: "R1", Sex: record.Female}})
	if all[0].Doubt != nil {
		t.Errorf("flock.toml says which, and still: %+v", all[0].Doubt)
	}
}
