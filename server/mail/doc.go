// Package mail builds one letter as RFC 5322 bytes and hands it over, either to
// an SMTP server or to a folder of .eml files. It knows nothing of records,
// storage or pages: the outbox above it decides what to write and when to try again.
//
// Delivery is at least once. A letter whose acceptance cannot be known is
// reported with class Unsure, so that a person settles it instead of the letter
// going out twice unnoticed.
package mail
