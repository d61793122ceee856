package demo

import (
	"context"
	"crypto/ed25519"
	"crypto/rand"
	"fmt"
	"log/slog"
	mathrand "math/rand/v2"
	"sort"
	"strings"
	"time"

	"golang.org/x/sync/errgroup"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/app"
	"gaugebook/server/mail"
	"gaugebook/server/worker"
)

// SignIn is how one of the invented people signs in.
type SignIn struct {
	Name, Email, Password string
	Role                  records.Role
}

// Clock is the time that the demo firm lived through while its register is
// filled; the store and the use cases must both be given its Now.
type Clock struct {
	at time.Time
	// Latest is where it stops: nothing is issued in a register that was written to
	// at a time to come. The zero time is no end.
	Latest time.Time
}

// Now returns the time that Fill has come to.
func (c *Clock) Now() time.Time {
	if !c.Latest.IsZero() && c.at.After(c.Latest) {
		return c.Latest
	}
	return c.at
}

// to goes on to a time. It never goes back: what happens on a day that has been
// dealt with is entered some minutes later.
func (c *Clock) to(t time.Time) {
	if !t.After(c.at) {
		t = c.at.Add(7 * time.Minute)
	}
	c.at = t
}

// Options say what to fill and with what.
type Options struct {
	Store   *store.Store
	Key     ed25519.PrivateKey
	BaseURL string
	Clock   *Clock
	Today   records.Date // the last day of the story
	Zone    *time.Location
	Hash    func(password string) (string, error)
	Sender  mail.Sender // gets the letters of the last days as they fall due
}

// Fill lives through about three years of the invented firm, ending today,
// and returns the sign-ins. The passwords are new each time; everything
// else comes out the same. The store must be empty.
func Fill(ctx context.Context, o Options) ([]SignIn, error) {
	f := &filler{Options: o, rng: mathrand.New(mathrand.NewPCG(1, 20)), people: map[string]records.Person{},
		calibrated: map[string]records.Date{}}
	f.app = &app.App{Store: o.Store, Key: o.Key, BaseURL: o.BaseURL, Now: o.Clock.Now, Zone: o.Zone, PrintLater: true}
	f.mails = worker.NewMailSender(f.app, o.Sender, o.Clock.Now, slog.New(slog.DiscardHandler))
	f.oldMails = worker.NewMailSender(f.app, longAgo{}, o.Clock.Now, slog.New(slog.DiscardHandler))
	f.oldMails.Print = func(context.Context, string) ([]byte, error) { return nil, nil }
	o.Clock.at = f.at(o.Today.AddMonths(-40), 8)
	signIns, err := f.firm(ctx)
	if err != nil {
		return nil, err
	}
	if err := f.appliances(ctx); err != nil {
		return nil, err
	}
	sort.SliceStable(f.visits, func(i, j int) bool { return f.visits[i].on.Before(f.visits[j].on) })
	for _, v := range f.visits {
		if err := f.attend(ctx, v); err != nil {
			return nil, fmt.Errorf("%s on %s at %s: %w", v.purpose, v.on, v.place.line1, err)
		}
	}
	o.Clock.to(f.at(o.Today, 7))
	return signIns, f.today(ctx)
}

type filler struct {
	Options
	app *app.App
	rng *mathrand.Rand
	// mails writes the letters of the last days; oldMails drops those before,
	// which nobody would look for, with the print that each would need.
	mails, oldMails *worker.MailSender
	people          map[string]records.Person // by first name
	visits          []visit
	// calibrated is when each instrument was last calibrated, as saved.
	calibrated map[string]records.Date
}

// visit is one planned visit to one appliance.
type visit struct {
	on          records.Date
	purpose     records.Purpose
	engineer    string
	applianceID string
	place       place
	model       model
	spoil       string // what is wrong with it: a key of spoils, or ""
	leave       string // "" issued; "half" left as a half-filled draft, "ready" as a full one
	after       string // what happens to it once issued: "amend", "withdraw"
	paperwork   bool   // no visit: the office sends the notices and copies due from it
}

func (f *filler) at(d records.Date, hour int) time.Time {
	return time.Date(d.Year, d.Month, d.Day, hour, 12, 0, 0, f.Zone)
}

// keptDays is of how many days the demo keeps the letters as files.
const keptDays = 14

// sendDue sends the letters that are due.
func (f *filler) sendDue(ctx context.Context) error {
	if records.DateOf(f.Clock.Now()).Before(f.Today.AddDays(-keptDays)) {
		return f.oldMails.SendDue(ctx)
	}
	return f.mails.SendDue(ctx)
}

// longAgo takes letters that went out before those which the demo keeps.
type longAgo struct{}

func (longAgo) Send(context.Context, mail.Message) (mail.Receipt, error) {
	return mail.Receipt{Place: "the mail server of the time"}, nil
}

// phrase makes a password that can be typed from a screen.
func phrase() string {
	s := strings.ToLower(rand.Text())
	return s[:5] + "-" + s[5:10] + "-" + s[10:15]
}

func (f *filler) firm(ctx context.Context) ([]SignIn, error) {
	if err := f.Store.Settings.SaveFirm(ctx, records.SystemActor, firm); err != nil {
		return nil, err
	}
	out, hashes := make([]SignIn, len(crew)), make([]string, len(crew))
	var all errgroup.Group
	for i := range crew {
		out[i].Password = phrase()
		all.Go(func() (err error) { hashes[i], err = f.Hash(out[i].Password); return err })
	}
	if err := all.Wait(); err != nil {
		return nil, err
	}
	for i, c := range crew {
		p := records.Person{Name: c.name, Email: c.email, Role: c.role, Licence: c.licence, PasswordHash: hashes[i],
			Active: true}
		if c.competenceMonths > 0 {
			p.CompetenceUntil = f.Today.AddMonths(c.competenceMonths)
		}
		p, err := f.Store.People.Create(ctx, records.SystemActor, p)
		if err != nil {
			return nil, err
		}
		first, _, _ := strings.Cut(c.name, " ")
		f.people[first] = p
		out[i].Name, out[i].Email, out[i].Role = c.name, c.email, c.role
	}
	return out, nil
}

// calibrate brings the instruments to how they were on a day: last calibrated
// a whole number of years before their present date.
func (f *filler) calibrate(ctx context.Context, on records.Date) error {
	for _, k := range kit {
		in := k.in
		in.CalibratedOn = f.Today.AddMonths(-k.months)
		for in.CalibratedOn.After(on) {
			in.CalibratedOn = in.CalibratedOn.AddMonths(-12)
		}
		in.CalibrationDue = in.CalibratedOn.AddMonths(12)
		if f.calibrated[in.ID] == in.CalibratedOn {
			continue
		}
		if _, err := f.Store.Settings.SaveInstrument(ctx, records.SystemActor, in); err != nil {
			return err
		}
		f.calibrated[in.ID] = in.CalibratedOn
	}
	return nil
}

func (f *filler) entry(p place) records.PropertyEntry {
	return records.PropertyEntry{
		Property: records.Property{Line1: p.line1, Line2: p.line2, Town: p.town, Postcode: p.postcode,
			Nation: p.nation},
		Contact: records.Contact{Name: p.name, Email: p.email, Phone: p.phone, Tenure: p.tenure, Address: p.address},
	}
}

// appliances puts the properties and appliances in, and plans the visits.
func (f *filler) appliances(ctx context.Context) error {
	office := records.Actor{ID: f.people["Silas"].ID, Name: f.people["Silas"].Name}
	for i, p := range places {
		prop, err := f.Store.Register.CreateProperty(ctx, office, f.entry(p))
		if err != nil {
			return fmt.Errorf("%s: %w", p.line1, err)
		}
		for k, m := range f.modelsAt(i, p) {
			serial := fmt.Sprintf("%s%02d-%06d", strings.ToUpper(m.make[:2]), 20+f.rng.IntN(6),
				10000+f.rng.IntN(900000))
			a, err := f.Store.Register.CreateAppliance(ctx, office, prop.ID, m.plate(serial, f.rng.IntN(4) > 0))
			if err != nil {
				return fmt.Errorf("%s: %w", p.line1, err)
			}
			f.plan(visit{applianceID: a.ID, place: p, model: m}, i, k)
		}
	}
	return nil
}

// modelsAt chooses what stands at the ith property: a boiler everywhere, and
// at every second one something else besides.
func (f *filler) modelsAt(i int, p place) []model {
	boiler := models[i%5]
	if strings.Contains(p.line1+p.line2, "Farm") || strings.Contains(p.line2, "Nant") ||
		strings.Contains(p.line2, "Glen") || strings.Contains(p.line2, "Derry") {
		return []model{models[5]} // off the mains
	}
	if i%2 == 0 {
		return []model{boiler, models[6+(i/2)%4]}
	}
	return []model{boiler}
}

// plan sets an appliance's visits so that the register ends with duties late,
// near and ahead, drafts, records amended and withdrawn, and a few appliances
// nobody has been to yet.
func (f *filler) plan(v visit, i, k int) {
	n := 2*i + k
	v.engineer = []string{"Anwen", "Dougal", "Roisin"}[n%3]
	if n%17 == 16 {
		return // on the books, never visited
	}
	months := 3 + (n*7)%34 // how long ago it was fitted
	fitted := f.Today.AddMonths(-months).AddDays(-(n * 5) % 28)
	add := func(on records.Date, purpose records.Purpose) *visit {
		office := v
		if office.on, office.paperwork = on.AddDays(6+n%9), true; office.on.Before(f.Today) && n%14 != 9 {
			f.visits = append(f.visits, office)
		}
		w := v
		w.on, w.purpose = on, purpose
		f.visits = append(f.visits, w)
		return &f.visits[len(f.visits)-1]
	}
	last := add(fitted, records.Commissioning)
	rented := v.place.tenure == let || v.place.tenure == agt
	yearly := records.Service
	if rented {
		yearly = records.LandlordCheck
	}
	for year := 1; ; year++ {
		on := fitted.AddMonths(12 * year).AddDays(-(n % 23))
		if on.After(f.Today.AddDays(-12)) {
			break
		}
		if on.AddMonths(13).After(f.Today) && n%6 == 5 {
			break // the last round was missed: late now
		}
		last = add(on, yearly)
		if rented && n%3 != 0 {
			last = add(on, records.Service)
		}
	}
	switch {
	case n == 4 || n == 46 || n == 58:
		last.spoil = map[int]string{4: "ratio", 46: "joints", 58: "drop"}[n]
	case n == 12 || n == 44:
		last.after = "amend"
	case n == 30:
		last.after = "withdraw"
	}
	if n%11 == 3 {
		w := add(f.Today.AddDays(-(n % 9)), records.Service)
		w.leave = []string{"half", "ready"}[n%2]
	}
}
