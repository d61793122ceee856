package store

import (
	"encoding/json"
	"fmt"
	"time"

	"gaugebook/records"
)

// stampLayout is fixed in width and always UTC, so that instants sort as
// text.
const stampLayout = "2006-01-02T15:04:05.000Z"

// stamp returns the stored form of an instant; the zero time is "".
func stamp(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(stampLayout)
}

// instant reads what stamp wrote.
func instant(s string) time.Time {
	t, err := time.Parse(stampLayout, s)
	if err != nil {
		return time.Time{}
	}
	return t
}

// date reads a stored date; "" and the sentinel for no duty are no date.
func date(s string) records.Date {
	d, err := records.ParseDate(s)
	if err != nil {
		return records.Date{}
	}
	return d
}

// toJSON writes a value of ours; those cannot fail to encode, so a failure is
// a fault of the program.
func toJSON(v any) (string, error) {
	b, err := json.Marshal(v)
	if err != nil {
		return "", fmt.Errorf("encoding %T: %w", v, err)
	}
	return string(b), nil
}

// fromJSON reads what is stored. What cannot be read is the file's fault: the
// error must not pass for one about what somebody entered.
func fromJSON(s string, v any) error {
	if err := json.Unmarshal([]byte(s), v); err != nil {
		return fmt.Errorf("decoding %T: %v", v, err)
	}
	return nil
}

// storedValues reads values as any version stored them.
func storedValues(doc string) (records.Values, error) {
	vs, err := records.DecodeStoredValues([]byte(doc))
	if err != nil {
		return nil, fmt.Errorf("decoding values: %v", err)
	}
	return vs, nil
}

// mapped turns rows into values.
func mapped[R, V any](rows []R, value func(R) V) []V {
	out := make([]V, len(rows))
	for i, r := range rows {
		out[i] = value(r)
	}
	return out
}

// mappedErr is mapped for rows that hold JSON.
func mappedErr[R, V any](rows []R, value func(R) (V, error)) ([]V, error) {
	out := make([]V, len(rows))
	for i, r := range rows {
		var err error
		if out[i], err = value(r); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// paged cuts off the row that was asked for beyond the page, and returns the
// cursor of the next page, "" at the end.
func paged[R any](rows []R, limit int, cursor func(last R) string) ([]R, string) {
	if len(rows) <= limit {
		return rows, ""
	}
	return rows[:limit], cursor(rows[limit-1])
}
