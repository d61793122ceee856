package store

import (
	"context"
	"strings"

	"gaugebook/records"
)

// Bounce says that a message which had been handed over came back
// undelivered, and why. Errors: Invalid without a reason; NotFound; Conflict
// when it was not handed over.
func (s Outbox) Bounce(ctx context.Context, actor records.Actor, id, why string) error {
	var errs records.Errors
	if why = records.CheckNote(&errs, "why", "Why it came back", why, 1, 400); len(errs) > 0 {
		return errs
	}
	problem := "came back: " + strings.Join(strings.Fields(why), " ")
	from := []records.MessageState{records.MessageSent, records.MessageUnsure}
	return s.move(ctx, actor, id, from, records.MessageFailed, detail{"bounced": why},
		map[string]any{"problem": problem})
}
