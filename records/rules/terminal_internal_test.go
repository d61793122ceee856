package rules

import (
	"testing"

	"gaugebook/records"
	"gaugebook/records/gas"
)

// Positions are in the order of the published table, so the nth code is the
// nth letter, and every letter of gas is reached by wall or by roof, but V,
// which is a discharge along a boundary and is asked under its corner.
func TestTerminalPositionsAreKnownToGas(t *testing.T) {
	letters := gas.TerminalPositions()
	reached := map[string]bool{"V": true}
	for i, c := range records.TerminalPositions {
		if got := terminalLetters[c.Code]; got != letters[i].Letter {
			t.Errorf("%s is %q, gas has %q (%s) there", c.Code, got, letters[i].Letter, letters[i].Name)
		}
		reached[terminalLetters[c.Code]] = true
		reached[roofLetters[c.Code]] = true
	}
	if len(terminalLetters) != len(records.TerminalPositions) {
		t.Errorf("%d letters for %d positions", len(terminalLetters), len(records.TerminalPositions))
	}
	for _, l := range letters {
		// T asks for less than S, which is taken for both.
		if !reached[l.Letter] && l.Letter != "T" {
			t.Errorf("letter %s (%s) cannot be chosen", l.Letter, l.Name)
		}
	}
}
