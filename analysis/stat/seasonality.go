package stat

import "math"

// Cycle is a test of a simple yearly wave in counts by month (or any other equal sectors of a cycle).
type Cycle struct {
	N         int
	Amplitude float64 // relative: (highest - lowest) / (highest + lowest) of the wave
	Peak      float64 // radians from the start of the first sector
	ChiSq     float64 // with 2 degrees of freedom
	P         float64
}

// Such tests take every case to be independent. Cases found on birds of one flock on one day are not: see analysis
// season.

// Edwards tests counts in equal sectors for a simple wave; it needs 3 sectors and one case.
//
// Source: Edwards 1961, Ann. Hum. Genet. 25:83.
func Edwards(counts []int) (Cycle, error) {
	x, y, n, err := rootMoments(counts, nil)
	if err != nil {
		return Cycle{}, err
	}
	d := math.Hypot(x, y)
	return cycle(n, 4*d, math.Atan2(y, x), 8*n*d*d)
}

// WalterElwood tests counts in equal sectors for a simple wave where the sectors were not exposed alike: days of a
// month, looks made in it. exposure has one positive number for each count.
//
// Source: Walter & Elwood 1975, Br. J. Prev. Soc. Med. 29:18 (the paper not seen; delta method with the covariance of the
// two moments neglected).
func WalterElwood(counts []int, exposure []float64) (Cycle, error) {
	x, y, n, err := rootMoments(counts, nil)
	if err != nil {
		return Cycle{}, err
	}
	if len(exposure) != len(counts) {
		return Cycle{}, domain("%d counts and %d exposures", len(counts), len(exposure))
	}
	var all float64
	for _, m := range exposure {
		if !(m > 0) || math.IsInf(m, 1) {
			return Cycle{}, domain("exposures must be positive, not %v", m)
		}
		all += m
	}
	ex, ey, _, err := rootMoments(nil, exposure)
	if err != nil {
		return Cycle{}, err
	}
	var roots, vx, vy float64
	for i, m := range exposure {
		sin, cos := math.Sincos(sector(i, len(exposure)))
		roots += math.Sqrt(n * m / all)
		vx += (cos - ex) * (cos - ex) / 4
		vy += (sin - ey) * (sin - ey) / 4
	}
	vx, vy = vx/(roots*roots), vy/(roots*roots)
	dx, dy := x-ex, y-ey
	return cycle(n, 4*math.Hypot(dx, dy), math.Atan2(dy, dx), dx*dx/vx+dy*dy/vy)
}

// Roger tests counts in equal sectors for a simple wave by the score test of a cosine in the logarithm.
//
// Source: Roger 1977, Biometrika 64:152.
func Roger(counts []int) (Cycle, error) {
	if _, _, _, err := rootMoments(counts, nil); err != nil {
		return Cycle{}, err
	}
	d := groupedDirection(counts)
	n := float64(d.N)
	return cycle(n, 2*d.Length, d.Mean, 2*n*d.Length*d.Length)
}

// Grouped is the mean direction of counts in equal sectors, each taken at its middle, and the length corrected for the
// width of the sectors.
//
// Source: Mardia & Jupp 2000, Directional Statistics, 2.5.
func Grouped(counts []int) (d Directions, corrected float64, err error) {
	if _, _, _, err := rootMoments(counts, nil); err != nil {
		return Directions{}, 0, err
	}
	half := math.Pi / float64(len(counts))
	d = groupedDirection(counts)
	return d, d.Length * half / math.Sin(half), nil
}

func groupedDirection(counts []int) Directions {
	angles, weights := make([]float64, len(counts)), make([]float64, len(counts))
	for i, c := range counts {
		angles[i], weights[i] = sector(i, len(counts)), float64(c)
	}
	return circular(angles, weights)
}

// sector is the middle of a sector of a cycle cut into n.
func sector(i, n int) float64 { return 2 * math.Pi * (float64(i) + 0.5) / float64(n) }

// rootMoments are the means of cosine and sine of the sectors, weighted with the roots of counts or exposures.
func rootMoments(counts []int, exposure []float64) (x, y, n float64, err error) {
	sectors := max(len(counts), len(exposure))
	if sectors < 3 {
		return 0, 0, 0, tooFew("a cycle", sectors, 3)
	}
	var roots float64
	for i := range sectors {
		m := 0.0
		if exposure != nil {
			m = exposure[i]
		} else if counts[i] < 0 {
			return 0, 0, 0, domain("a count of %d", counts[i])
		} else {
			m = float64(counts[i])
		}
		sin, cos := math.Sincos(sector(i, sectors))
		r := math.Sqrt(m)
		x, y, roots, n = x+r*cos, y+r*sin, roots+r, n+m
	}
	if n == 0 {
		return 0, 0, 0, tooFew("a cycle", 0, 1)
	}
	return x / roots, y / roots, n, nil
}

func cycle(n, amplitude, peak, chi float64) (Cycle, error) {
	if peak < 0 {
		peak += 2 * math.Pi
	}
	d, err := ChiSquared(2)
	if err != nil {
		return Cycle{}, err
	}
	p, err := d.Upper(chi)
	return Cycle{N: int(n), Amplitude: amplitude, Peak: peak, ChiSq: chi, P: p}, err
}

// SeasonalTrend is a rank test of whether values rise or fall over the years when each is compared with its own season
// only.
type SeasonalTrend struct {
	S, VarS float64
	Z       float64 // continuity corrected
	P       float64 // two-sided, normal
	Slope   float64 // median of the slopes of all pairs of one season, per year
	N       int
	Seasons int // with at least two values
}

// SeasonalKendall tests values for a trend over years within each season. No season may have two values of one year;
// one season needs 3 values. Seasons are taken to be independent.
//
// Source: Hirsch, Slack & Smith 1982, Water Resour. Res. 18:107.
func SeasonalKendall(year, season []int, values []float64) (SeasonalTrend, error) {
	if len(year) != len(values) || len(season) != len(values) {
		return SeasonalTrend{}, domain("%d years, %d seasons and %d values", len(year), len(season), len(values))
	}
	if err := checkSample("a seasonal trend", values, 3); err != nil {
		return SeasonalTrend{}, err
	}
	var out SeasonalTrend
	var slopes []float64
	done := map[int]bool{}
	longest := 0
	for i := range season {
		if done[season[i]] {
			continue
		}
		done[season[i]] = true
		var t, v []float64
		for j := range season {
			if season[j] == season[i] {
				t, v = append(t, float64(year[j])), append(v, values[j])
			}
		}
		longest = max(longest, len(v))
		if len(v) < 2 {
			continue
		}
		for a := range v {
			for b := range a {
				if t[a] == t[b] {
					return SeasonalTrend{}, domain("season %d has two values of the year %g", season[i], t[a])
				}
				slope := (v[a] - v[b]) / (t[a] - t[b])
				slopes = append(slopes, slope)
				switch {
				case slope > 0:
					out.S++
				case slope < 0:
					out.S--
				}
			}
		}
		n := float64(len(v))
		out.VarS += n * (n - 1) * (2*n + 5) / 18
		for _, k := range tieSizes(v) {
			out.VarS -= k * (k - 1) * (2*k + 5) / 18
		}
		out.N += len(v)
		out.Seasons++
	}
	if longest < 3 {
		return SeasonalTrend{}, tooFew("a seasonal trend: values of one season", longest, 3)
	}
	out.Slope, _ = Median(slopes)
	out.P = 1
	if out.S != 0 && out.VarS > 0 {
		out.Z = (out.S - math.Copysign(1, out.S)) / math.Sqrt(out.VarS)
		out.P = math.Erfc(math.Abs(out.Z) / math.Sqrt2)
	}
	return out, nil
}
