// Package planner counts back from a show: what falls due for which bird in which days, what is done, what is late, what
// is in the way, and how many days of room are left.
//
// It refuses to prescribe: every step is common practice with days that the keeper can change in flock.toml, no product,
// dose or withdrawal time is its own, and what the records do not say is shown as not known.
package planner
