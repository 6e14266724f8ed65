package standard

import (
	"testing"

	"keelmark/datasets"
	"keelmark/ingest/record"
)

func BenchmarkFind(b *testing.B) {
	rows, err := datasets.Breeds()
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		Find(rows, Wanted{Breed: "Light Sussex", Size: record.Large, Country: "GB", Class: record.Cock})
	}
}
