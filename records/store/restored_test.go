package store_test

import (
	"strings"
	"testing"
	"time"

	"gaugebook/records"
	"gaugebook/records/due"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

// After a restore nothing goes out by itself, nobody is signed in, and no
// number is given out twice.
func TestAfterRestore(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, highest string
		automatic     bool
		next          int // serial of the next record of 2026, as many after the newest
	}{{"nothing issued since", "", false, 1}, {"reminders were automatic", "", true, 1},
		{"papers are ahead", "ahead", true, 41},
		{"papers of this register only", "own", false, 1}} {
		t.Run(c.name, func(t *testing.T) {
			w := newWorld(t)
			ok(t, w.Settings.SaveReminders(ctx, by, due.ReminderSettings{Steps: due.Ladder{-8, -4}, Automatic: c.automatic}))
			newest := storetest.MustIssue(t, w.Store, w.other.ID, records.Remedial, "2026-11-19")
			year, own, err := records.ParseNumber(newest.Number)
			ok(t, err)
			from := store.RestoredFrom{File: "backup.db", SHA256: strings.Repeat("ab", 32), Key: storetest.Key}
			switch c.highest {
			case "ahead":
				from.Highest = records.NumberOf(year, own+40)
			case "own":
				from.Highest = w.issued.Number
			}
			before := must(w.Outbox.Counts(ctx, false))
			out, err := w.AfterRestore(ctx, by, from)
			ok(t, err)
			counts := must(w.Outbox.Counts(ctx, false))
			moving := before[records.MessageDue] + before[records.MessageSending]
			if out.Unsure != moving || moving == 0 || counts[records.MessageDue]+counts[records.MessageSending] != 0 ||
				counts[records.MessageUnsure] != before[records.MessageUnsure]+moving ||
				counts[records.MessageSent] != before[records.MessageSent] ||
				counts[records.MessageFailed] != before[records.MessageFailed] {
				t.Errorf("%d unsure: %v, before %v", out.Unsure, counts, before)
			}
			if got := must(w.Settings.Reminders(ctx)); got.Automatic || out.Automatic != c.automatic || len(got.Steps) != 2 {
				t.Errorf("automatic %v, now %+v", out.Automatic, got)
			}
			if p := must(w.People.ByID(ctx, w.owner.ID)); p.SignIns != w.owner.SignIns+1 {
				t.Errorf("open sessions hold on: %d sign-ins after %d", p.SignIns, w.owner.SignIns)
			}
			log := mustAudit(t, w.Store)
			if log[0].What != "register restored" || log[0].Subject != "backup.db" || out.LogEntry >= log[0].Seq {
				t.Errorf("logged %+v, entry %d", log[0], out.LogEntry)
			}
			row := storetest.MustIssue(t, w.Store, w.plain.ID, records.Remedial, "2026-11-20")
			if y, n, err := records.ParseNumber(row.Number); err != nil || y != year || n != own+c.next {
				t.Errorf("the next number is %s after %d, want %d more", row.Number, own, c.next)
			}
		})
	}
}

func TestAfterRestoreRefusesANumberThatIsNone(t *testing.T) {
	t.Parallel()
	w := newWorld(t)
	was := mustAudit(t, w.Store)[0].Seq
	for _, number := range []string{"2026", "GB-1", "2026-000001x", "-1", "none"} {
		_, err := w.AfterRestore(ctx, by, store.RestoredFrom{File: "b", Highest: number, Key: storetest.Key})
		if records.KindOf(err) != records.Invalid || mustAudit(t, w.Store)[0].Seq != was {
			t.Errorf("%q: %v", number, err)
		}
	}
	if n := must(w.Outbox.Counts(ctx, false))[records.MessageDue]; n == 0 {
		t.Error("what was refused moved the messages all the same")
	}
}

// The owner's limits: one for each rule and kind, the later in place of the
// earlier, in the order of rule and kind; nothing that is refused is kept.
func TestOwnerLimitsKept(t *testing.T) {
	t.Parallel()
	s := storetest.MustOpen(t)
	level := func(kind string, high float64) records.OwnerLimit {
		return records.OwnerLimit{Rule: records.OwnersRatio, Kind: kind, High: &high, Document: "Invented guide",
			EnteredBy: "Rhona"}
	}
	guard := func(rule string) records.OwnerLimit {
		return records.OwnerLimit{Rule: rule, Decision: records.Guarded, EnteredBy: "Rhona"}
	}
	for _, o := range []records.OwnerLimit{guard("pressure.meter"), level(records.KindFire, 0.01), level(records.KindRange,
		0.008),
		level(records.KindFire, 0.012), guard(" heat.input ")} {
		ok(t, s.Settings.SaveOwnerLimit(ctx, by, o))
	}
	shown := func() string {
		var out []string
		for _, o := range must(s.Settings.OwnerLimits(ctx)) {
			one := o.Rule + "/" + o.Kind + "/" + string(o.Decision)
			if o.High != nil {
				one += records.FormatNumber(*o.High, -1)
			}
			out = append(out, one)
		}
		return strings.Join(out, " ")
	}
	const all = "combustion.ratio/fire/0.012 combustion.ratio/range-cooker/0.008 " +
		"heat.input//guarded pressure.meter//guarded"
	if got := shown(); got != all {
		t.Errorf("kept %s\nwant %s", got, all)
	}
	was := mustAudit(t, s)[0].Seq
	for field, o := range map[string]records.OwnerLimit{"high": level(records.KindFire, 0.4), "kind": level("kiln", 0.01),
		"rule": guard(" ")} {
		err := s.Settings.SaveOwnerLimit(ctx, by, o)
		if records.KindOf(err) != records.Invalid || fieldOf(err) != field || shown() != all || mustAudit(t,
			s)[0].Seq != was {
			t.Errorf("%s: %v, kept %s", field, err, shown())
		}
	}
	ok(t, s.Settings.RemoveOwnerLimit(ctx, by, records.OwnersRatio, records.KindFire))
	ok(t, s.Settings.RemoveOwnerLimit(ctx, by, "heat.input", ""))
	if got := shown(); got != "combustion.ratio/range-cooker/0.008 pressure.meter//guarded" {
		t.Errorf("left %s", got)
	}
}

// What a key is good for: its scope, its life to the instant, its maker.
func TestKeyTerms(t *testing.T) {
	t.Parallel()
	clock := storetest.NewClock()
	s := storetest.MustOpenAt(t, t.TempDir()+"/x.db", clock.Now)
	p := mustPerson(t, s, "maud@tweddle.example")
	self, other := p.Actor(), storetest.Actor
	for _, c := range []struct {
		name  string
		maker records.Actor
		terms []store.KeyTerms
		scope records.KeyScope // "": refused
		life  time.Duration
	}{
		{"without terms", other, nil, records.KeyEnters, 0},
		{"to read", other, []store.KeyTerms{{Scope: records.KeyReads}}, records.KeyReads, 0},
		{"for a day", other, []store.KeyTerms{{Scope: records.KeyReads, Life: 24 * time.Hour}}, records.KeyReads,
			24 * time.Hour},
		{"to issue", self, []store.KeyTerms{{Scope: records.KeyIssues}}, records.KeyIssues, 0},
		{"to issue, by another", other, []store.KeyTerms{{Scope: records.KeyIssues}}, "", 0},
		{"to do what nobody knows", self, []store.KeyTerms{{Scope: "all"}}, "", 0},
		{"to do nothing", self, []store.KeyTerms{{}}, "", 0},
	} {
		clock.Set(storetest.Start)
		k, err := s.People.NewKey(ctx, c.maker, p.ID, c.name, c.terms...)
		if c.scope == "" {
			if records.KindOf(err) != records.Invalid || fieldOf(err) != "scope" {
				t.Errorf("%s: %v", c.name, err)
			}
			continue
		}
		if err != nil || k.Scope != c.scope || k.ExpiresAt.IsZero() != (c.life == 0) {
			t.Errorf("%s: %+v, %v", c.name, k, err)
		}
		for _, at := range []struct {
			after time.Duration
			works bool
		}{{time.Minute, true}, {c.life - time.Second, true}, {c.life + time.Minute, c.life == 0}} {
			now := storetest.Start.Add(max(at.after, 0))
			clock.Set(now)
			if got,
				err := s.People.ByKey(ctx,
				k.Token); (err == nil) != at.works || at.works && (got.Key != c.name || got.KeyScope != c.scope) ||
				k.Ended(now) == at.works {
				t.Errorf("%s after %s: %+v, %v; ended %v", c.name, at.after, got, err, k.Ended(now))
			}
		}
	}
	if id, err := s.People.KeyID(ctx, "gbk_unknown"); id != "" || err != nil {
		t.Errorf("an unknown key is logged as %q, %v", id, err)
	}
}
