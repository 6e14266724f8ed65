package parse

import (
	"slices"
	"testing"
)

func TestNearBreeds(t *testing.T) {
	known := []string{"Sussex", "Wyandotte", "Rhode Island Red", "Leghorn", "Faverolles", "Java", "Plymouth Rock", "Old English Game"}
	for _, c := range []struct {
		text string
		want []string
	}{
		{"Wyandote bantam", []string{"Wyandotte bantam"}},
		{"Blk Wyandotte", nil},
		{"wyandottes", nil},
		{"Zwerg-Wyandotten", nil},
		{"Faverolle", nil},
		{"Susex", []string{"Sussex"}},
		{"Light Sussxe LF", []string{"Light Sussex LF"}},
		{"Rhode Islnd Red", []string{"Rhode Island Red"}},
		{"RhodeIsland Red", nil},
		{"Plymoth Rok", []string{"Plymouth Rock"}},
		{"Legorn", []string{"Leghorn"}},
		{"Jav", nil}, // too short to tell
		{"crossbred", nil},
		{"Barnevelder", nil}, // no breed that is known here, and like none
		{"OEG", nil},
		{"", nil},
	} {
		if got := NearBreeds(c.text, known); !slices.Equal(got, c.want) {
			t.Errorf("%q: %q, want %q", c.text, got, c.want)
		}
	}
}
