package store

// Each door of the store is one topic: a caller sees what it works with and
// nothing else. All of them go through the same writer and the same readers.
type (
	// Settings is the firm's own: details, instruments, drop bands, reminders.
	Settings struct{ *db }
	// People is who signs in, with their invitations and keys.
	People struct{ *db }
	// Register is properties and appliances, and what is found among them.
	Register struct{ *db }
	// Records is drafts and issued records.
	Records struct{ *db }
	// Photos is the pictures of records.
	Photos struct{ *db }
	// Links is the private addresses under which customers read their records.
	Links struct{ *db }
	// Duties is what falls due for appliances.
	Duties struct{ *db }
	// Bookings is visits booked, and the calendars that show them.
	Bookings struct{ *db }
	// Chase is reminders, letters and the log of contacts.
	Chase struct{ *db }
	// Requests is what customers ask for from their page.
	Requests struct{ *db }
	// Outbox is the messages to send.
	Outbox struct{ *db }
	// Webhooks is addresses that are told of events, and what they were told.
	Webhooks struct{ *db }
	// Bulk is whole registers and lists, in and out.
	Bulk struct{ *db }
	// SecondSteps is what accounts ask for besides a password: one-time codes,
	// passkeys, recovery codes, and whether owners need one.
	SecondSteps struct{ *db }
	// SignIns is who signed in when and from where, and their sessions.
	SignIns struct{ *db }
	// Audit is the log of who changed what.
	Audit struct{ *db }
)

// openDoors gives the store its doors.
func openDoors(d *db) *Store {
	return &Store{
		db: d, Settings: Settings{d}, People: People{d}, Register: Register{d}, Records: Records{d},
		Photos: Photos{d}, Links: Links{d}, Duties: Duties{d}, Bookings: Bookings{d}, Chase: Chase{d},
		Requests: Requests{d}, Outbox: Outbox{d}, Webhooks: Webhooks{d}, Bulk: Bulk{d}, Audit: Audit{d},
		SecondSteps: SecondSteps{d}, SignIns: SignIns{d},
	}
}
