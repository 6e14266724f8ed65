package growth

import (
	"math"

	"keelmark/analysis"
	"keelmark/analysis/fit"
)

// Tables lays the curves out: one row a parameter or derived quantity, one row a curve with what it rests on,
// and one row a weighing with its residual.
func (r *Result) Tables() []analysis.Table {
	return []analysis.Table{r.curveTable(), r.quantityTable(), r.pointTable()}
}

func (r *Result) each(do func(c *Curve)) {
	for _, list := range [][]Curve{r.Birds, r.Lines, r.Samples} {
		for i := range list {
			do(&list[i])
		}
	}
}

func (r *Result) curveTable() analysis.Table {
	t := analysis.Table{
		Name: "curves", Caption: "Growth curves: what each rests on and what it can tell",
		Columns: []analysis.Column{
			{Name: "of", Head: "of", Doc: "bird, line, pen or flock"},
			{Name: "subject", Head: "subject", Doc: "who"},
			{Name: "weighings", Head: "weighings", Doc: "weighings used"},
			{Name: "birds", Head: "birds", Doc: "birds that the weighings name"},
			{Name: "left_out", Head: "left out", Doc: "weighings not used"},
			{Name: "first_age_d", Head: "from", Unit: "d", Doc: "age at the first weighing"},
			{Name: "last_age_d", Head: "to", Unit: "d", Doc: "age at the last weighing"},
			{Name: "last_g", Head: "last weight", Unit: "g", Doc: "last weighing; empty for groups"},
			{Name: "mature_weight_g", Head: "mature weight", Unit: "g", Doc: "estimate, of a Gompertz curve with its shape left open; empty where it cannot be told"},
			{Name: "low_g", Head: "low", Unit: "g", Doc: "lower end of its range"},
			{Name: "high_g", Head: "high", Unit: "g", Doc: "upper end of its range"},
			{Name: "maturity", Head: "maturity", Doc: "last fitted weight as a share of the mature weight", Decimals: 2},
			{Name: "sigma", Head: "scatter", Doc: "standard deviation of single weighings: of log weight, or grams with constant errors", Decimals: 3},
			{Name: "refused", Head: "cannot say because", Doc: "why the mature weight cannot be told"},
		},
	}
	r.each(func(c *Curve) {
		var birds, first, last, weight, mature, low, high, maturity, sigma, refused any
		if c.Birds > 0 {
			birds = c.Birds
		}
		if n := len(c.Points); n > 0 {
			a, b := c.Ages()
			first, last = a, b
			if c.Of == OfBird {
				weight = c.Points[n-1].Weight
			}
		}
		if c.Fitted() {
			sigma = c.Sigma
		}
		if c.Told() {
			mature, low, high, maturity = c.Mature.Value, c.Mature.Low, c.Mature.High, c.Maturity
		} else {
			refused = c.Refusal.Text
		}
		t.Rows = append(t.Rows, []any{string(c.Of), c.Label, len(c.Points), birds, len(c.LeftOut), first, last, weight,
			mature, low, high, maturity, sigma, refused})
	})
	return t
}

func (r *Result) quantityTable() analysis.Table {
	t := analysis.Table{
		Name: "quantities", Caption: "Parameters of the curves and what follows from them",
		Columns: []analysis.Column{
			{Name: "of", Head: "of", Doc: "bird, line, pen or flock"},
			{Name: "subject", Head: "subject", Doc: "who"},
			{Name: "quantity", Head: "quantity", Doc: "name of the quantity"},
			{Name: "unit", Head: "unit", Doc: "its unit"},
			{Name: "value", Head: "value", Doc: "estimate", Decimals: 4},
			{Name: "se", Head: "standard error", Doc: "standard error of the estimate", Decimals: 4},
			{Name: "low", Head: "low", Doc: "lower end of its range", Decimals: 4},
			{Name: "high", Head: "high", Doc: "upper end of its range", Decimals: 4},
			{Name: "within_only", Head: "only within the ages seen", Doc: "true where the curve may not be carried beyond its weighings"},
		},
	}
	r.each(func(c *Curve) {
		for _, list := range [][]Estimate{c.Params, c.Derived} {
			for _, e := range list {
				t.Rows = append(t.Rows, []any{string(c.Of), c.Label, e.Name, e.Unit, e.Value, e.SE, e.Low, e.High, !c.Told()})
			}
		}
	})
	return t
}

func (r *Result) pointTable() analysis.Table {
	t := analysis.Table{
		Name: "weighings", Caption: "Weighings behind the curves",
		Columns: []analysis.Column{
			{Name: "of", Head: "of", Doc: "bird, pen or flock"},
			{Name: "subject", Head: "subject", Doc: "who"},
			{Name: "date", Head: "date", Doc: "date of weighing, as far as it is known"},
			{Name: "age_d", Head: "age", Unit: "d", Doc: "age at weighing"},
			{Name: "weight_g", Head: "weight", Unit: "g", Doc: "weighing", Decimals: 1},
			{Name: "fitted_g", Head: "curve", Unit: "g", Doc: "weight of the curve at that age; empty where there is none", Decimals: 1},
			{Name: "residual", Head: "off the curve", Doc: "log weight less log curve, or grams with constant errors", Decimals: 3},
			{Name: "left_out", Head: "left out because", Doc: "why a weighing was not used"},
			{Name: "cell", Head: "cell", Doc: "where it stands"},
		},
	}
	for _, list := range [][]Curve{r.Birds, r.Samples} { // lines hold the weighings of their birds again
		for i := range list {
			c := &list[i]
			for _, p := range c.Points {
				var fitted, residual any
				if c.Fitted() {
					w := c.Weight(p.Age)
					fitted, residual = w, p.Weight-w
					if c.Errors == fit.LogNormal {
						residual = math.Log(p.Weight / w)
					}
				}
				t.Rows = append(t.Rows, []any{string(c.Of), c.Label, p.From.On.String(), p.Age, p.Weight, fitted, residual, nil, p.From.At.Key()})
			}
			for _, l := range c.LeftOut {
				t.Rows = append(t.Rows, []any{string(c.Of), c.Label, l.From.On.String(), nil, l.From.Value, nil, nil, l.Why, l.From.At.Key()})
			}
		}
	}
	return t
}
