package server

import (
	"slices"

	"gaugebook/server/account"
	"gaugebook/server/api"
	"gaugebook/server/customer"
	"gaugebook/server/engineer"
	"gaugebook/server/office"
	"gaugebook/server/owner"
	"gaugebook/server/web"
)

// long marks a route that sets limits of its own to size and time.
func long(r web.Route) web.Route {
	r.Long = true
	return r
}

// fresh marks a route that hands the register over: it wants proof once more that
// it is the person.
func fresh(r web.Route) web.Route {
	r.Fresh = true
	return r
}

// setUp marks what an owner may use who has to set up a second step first.
func setUp(r web.Route) web.Route {
	r.Setup = true
	return r
}

// routes is every page of the server: where it is, who may use it and for what,
// and what answers. The API has a table of its own.
func (s *Server) routes() []web.Route {
	return slices.Concat(s.forPrograms(), s.forEverybody(), s.forEngineers(), s.forOffice(), s.forOwners(),
		s.forGuests())
}

// forPrograms is what no person opens: health, and the files of pages.
func (s *Server) forPrograms() []web.Route {
	return slices.Concat(
		web.May(web.Open, web.ByPrograms,
			web.Get("/healthz", s.health),
			web.Get("/static/*", s.static),
			web.Get("/favicon.ico", s.favicon)),
		web.May(web.Everyone, web.ByPrograms,
			web.Get("/readyz", s.ready)),
	)
}

// forEverybody is what all who sign in use.
func (s *Server) forEverybody() []web.Route {
	k := s.Kit
	var (
		password = account.Password{Kit: k, Accounts: s.accounts, Attempts: s.signIns}
		own      = account.Own{Kit: k, Steps: s.steps}
		second   = account.Second{Kit: k, Steps: s.steps, Codes: s.codes}
		confirm  = account.Confirm{Kit: k, Steps: s.steps, Accounts: s.accounts, Attempts: s.signIns,
			Codes: s.codes}
		home        = account.Home{Kit: k}
		calendar    = account.Calendars{Kit: k}
		find        = engineer.Find{Kit: k}
		property    = engineer.Properties{Kit: k}
		appliance   = engineer.Appliances{Kit: k}
		record      = engineer.Records{Kit: k}
		day         = engineer.Day{Kit: k}
		bookings    = office.Bookings{Kit: k}
		messages    = office.Messages{Kit: k}
		instruments = office.Instruments{Kit: k}
		roles       = owner.Roles{Kit: k, Routes: s.allRoutes}
	)
	return slices.Concat(
		web.May(web.SignedIn, "see what there is to do today",
			web.Get("/", home.Show)),
		web.May(web.SignedIn, "find an appliance, and see its details, duties, records and photos",
			web.Get("/find", find.Show),
			web.Get("/properties/:id", property.Show),
			web.Get("/appliances/:id", appliance.Show),
			web.Get("/records/:id", record.Show),
			web.Get("/records/:id/photos/:sum", record.Photo)),
		web.May(web.SignedIn, "open the PDF of a record, and the notice to leave on site",
			web.Get("/records/:id/pdf", record.PDF),
			web.Get("/records/:id/notice.pdf", record.Notice)),
		web.May(web.SignedIn, "add and correct addresses, contacts and appliances",
			web.Get("/properties/new", property.New),
			web.Post("/properties", property.Add),
			web.Get("/properties/:id/edit", property.Edit),
			web.Post("/properties/:id", property.Save),
			web.Get("/properties/:id/appliances/new", appliance.New),
			web.Post("/properties/:id/appliances", appliance.Add),
			web.Get("/appliances/:id/edit", appliance.Edit),
			web.Post("/appliances/:id", appliance.Save)),
		web.May(web.SignedIn, "log that a customer was contacted",
			web.Post("/appliances/:id/contacts", appliance.AddContact)),
		web.May(web.SignedIn, "send a record again, and make or end a customer’s private link",
			web.Post("/records/:id/resend", record.Resend),
			web.Post("/records/:id/links", record.AddLink),
			web.Post("/records/:id/links/:link/end", record.EndLink)),
		web.May(web.SignedIn, "read a message that was sent, and note that it came back",
			web.Get("/messages/:id", messages.Show),
			web.Post("/messages/:id/bounced", messages.Bounced)),
		web.May(web.SignedIn, "see the visits of a day, and each visit",
			web.Get("/day", day.Show),
			web.Get("/bookings/:id", bookings.Show)),
		web.May(web.SignedIn, "make an address for their calendar program, and end it",
			web.Get("/calendar", calendar.Show),
			web.Post("/calendar", calendar.Add),
			web.Post("/calendar/:id/end", calendar.End)),
		web.May(web.SignedIn, "see the instruments and when each is due for calibration",
			web.Get("/instruments", instruments.List)),
		web.May(web.SignedIn, "change their own password, and see this page",
			web.Get("/password", password.Form),
			web.Post("/password", password.Save),
			web.Get("/account", own.Show),
			setUp(web.Get("/confirm", confirm.Form)),
			setUp(web.Post("/confirm", confirm.Submit)),
			web.Post("/confirm/passkey/options", confirm.PasskeyOptions),
			web.Post("/confirm/passkey", confirm.Passkey),
			web.Get("/roles", roles.Show)),
		web.May(web.SignedIn, "sign in with one-time codes or a passkey, set up by themselves, and remove them",
			setUp(fresh(web.Get("/account/second-step", second.Show))),
			setUp(fresh(web.Post("/account/codes", second.StartCodes))),
			setUp(fresh(web.Post("/account/codes/confirm", second.ConfirmCodes))),
			fresh(web.Post("/account/codes/remove", second.RemoveCodes)),
			fresh(web.Post("/account/recovery", second.NewRecovery)),
			setUp(fresh(web.Post("/account/passkeys/options", second.PasskeyOptions))),
			setUp(fresh(web.Post("/account/passkeys", second.AddPasskey))),
			fresh(web.Post("/account/passkeys/:passkey", second.RenamePasskey)),
			fresh(web.Post("/account/passkeys/:passkey/remove", second.RemovePasskey))),
		web.May(web.SignedIn, "see where they are signed in and who tried to, and end their sessions",
			web.Post("/account/sessions/:session/end", own.EndSession),
			web.Post("/account/sessions/end", own.EndOthers)),
		web.May(web.SignedIn, "make and end keys with which programs act for them",
			fresh(web.Post("/account/keys", own.AddKey)),
			web.Post("/account/keys/:key/end", own.EndKey)),
	)
}

// forEngineers is what only engineers and the owner use.
func (s *Server) forEngineers() []web.Route {
	k := s.Kit
	var (
		appliance = engineer.Appliances{Kit: k}
		record    = engineer.Records{Kit: k}
		section   = engineer.NewSections(k)
		review    = engineer.Review{Kit: k}
	)
	return slices.Concat(
		web.May(web.Engineers, "start a record, enter readings and photos, and discard a draft",
			web.Post("/appliances/:id/records", appliance.Start),
			web.Post("/records/:id/date", record.SaveDate),
			web.Post("/records/:id/discard", record.Discard),
			web.Get("/records/:id/sections/:section", section.Show),
			web.Post("/records/:id/sections/:section", section.Save),
			web.Post("/records/:id/sections/:section/choose", section.Choose),
			long(web.Post("/records/:id/sections/:section/photos", section.AddPhoto)),
			web.Post("/records/:id/sections/:section/photos/:sum", section.ChangePhoto)),
		web.May(web.Engineers, "write the condition report, take over a colleague’s draft, and issue one’s own",
			web.Get("/records/:id/review", review.Show),
			web.Post("/records/:id/leave-out", review.LeaveOut),
			web.Post("/records/:id/condition", review.SaveCondition),
			web.Post("/records/:id/take-over", review.TakeOver),
			web.Post("/records/:id/issue", review.Issue)),
		web.May(web.Engineers, "amend an issued record",
			web.Post("/records/:id/amend", record.Amend)),
	)
}

// forOffice is what only the office and the owner use.
func (s *Server) forOffice() []web.Route {
	k := s.Kit
	var (
		appliance   = engineer.Appliances{Kit: k}
		record      = engineer.Records{Kit: k}
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
	)
	return slices.Concat(
		web.May(web.Office, "withdraw an issued record",
			web.Post("/records/:id/withdraw", record.Withdraw)),
		web.May(web.Office, "see, filter, print and export the register, and see the overview",
			web.Get("/overview", overview.Show),
			web.Get("/register", register.Show),
			web.Get("/register/print.pdf", register.PDF),
			fresh(long(web.Get("/register/export", register.Export)))),
		web.May(web.Office, "import a list of addresses and appliances",
			web.Get("/import", imports.Show),
			long(web.Post("/import", imports.Upload)),
			web.Post("/import/columns", imports.Check),
			web.Post("/import/revise", imports.Revise),
			web.Post("/import/write", imports.Write),
			web.Post("/import/discard", imports.Discard),
			web.Get("/import/progress", imports.Progress),
			web.Get("/import/errors.csv", imports.Errors)),
		web.May(web.Office, "see what falls due, add a duty, and close one that was done or no longer applies",
			web.Get("/week", week.Show),
			web.Get("/duties", duties.Show),
			web.Post("/duties/:duty/sent", duties.Sent),
			web.Post("/appliances/:id/duties", appliance.AddDuty),
			web.Post("/appliances/:id/duties/:duty/lift", appliance.LiftDuty),
			web.Post("/appliances/:id/duties/:duty/done", appliance.FinishDuty)),
		web.May(web.Office, "take an appliance that is no longer there out of the register",
			web.Post("/appliances/:id/retire", appliance.Retire)),
		web.May(web.Office, "see everything about a customer, log contacts, and stop or resume their reminders",
			web.Get("/customers/:id", customers.Show),
			web.Post("/customers/:id/contacts", customers.AddContact),
			web.Post("/customers/:id/stop", customers.Stop),
			web.Post("/customers/:id/resume", customers.Resume)),
		web.May(web.Office, "preview and send reminders by e-mail, and print them as letters",
			web.Get("/chase", reminders.Show),
			web.Post("/chase/preview", reminders.Preview),
			web.Post("/chase/send", reminders.Send),
			web.Post("/chase/letters", reminders.Print),
			web.Get("/letters/:id", letters.Show),
			web.Get("/letters/:id/print.pdf", letters.PDF)),
		web.May(web.Office, "book, move and cancel visits",
			web.Get("/bookings/new", bookings.New),
			web.Post("/bookings", bookings.Add),
			web.Post("/bookings/:id/move", bookings.Move),
			web.Post("/bookings/:id/cancel", bookings.Cancel)),
		web.May(web.Office, "see all messages, send one again, and settle what became of it",
			web.Get("/messages", messages.List),
			web.Post("/bounces", messages.AddBounce),
			web.Post("/messages/:id/requeue", messages.Requeue),
			web.Post("/messages/:id/arrived", messages.Arrived)),
		web.May(web.Office, "answer customers’ requests for a visit, and confirm or refuse changes to their details",
			web.Post("/visits/:id/handled", requests.HandleVisit),
			web.Post("/contact-requests/:id/confirm", requests.ConfirmContact),
			web.Post("/contact-requests/:id/refuse", requests.RefuseContact)),
		web.May(web.Office, "add instruments, and enter calibrations",
			web.Post("/instruments", instruments.Add),
			web.Get("/instruments/:id", instruments.Edit),
			web.Post("/instruments/:id", instruments.Save)),
	)
}

// forOwners is what only the owner uses.
func (s *Server) forOwners() []web.Route {
	k := s.Kit
	var (
		firm      = owner.Firm{Kit: k}
		people    = owner.People{Kit: k, Steps: s.steps}
		signIn    = owner.SignIn{Kit: k, Steps: s.steps}
		wording   = owner.Wording{Kit: k}
		webhooks  = owner.Webhooks{Kit: k, Loopback: s.loopbackHooks}
		dropBands = owner.DropBands{Kit: k}
		log       = owner.Log{Kit: k}
		limits    = owner.Limits{Kit: k}
	)
	return slices.Concat(
		web.May(web.Owners, "change the firm’s details and logo",
			web.Get("/firm", firm.Show),
			web.Post("/firm", firm.Save),
			web.Post("/firm/logo", firm.AddLogo),
			web.Post("/firm/logo/remove", firm.RemoveLogo),
			web.Get("/firm/logo/:sum", firm.Logo)),
		web.May(web.Owners,
			"add people, change their role or close their account, and send them a link to set a password",
			fresh(web.Get("/people", people.List)),
			fresh(web.Post("/people", people.Add)),
			fresh(web.Get("/people/:id", people.Edit)),
			fresh(web.Post("/people/:id", people.Save)),
			fresh(web.Post("/people/:id/invite", people.Invite)),
			fresh(web.Post("/people/:id/invite/revoke", people.RevokeInvite))),
		web.May(web.Owners, "sign somebody out everywhere, and take away codes and passkeys that they have lost",
			fresh(web.Post("/people/:id/sessions/end", people.EndSessions)),
			fresh(web.Post("/people/:id/second-step/remove", people.TakeAway))),
		web.May(web.Owners, "decide whether owners need a second step to sign in",
			fresh(web.Get("/firm/sign-in", signIn.Show)),
			fresh(web.Post("/firm/sign-in", signIn.Save))),
		web.May(web.Owners, "make keys for programs, and end them",
			fresh(web.Post("/people/:id/keys", people.AddKey)),
			fresh(web.Post("/people/:id/keys/:key/end", people.EndKey))),
		web.May(web.Owners, "read the log of who did what",
			web.Get("/log", log.Show)),
		web.May(web.Owners, "decide when reminders are due, what they say, and whether they are sent automatically",
			web.Get("/reminders", wording.Show),
			web.Post("/reminders", wording.Save)),
		web.May(web.Owners, "enter the permissible drops from the firm’s copy of the standard",
			web.Get("/drop-bands", dropBands.Show),
			web.Post("/drop-bands", dropBands.Save)),
		web.May(web.Owners, "enter limits from the firm’s own documents, and have limits guarded",
			web.Get("/limits", limits.Show),
			web.Post("/limits", limits.Save),
			web.Post("/limits/remove", limits.Remove)),
		web.May(web.Owners, "have another program told what happens to records and duties (webhooks)",
			fresh(web.Get("/webhooks", webhooks.List)),
			fresh(web.Post("/webhooks", webhooks.Add)),
			web.Get("/webhooks/:id", webhooks.Show),
			fresh(web.Post("/webhooks/:id/end", webhooks.End)),
			fresh(web.Post("/webhooks/:id/deliveries/:delivery/resend", webhooks.Resend))),
	)
}

// forGuests is what needs no account.
func (s *Server) forGuests() []web.Route {
	k := s.Kit
	var (
		enter    = account.NewEnter(k, s.steps)
		signIn   = account.SignIn{Kit: k, Enter: enter, Accounts: s.accounts, Attempts: s.signIns, Codes: s.codes}
		join     = account.Join{Kit: k, Enter: enter, Accounts: s.accounts, Attempts: s.checks}
		forgot   = account.Forgotten{Kit: k, Attempts: s.signIns}
		calendar = account.Calendars{Kit: k}
		theirs   = customer.Record{Kit: k}
		stop     = customer.Stop{Kit: k}
		verify   = customer.Verify{Kit: k, Checks: s.checks}
		rules    = customer.Rules{Kit: k}
	)
	return slices.Concat(
		web.May(web.Open,
			"read their record, and earlier ones for the same address, with the private link that they were sent",
			web.Get("/r/:token", theirs.Show),
			web.Get("/r/:token/record.pdf", theirs.PDF),
			web.Get("/r/:token/records/:number", theirs.Other)),
		web.May(web.Open, "ask for a visit, or for their details to be changed, with the same link",
			web.Post("/r/:token/visit", theirs.AskVisit),
			web.Post("/r/:token/contact", theirs.AskContact)),
		web.May(web.Open, "stop reminders with the link in one",
			web.Get("/stop/:token", stop.Show),
			web.Post("/stop/:token", stop.Confirm)),
		web.May(web.Everyone, "check whether a record is genuine, with its number and code",
			web.Get("/verify", verify.Form)),
		web.May(web.Open, "check whether a record is genuine, with its number and code",
			web.Get("/verify/key", verify.Key),
			web.Get("/v/:number/:code", verify.Show)),
		web.May(web.Everyone, "read the rules and their sources, and the description of the API",
			web.Get("/rules", rules.List),
			web.Get("/rules/:rule", rules.Show)),
		web.May(web.Open, "see visits in a calendar program, with an address made for it",
			web.Get("/calendar/:token", calendar.Feed)),
		web.May(web.Everyone, "sign in and out, and set a password with the link that they were sent",
			web.Get("/sign-in", signIn.Form),
			web.Post("/sign-in", signIn.Submit),
			web.Get("/sign-in/code", signIn.CodeForm),
			web.Post("/sign-in/code", signIn.SubmitCode),
			web.Post("/sign-in/passkey/options", signIn.PasskeyOptions),
			web.Post("/sign-in/passkey", signIn.Passkey),
			web.Post("/sign-out", signIn.End),
			web.Get("/join/:token", join.Form),
			web.Post("/join/:token", join.Accept),
			web.Get("/forgotten", forgot.Form),
			web.Post("/forgotten", forgot.Send),
			web.Get("/forgotten/sent", forgot.Sent)),
	)
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
		if !r.Setup && r.Access != web.Open && r.Access != web.Everyone {
			handle = s.Kit.SetUpFirst(handle)
		}
		s.echo.Add(r.Method, r.Path, s.Guard(r.Access, handle))
	}
	for _, r := range s.programs().Routes() {
		s.echo.Add(r.Method, r.Path, s.programs().ByKey(r.Access, r.Handle))
	}
}
