package datasets

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

func breeds(t *testing.T) []record.PublishedWeight {
	t.Helper()
	rows, err := Breeds()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// published finds the one row that fits.
func published(t *testing.T, rows []record.PublishedWeight, fits func(record.PublishedWeight) bool) record.PublishedWeight {
	t.Helper()
	var found []record.PublishedWeight
	for _, r := range rows {
		if fits(r) {
			found = append(found, r)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d rows fit, want 1", len(found))
	}
	return found[0]
}

func TestBreedsAreComplete(t *testing.T) {
	rows := breeds(t)
	if len(rows) != 140 {
		t.Errorf("%d rows, want 140", len(rows))
	}
	names := make(map[string]bool)
	for _, r := range rows {
		names[r.Breed] = true
		all := strings.Join([]string{r.Standard, r.Edition, r.Source, r.SourceKind, r.Note}, "\n")
		for _, unwanted := range []string{"memory", "http", "www."} {
			if strings.Contains(strings.ToLower(all), unwanted) {
				t.Errorf("%s %s %s: %q stands in %q", r.Breed, r.SizeText, r.Country, unwanted, all)
			}
		}
	}
	if len(names) != 56 {
		t.Errorf("%d breeds, want 56 as SOURCES.md says", len(names))
	}
}

// TestBoundsFollowFromPrint recomputes every bound from the printed text by another way than the loader:
// all numbers in the text, and the words around them.
func TestBoundsFollowFromPrint(t *testing.T) {
	// International pound of 1959: 453.59237 g; ounce 28.349523125 g.
	grams := map[string]float64{"g": 1, "kg": 1000, "lb": 453.59237, "oz": 28.349523125}
	number := regexp.MustCompile(`[0-9]+(\.[0-9]+)?`)
	for _, r := range breeds(t) {
		for _, class := range record.Classes() {
			w, ok := r.Weights[class]
			if !ok {
				continue
			}
			var v []float64
			for _, s := range number.FindAllString(w.Printed, -1) {
				f, _ := strconv.ParseFloat(s, 64)
				v = append(v, f*grams[r.Unit])
			}
			low, high := v[0], v[len(v)-1]
			switch {
			case strings.Contains(w.Printed, "max"):
				low = 0
			case strings.Contains(w.Printed, "min"):
				high = 0
			}
			if math.Abs(w.Low-low) > 1e-9 || math.Abs(w.High-high) > 1e-9 {
				t.Errorf("%s %s %s %q %s: %v to %v, want %v to %v", r.Breed, r.Country, class, w.Printed, r.Unit, w.Low, w.High, low, high)
			}
			if !w.Published() || max(w.Low, w.High) < 400 || max(w.Low, w.High) > 6500 {
				t.Errorf("%s %s %s: %+v cannot be a show weight", r.Breed, r.Country, class, w)
			}
		}
	}
}

// TestFiguresByHand compares figures that were read in the sources named.
func TestFiguresByHand(t *testing.T) {
	rows := breeds(t)
	tests := []struct {
		name string
		fits func(record.PublishedWeight) bool
		kind string
		// grams, rounded; 0, 0 where the source gives none. Order: cock, hen, cockerel, pullet
		want [4][2]float64
	}{
		// Oklahoma State University breeds page, after extension sheet A2880: 9, 7, 7.5, 6 lb.
		{"Sussex large US", func(r record.PublishedWeight) bool {
			return r.Breed == "Sussex" && r.Size == record.Large && r.Country == "US" && r.Unit == "lb"
		}, "extension sheet", [4][2]float64{{4082, 4082}, {3175, 3175}, {3402, 3402}, {2722, 2722}}},
		// Poultry Club SA page: 1.7, 1.5, 1.7, 1.5 kg at most.
		{"Sussex bantam ZA", func(r record.PublishedWeight) bool {
			return r.Breed == "Sussex" && r.Size == record.Bantam && r.Country == "ZA"
		}, "club page", [4][2]float64{{0, 1700}, {0, 1500}, {0, 1700}, {0, 1500}}},
		// Magazine profile quoting the American standard: 36, 30, 32, 28 oz.
		{"Sussex bantam US", func(r record.PublishedWeight) bool {
			return r.Breed == "Sussex" && r.Size == record.Bantam && r.Country == "US"
		}, "magazine article", [4][2]float64{{1021, 1021}, {850, 850}, {907, 907}, {794, 794}}},
		// Oklahoma State University breeds page, after extension sheet A2880: 5, 4, 4, 3.5 lb.
		{"Hamburg large", func(r record.PublishedWeight) bool {
			return r.Breed == "Hamburg" && r.Size == record.Large
		}, "extension sheet", [4][2]float64{{2268, 2268}, {1814, 1814}, {1814, 1814}, {1588, 1588}}},
		// US Department of Agriculture, Farmers' Bulletin 51: male 24 to 26 oz, hen about 20 oz.
		{"Sebright 1899", func(r record.PublishedWeight) bool {
			return r.Breed == "Sebright" && r.SourceKind == "public bulletin"
		}, "public bulletin", [4][2]float64{{680, 737}, {567, 567}, {}, {}}},
		// Farmers' Bulletin 51 again; its columns run cock, cockerel, hen, pullet: 7.5, 6, 6.5, 5 lb.
		{"Redcap 1899", func(r record.PublishedWeight) bool { return r.Breed == "Redcap" },
			"public bulletin", [4][2]float64{{3402, 3402}, {2948, 2948}, {2722, 2722}, {2268, 2268}}},
		// Poultry Club SA page: 1.2, 0.8, 0.9, 0.6 kg at least.
		{"Silkie ZA", func(r record.PublishedWeight) bool { return r.Breed == "Silkie" && r.Country == "ZA" },
			"club page", [4][2]float64{{1200, 0}, {800, 0}, {900, 0}, {600, 0}}},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			r := published(t, rows, test.fits)
			if r.SourceKind != test.kind {
				t.Errorf("kind of source %q, want %q", r.SourceKind, test.kind)
			}
			for i, class := range record.Classes() {
				w := r.Weights[class]
				if got := [2]float64{math.Round(w.Low), math.Round(w.High)}; got != test.want[i] {
					t.Errorf("%s: %v g, want %v", class, got, test.want[i])
				}
			}
		})
	}
}

// TestSebrightHasNoYoungWeights: the demo's refusal rests on this gap.
func TestSebrightHasNoYoungWeights(t *testing.T) {
	n := 0
	for _, r := range breeds(t) {
		if r.Breed != "Sebright" {
			continue
		}
		n++
		if r.Size != record.Bantam || r.SizeText != "true bantam" {
			t.Errorf("size %q, %q; want bantam, true bantam", r.Size, r.SizeText)
		}
		if r.Weights[record.Cockerel].Published() || r.Weights[record.Pullet].Published() {
			t.Errorf("%s: a weight for young birds, which no source gives", r.Source)
		}
	}
	if n != 2 {
		t.Errorf("%d rows, want 2", n)
	}
}

func TestBadBreedRowsNameThePlace(t *testing.T) {
	const good = "Foo,,large,GB,not named,not stated,lb,9,7,,,hobby page,a page,\n"
	tests := []struct{ name, text, want string }{
		{"headings", strings.Replace(breedHeading, "breed", "race", 1) + "\n" + good, "row 1: the headings"},
		{"unit", breedHeading + "\n" + good + strings.Replace(good, ",lb,", ",stone,", 1), `row 3: unit "stone"`},
		{"size", breedHeading + "\n" + strings.Replace(good, "large", "huge", 1), `row 2: size "huge"`},
		{"range reversed", breedHeading + "\n" + strings.Replace(good, ",9,", ",9-7,", 1), `cock: "9-7" is not a published weight`},
		{"not a number", breedHeading + "\n" + strings.Replace(good, ",9,", ",nine,", 1), `cock: "nine" is not`},
		{"bad bound", breedHeading + "\n" + strings.Replace(good, ",9,", ",-1 max,", 1), `cock: "-1 max" is not`},
		{"no source", breedHeading + "\n" + strings.Replace(good, "a page", "", 1), "source is empty"},
		{"no weight", breedHeading + "\n" + strings.Replace(good, ",9,7,", ",,,", 1), "no weight for any class"},
		{"too few cells", breedHeading + "\nFoo,large\n", "wrong number of fields"},
		{"empty", "", "EOF"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			_, err := readBreeds(strings.NewReader(test.text))
			if err == nil || !strings.Contains(err.Error(), test.want) {
				t.Errorf("error %v, want it to say %q", err, test.want)
			}
			if err != nil && !strings.Contains(err.Error(), breedFile) {
				t.Errorf("error %v does not name the file", err)
			}
		})
	}
	if _, err := readBreeds(strings.NewReader(breedHeading + "\n" + good)); err != nil {
		t.Errorf("a good row: %v", err)
	}
}
