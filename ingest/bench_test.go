package ingest

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"keelmark/ingest/record"
)

// BenchmarkCSV reads a long table of six columns to full records; the figure of interest is rows/s.
func BenchmarkCSV(b *testing.B) {
	const rows = 100_000
	path := filepath.Join(b.TempDir(), "long.csv")
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	fmt.Fprintln(f, "Date,Ring,Weight g,BCS 0-3,Lice,Notes")
	for i := range rows {
		day := today() - 4000 + 7*record.Day(i/200)
		fmt.Fprintf(f, "%s,R%03d,%d,%d,%s,\n", day, i%200, 600+(i*7919)%900, i%4, []string{"none", "few", "many"}[i%3])
	}
	if err := f.Close(); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		sets, err := Load(context.Background(), []string{path}, Options{})
		if err != nil {
			b.Fatal(err)
		}
		if n := len(sets[0].Observations); n != 3*rows {
			b.Fatalf("%d records", n)
		}
	}
	b.ReportMetric(float64(rows*b.N)/b.Elapsed().Seconds(), "rows/s")
}
