package store

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"gorm.io/gorm"

	"gaugebook/records"
	"gaugebook/records/due"
)

type chaseSettingsRow struct {
	One int    `gorm:"primaryKey;autoIncrement:false" line:"-"`
	Doc string `line:"json"`
}

func (chaseSettingsRow) TableName() string { return "chase_settings" }

// Reminders returns the settings; until they are first saved, the usual
// ladder, blank texts and nothing automatic.
func (s Settings) Reminders(ctx context.Context) (due.ReminderSettings, error) {
	var rows []chaseSettingsRow
	out := due.ReminderSettings{Steps: due.DefaultLadder}
	if err := s.read(ctx).Limit(1).Find(&rows).Error; err != nil || len(rows) == 0 {
		return out, explain(err)
	}
	return out, explain(fromJSON(rows[0].Doc, &out))
}

// SaveReminders stores the settings. That the texts are templates that
// can be filled in is for the caller to prove. Errors: Invalid.
func (s Settings) SaveReminders(ctx context.Context, actor records.Actor, c due.ReminderSettings) error {
	c, err := c.Checked()
	if err != nil {
		return err
	}
	doc, err := toJSON(c)
	if err != nil {
		return err
	}
	return s.write(ctx, actor, func(t *tx) error {
		if err := t.put(&chaseSettingsRow{1, doc}); err != nil {
			return err
		}
		return t.log("reminding changed", "chase", detail{"steps": c.Steps, "automatic": c.Automatic})
	})
}

// ChaseKinds are the duties that customers are reminded of and that visits
// are booked for. The others are paperwork of the firm.
var ChaseKinds = []records.DutyKind{records.AnnualService, records.LandlordCheckDue}

// ChaseRow is one duty of an appliance as the office chases it.
type ChaseRow struct {
	DutyID      string
	Kind        records.DutyKind
	Due         records.Date
	Open        bool
	ApplianceID string
	Appliance   string // make and model, or kind
	PropertyID  string
	Property    records.Property
	Contact     records.Contact
	Suppressed  bool // asked for no reminders
	Booking     *BookingLine
	Last        *records.ContactAttempt
	Sent        []due.Step
}

// BookingLine is a booking in short.
type BookingLine struct {
	ID       string
	On       records.Date
	From     string
	Until    string
	Engineer string
}

// Customer tells contacts apart: by e-mail address, else by name, telephone
// and address, else by the property.
func (r ChaseRow) Customer() string { return customerKey(r.Contact, r.PropertyID) }

func customerKey(k records.Contact, propertyID string) string {
	switch {
	case k.Email != "":
		return strings.ToLower(k.Email)
	case k.Name != "":
		return strings.ToLower(k.Name + "\n" + k.Phone + "\n" + k.Address)
	}
	return "property\n" + propertyID
}

// Chased is what the ladder needs to know of the row.
func (r ChaseRow) Chased() due.Chased {
	return due.Chased{Due: r.Due, Closed: !r.Open, Booked: r.Booking != nil, Unsubscribed: r.Suppressed, Sent: r.Sent}
}

type chaseRow struct {
	N                                      int64
	DutyID, Kind, Due, State, ApplianceID  string
	MakeModel                              string
	Appliance                              string // kind
	Retired                                bool
	Property                               propertyRow `gorm:"embedded;embeddedPrefix:p_"`
	Suppressed                             bool
	BookingID, OnDate, FromTime, UntilTime string
	Engineer                               string
	Attempt                                attemptRow `gorm:"embedded;embeddedPrefix:k_"`
	Sent                                   string
}

var (
	chaseColumns = `SELECT d.n, d.id AS duty_id, d.kind, d.due, d.state,
		a.id AS appliance_id, a.make_model, a.kind AS appliance, a.retired,
		` + propertyTable.as("p", "p_") + `,
		s.email IS NOT NULL AS suppressed,
		coalesce(b.id, '') AS booking_id, coalesce(b.on_date, '') AS on_date, coalesce(b.from_time, '') AS from_time,
		coalesce(b.until_time, '') AS until_time, coalesce(e.name, '') AS engineer,
		` + attemptTable.as("k", "k_") + `,
		coalesce((SELECT ` + joined("weeks") + ` FROM reminders WHERE duty_n = d.n), '') AS sent
		FROM `

	chaseJoins = then + `appliances a ON a.n = d.appliance_n` + then + `properties p ON p.n = a.property_n
		LEFT JOIN suppressions s ON s.email = p.contact_email
		LEFT JOIN bookings b ON b.n = (
			SELECT x.n FROM booking_duties y` + then + `bookings x ON x.n = y.booking_n
			WHERE y.duty_n = d.n AND x.state = 'booked' LIMIT 1)
		LEFT JOIN people e ON e.id = b.engineer_id
		LEFT JOIN contact_attempts k ON k.n = (SELECT max(n) FROM contact_attempts WHERE appliance_n = a.n)
		WHERE `
)

func (r chaseRow) row() ChaseRow {
	e := r.Property.entry()
	out := ChaseRow{DutyID: r.DutyID, Kind: records.DutyKind(r.Kind), Due: date(r.Due),
		Open: r.State == "open" && !r.Retired, ApplianceID: r.ApplianceID, Appliance: r.MakeModel, PropertyID: e.ID,
		Property: e.Property, Contact: e.Contact, Suppressed: r.Suppressed}
	if out.Appliance == "" {
		out.Appliance = records.ApplianceKind.ChoiceLabel(r.Appliance)
	}
	if r.BookingID != "" {
		out.Booking = &BookingLine{ID: r.BookingID, On: date(r.OnDate), From: r.FromTime, Until: r.UntilTime,
			Engineer: r.Engineer}
	}
	if r.Attempt.ID != "" {
		k := r.Attempt.attempt()
		out.Last = &k
	}
	for _, w := range strings.Split(r.Sent, ",") {
		if n, err := strconv.Atoi(w); err == nil {
			out.Sent = append(out.Sent, due.Step(n))
		}
	}
	slices.Sort(out.Sent)
	return out
}

// chaseDuties reads the duties with these ids, in the order of the dates.
func chaseDuties(db *gorm.DB, ids []string) ([]ChaseRow, error) {
	var rows []chaseRow
	err := db.Raw(chaseColumns+"duties d"+chaseJoins+"d.id IN ? ORDER BY d.due, d.n", ids).Scan(&rows).Error
	return mapped(rows, chaseRow.row), err
}

// Reach is how a customer can be written to.
type Reach string

// The ways. NoReminders is for those who asked for none.
const (
	ByEmail     Reach = "e-mail"
	ByLetter    Reach = "letter"
	NoReminders Reach = "no reminders"
)

// Reaches lists them.
var Reaches = []Reach{ByEmail, ByLetter, NoReminders}

// Reach says how the contact of the row can be written to; a blank contact
// only by letter, to the address.
func (r ChaseRow) Reach() Reach {
	switch {
	case r.Suppressed:
		return NoReminders
	case r.Contact.Email != "":
		return ByEmail
	}
	return ByLetter
}

// ChaseQuery asks for open duties that visits fulfil. Blank fields ask for
// all.
type ChaseQuery struct {
	Kind     records.DutyKind
	DueFrom  records.Date
	DueUntil records.Date // inclusive
	Booked   string       // "yes" or "no"
	Reach    Reach
	ActionBy records.Date // a next action is planned for that day or before
	// Ladder asks for those of which a step is due today, by what was sent.
	Ladder due.Ladder
	Today  records.Date
	After  string // cursor of the page before
	Limit  int
}

// reached is the latest step that today has reached, as SQL; -99 for none.
func (q ChaseQuery) reached() (sql string, args []any) {
	sql = "CASE"
	for _, s := range slices.Backward(q.Ladder) {
		sql += " WHEN d.due <= ? THEN ?"
		args = append(args, q.Today.AddDays(-7*int(s)).String(), int(s))
	}
	return sql + " ELSE -99 END", args
}

// OfDuties returns duties by their ids, by date; ids that are none are
// left out.
func (s Chase) OfDuties(ctx context.Context, ids []string) ([]ChaseRow, error) {
	rows, err := chaseDuties(s.read(ctx), ids)
	return rows, explain(err)
}

// Find returns the duties by date, and the cursor of the next page, "" at
// the end. Errors: Invalid.
func (s Chase) Find(ctx context.Context, q ChaseQuery) (rows []ChaseRow, next string, err error) {
	sql, args, err := q.where()
	if err != nil {
		return nil, "", err
	}
	limit := pageSize(q.Limit)
	var found []chaseRow
	sql = chaseColumns + "duties d" + by("duties_open") + chaseJoins + sql + " ORDER BY d.due, d.n LIMIT ?"
	if err := s.read(ctx).Raw(sql, append(args, limit+1)...).Scan(&found).Error; err != nil {
		return nil, "", explain(err)
	}
	found, next = paged(found, limit, func(last chaseRow) string { return cursor("chase", last.Due, last.N) })
	return mapped(found, chaseRow.row), next, nil
}

func (q ChaseQuery) where() (string, []any, error) {
	from, n, err := readCursor("chase", q.After)
	if err != nil {
		return "", nil, err
	}
	if lo := q.DueFrom.String(); from < lo {
		from, n = lo, 0
	}
	kinds := ChaseKinds
	if q.Kind != "" {
		if !slices.Contains(ChaseKinds, q.Kind) {
			return "", nil, &records.Error{Kind: records.Invalid, Field: "duty", Value: clip(string(q.Kind)),
				Want: "annual service or landlord check"}
		}
		kinds = []records.DutyKind{q.Kind}
	}
	where, args := "d.state = 'open' AND a.retired = 0 AND (d.due, d.n) > (?, ?) AND d.kind IN ?", []any{from, n, kinds}
	and := func(cond string, more ...any) { where, args = where+" AND "+cond, append(args, more...) }
	if !q.DueUntil.IsZero() {
		and("d.due <= ?", q.DueUntil.String())
	}
	switch q.Booked {
	case "":
	case "yes":
		and("b.n IS NOT NULL")
	case "no":
		and("b.n IS NULL")
	default:
		return "", nil, &records.Error{Kind: records.Invalid, Field: "booked", Value: clip(q.Booked), Want: "yes or no"}
	}
	switch q.Reach {
	case "":
	case ByEmail:
		and("p.contact_email <> '' AND s.email IS NULL")
	case ByLetter:
		and("p.contact_email = ''")
	case NoReminders:
		and("s.email IS NOT NULL")
	default:
		return "", nil, &records.Error{Kind: records.Invalid, Field: "reach", Value: clip(string(q.Reach)),
			Want: "e-mail, letter or no reminders"}
	}
	if len(q.Ladder) > 0 {
		step, of := q.reached()
		and(step+" > coalesce((SELECT max(weeks) FROM reminders WHERE duty_n = d.n), -99)", of...)
		and("d.due <= ?", q.Today.AddDays(-7*int(q.Ladder[0])).String()) // the first step; the walk ends there
	}
	if !q.ActionBy.IsZero() {
		and("k.next_action <> '' AND k.next_action <= ?", q.ActionBy.String())
	}
	return where, args, nil
}
