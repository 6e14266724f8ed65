// Package growth fits growth curves: one a bird, one a line (birds of one breed, size, strain and sex pooled),
// and one a pen or flock where weighings name no bird.
//
// A curve answers with claims: mature weight, fastest growth, ages at half and nearly full weight, each with
// its range; where the weighings cannot tell, with a refusal that names the next weighing worth taking. Fitted
// curves, points and bands are there for figures and for other analyses.
//
// It knows no standard, so it never says whether a weight is right; it forecasts nobody's show day; and it
// never takes numbers within a sample for birds.
package growth

import (
	"context"
	"fmt"

	"keelmark/analysis"
	"keelmark/analysis/fit"
	"keelmark/ingest/record"
)

// Options of the analysis.
type Options struct {
	Bird        string  `name:"bird" doc:"ring or name of one bird; empty for all"`
	Family      string  `name:"family" doc:"growth curve: gompertz, logistic, richards, von_bertalanffy, brody, weibull, mmf or lopez"`
	Errors      string  `name:"errors" doc:"how weighings scatter: proportional (in percent of weight) or constant (in grams)"`
	UpToAge     float64 `name:"up_to_age" unit:"d" doc:"use weighings up to this age; later ones follow season and moult, not growth"`
	Level       float64 `name:"level" doc:"chance that a range is stated for, between 0 and 1"`
	FixedShape  bool    `name:"fixed_shape" doc:"take the shape of the Gompertz curve for certain: ranges are then too narrow where growth has another shape"`
	Robust      bool    `name:"robust" doc:"believe single weighings far from the curve less"`
	Unconfirmed bool    `name:"unconfirmed" doc:"also use weighings that wait for the keeper's confirmation"`
}

// Defaults are the options where none are given.
func Defaults() Options {
	return Options{Family: "gompertz", Errors: "proportional", UpToAge: 365, Level: 0.9}
}

const doc = `Growth curves of birds, lines and flocks from their weighings.

Answers: what mature weight a bird's own weighings point to, when it grew fastest, how far grown it was at the
last weighing, and the same for its line (breed, size, strain and sex).
Needs: weighings with an age, from the hatch date or written beside them; 5 of one bird on different days, the
last at three quarters of its mature weight or more; for a line's mature weight 8 birds followed to 24 weeks.
Where that is missing the answer is a refusal that names the next weighing worth taking.
Method: nonlinear least squares. Weighings scatter in proportion to weight (a full crop, a wet feather and the
differences between birds all do), so the curve is fitted to the logarithm of weight; "errors constant" fits
grams. The mature weight of a Gompertz curve is stated with the shape of the curve left open (averaged over
Richards curves), because a range that takes the shape for certain is far too narrow. Pooled curves take weighings of one bird as going together. Weighings that name no bird, such as weekly
samples numbered 1 to 10, give a curve of the pen or flock and never of a bird.
Source: Gompertz 1825; Winsor 1932, PNAS 18:1; Bates & Watts 1988, Nonlinear Regression Analysis and Its
Applications; Buckland, Burnham & Augustin 1997, Biometrics 53:603; Liang & Zeger 1986, Biometrika 73:13; limits of refusal: Keelmark's own simulations.`

// Spec declares the analysis.
func Spec() analysis.Spec {
	return analysis.Define("growth", "Growth curves of birds, lines and flocks", doc, Defaults(), Curves)
}

// Result holds the curves. Every bird, pen or flock with a weighing has one, if only to say why it has none.
type Result struct {
	Options Options
	Family  Family
	Birds   []Curve        // in the order of the records
	Lines   []Curve        // by name
	Samples []Curve        // pens by name, then the flock: weighings that name no bird
	Units   analysis.Units // how weights are printed
}

// Bird finds the curve of a bird by its ID.
func (r *Result) Bird(id string) (*Curve, bool) { return find(r.Birds, id) }

// LineOf finds the pooled curve of a line.
func (r *Result) LineOf(l record.Line) (*Curve, bool) { return find(r.Lines, l.String()) }

func find(curves []Curve, key string) (*Curve, bool) {
	for i := range curves {
		if curves[i].Key == key {
			return &curves[i], true
		}
	}
	return nil, false
}

// Curves fits the growth curves of a flock. Too few or contradictory weighings are refusals within the result;
// an error means that the options make no sense, that no weighing was found, or that ctx was cancelled.
func Curves(ctx context.Context, c analysis.Context, d *record.Dataset, o Options) (*Result, error) {
	family, err := FamilyNamed(o.Family)
	if err != nil {
		return nil, err
	}
	errors, robust := fit.LogNormal, fit.NotRobust
	switch o.Errors {
	case "proportional":
	case "constant":
		errors = fit.Additive
	default:
		return nil, fmt.Errorf("errors are proportional or constant, not %q", o.Errors)
	}
	if o.Robust {
		robust = fit.StudentT
	}
	if !(o.Level > 0 && o.Level < 1) {
		return nil, fmt.Errorf("level is a chance between 0 and 1, such as 0.9, not %v", o.Level)
	}
	if !(o.UpToAge > 0) {
		return nil, fmt.Errorf("up_to_age is a number of days above 0, not %v", o.UpToAge)
	}
	m, err := newMethod(family, errors, robust, o.Level)
	if err != nil {
		return nil, err
	}
	m.today = c.Today
	if family.Name == "gompertz" && !o.FixedShape {
		if m.shapes, err = shapeMethods(errors, robust, o.Level); err != nil {
			return nil, err
		}
	}
	g, err := gather(d, o)
	if err != nil {
		return nil, err
	}
	r := &Result{Options: o, Family: family, Units: analysis.UnitsOf(c.Settings)}
	for _, curve := range g.birds {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		m.bird(&curve)
		r.Birds = append(r.Birds, curve)
	}
	for _, curve := range g.lines {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		m.pooled(&curve)
		r.Lines = append(r.Lines, curve)
	}
	for _, curve := range g.samples {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		m.pooled(&curve)
		r.Samples = append(r.Samples, curve)
	}
	return r, nil
}
