package cell

import (
	"context"
	"testing"

	"keelmark/analysis"
	"keelmark/analysis/catalog"
	"keelmark/plots"
)

// Every analysis of the catalogue is a function of its name, with help, and shows what it found; that the
// invented flock is too small for most of them is answered by claims, not by errors.
func TestEveryAnalysisRunsFromACell(t *testing.T) {
	d := flock()
	e, err := New(Options{Specs: catalog.All(), Flock: d, Context: analysis.Context{Today: 20240, Settings: d.Settings},
		Figures: plots.For, BirdFigures: plots.ForBird})
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range catalog.All() {
		for _, source := range []string{s.Name + "(flock)", s.Name + "(flock).of(\"R12\")", "help(" + s.Name + ")",
			"[len(f.alt) for f in " + s.Name + "(flock).figures]", "[(c.text, c.stands, c.n, c.cells) for c in " + s.Name + "(flock).claims]",
			"[t.describe() for t in " + s.Name + "(flock).tables]"} {
			r := &recorder{}
			if f := e.Run(context.Background(), "cell 1", source, r); f != nil || len(r.lines) == 0 {
				t.Errorf("%s: %v", source, f)
			}
		}
		for _, p := range s.Params {
			r := &recorder{}
			source := s.Name + "(flock, " + p.Name + " = " + literal(p.Default) + ")"
			if f := e.Run(context.Background(), "cell 1", source, r); f != nil {
				t.Errorf("%s: %v", source, f)
			}
		}
	}
}
