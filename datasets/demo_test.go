package datasets

import (
	"encoding/csv"
	"io/fs"
	"path"
	"slices"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

func truth(t *testing.T) Truth {
	t.Helper()
	out, err := DemoTruth()
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func trueBird(t *testing.T, in Truth, ring string) TrueBird {
	t.Helper()
	for _, b := range in.Birds {
		if b.Ring == ring {
			return b
		}
	}
	t.Fatalf("no bird %s", ring)
	return TrueBird{}
}

func TestDemoFolders(t *testing.T) {
	demo, in := Demo(), truth(t)
	want := []string{DemoKeeper + "/book-2025.xlsx", DemoKeeper + "/flock.toml", DemoKeeper + "/weigh-ins-2024.xlsx", DemoKeeper + "/weights-2023.xlsx", "README.md"}
	for _, f := range in.Files {
		if f.Flock != DemoKeeper {
			want = append(want, path.Join(f.Flock, f.File), path.Join(f.Flock, "flock.toml"))
		}
	}
	slices.Sort(want)
	var got []string
	size := 0
	err := fs.WalkDir(demo, ".", func(name string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		got = append(got, name)
		data, err := fs.ReadFile(demo, name)
		size += len(data)
		if strings.HasSuffix(name, ".toml") && (!strings.HasPrefix(string(data), "# Invented") || !strings.Contains(string(data), "(invented)")) {
			t.Errorf("%s does not say that it is invented", name)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(got)
	if !slices.Equal(got, want) {
		t.Errorf("files\n%q, want\n%q", got, want)
	}
	if size > 300_000 {
		t.Errorf("the demo takes %d bytes of the binary", size)
	}
	if len(in.Flocks) != 6 || len(in.Files) != 9 {
		t.Errorf("%d neighbours and %d files in the truth, want 6 and 9", len(in.Flocks), len(in.Files))
	}
}

// TestDemoStory: the demo has to show these birds, whatever the dice say.
func TestDemoStory(t *testing.T) {
	in := truth(t)
	today, show := DemoToday(), day(t, in.Show)
	if today.String() != in.Today || show-today != 19 {
		t.Errorf("read on %s, show on %s", today, show)
	}
	here, names := 0, make(map[string]bool)
	for _, b := range in.Birds {
		names[b.Name] = true
		if b.Left == "" {
			here++
		}
	}
	if len(in.Birds) != 30 || here != 26 {
		t.Errorf("%d birds, %d of them still there; want 30 and 26", len(in.Birds), here)
	}
	for _, n := range []string{"Žofie", "Nguyệt", "Ærø"} {
		if !names[n] {
			t.Errorf("no bird is named %s", n)
		}
	}

	edge := trueBird(t, in, "W22-21")
	if !edge.Inside || edge.ShowWeight > 1.05*edge.Low {
		t.Errorf("W22-21 should stand just inside its lower bound: %+v", edge)
	}
	over := trueBird(t, in, "W24-11")
	if over.Inside || over.ShowWeight < 1.05*over.High {
		t.Errorf("W24-11 should stand over its band: %+v", over)
	}
	// Born 2024-12-05: a pullet on the day of reading, a hen at the show.
	turning := trueBird(t, in, "W24-41")
	if birthday := day(t, turning.Hatched).AddMonths(12); birthday <= today || birthday > show || turning.ShowClass != record.Hen {
		t.Errorf("W24-41 should turn one between reading and show: %+v", turning)
	}
	young := trueBird(t, in, "W25-31")
	if young.Breed != "Sebright" || young.ShowClass != record.Cockerel || young.Low != 0 || young.High != 0 {
		t.Errorf("W25-31 should be a Sebright cockerel without a published weight: %+v", young)
	}
	again := trueBird(t, in, "W22-01")
	if n := len(again.Infested); n < 2 || again.Infested[n-1][1] != "" || day(t, again.Infested[n-1][0])-day(t, again.Infested[n-2][1]) < 21 {
		t.Errorf("W22-01 should have lice again, three weeks and more after its second treatment: %v", again.Infested)
	}
	if len(in.Doubtful) != 6 {
		t.Errorf("%d doubtful cells, want 6: enough to show questions, few enough to answer", len(in.Doubtful))
	}
}

// TestDemoBoundsAreAFifth: the bands of the truth follow from the table of published weights. Sussex large
// cock 9 lb: 0.8 and 1.2 times 4082 g.
func TestDemoBoundsAreAFifth(t *testing.T) {
	if b := trueBird(t, truth(t), "W22-01"); b.Low != 3266 || b.High != 4899 {
		t.Errorf("%v to %v g, want 3266 to 4899", b.Low, b.High)
	}
	// Sussex bantam cockerel 32 oz: 0.8 and 1.2 times 907.2 g.
	if b := trueBird(t, truth(t), "W25-12"); b.Low != 726 || b.High != 1089 {
		t.Errorf("%v to %v g, want 726 to 1089", b.Low, b.High)
	}
}

// TestTruthCountsTheNeighbours reads the text files again and counts.
func TestTruthCountsTheNeighbours(t *testing.T) {
	read := 0
	for _, want := range truth(t).Files {
		if !strings.HasSuffix(want.File, ".csv") {
			continue
		}
		read++
		f, err := Demo().Open(path.Join(want.Flock, want.File))
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(f).ReadAll()
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		got := FileCounts{Flock: want.Flock, File: want.File}
		for _, r := range rows[1:] {
			for i, n := range []*int{&got.Weights, &got.Conditions, &got.Lice} {
				if r[6+i] != "" {
					*n++
				}
			}
		}
		if got != want {
			t.Errorf("%+v, the truth says %+v", got, want)
		}
	}
	if read != 4 {
		t.Errorf("%d text files, want 4", read)
	}
}

func day(t *testing.T, iso string) record.Day {
	t.Helper()
	d, err := record.ParseDay(iso)
	if err != nil {
		t.Fatal(err)
	}
	return d
}
