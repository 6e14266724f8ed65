package forecast

import (
	"math"
	"strings"
	"testing"

	"keelmark/ingest/record"
)

// Keelmark's domain notes 4.9: that a bird gained or lost needs two weighings whose difference passes 1.96 √2 of the
// weighing error, here the assumed 3 %: 8.3 %.
func TestAChangeIsToldFromWhatWeighingCanShow(t *testing.T) {
	limit := 1.96 * math.Sqrt2 * 0.03
	for _, c := range []struct {
		by      float64
		changed bool
	}{{0.97, false}, {1.03, true}, {-0.97, false}, {-1.03, true}} {
		d := seasonal(1, 1, 60, false)
		own := d.Of("H1", record.Weight)
		for i := range d.Observations {
			d.Observations[i].Value = 850
			if d.Observations[i].At == own[len(own)-1].At {
				d.Observations[i].Value *= math.Exp(c.by * limit)
			}
		}
		text := claimOf(t, foreseen(t, situation(t, today), d), "forecast.changes").Text
		if got := strings.Contains(text, "1 changed"); got != c.changed {
			t.Errorf("%.2f of the limit: %s", c.by, text)
		}
	}
}
