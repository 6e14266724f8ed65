package cell

import (
	"math"

	"go.starlark.net/starlark"
	"go.starlark.net/starlarkstruct"

	"keelmark/analysis"
)

// claim is one claim in a cell.
type claim struct {
	analysis.Claim
	flock *flockValue
}

var _ starlark.HasAttrs = (*claim)(nil)

// Attr implements starlark.HasAttrs.
func (c *claim) Attr(name string) (starlark.Value, error) {
	switch name {
	case "id":
		return starlark.String(c.ID), nil
	case "bird":
		return textOrNone(c.Subject.Bird), nil
	case "pen":
		return textOrNone(c.Subject.Pen), nil
	case "line":
		return textOrNone(c.Subject.Line), nil
	case "topic":
		return starlark.String(c.Topic), nil
	case "stands":
		return starlark.String(c.Stands), nil
	case "text":
		return starlark.String(c.Text), nil
	case "value", "low", "high", "level", "unit":
		return c.estimate(name), nil
	case "n":
		return starlarkstruct.FromStringDict(starlark.String("n"), starlark.StringDict{
			"records": starlark.MakeInt(c.N.Records), "birds": starlark.MakeInt(c.N.Birds),
			"dates": starlark.MakeInt(c.N.Dates), "years": starlark.MakeInt(c.N.Years)}), nil
	case "cells":
		var list []starlark.Value
		for _, at := range c.RestsOn {
			list = append(list, starlark.String(at.Key()))
		}
		return starlark.NewList(list), nil
	case "caveats":
		return textList(c.Caveats), nil
	case "needs", "next":
		switch {
		case c.Refusal == nil:
			return starlark.None, nil
		case name == "needs":
			return textOrNone(c.Refusal.Needs), nil
		}
		return textOrNone(c.Refusal.Next), nil
	case "refused":
		return starlark.Bool(c.Refusal != nil), nil
	case "method":
		return textOrNone(c.Method), nil
	case "source":
		return textOrNone(c.Source), nil
	}
	return nil, nil
}

func (c *claim) estimate(name string) starlark.Value {
	e := c.Estimate
	if e == nil {
		return starlark.None
	}
	x := map[string]float64{"value": e.Value, "low": e.Low, "high": e.High, "level": e.Level}[name]
	switch {
	case name == "unit":
		return textOrNone(e.Unit)
	case math.IsNaN(x) || math.IsInf(x, 0):
		return starlark.None
	}
	return starlark.Float(x)
}

func textList(list []string) starlark.Value {
	var out []starlark.Value
	for _, s := range list {
		out = append(out, starlark.String(s))
	}
	return starlark.NewList(out)
}

// AttrNames implements starlark.HasAttrs.
func (*claim) AttrNames() []string {
	return []string{"bird", "caveats", "cells", "high", "id", "level", "line", "low", "method", "n", "needs", "next", "pen",
		"refused", "source", "stands", "text", "topic", "unit", "value"}
}

// String implements starlark.Value.
func (c *claim) String() string { return c.Text }

// Type implements starlark.Value.
func (*claim) Type() string { return "claim" }

// Freeze implements starlark.Value.
func (*claim) Freeze() {}

// Truth implements starlark.Value.
func (*claim) Truth() starlark.Bool { return true }

// Hash implements starlark.Value.
func (c *claim) Hash() (uint32, error) { return starlark.String(c.ID).Hash() }
