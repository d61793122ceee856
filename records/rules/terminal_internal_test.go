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
	letters := map[string]string{}
	for _, c := range gas.TerminalClearances() {
		letters[c.Position.Letter] = c.Position.Name
	}
	reached := map[string]bool{"V": true}
	for i, c := range records.TerminalPositions {
		if got, want := terminalLetters[c.Code], string(rune('A'+i)); got != want || letters[got] == "" {
			t.Errorf("%s is %q, want %q (%s)", c.Code, got, want, letters[want])
		}
		reached[terminalLetters[c.Code]] = true
		reached[roofLetters[c.Code]] = true
	}
	if len(terminalLetters) != len(records.TerminalPositions) {
		t.Errorf("%d letters for %d positions", len(terminalLetters), len(records.TerminalPositions))
	}
	for letter, name := range letters {
		// T asks for less than S, which is taken for both.
		if !reached[letter] && letter != "T" {
			t.Errorf("letter %s (%s) cannot be chosen", letter, name)
		}
	}
}
