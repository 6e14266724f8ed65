package ingest

import (
	"context"
	"os"
	"path/filepath"
	"testing"

	"keelmark/ingest/layout"
	"keelmark/ingest/record"
	"keelmark/ingest/sheet"
)

// FuzzLoad looks for text that panics, loses a cell, or gives a record to a cell that is not accounted as one.
func FuzzLoad(f *testing.F) {
	for _, seed := range []string{
		"Date,Ring,Weight (g),Lice,Notes\n1/4/25,R1,850,+,dusted for lice\n15/4/25,R1,2.4,-,\n",
		"Bird,1 Apr 25,15 Apr 25,Gain\nBess,850,870,20\nClary,†,sold,\nAverage,850,870,\n",
		"Name:,Bess,Ring:,R1\nDate,Weight,BCS\n1/4/25,2lb 3,3-\n",
		"3 May 2025: weighed Bess 850g and Clary 790g. Dusted all.\n10 May 2025: Bess 870 g; Clary died\n",
		"Flock,week,Chicken,weight.kg\n1,1,1,0.04\n1,2,1,0.1\n2,1,1,0.05\n",
	} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if len(text) > 1500 {
			return
		}
		path := filepath.Join(t.TempDir(), "a.csv")
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		sets, err := Load(context.Background(), []string{path}, Options{Today: today()})
		if err != nil {
			t.Fatal(err)
		}
		checkFates(t, sets)
		book, err := sheet.OpenFile(context.Background(), path, sheet.Limits{})
		if err != nil {
			return
		}
		for i := range book.Grids {
			v := layout.Of(&book.Grids[i])
			ledger := ledgerOf(sets[0], "a.csv", book.Grids[i].Sheet)
			for l := 0; l < v.Lines(); l++ {
				for c := 0; c < v.Fields(); c++ {
					if r := v.Ref(l, c); !v.Blank(l, c) && ledger.At(r.Row, r.Col) == record.Blank {
						t.Fatalf("%s has no fate", r)
					}
				}
			}
		}
	})
}
