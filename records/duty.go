package records

// DutyKind is what falls due.
type DutyKind string

// The kinds of duty.
const (
	AnnualService    DutyKind = "annual service"
	LandlordCheckDue DutyKind = "landlord check"
	TenantCopy       DutyKind = "copy to tenant"
	BuildingNotice   DutyKind = "building-work notification"
	IncidentReport   DutyKind = "dangerous fitting report"
	Calibration      DutyKind = "calibration"
	CompetenceExpiry DutyKind = "competence expiry"
	InhibitorRecheck DutyKind = "inhibitor re-check"
)

// DutyKinds lists them.
var DutyKinds = []DutyKind{AnnualService, LandlordCheckDue, TenantCopy, BuildingNotice, IncidentReport, Calibration,
	CompetenceExpiry, InhibitorRecheck}

// HandKinds are those that the office may add to an appliance by hand.
var HandKinds = []DutyKind{AnnualService, LandlordCheckDue, InhibitorRecheck, TenantCopy, BuildingNotice,
	IncidentReport}

// Duty is something that falls due on a date.
type Duty struct {
	Kind   DutyKind `json:"kind"`
	Due    Date     `json:"due"`
	Why    string   `json:"why"` // how the date was reached, one sentence
	Source Source   `json:"source"`
}

// DutyState is the state of a duty on a day.
type DutyState string

// The states.
const (
	Ahead  DutyState = "ahead"
	Near   DutyState = "near"
	Late   DutyState = "late"
	Done   DutyState = "done"
	Lifted DutyState = "lifted"
)

// NearDays is how long before its date a duty is near: eight weeks, time
// enough to write twice and book.
const NearDays = 56

// StateOn returns the state of an open duty on a day. On its due date it is
// near, from the next day late.
func (d Duty) StateOn(today Date) DutyState {
	switch left := d.Due.DaysSince(today); {
	case left < 0:
		return Late
	case left <= NearDays:
		return Near
	}
	return Ahead
}
