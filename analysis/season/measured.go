package season

// Chances are what the grid of simulated flocks gave, in words for the claims.
type Chances struct {
	Alarms    string // how often flocks without a season were called seasonal
	Typical   string // the same, for a sentence
	PeakNamed string // how often the peak's range held the true time where a season was named
}

// Measured is what TestGrid printed with 1,000 flocks in each of its cells (3 to 8 years, regular and irregular looking;
// 5 kinds of flock without a season, 6 with one). No season: 3.3 % on average, 6.1 % in the worst cell (three pens that
// infect each other, irregular looking, 8 years). Found of the season of domain notes 4.5, in % after 3, 4, 5, 6 and 8 years: 49,
// 62, 77, 87, 96 with a look every four weeks; 41, 56, 66, 74, 88 with irregular looking, detection 0.8 and treatments.
// The peak's 90 % range held the true time in 90.1 % of all flocks with a season, 85 to 95 % by cell; where a season was
// named, in 86 % on average and 71 % in the worst cell.
func Measured() Chances {
	return Chances{
		Alarms:    "3 % of simulated flocks without one pass it, 6 % in the worst of 60 settings",
		Typical:   "3 in 100 (6 in the worst setting tried)",
		PeakNamed: "86 of 100 (71 in the worst setting tried)",
	}
}
