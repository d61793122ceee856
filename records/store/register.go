package store

import (
	"context"
	"encoding/base64"
	"strconv"
	"strings"
	"time"

	"gorm.io/gorm"

	"gaugebook/records"
)

// NoDuty asks the register for appliances with no duty on file.
const NoDuty records.DutyState = "none"

// MostWeeks is how far ahead the register looks by weeks.
const MostWeeks = 104

// Sort is the order of the register.
type Sort string

// The orders. ByAddress goes by postcode, then along the street.
const (
	ByDue     Sort = "due"
	ByAddress Sort = "address"
)

// Query asks for a page of the register; blank fields ask for all.
type Query struct {
	Search string
	Kind   string // code of the kind of appliance
	Nation records.Nation
	// Duty asks for one kind of duty; the rows then show that duty instead
	// of the earliest of any kind.
	Duty  records.DutyKind
	State records.DutyState // Late, Near, Ahead or NoDuty
	Today records.Date      // needed with State and Weeks
	// Weeks, if not zero, asks for what is due from Today to so many weeks on;
	// it does not go with State.
	Weeks int
	// DraftBefore, if not zero, asks for appliances with a draft begun before.
	DraftBefore time.Time
	// Uncalibrated asks for appliances whose last record names an instrument
	// that was out of calibration on the day of the work.
	Uncalibrated bool
	Sort         Sort   // ByDue if blank; NoDuty is always by address
	After        string // cursor of the page before
	Limit        int    // 50 if zero, at most 500
}

// RegisterRow is an appliance as the register shows it.
type RegisterRow struct {
	ApplianceID, PropertyID, Address, Postcode string
	Nation                                     records.Nation
	Name                                       string // of the contact
	Email, Phone                               string
	Property                                   records.Property
	Kind, MakeModel, Serial                    string
	NextDuty                                   *records.OpenDuty
	LastRecord                                 *RecordLine
	DraftID                                    string // of the newest draft, if any
}

type registerRow struct {
	N        int64
	DutyN    int64
	SortText string
	SortN    int64
}

// Find returns a page of the appliances in use, and the cursor of the
// next page, "" at the end. Errors: Invalid.
func (s Register) Find(ctx context.Context, q Query) (rows []RegisterRow, next string, err error) {
	if err := q.check(); err != nil {
		return nil, "", err
	}
	limit := pageSize(q.Limit)
	err = s.view(ctx, func(db *gorm.DB) error {
		st, ok, err := q.statement(db, s.gatherMost, limit+1)
		if err != nil || !ok {
			return err
		}
		var found []registerRow
		if err := db.Raw(st.sql, st.args...).Scan(&found).Error; err != nil {
			return err
		}
		found, next = paged(found, limit, func(last registerRow) string {
			return cursor(q.cursorKind(), last.SortText, last.SortN)
		})
		rows, err = registerRows(db, found)
		return err
	})
	return rows, next, err
}

func (q Query) check() error {
	refuse := func(field, value, want string) error {
		return &records.Error{Kind: records.Invalid, Field: field, Value: clip(value), Want: want}
	}
	switch {
	case q.Weeks == 0:
	case q.Weeks < 0 || q.Weeks > MostWeeks:
		return refuse("weeks", strconv.Itoa(q.Weeks), "from 1 to 104 weeks")
	case q.State != "":
		return refuse("weeks", strconv.Itoa(q.Weeks), "weeks or a state, not both")
	case q.Today.IsZero():
		return refuse("today", "", "a date as YYYY-MM-DD")
	}
	switch q.State {
	case "":
	case records.Late, records.Near, records.Ahead:
		if q.Today.IsZero() {
			return refuse("today", "", "a date as YYYY-MM-DD")
		}
	case NoDuty:
		if q.Duty != "" && q.Duty != records.AnnualService && q.Duty != records.LandlordCheckDue {
			return refuse("duty", string(q.Duty), "with the state none: annual service or landlord check")
		}
	default:
		return refuse("state", string(q.State), "one of late, near, ahead, none")
	}
	if q.Sort != "" && q.Sort != ByDue && q.Sort != ByAddress {
		return refuse("sort", string(q.Sort), "due or address")
	}
	return nil
}

// registerRows reads what the rows of a page show, by primary keys.
func registerRows(db *gorm.DB, found []registerRow) ([]RegisterRow, error) {
	if len(found) == 0 {
		return nil, nil
	}
	ns, dutyNs := make([]int64, len(found)), make([]int64, 0, len(found))
	for i, f := range found {
		ns[i] = f.N
		if f.DutyN != 0 {
			dutyNs = append(dutyNs, f.DutyN)
		}
	}
	shown, err := shownAppliances(db, ns)
	if err != nil {
		return nil, err
	}
	duties, err := findDuties(db.Where("d.n IN ?", dutyNs))
	if err != nil {
		return nil, err
	}
	ofAppliance := map[string][]records.OpenDuty{}
	for _, d := range duties {
		ofAppliance[d.ApplianceID] = append(ofAppliance[d.ApplianceID], d)
	}
	out := make([]RegisterRow, len(found))
	for i, f := range found {
		out[i] = shown[f.N]
		// An appliance with two duties of one kind has two rows, in the
		// order in which its duties were found.
		if list := ofAppliance[out[i].ApplianceID]; f.DutyN != 0 && len(list) > 0 {
			out[i].NextDuty = &list[0]
			ofAppliance[out[i].ApplianceID] = list[1:]
		}
	}
	return out, nil
}

type shownRow struct {
	Appliance applianceRow `gorm:"embedded;embeddedPrefix:a_"`
	Property  propertyRow  `gorm:"embedded;embeddedPrefix:p_"`
	DraftID   string
}

var shownColumns = "SELECT " + applianceTable.as("a", "a_") + ", " + propertyTable.as("p", "p_") + `,
	coalesce((SELECT id FROM records WHERE appliance_n = a.n AND stage = 'draft' ORDER BY n DESC LIMIT 1), '')
		AS draft_id
	FROM appliances a JOIN properties p ON p.n = a.property_n
	WHERE a.n IN ?`

// shownAppliances reads the rows but for their duty, by number of appliance.
func shownAppliances(db *gorm.DB, ns []int64) (map[int64]RegisterRow, error) {
	var rows []shownRow
	if err := db.Raw(shownColumns, ns).Scan(&rows).Error; err != nil {
		return nil, err
	}
	last := []int64{}
	for _, r := range rows {
		if r.Appliance.LastRecordN != nil {
			last = append(last, *r.Appliance.LastRecordN)
		}
	}
	lines, err := findLines(db.Where("r.n IN ?", last))
	if err != nil {
		return nil, err
	}
	lineOf := map[string]*RecordLine{}
	for i := range lines {
		lineOf[lines[i].ApplianceID] = &lines[i]
	}
	out := make(map[int64]RegisterRow, len(rows))
	for _, r := range rows {
		address := r.Property.property()
		out[r.Appliance.N] = RegisterRow{
			ApplianceID: r.Appliance.ID, PropertyID: r.Property.ID, Address: address.OneLine(),
			Postcode: address.Postcode, Nation: address.Nation,
			Name: r.Property.ContactName, Email: r.Property.ContactEmail, Phone: r.Property.ContactPhone,
			Property: address, Kind: r.Appliance.Kind, MakeModel: r.Appliance.MakeModel,
			Serial: r.Appliance.Serial, LastRecord: lineOf[r.Appliance.ID], DraftID: r.DraftID,
		}
	}
	return out, nil
}

// cursor names the last row of a page: what it sorts by and its number.
func cursor(kind, text string, n int64) string {
	return base64.RawURLEncoding.EncodeToString([]byte(kind + "\n" + text + "\n" + strconv.FormatInt(n, 10)))
}

func readCursor(kind, s string) (text string, n int64, err error) {
	if s == "" {
		return "", 0, nil
	}
	raw, err := base64.RawURLEncoding.DecodeString(s)
	parts := strings.Split(string(raw), "\n")
	if err == nil && len(parts) == 3 && parts[0] == kind {
		if n, err = strconv.ParseInt(parts[2], 10, 64); err == nil {
			return parts[1], n, nil
		}
	}
	return "", 0, &records.Error{Kind: records.Invalid, Field: "after", Value: clip(s),
		Want: "the cursor that came with the page before"}
}
