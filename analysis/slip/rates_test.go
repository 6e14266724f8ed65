package slip

import (
	"context"
	"math/rand/v2"
	"os"
	"sort"
	"strconv"
	"testing"
	"time"

	"keelmark/analysis"
)

func TestExploreClean(t *testing.T) {
	n := 10
	if v, err := strconv.Atoi(os.Getenv("SLIPN")); err == nil {
		n = v
	}
	total, asked := 0, 0
	by := map[Class]int{}
	var took time.Duration
	for k := range n {
		r := rand.New(rand.NewPCG(uint64(k), 7))
		d := designs(r)
		_, ds := draw(r, d)
		t0 := time.Now()
		res, err := Find(context.Background(), analysis.Context{Today: year0 + 1100}, ds, Options{}, nil)
		took += time.Since(t0)
		if err != nil {
			t.Fatal(err)
		}
		total += len(ds.Observations)
		asked += len(res.Findings)
		t.Logf("%+v n=%d asked %d scatter %.2f %v", d, len(ds.Observations), len(res.Findings), res.Scatter, time.Since(t0))
		for i, f := range res.Findings {
			by[f.Class]++
			if i < 4 {
				t.Logf("   %s: %s | off %.1f", f.Class, f.Message, f.Off)
			}
		}
	}
	var cs []string
	for c, n := range by {
		cs = append(cs, string(c)+" "+strconv.Itoa(n))
	}
	sort.Strings(cs)
	t.Logf("weighings %d asked %d = 1 in %.0f; %v; %v", total, asked, float64(total)/float64(max(asked, 1)), cs, took)
}

func planters() []struct {
	name string
	do   planter
} {
	return []struct {
		name string
		do   planter
	}{{"unit", plantUnit}, {"swap 20 %", plantSwap(0.2)}, {"swap 30 %", plantSwap(0.3)}, {"swap 40 %", plantSwap(0.4)}, {"missing digit", plantMissing}, {"extra digit", plantExtra}, {"decimal point", plantPoint},
		{"exchange", plantExchange}, {"day offset", plantDay}, {"ring reuse", plantReuse}, {"copied bird", plantCopied}, {"copied day", plantCopiedDay},
		{"day/month day", plantDate(dayMonth)}, {"year day", plantDate(lastYear)}, {"day/month row", plantOneRow(dayMonth)}, {"year row", plantOneRow(lastYear)}}
}

func TestExplorePlanted(t *testing.T) {
	n := 10
	if v, err := strconv.Atoi(os.Getenv("SLIPN")); err == nil {
		n = v
	}
	for _, p := range planters() {
		tried, caught, class, reading, extra := 0, 0, 0, 0, 0
		shown := 0
		for k := 0; tried < n && k < 20*n; k++ {
			r := rand.New(rand.NewPCG(uint64(k), 99))
			d := designs(r)
			lives, ds := draw(r, d)
			if len(ds.Observations) < 30 {
				continue
			}
			i := r.IntN(len(ds.Observations))
			pl, ok := p.do(r, ds, lives, i)
			if !ok {
				continue
			}
			tried++
			res, err := Find(context.Background(), analysis.Context{Today: year0 + 1500}, ds, Options{}, nil)
			if err != nil {
				t.Fatal(err)
			}
			hit := false
			var got Finding
			for _, f := range res.Findings {
				if pl.hit(f) && !hit {
					hit, got = true, f
				} else {
					extra++
				}
			}
			if hit {
				caught++
				if got.Class == pl.class {
					class++
				}
				for _, rd := range got.Readings {
					if rd.Value == pl.value {
						reading++
						break
					}
				}
			}
			if (!hit || got.Class != pl.class) && shown < 6 {
				shown++
				o := ds.Observations[min(i, len(ds.Observations)-1)]
				t.Logf("   %s k=%d %+v: %s %s on %s (now %q want %s %q) hit %v %s %s", p.name, k, d, o.At.Cell(), o.Bird, o.On, o.Text, pl.class, pl.value, hit, got.Class, got.Message)
			}
		}
		t.Logf("%-14s tried %d caught %d class %d reading %d extra %d", p.name, tried, caught, class, reading, extra)
	}
}
