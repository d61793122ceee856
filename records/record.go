package records

import (
	"strings"
	"time"
)

// SchemaVersion is the version of the JSON document of a record.
const SchemaVersion = 1

// Purpose is why the visit was made.
type Purpose string

// The purposes.
const (
	Commissioning Purpose = "commissioning"
	Service       Purpose = "service"
	LandlordCheck Purpose = "landlord check"
	Remedial      Purpose = "remedial"
)

// Purposes lists them.
var Purposes = []Purpose{Commissioning, Service, LandlordCheck, Remedial}

// Stage is how far a record has come.
type Stage string

// The stages.
const (
	Draft       Stage = "draft"
	StageIssued Stage = "issued"
	Amended     Stage = "amended"   // a later issue replaces it
	Withdrawn   Stage = "withdrawn" // no longer in force, with the reason
)

// Engineer is the person who took the readings, as on the day.
type Engineer struct {
	Name            string `json:"name"`
	Licence         string `json:"licence"`
	CompetenceUntil Date   `json:"competence_until,omitzero"`
}

// Firm is the business responsible for the record.
type Firm struct {
	Name         string `json:"name"`
	Address      string `json:"address"`
	Phone        string `json:"phone"`
	Email        string `json:"email"`
	Registration string `json:"registration"`          // of the business with its registration body
	Logo         string `json:"logo_sha256,omitempty"` // of the JPEG printed on page one, hex; kept with the photos
}

// Record is the set of readings of one visit to one appliance.
type Record struct {
	ID          string
	ApplianceID string
	Purpose     Purpose
	WorkDate    Date
	Property    Property
	Contact     Contact
	Engineer    Engineer
	Firm        Firm
	Instruments []Instrument
	Values      Values
	Photos      []Photo
	Condition   *ConditionReport

	// The rest is kept by the server and is not in the document.

	// HolderID is the account of whoever the draft is: only they may declare it.
	HolderID string
	// TakenOverFrom had the draft before them.
	TakenOverFrom []Signatory
	Stage         Stage
	Revision      int
	// Rejected holds entries that were not accepted, by key, so that nothing a
	// person typed is lost.
	Rejected map[string]Rejection
	Findings []Finding
	// Replaces is the number of the issued record that this one amends.
	Replaces    string
	AmendReason string
	UpdatedAt   time.Time

	old  []OldEntry // what stood outside the sections and no part of today takes
	read *asRead
}

// Rejection is an entry that was not accepted.
type Rejection struct {
	Entry   string `json:"entry"`
	Message string `json:"message"`
}

// Instrument returns the instrument with the id as it was on the day.
func (r *Record) Instrument(id string) (Instrument, bool) {
	for _, i := range r.Instruments {
		if i.ID == id {
			return i, true
		}
	}
	return Instrument{}, false
}

// ApplianceName returns the appliance's make and model in one line.
func (vs Values) ApplianceName() string {
	name := vs.Text(ApplianceMake)
	if m := vs.Text(ApplianceModel); m != "" {
		if name != "" {
			name += " "
		}
		name += m
	}
	if name == "" {
		return "appliance without a name"
	}
	return name
}

// Undeclare takes the declaration and the engineer's signature off a draft:
// they are of somebody else, or of other readings.
func (r *Record) Undeclare() {
	for _, key := range []string{Declared.Key, EngineerSignature.Key} {
		delete(r.Values, key)
		delete(r.Rejected, key)
	}
}

// Progress returns how many of the fields that a section asks for have a value.
func (r *Record) Progress(s *Section) (filled, shown int) {
	for _, f := range s.Fields() {
		if !r.Values.Asked(f) {
			continue
		}
		shown++
		if r.Values[f.Key].Present() {
			filled++
		}
	}
	return filled, shown
}

// CheckWorkDate refuses a date in the future and one more than forty
// years ago.
func CheckWorkDate(d, today Date) error {
	if d.IsZero() || d.After(today) || d.Before(today.AddMonths(-12*40)) {
		return &Error{Kind: Invalid, Field: "work_date", Label: "Date of the work", Value: d.String(),
			Want: "a date not after today, " + today.String()}
	}
	return nil
}

// NewRejection keeps an entry that could not be accepted, shortened to what a
// form can show again.
func NewRejection(entry string, err error) Rejection {
	const most = 20000
	entry = strings.ToValidUTF8(entry, "?")
	if r := []rune(entry); len(r) > most {
		entry = string(r[:most])
	}
	return Rejection{Entry: entry, Message: err.Error()}
}

// EntryOfRows writes refused rows as one text, a row a line, so that they can
// be shown again.
func EntryOfRows(rows []map[string]string) string {
	data, err := encode(rows)
	if err != nil {
		return ""
	}
	return string(data)
}
