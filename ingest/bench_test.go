package ingest

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"keelmark/ingest/record"
)

const benchRows = 100_000

// longTable writes a long table of six columns.
func longTable(b *testing.B) string {
	b.Helper()
	path := filepath.Join(b.TempDir(), "long.csv")
	f, err := os.Create(path)
	if err != nil {
		b.Fatal(err)
	}
	w := bufio.NewWriter(f)
	fmt.Fprintln(w, "Date,Ring,Weight g,BCS 0-3,Lice,Notes")
	for i := range benchRows {
		day := today() - 4000 + 7*record.Day(i/200)
		fmt.Fprintf(w, "%s,R%03d,%d,%d,%s,\n", day, i%200, 600+(i*7919)%900, i%4, []string{"none", "few", "many"}[i%3])
	}
	if err := errors.Join(w.Flush(), f.Close()); err != nil {
		b.Fatal(err)
	}
	return path
}

// BenchmarkCSV reads a long table of six columns to full records, three a row; the figure of interest is rows/s.
func BenchmarkCSV(b *testing.B) {
	path := longTable(b)
	b.ReportAllocs()
	for b.Loop() {
		sets, err := Load(context.Background(), []string{path}, Options{})
		if err != nil {
			b.Fatal(err)
		}
		if n := len(sets[0].Observations); n != 3*benchRows {
			b.Fatalf("%d records", n)
		}
	}
	b.ReportMetric(float64(benchRows*b.N)/b.Elapsed().Seconds(), "rows/s")
}

// BenchmarkMemory reports the bytes that a dataset keeps for each record: all that is alive once it is read, less
// the text of the file, which the records share with the reader.
func BenchmarkMemory(b *testing.B) {
	path := longTable(b)
	info, err := os.Stat(path)
	if err != nil {
		b.Fatal(err)
	}
	alive := func() float64 {
		var m runtime.MemStats
		runtime.GC()
		runtime.ReadMemStats(&m)
		return float64(m.HeapAlloc)
	}
	kept := 0.0
	for b.Loop() {
		before := alive()
		sets, err := Load(context.Background(), []string{path}, Options{})
		if err != nil {
			b.Fatal(err)
		}
		kept = (alive() - before - float64(info.Size())) / float64(len(sets[0].Observations))
		runtime.KeepAlive(sets)
	}
	b.ReportMetric(kept, "bytes/record")
}

// BenchmarkXLSX reads a workbook to full records; KEELMARK_BENCH_XLSX names one of a long table. Rows/s are those
// of its first sheet.
func BenchmarkXLSX(b *testing.B) {
	path := os.Getenv("KEELMARK_BENCH_XLSX")
	if path == "" {
		b.Skip("KEELMARK_BENCH_XLSX names no workbook")
	}
	rows := 0
	for b.Loop() {
		sets, err := Load(context.Background(), []string{path}, Options{})
		if err != nil {
			b.Fatal(err)
		}
		rows = len(sets[0].Ledgers[0].Fates)
	}
	b.ReportMetric(float64(rows*b.N)/b.Elapsed().Seconds(), "rows/s")
}
