package store

import "strings"

// A register travels as JSON lines: a heading, one line for each row of these
// tables in this order, and an end that counts them. Rows name each other by
// id, never by their number in this file. Columns that follow from others are
// left out and made again.

// lineFormat is the version of the form of the lines.
const lineFormat = 1

// lineTable is one table as lines.
type lineTable struct {
	*table
	kind  string // of the lines
	order string
}

// exported are the columns that go into a line. The tag line of a field says
// how: "json" holds JSON, "-" is left out because it follows from others or is
// a secret, the name of a table is the number of one of its rows.
func (t lineTable) exported() (out []column) {
	for _, c := range t.columns {
		if c.line != "-" {
			out = append(out, c)
		}
	}
	return out
}

// json reports whether the column holds JSON.
func (c column) json() bool { return c.line == "json" }

// of is the table whose row the column names, "" for none.
func (c column) of() string {
	if c.json() {
		return ""
	}
	return c.line
}

// key is the column's name in a line, which gives a row of another table by
// its id.
func (c column) key() string {
	if c.of() != "" {
		return strings.TrimSuffix(c.name, "_n")
	}
	return c.name
}

var lineTables = []lineTable{
	{firmTable, "firm", "one"},
	{firmKeyTable, "earlier key", "n"},
	{chaseSettingsTable, "chasing", "one"},
	{peopleTable, "person", "created_at, id"},
	{instrumentTable, "instrument", "id"},
	{dropBandsTable, "drop bands", "edition, fuel"},
	{ownerLimitTable, "limit of the owner", "rule, kind"},
	{numberTable, "numbers", "year"},
	{skippedTable, "numbers passed over", "year, first"},
	{propertyTable, "property", "n"},
	{applianceTable, "appliance", "n"},
	{recordTable, "record", "n"}, // with its document and print
	{keptTable, "kept version", "n"},
	{dutyTable, "duty", "n"},
	{attemptTable, "contact attempt", "n"},
	{visitTable, "visit request", "n"},
	{contactRequestTable, "contact request", "n"},
	{bookingTable, "booking", "n"},
	{bookingDutyTable, "booked duty", "duty_n, booking_n"},
	{reminderTable, "reminder", "n"},
	{letterBatchTable, "letters", "n"},
	{suppressionTable, "no reminders", "email"},
}

// leftBehind are the tables that do not travel, and why. Tests hold every
// table to one of the two lists.
var leftBehind = map[string]string{
	"audit_heads":        "signatures of the log that is left behind",
	"last_check":         "of this server",
	"audit":              "the chain is that of one file; a new one begins with an entry that names the old",
	"sessions":           "people sign in again",
	"once_keys":          "answers to requests of this server",
	"keys":               "secrets are made again",
	"webhooks":           "secrets are made again",
	"invites":            "secrets are made again",
	"one_time_codes":     "secrets are made again",
	"recovery_codes":     "secrets are made again",
	"passkeys":           "each device signs in to one server, and adds itself again",
	"sign_in_rules":      "nobody has codes or passkeys in a new register",
	"sign_ins":           "people sign in again",
	"feeds":              "secrets are made again",
	"links":              "secrets are made again",
	"stop_links":         "secrets are made again",
	"webhook_deliveries": "two registers must not tell the same event",
	"outbox":             "two registers must not send the same message",
	"due_days":           "counted again by triggers",
	"issue_counts":       "counted again by triggers",
	"uncalibrated":       "looked up again by a trigger",
	"issued_documents":   "within the lines of records",
	"issued_prints":      "within the lines of records",
}
