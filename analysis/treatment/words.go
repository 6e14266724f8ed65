package treatment

import (
	"fmt"
	"keelmark/analysis"
	"math"
	"strings"

	"keelmark/ingest/record"
)

func were(n int, one, many string) string {
	if n == 1 {
		return one
	}
	return many
}

func ofN(x, n int) string { return fmt.Sprintf("%d of %d", x, n) }

// chance prints a probability without claiming certainty.
func chance(p float64) string {
	switch {
	case p < 0.01:
		return "less than 1 %"
	case p > 0.99:
		return "more than 99 %"
	}
	return fmt.Sprintf("about %.0f %%", 100*p)
}

// rarity prints the chance of a difference without an effect.
func rarity(p float64) string {
	switch {
	case p < 0.001:
		return "less than 1 in 1,000"
	case p < 0.2:
		return fmt.Sprintf("about 1 in %.0f", math.Round(1/p))
	}
	return fmt.Sprintf("about %.0f in 100", 100*p)
}

func list(words []string) string {
	switch len(words) {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " and " + words[len(words)-1]
}

// weeks prints days after a treatment.
func weeks(days float64) string {
	if days < 21 {
		return analysis.Counted(int(days), "day")
	}
	return fmt.Sprintf("%.0f weeks", days/7)
}

// quoted is a product as the keeper typed it.
func quoted(product string) string {
	if product == "product not written" {
		return "a product that is not written"
	}
	return fmt.Sprintf("%q", product)
}

func days(from, to record.Day) string { return fmt.Sprintf("%s to %s", from, to) }

// fewerOrMore prints a range of percent fewer; below 0 it is more.
func fewerOrMore(low, high float64) string {
	low, high = math.Round(low)+0, math.Round(high)+0 // 0 added to minus 0 is 0
	switch {
	case high < 0:
		return fmt.Sprintf("%.0f to %.0f %% more", -high, -low)
	case low < 0:
		return fmt.Sprintf("from %.0f %% more to %.0f %% fewer", -low, high)
	}
	return fmt.Sprintf("%.0f to %.0f %% fewer", low, high)
}
