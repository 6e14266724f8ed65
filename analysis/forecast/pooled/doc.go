// Package pooled integrates what is not known of a line of growing birds.
//
// The birds of a line share a Richards curve of one shape, and each deviates from it in mature weight, rate and age at
// inflection, and by a growth rate that wanders and returns. A line has ten unknowns (pool.go); each bird given a line is
// settled by Laplace's method (bird.go, wander.go), and the line by importance sampling (sampler.go). A setback that the
// whole line shared is looked for, since past one no curve forecasts (setback.go).
//
// It works on ages and log weights. It refuses nothing and knows no bird by name: package forecast does both.
package pooled
