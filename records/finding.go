package records

// Outcome is what one rule makes of one record.
type Outcome string

// The outcomes.
const (
	Inside    Outcome = "inside"    // within the limit
	Attention Outcome = "attention" // may run, but the customer is told what it needs
	Outside   Outcome = "outside"   // not within the limit
	Close     Outcome = "close"     // too near the limit for the reading to decide
	Missing   Outcome = "missing"   // a reading or a limit is not there
	Doubtful  Outcome = "doubtful"  // contradicts other readings, other answers or physics
	Exempt    Outcome = "exempt"    // does not apply, with the reason
)

// Outcomes lists them, gravest first.
var Outcomes = []Outcome{Outside, Doubtful, Close, Missing, Attention, Inside, Exempt}

// Rank orders limits: a higher one outranks a lower one.
type Rank string

// The ranks, highest first.
const (
	ByManufacturer Rank = "manufacturer"
	ByRegulation   Rank = "regulation"
	ByStandard     Rank = "standard"
	ByPractice     Rank = "common practice"
	ByPhysics      Rank = "physics"
)

// Confidence says how well a limit's figure is confirmed.
type Confidence string

// The degrees of confidence; the words are printed with the source.
const (
	Confirmed   Confidence = "confirmed"
	OneSource   Confidence = "one secondary source"
	Practice    Confidence = "common practice, no published source"
	Unconfirmed Confidence = "from memory, unconfirmed"
)

// Source is where a limit comes from. From and Until bound the time it is in
// force; a zero date is open.
type Source struct {
	Document   string     `json:"document"`
	Edition    string     `json:"edition,omitempty"`
	Clause     string     `json:"clause,omitempty"`
	From       Date       `json:"from,omitzero"`
	Until      Date       `json:"until,omitzero"`
	Confidence Confidence `json:"confidence,omitempty"`
}

// InForce reports whether the source is in force on the date.
func (s Source) InForce(on Date) bool {
	return (s.From.IsZero() || !on.Before(s.From)) && (s.Until.IsZero() || !on.After(s.Until))
}

// String names the source in one line.
func (s Source) String() string {
	out := s.Document
	for _, part := range []string{s.Edition, s.Clause} {
		if part != "" {
			out += ", " + part
		}
	}
	return out
}

// Decision is how a reading near its limit is decided.
type Decision string

// The decision rules. AsRead is for a limit whose source means it for readings
// of an instrument of the usual class; Guarded claims neither side unless it
// holds with a probability of at least 95 %.
const (
	AsRead  Decision = "as read"
	Guarded Decision = "guarded"
)

// Limit is what a reading is held against.
type Limit struct {
	Text string   `json:"text"` // in words with figures: at most 1 mbar
	Low  *float64 `json:"low,omitempty"`
	High *float64 `json:"high,omitempty"`
	// Attention is the level inside the limit above which the customer is told
	// what the appliance needs.
	Attention *float64 `json:"attention,omitempty"`
	Unit      string   `json:"unit,omitempty"`
	Rank      Rank     `json:"rank"`
	Source    Source   `json:"source"`
	Decision  Decision `json:"decision,omitempty"` // blank: as read
}

// Measured is a reading with its uncertainty, and how sure it is that the
// limit is kept (JCGM 106:2012).
type Measured struct {
	Value float64 `json:"value"`
	// Uncertainty is expanded with k = 2, in the unit of the value.
	Uncertainty float64  `json:"uncertainty"`
	Unit        string   `json:"unit,omitempty"`
	Kept        float64  `json:"kept"` // probability that the limit is kept, 0 to 1
	Text        string   `json:"text"` // 0.0039 ± 0.0004 against 0.004
	Decision    Decision `json:"decision"`
}

// Class is how serious an unsafe finding is, in the general terms of the
// published unsafe-situations procedure. The tool suggests, the engineer
// decides.
type Class string

// The classes.
const (
	Immediate   Class = "immediately dangerous"
	AtRisk      Class = "at risk"
	Observation Class = "observation"
)

// Classes lists them, gravest first.
var Classes = []Class{Immediate, AtRisk, Observation}

// Finding is the outcome of one rule on one record.
type Finding struct {
	Rule    string    `json:"rule"` // stable id, section.name
	Section SectionID `json:"section"`
	Title   string    `json:"title"`
	Outcome Outcome   `json:"outcome"`
	Reading string    `json:"reading,omitempty"` // with unit
	Limit   *Limit    `json:"limit,omitempty"`
	// Outranked is the general limit that the one used replaced, and Looser
	// whether that one was the tighter of the two.
	Outranked *Limit    `json:"outranked,omitempty"`
	Looser    bool      `json:"looser,omitempty"`
	AtLimit   bool      `json:"at_limit,omitempty"` // inside, exactly on the edge
	Reason    string    `json:"reason,omitempty"`   // one sentence for people
	Working   []string  `json:"working,omitempty"`  // the computation, line by line
	Fields    []string  `json:"fields,omitempty"`   // keys of the fields read
	Suggested Class     `json:"suggested_class,omitempty"`
	Measured  *Measured `json:"measured,omitempty"`
	// Word is the reason for which the engineer takes a close reading to keep
	// its limit.
	Word string `json:"word,omitempty"`
}

// Settled reports whether nothing of the finding is left to be told.
func (f Finding) Settled() bool { return f.Outcome == Inside || f.Outcome == Exempt }

// MustBeAnswered reports whether the record cannot be issued without an answer
// to the finding. What needs attention is told to the customer in its own
// words, and a close reading may be settled by the engineer's word.
func (f Finding) MustBeAnswered() bool {
	return !f.Settled() && f.Outcome != Attention && !(f.Outcome == Close && f.Word != "")
}

// Standing sums up the findings of a record.
type Standing string

// The standings.
const (
	Clear          Standing = "clear"     // every finding inside or exempt, or settled by the engineer's word
	NeedsAttention Standing = "attention" // the customer has to be told something
	Open           Standing = "open"      // something missing, close or doubtful
	Adverse        Standing = "adverse"   // something outside
)

// Standings lists them, gravest first.
var Standings = []Standing{Adverse, Open, NeedsAttention, Clear}

// StandingOf returns the standing that the findings add up to. A record
// without findings is open: nothing has been judged.
func StandingOf(fs []Finding) Standing {
	if len(fs) == 0 {
		return Open
	}
	standing := Clear
	for _, f := range fs {
		switch {
		case f.Outcome == Outside:
			return Adverse
		case f.MustBeAnswered():
			standing = Open
		case f.Outcome == Attention && standing == Clear:
			standing = NeedsAttention
		}
	}
	return standing
}

// Evaluation is the outcome of all rules on a record, as the API and the
// command line give it.
type Evaluation struct {
	Standing Standing  `json:"standing"`
	Findings []Finding `json:"findings"`
}

// EvaluationOf sums the findings up.
func EvaluationOf(fs []Finding) Evaluation { return Evaluation{StandingOf(fs), orEmpty(fs)} }

// Unsettled returns the findings that are neither inside nor exempt, in order:
// those that are answered, settled by word or told.
func Unsettled(fs []Finding) []Finding {
	var out []Finding
	for _, f := range fs {
		if !f.Settled() {
			out = append(out, f)
		}
	}
	return out
}
