package ingest

import (
	"path/filepath"
	"slices"
	"testing"
)

// A ring that two birds wore one after the other, of which only the second has a day of hatching. Invented.
func TestTheFirstWearerOfARing(t *testing.T) {
	log := tab{name: "Log", rows: "Date|Ring|Weight g\n@2023-05-11|7|#861\n@2023-06-08|7|#870\n@2024-07-06|7|#820\n@2024-08-03|7|#950"}
	want := []string{"C2 7 2023-05-11 weight 861", "C3 7 2023-06-08 weight 870", "C4 7/Bert 2024-07-06 weight 820", "C5 7/Bert 2024-08-03 weight 950"}
	for _, c := range []struct {
		register string
		want     []string
	}{
		{"Ring|Name|Sex|Hatched\n7|Bess|hen|\n7|Bert|ckl|@2024-03-01", want},
		{"Ring|Name|Sex|Hatched\n7|Bert|ckl|@2024-03-01\n7|Bess|hen|", []string{"C2 7/Bess 2023-05-11 weight 861", "C3 7/Bess 2023-06-08 weight 870", "C4 7 2024-07-06 weight 820", "C5 7 2024-08-03 weight 950"}},
	} {
		dir := write(t, map[string]string{"w.xlsx": string(drawnXLSX(t, false, tab{name: "Birds", rows: c.register}, log))})
		sets := load(t, filepath.Join(dir, "w.xlsx"))
		if got := brief(sets); !slices.Equal(got, c.want) {
			t.Errorf("%s\n got %q\nwant %q, asked %v", c.register, got, c.want, classes(sets))
		}
		if got := classes(sets); !slices.Contains(got, "ring_reuse") || slices.Contains(got, "date_before_hatch") {
			t.Errorf("asked %v", got)
		}
		checkFates(t, sets)
	}
}

// A death that waits for the keeper's word does not put the looks after it in doubt. Invented.
func TestADeathInDoubt(t *testing.T) {
	dir := write(t, map[string]string{"w.csv": "Date,Ring,Weight g\n13/4/2025,R1,850\n20/4/2025,R1,†\n27/4/2025,R1,861\n27/4/2025,R2,900\n"})
	sets := load(t, filepath.Join(dir, "w.csv"))
	if got := classes(sets); !slices.Equal(got, []string{"death_marker"}) {
		t.Errorf("asked %v", got)
	}
	if got := brief(sets); !slices.Contains(got, "C4 R1 2025-04-27 weight 861") {
		t.Errorf("read %v", got)
	}
}
