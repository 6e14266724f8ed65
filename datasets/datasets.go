// Package datasets holds what Keelmark ships beside its code: the published show weights of breeds, each row
// with its source, and an invented demo of a keeper's records with six neighbouring flocks.
//
// It refuses to choose: where published weights disagree every row is kept, and what a source does not say
// stands as "not stated". The demo is data for trying things out; nobody in it exists, and no figure in it is
// evidence about real birds.
package datasets
