package server

import (
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/server/account"
	"gaugebook/server/api"
	"gaugebook/server/customer"
	"gaugebook/server/engineer"
	"gaugebook/server/office"
	"gaugebook/server/owner"
	"gaugebook/server/web"
	"gaugebook/templates"
)

func get(path string, who web.Access, handle echo.HandlerFunc) web.Route {
	return web.Route{Method: http.MethodGet, Path: path, Access: who, Handle: handle}
}

func post(path string, who web.Access, handle echo.HandlerFunc) web.Route {
	return web.Route{Method: http.MethodPost, Path: path, Access: who, Handle: handle}
}

// long marks a route that sets limits of its own to size and time.
func long(r web.Route) web.Route {
	r.Long = true
	return r
}

// fresh marks a route that hands the register over: it wants the password again.
func fresh(r web.Route) web.Route {
	r.Fresh = true
	return r
}

// routes is every page of the server: where it is, who may use it, and what
// answers. The API has a table of its own.
func (s *Server) routes() []web.Route {
	k := s.Kit
	var (
		signIn   = account.SignIn{Kit: k, Accounts: s.accounts, Attempts: s.signIns}
		join     = account.Join{Kit: k, Accounts: s.accounts, Attempts: s.checks}
		password = account.Password{Kit: k, Accounts: s.accounts, Attempts: s.signIns}
		own      = account.Own{Kit: k}
		confirm  = account.Confirm{Kit: k, Accounts: s.accounts, Attempts: s.signIns}
		forgot   = account.Forgotten{Kit: k, Attempts: s.signIns}
		home     = account.Home{Kit: k}
		calendar = account.Calendars{Kit: k}

		find      = engineer.Find{Kit: k}
		property  = engineer.Properties{Kit: k}
		appliance = engineer.Appliances{Kit: k}
		record    = engineer.Records{Kit: k}
		section   = engineer.NewSections(k)
		review    = engineer.Review{Kit: k}
		day       = engineer.Day{Kit: k}

		overview    = office.Overview{Kit: k}
		register    = office.Register{Kit: k}
		imports     = office.Imports{Kit: k, Importer: s.lists}
		week        = office.Week{Kit: k}
		duties      = office.Duties{Kit: k}
		customers   = office.Customers{Kit: k}
		reminders   = office.Reminders{Kit: k}
		letters     = office.Letters{Kit: k}
		bookings    = office.Bookings{Kit: k}
		messages    = office.Messages{Kit: k}
		requests    = office.Requests{Kit: k}
		instruments = office.Instruments{Kit: k}

		firm      = owner.Firm{Kit: k}
		people    = owner.People{Kit: k}
		roles     = owner.Roles{Kit: k, Routes: s.allRoutes}
		wording   = owner.Wording{Kit: k}
		webhooks  = owner.Webhooks{Kit: k, Loopback: s.loopbackHooks}
		dropBands = owner.DropBands{Kit: k}

		theirs = customer.Record{Kit: k}
		stop   = customer.Stop{Kit: k}
		verify = customer.Verify{Kit: k, Checks: s.checks}
		rules  = customer.Rules{Kit: k}
	)
	return []web.Route{
		get("/healthz", web.Open, s.health),
		get("/readyz", web.Open, s.ready),
		get("/static/*", web.Open, s.static),
		get("/favicon.ico", web.Open, s.favicon),

		get("/sign-in", web.Everyone, signIn.Form),
		post("/sign-in", web.Everyone, signIn.Submit),
		post("/sign-out", web.Everyone, signIn.End),
		get("/join/:token", web.Everyone, join.Form),
		post("/join/:token", web.Everyone, join.Accept),
		get("/forgotten", web.Everyone, forgot.Form),
		post("/forgotten", web.Everyone, forgot.Send),
		get("/forgotten/sent", web.Everyone, forgot.Sent),
		get("/confirm", web.SignedIn, confirm.Form),
		post("/confirm", web.SignedIn, confirm.Submit),
		get("/password", web.SignedIn, password.Form),
		post("/password", web.SignedIn, password.Save),
		get("/account", web.SignedIn, own.Show),
		fresh(post("/account/keys", web.SignedIn, own.AddKey)),
		post("/account/keys/:key/end", web.SignedIn, own.EndKey),
		get("/roles", web.SignedIn, roles.Show),

		get("/", web.SignedIn, home.Show),
		get("/find", web.SignedIn, find.Show),
		get("/properties/new", web.SignedIn, property.New),
		post("/properties", web.SignedIn, property.Add),
		get("/properties/:id", web.SignedIn, property.Show),
		get("/properties/:id/edit", web.SignedIn, property.Edit),
		post("/properties/:id", web.SignedIn, property.Save),
		get("/properties/:id/appliances/new", web.SignedIn, appliance.New),
		post("/properties/:id/appliances", web.SignedIn, appliance.Add),

		get("/appliances/:id", web.SignedIn, appliance.Show),
		get("/appliances/:id/edit", web.SignedIn, appliance.Edit),
		post("/appliances/:id", web.SignedIn, appliance.Save),
		post("/appliances/:id/retire", web.Office, appliance.Retire),
		post("/appliances/:id/contacts", web.SignedIn, appliance.AddContact),
		post("/appliances/:id/records", web.Engineers, appliance.Start),
		post("/appliances/:id/duties/:duty/lift", web.Office, appliance.LiftDuty),
		post("/appliances/:id/duties/:duty/done", web.Office, appliance.FinishDuty),

		get("/records/:id", web.SignedIn, record.Show),
		post("/records/:id/date", web.Engineers, record.SaveDate),
		post("/records/:id/discard", web.Engineers, record.Discard),
		get("/records/:id/sections/:section", web.Engineers, section.Show),
		post("/records/:id/sections/:section", web.Engineers, section.Save),
		post("/records/:id/sections/:section/choose", web.Engineers, section.Choose),
		long(post("/records/:id/sections/:section/photos", web.Engineers, section.AddPhoto)),
		post("/records/:id/sections/:section/photos/:sum", web.Engineers, section.ChangePhoto),
		get("/records/:id/photos/:sum", web.SignedIn, record.Photo),
		get("/records/:id/review", web.Engineers, review.Show),
		post("/records/:id/condition", web.Engineers, review.SaveCondition),
		post("/records/:id/leave-out", web.Engineers, review.LeaveOut),
		post("/records/:id/take-over", web.Engineers, review.TakeOver),
		post("/records/:id/issue", web.Engineers, review.Issue),
		get("/records/:id/pdf", web.SignedIn, record.PDF),
		get("/records/:id/notice.pdf", web.SignedIn, record.Notice),
		post("/records/:id/amend", web.Engineers, record.Amend),
		post("/records/:id/withdraw", web.Office, record.Withdraw),
		post("/records/:id/resend", web.SignedIn, record.Resend),
		post("/records/:id/links", web.SignedIn, record.AddLink),
		post("/records/:id/links/:link/end", web.SignedIn, record.EndLink),

		get("/overview", web.Office, overview.Show),
		get("/register", web.Office, register.Show),
		get("/register/print.pdf", web.Office, register.PDF),
		fresh(long(get("/register/export", web.Office, register.Export))),
		get("/import", web.Office, imports.Show),
		long(post("/import", web.Office, imports.Upload)),
		post("/import/columns", web.Office, imports.Check),
		post("/import/revise", web.Office, imports.Revise),
		post("/import/write", web.Office, imports.Write),
		post("/import/discard", web.Office, imports.Discard),
		get("/import/progress", web.Office, imports.Progress),
		get("/import/errors.csv", web.Office, imports.Errors),
		get("/week", web.Office, week.Show),
		get("/duties", web.Office, duties.Show),
		post("/duties/:duty/sent", web.Office, duties.Sent),
		get("/customers/:id", web.Office, customers.Show),
		post("/customers/:id/contacts", web.Office, customers.AddContact),
		post("/customers/:id/stop", web.Office, customers.Stop),
		post("/customers/:id/resume", web.Office, customers.Resume),
		get("/chase", web.Office, reminders.Show),
		post("/chase/preview", web.Office, reminders.Preview),
		post("/chase/send", web.Office, reminders.Send),
		post("/chase/letters", web.Office, reminders.Print),
		get("/letters/:id", web.Office, letters.Show),
		get("/letters/:id/print.pdf", web.Office, letters.PDF),
		get("/reminders", web.Owners, wording.Show),
		post("/reminders", web.Owners, wording.Save),
		get("/bookings/new", web.Office, bookings.New),
		post("/bookings", web.Office, bookings.Add),
		get("/bookings/:id", web.SignedIn, bookings.Show),
		post("/bookings/:id/move", web.Office, bookings.Move),
		post("/bookings/:id/cancel", web.Office, bookings.Cancel),
		get("/day", web.SignedIn, day.Show),
		get("/calendar", web.SignedIn, calendar.Show),
		post("/calendar", web.SignedIn, calendar.Add),
		post("/calendar/:id/end", web.SignedIn, calendar.End),
		get("/messages", web.Office, messages.List),
		get("/messages/:id", web.SignedIn, messages.Show),
		post("/messages/:id/bounced", web.SignedIn, messages.Bounced),
		post("/bounces", web.Office, messages.AddBounce),
		post("/messages/:id/requeue", web.Office, messages.Requeue),
		post("/messages/:id/arrived", web.Office, messages.Arrived),
		post("/visits/:id/handled", web.Office, requests.HandleVisit),
		post("/contact-requests/:id/confirm", web.Office, requests.ConfirmContact),
		post("/contact-requests/:id/refuse", web.Office, requests.RefuseContact),

		get("/instruments", web.SignedIn, instruments.List),
		post("/instruments", web.Office, instruments.Add),
		get("/instruments/:id", web.Office, instruments.Edit),
		post("/instruments/:id", web.Office, instruments.Save),
		get("/firm", web.Owners, firm.Show),
		post("/firm", web.Owners, firm.Save),
		post("/firm/logo", web.Owners, firm.AddLogo),
		post("/firm/logo/remove", web.Owners, firm.RemoveLogo),
		get("/firm/logo/:sum", web.Owners, firm.Logo),
		fresh(get("/people", web.Owners, people.List)),
		fresh(post("/people", web.Owners, people.Add)),
		fresh(get("/people/:id", web.Owners, people.Edit)),
		fresh(post("/people/:id", web.Owners, people.Save)),
		fresh(post("/people/:id/invite", web.Owners, people.Invite)),
		fresh(post("/people/:id/invite/revoke", web.Owners, people.RevokeInvite)),
		fresh(post("/people/:id/keys", web.Owners, people.AddKey)),
		fresh(post("/people/:id/keys/:key/end", web.Owners, people.EndKey)),
		fresh(get("/webhooks", web.Owners, webhooks.List)),
		fresh(post("/webhooks", web.Owners, webhooks.Add)),
		get("/webhooks/:id", web.Owners, webhooks.Show),
		fresh(post("/webhooks/:id/end", web.Owners, webhooks.End)),
		fresh(post("/webhooks/:id/deliveries/:delivery/resend", web.Owners, webhooks.Resend)),
		get("/drop-bands", web.Owners, dropBands.Show),
		post("/drop-bands", web.Owners, dropBands.Save),

		get("/rules", web.Everyone, rules.List),
		get("/rules/:rule", web.Everyone, rules.Show),
		get("/verify", web.Everyone, verify.Form),
		get("/verify/key", web.Open, verify.Key),
		get("/v/:number/:code", web.Open, verify.Show),
		get("/calendar/:token", web.Open, calendar.Feed),
		get("/stop/:token", web.Open, stop.Show),
		post("/stop/:token", web.Open, stop.Confirm),
		get("/r/:token", web.Open, theirs.Show),
		get("/r/:token/record.pdf", web.Open, theirs.PDF),
		get("/r/:token/records/:number", web.Open, theirs.Other),
		post("/r/:token/visit", web.Open, theirs.AskVisit),
		post("/r/:token/contact", web.Open, theirs.AskContact),
	}
}

// allRoutes is the pages and the API together.
func (s *Server) allRoutes() []web.Route { return append(s.routes(), s.programs().Routes()...) }

// programs is what answers them.
func (s *Server) programs() api.API { return api.API{Kit: s.Kit, Checks: s.checks} }

// addRoutes puts every route behind its guard.
func (s *Server) addRoutes() {
	for _, r := range s.routes() {
		s.long[r.Method+" "+r.Path] = r.Long
		s.open[r.Method+" "+r.Path] = r.Access == web.Open || r.Access == web.Everyone
		handle := r.Handle
		if r.Fresh {
			handle = s.Kit.Fresh(handle)
		}
		s.echo.Add(r.Method, r.Path, s.Guard(r.Access, handle))
	}
	for _, r := range s.programs().Routes() {
		s.echo.Add(r.Method, r.Path, s.programs().ByKey(r.Access, r.Handle))
	}
}

// static serves the embedded files. Under their hash they never change;
// without it they are asked for again each time.
func (s *Server) static(c echo.Context) error {
	name := c.Param("*")
	cache := "no-cache"
	if rest, ok := strings.CutPrefix(name, templates.StaticVersion+"/"); ok {
		name, cache = rest, "public, max-age=31536000, immutable"
	}
	return s.file(c, name, cache)
}

func (s *Server) favicon(c echo.Context) error {
	return s.file(c, "favicon.svg", "public, max-age=86400")
}

func (s *Server) file(c echo.Context, name, cache string) error {
	data, kind, err := templates.File(name)
	if err != nil {
		return echo.ErrNotFound
	}
	c.Response().Header().Set("Cache-Control", cache)
	return c.Blob(http.StatusOK, kind, data)
}
