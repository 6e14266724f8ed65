package stat

import (
	"math"
)

// Wilson returns x/n with Wilson's score interval. n must be at least 1 and x lie in 0..n.
//
// Source: Wilson 1927, J. Am. Stat. Assoc. 22:209; Brown, Cai & DasGupta 2001, Stat. Sci. 16:101, eq. 4.
func Wilson(x, n int, level float64) (Interval, error) {
	if err := checkShare(x, n, level); err != nil {
		return Interval{}, err
	}
	z, err := Multiplier(level, math.Inf(1))
	if err != nil {
		return Interval{}, err
	}
	nf := float64(n)
	p := float64(x) / nf
	centre := (p + z*z/(2*nf)) / (1 + z*z/nf)
	half := z / (1 + z*z/nf) * math.Sqrt(p*(1-p)/nf+z*z/(4*nf*nf))
	out := Interval{p, centre - half, centre + half, level, n}
	if x == 0 {
		out.Low = 0 // exactly, not by rounding
	}
	if x == n {
		out.High = 1
	}
	return out, nil
}

// Jeffreys returns x/n with the equal-tailed interval of the Beta(x+1/2, n-x+1/2) posterior; its lower end is 0
// at x = 0 and its upper end 1 at x = n. n must be at least 1 and x lie in 0..n.
//
// Source: Brown, Cai & DasGupta 2001, Stat. Sci. 16:101, section 3.1.3.
func Jeffreys(x, n int, level float64) (Interval, error) {
	return betaInterval(x, n, level, 0.5, 0.5)
}

// ClopperPearson returns x/n with the exact interval, which covers at least the stated chance and is wide. n
// must be at least 1 and x lie in 0..n.
//
// Source: Clopper & Pearson 1934, Biometrika 26:404; beta form as in Brown, Cai & DasGupta 2001, section 4.2.1.
func ClopperPearson(x, n int, level float64) (Interval, error) {
	return betaInterval(x, n, level, 0, 1)
}

// betaInterval has its lower end in Beta(x+a, n-x+b) and its upper end in Beta(x+b, n-x+a).
func betaInterval(x, n int, level, a, b float64) (Interval, error) {
	if err := checkShare(x, n, level); err != nil {
		return Interval{}, err
	}
	out := Interval{float64(x) / float64(n), 0, 1, level, n}
	hit, miss, tail := float64(x), float64(n-x), (1-level)/2
	if x > 0 {
		d, err := Beta(hit+a, miss+b)
		if err != nil {
			return Interval{}, err
		}
		if out.Low, err = d.Quantile(tail); err != nil {
			return Interval{}, err
		}
	}
	if x < n {
		d, err := Beta(hit+b, miss+a)
		if err != nil {
			return Interval{}, err
		}
		if out.High, err = d.Quantile(1 - tail); err != nil {
			return Interval{}, err
		}
	}
	return out, nil
}

func checkShare(x, n int, level float64) error {
	if n < 1 {
		return tooFew("a share", n, 1)
	}
	if x < 0 || x > n {
		return domain("%d of %d is not a share", x, n)
	}
	return checkLevel(level)
}

// MissProbability returns the chance that a look at checked birds of a flock finds nothing although infested
// of them carry the parasite, where an infested bird that is looked at is recognised with the chance
// sensitivity (0 to 1):
//
//	sum over k of Hypergeometric(k; flock, infested, checked) (1-sensitivity)^k
//
// Birds are taken to be picked at random and recognised independently: a look at the easily caught birds
// first misses more.
//
// Source: sampling to detect disease as in Cameron & Baldock 1998, Prev. Vet. Med. 34:1, eq. 5 (from memory; the
// sum itself is elementary).
func MissProbability(flock, infested, checked int, sensitivity float64) (float64, error) {
	switch {
	case flock < 1:
		return 0, tooFew("a flock", flock, 1)
	case infested < 0 || infested > flock:
		return 0, domain("%d infested of %d birds", infested, flock)
	case checked < 0 || checked > flock:
		return 0, domain("%d checked of %d birds", checked, flock)
	case !(sensitivity >= 0 && sensitivity <= 1):
		return 0, domain("a sensitivity must lie between 0 and 1, not %v", sensitivity)
	}
	all := logChoose(flock, checked)
	var miss float64
	for k := max(0, checked-(flock-infested)); k <= min(infested, checked); k++ {
		p := math.Exp(logChoose(infested, k) + logChoose(flock-infested, checked-k) - all)
		miss += p * math.Pow(1-sensitivity, float64(k))
	}
	return min(1, miss), nil
}

// logChoose is the logarithm of the number of ways to pick k of n.
func logChoose(n, k int) float64 {
	a, _ := math.Lgamma(float64(n + 1))
	b, _ := math.Lgamma(float64(k + 1))
	c, _ := math.Lgamma(float64(n - k + 1))
	return a - b - c
}
