package frame

import (
	"fmt"
	"testing"

	"github.com/go-gota/gota/dataframe"
	"github.com/go-gota/gota/series"
)

// rows makes an invented table: a bird, one of ten pens, and a weight.
func rows(n, birds int) *Frame {
	bird, pen, weight := make([]string, n), make([]string, n), make([]float64, n)
	for i := range n {
		bird[i] = fmt.Sprintf("R%d", i*7919%birds)
		pen[i] = fmt.Sprintf("pen %d", i%10)
		weight[i] = float64(400 + i*31%800)
	}
	f, err := New([]Column{Texts("bird", bird), Texts("pen", pen), Numbers("weight", "g", weight)}, nil)
	if err != nil {
		panic(err)
	}
	return f
}

func BenchmarkWhere100k(b *testing.B) {
	f := rows(100_000, 5_000)
	for b.Loop() {
		fresh := &Frame{columns: nil, rows: f.rows, origin: f.origin}
		for _, c := range f.columns {
			fresh.columns = append(fresh.columns, &column{name: c.name, kind: c.kind, values: c.values})
		}
		out, err := fresh.Where(Equals("pen", "pen 3"), Between("weight", 500, 900))
		if err != nil {
			b.Fatal(err)
		}
		out.columns[2].gather()
	}
}

func benchmarkGroup(b *testing.B, by string, birds int) {
	f := rows(1_000_000, birds)
	for b.Loop() {
		g, err := f.GroupBy(by)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := g.Summarise(Summary{Column: "weight", Of: "mean"}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkGroup10Of1M(b *testing.B)    { benchmarkGroup(b, "pen", 50_000) }
func BenchmarkGroup50000Of1M(b *testing.B) { benchmarkGroup(b, "bird", 50_000) }

func BenchmarkJoin100KeysOf1M(b *testing.B) {
	f, birds := rows(1_000_000, 100), rows(100, 100)
	birds, err := birds.Select("bird", "pen")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		out, err := f.Join(birds, false, "bird")
		if err != nil {
			b.Fatal(err)
		}
		for _, c := range out.columns {
			c.gather()
		}
	}
}

// What gota itself takes for the same work, to compare with on the same machine. Its operations are not used
// by this package.
func gotas(f *Frame) dataframe.DataFrame {
	var all []series.Series
	for _, c := range f.columns {
		all = append(all, c.series(c.name))
	}
	return dataframe.New(all...)
}

func benchmarkGotaGroup(b *testing.B, by string) {
	df := gotas(rows(1_000_000, 50_000))
	for b.Loop() {
		out := df.GroupBy(by).Aggregation([]dataframe.AggregationType{dataframe.Aggregation_MEAN}, []string{"weight"})
		if out.Err != nil {
			b.Fatal(out.Err)
		}
	}
}

func BenchmarkGotaGroup10Of1M(b *testing.B)    { benchmarkGotaGroup(b, "pen") }
func BenchmarkGotaGroup50000Of1M(b *testing.B) { benchmarkGotaGroup(b, "bird") }

func BenchmarkGotaJoin100KeysOf1M(b *testing.B) {
	df, birds := gotas(rows(1_000_000, 100)), gotas(rows(100, 100)).Select([]string{"bird", "pen"}).Rename("pen2", "pen")
	for b.Loop() {
		if out := df.InnerJoin(birds, "bird"); out.Err != nil || out.Nrow() == 0 {
			b.Fatal(out.Err)
		}
	}
}
