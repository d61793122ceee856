package app

// RecordLetter is the customer's message, for tests of its words.
var RecordLetter = recordLetter
