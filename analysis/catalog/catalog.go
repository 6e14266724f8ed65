// Package catalog is the one list of the analyses. Command line, notebook functions and help are made from it.
//
// It holds no analysis of its own and registers nothing behind anyone's back: an analysis is here when its line is.
package catalog

import (
	"keelmark/analysis"
	"keelmark/analysis/condition"
	"keelmark/analysis/decision"
	"keelmark/analysis/fertility"
	"keelmark/analysis/forecast"
	"keelmark/analysis/growth"
	"keelmark/analysis/parasite"
	"keelmark/analysis/planner"
	"keelmark/analysis/season"
	"keelmark/analysis/slip"
	"keelmark/analysis/standard"
	"keelmark/analysis/treatment"
)

// All returns the analyses, in the order in which help lists them.
func All() []analysis.Spec {
	return []analysis.Spec{
		growth.Spec(),
		standard.Spec(),
		forecast.Spec(),
		parasite.Spec(),
		treatment.Spec(),
		season.Spec(),
		condition.Spec(),
		fertility.Spec(),
		planner.Spec(),
		slip.Spec(),
		decision.Spec(),
	}
}
