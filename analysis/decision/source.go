package decision

import (
	"context"
	"slices"
	"strings"

	"keelmark/analysis"
	"keelmark/analysis/condition"
	"keelmark/analysis/fertility"
	"keelmark/analysis/forecast"
	"keelmark/analysis/growth"
	"keelmark/analysis/parasite"
	"keelmark/analysis/season"
	"keelmark/analysis/standard"
	"keelmark/analysis/treatment"
	"keelmark/ingest/record"
)

// source asks one analysis for what it has to say, on the day of the decision. A further analysis is one more function
// here, named in the purposes that it bears on.
type source func(context.Context, *gathering) (analysis.Result, error)

// gathering is what a source works on.
type gathering struct {
	c analysis.Context
	d *record.Dataset
	o Options
	r *Result
}

// weightOptions are those of the analyses that compare weights with a standard on the day.
func (g *gathering) weightOptions() map[string]any {
	return map[string]any{"on": g.r.On, "tolerance": g.o.Tolerance, "ring": g.o.Ring}
}

func standardOn(ctx context.Context, g *gathering) (analysis.Result, error) {
	out, err := standard.Spec().Run(ctx, g.c, g.d, g.weightOptions())
	if err == nil {
		g.r.Standard = out.(*standard.Result)
	}
	return out, err
}

func forecastOn(ctx context.Context, g *gathering) (analysis.Result, error) {
	out, err := forecast.Spec().Run(ctx, g.c, g.d, g.weightOptions())
	if err == nil {
		g.r.Forecast = out.(*forecast.Result)
	}
	return out, err
}

func parasites(ctx context.Context, g *gathering) (analysis.Result, error) {
	out, err := parasite.Spec().Run(ctx, g.c, g.d, nil)
	if err == nil {
		g.r.Parasites = out.(*parasite.Result)
	}
	return out, err
}

// growthOf leaves growth out where the flock has no weighing: the other analyses say so.
func growthOf(ctx context.Context, g *gathering) (analysis.Result, error) {
	if len(g.d.ByBird(record.Weight)) == 0 {
		return nil, nil
	}
	return growth.Spec().Run(ctx, g.c, g.d, nil)
}

func conditionOf(ctx context.Context, g *gathering) (analysis.Result, error) {
	out, err := condition.Spec().Run(ctx, g.c, g.d, nil)
	if err == nil {
		g.r.Condition = out.(*condition.Result)
	}
	return out, err
}

func fertilityOf(ctx context.Context, g *gathering) (analysis.Result, error) {
	out, err := fertility.Spec().Run(ctx, g.c, g.d, nil)
	if err == nil {
		g.r.Fertility = out.(*fertility.Result)
	}
	return out, err
}

// treatmentOf takes what bears on a bird: what treatments did, and who may carry something unseen. The rest is for the
// report of the season.
func treatmentOf(ctx context.Context, g *gathering) (analysis.Result, error) {
	out, err := treatment.Spec().Run(ctx, g.c, g.d, nil)
	if err != nil {
		return nil, err
	}
	g.r.Treatment = out.(*treatment.Result)
	return bearing{out, []string{"treatment.effect", "treatment.carries"}}, nil
}

// seasonOf takes what is counted of the year, and whether it recurs.
func seasonOf(ctx context.Context, g *gathering) (analysis.Result, error) {
	out, err := season.Spec().Run(ctx, g.c, g.d, nil)
	if err != nil {
		return nil, err
	}
	return bearing{out, []string{"season.counted", "season.recurs"}}, nil
}

// bearing is a result of which only some kinds of claims bear on a purpose, with the claims of pools that they lean on.
type bearing struct {
	analysis.Result
	kinds []string
}

// Claims are those of the kinds, and those that they lean on.
func (b bearing) Claims() []analysis.Claim {
	all := b.Result.Claims()
	wanted := map[string]bool{}
	for _, c := range all {
		if kind, _, _ := strings.Cut(c.ID, "/"); slices.Contains(b.kinds, kind) {
			wanted[c.ID] = true
			for _, p := range c.Pool {
				wanted[p] = true
			}
		}
	}
	return slices.DeleteFunc(slices.Clone(all), func(c analysis.Claim) bool { return !wanted[c.ID] })
}

// Cautions are all of the result's.
func (b bearing) Cautions() []analysis.Caution {
	if with, ok := b.Result.(analysis.Cautioned); ok {
		return with.Cautions()
	}
	return nil
}
