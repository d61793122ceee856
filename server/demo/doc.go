// Package demo fills a new register with an invented firm: people, instruments,
// properties in all four nations, appliances, and years of records that went
// through the same use cases as a real one. Nobody and nothing in it exists;
// its postcodes are in areas that are not assigned, its telephone numbers in
// the range kept free for fiction, its addresses under .example.
package demo
