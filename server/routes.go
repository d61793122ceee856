package server

import (
	"net/http"

	"github.com/labstack/echo/v4"

	"gaugebook/templates"
)

// route is one line of the table: who may use it is said on the line.
type route struct {
	method, path string
	who          access
	handle       echo.HandlerFunc
}

const (
	get  = http.MethodGet
	post = http.MethodPost
)

// routes is every page of the server. The API has a table of its own.
func (s *Server) routes() []route {
	return []route{
		{method: get, path: "/healthz", who: open, handle: s.health},
		{method: get, path: "/static/*", who: open, handle: s.static},
		{method: get, path: "/favicon.ico", who: open, handle: s.favicon},

		{method: get, path: "/sign-in", who: visitor, handle: s.signInForm},
		{method: post, path: "/sign-in", who: visitor, handle: s.signIn},
		{method: post, path: "/sign-out", who: visitor, handle: s.signOut},
		{method: get, path: "/join/:token", who: visitor, handle: s.join},
		{method: post, path: "/join/:token", who: visitor, handle: s.acceptInvite},
		{method: get, path: "/password", who: member, handle: s.password},
		{method: post, path: "/password", who: member, handle: s.savePassword},
		{method: get, path: "/roles", who: member, handle: s.roles},

		{method: get, path: "/", who: member, handle: s.home},
		{method: get, path: "/find", who: member, handle: s.find},
		{method: get, path: "/properties/new", who: member, handle: s.newProperty},
		{method: post, path: "/properties", who: member, handle: s.addProperty},
		{method: get, path: "/properties/:id", who: member, handle: s.property},
		{method: get, path: "/properties/:id/edit", who: member, handle: s.editProperty},
		{method: post, path: "/properties/:id", who: member, handle: s.saveProperty},
		{method: get, path: "/properties/:id/appliances/new", who: member, handle: s.newAppliance},
		{method: post, path: "/properties/:id/appliances", who: member, handle: s.addAppliance},

		{method: get, path: "/appliances/:id", who: member, handle: s.appliance},
		{method: get, path: "/appliances/:id/edit", who: member, handle: s.editAppliance},
		{method: post, path: "/appliances/:id", who: member, handle: s.saveAppliance},
		{method: post, path: "/appliances/:id/retire", who: desk, handle: s.retire},
		{method: post, path: "/appliances/:id/contacts", who: member, handle: s.addContact},
		{method: post, path: "/appliances/:id/records", who: engineers, handle: s.start},
		{method: post, path: "/appliances/:id/duties/:duty/lift", who: desk, handle: s.liftDuty},
		{method: post, path: "/appliances/:id/duties/:duty/done", who: desk, handle: s.finishDuty},

		{method: get, path: "/records/:id", who: member, handle: s.record},
		{method: post, path: "/records/:id/date", who: engineers, handle: s.saveDate},
		{method: post, path: "/records/:id/discard", who: engineers, handle: s.discard},
		{method: get, path: "/records/:id/sections/:section", who: engineers, handle: s.section},
		{method: post, path: "/records/:id/sections/:section", who: engineers, handle: s.saveSection},
		{method: post, path: "/records/:id/sections/:section/choose", who: engineers, handle: s.choose},
		{method: post, path: "/records/:id/sections/:section/photos", who: engineers, handle: s.addPhoto},
		{method: post, path: "/records/:id/sections/:section/photos/:sum", who: engineers, handle: s.changePhoto},
		{method: get, path: "/records/:id/photos/:sum", who: member, handle: s.photo},
		{method: get, path: "/records/:id/review", who: engineers, handle: s.review},
		{method: post, path: "/records/:id/condition", who: engineers, handle: s.saveCondition},
		{method: post, path: "/records/:id/leave-out", who: engineers, handle: s.leaveOut},
		{method: post, path: "/records/:id/issue", who: engineers, handle: s.issue},
		{method: get, path: "/records/:id/pdf", who: member, handle: s.recordPDF},
		{method: get, path: "/records/:id/notice.pdf", who: member, handle: s.notice},
		{method: post, path: "/records/:id/amend", who: engineers, handle: s.amend},
		{method: post, path: "/records/:id/withdraw", who: desk, handle: s.withdraw},
		{method: post, path: "/records/:id/resend", who: member, handle: s.resend},
		{method: post, path: "/records/:id/links", who: member, handle: s.addLink},
		{method: post, path: "/records/:id/links/:link/end", who: member, handle: s.endLink},

		{method: get, path: "/overview", who: desk, handle: s.overview},
		{method: get, path: "/register", who: desk, handle: s.register},
		{method: get, path: "/register/print.pdf", who: desk, handle: s.registerPDF},
		{method: get, path: "/register/export", who: desk, handle: s.exportRegister},
		{method: get, path: "/import", who: desk, handle: s.importPage},
		{method: post, path: "/import", who: desk, handle: s.uploadList},
		{method: post, path: "/import/columns", who: desk, handle: s.checkList},
		{method: post, path: "/import/revise", who: desk, handle: s.reviseList},
		{method: post, path: "/import/write", who: desk, handle: s.writeList},
		{method: post, path: "/import/discard", who: desk, handle: s.discardList},
		{method: get, path: "/import/progress", who: desk, handle: s.listProgress},
		{method: get, path: "/import/errors.csv", who: desk, handle: s.listErrors},
		{method: get, path: "/week", who: desk, handle: s.week},
		{method: get, path: "/duties", who: desk, handle: s.duties},
		{method: post, path: "/duties/:duty/sent", who: desk, handle: s.sentDuty},
		{method: get, path: "/customers/:id", who: desk, handle: s.customerView},
		{method: post, path: "/customers/:id/contacts", who: desk, handle: s.addCustomerContact},
		{method: post, path: "/customers/:id/stop", who: desk, handle: s.stopCustomer},
		{method: post, path: "/customers/:id/resume", who: desk, handle: s.resumeCustomer},
		{method: get, path: "/chase", who: desk, handle: s.chase},
		{method: post, path: "/chase/preview", who: desk, handle: s.preview},
		{method: post, path: "/chase/send", who: desk, handle: s.sendReminders},
		{method: post, path: "/chase/letters", who: desk, handle: s.printLetters},
		{method: get, path: "/letters/:id", who: desk, handle: s.letters},
		{method: get, path: "/letters/:id/print.pdf", who: desk, handle: s.lettersPDF},
		{method: get, path: "/reminders", who: owners, handle: s.wording},
		{method: post, path: "/reminders", who: owners, handle: s.saveWording},
		{method: get, path: "/bookings/new", who: desk, handle: s.newBooking},
		{method: post, path: "/bookings", who: desk, handle: s.addBooking},
		{method: get, path: "/bookings/:id", who: member, handle: s.booking},
		{method: post, path: "/bookings/:id/move", who: desk, handle: s.moveBooking},
		{method: post, path: "/bookings/:id/cancel", who: desk, handle: s.cancelBooking},
		{method: get, path: "/day", who: member, handle: s.dayList},
		{method: get, path: "/calendar", who: member, handle: s.calendar},
		{method: post, path: "/calendar", who: member, handle: s.addFeed},
		{method: post, path: "/calendar/:id/end", who: member, handle: s.endFeed},
		{method: get, path: "/messages", who: desk, handle: s.messages},
		{method: get, path: "/messages/:id", who: member, handle: s.message},
		{method: post, path: "/messages/:id/bounced", who: member, handle: s.bounced},
		{method: post, path: "/bounces", who: desk, handle: s.addBounce},
		{method: post, path: "/messages/:id/requeue", who: desk, handle: s.requeue},
		{method: post, path: "/messages/:id/arrived", who: desk, handle: s.arrived},
		{method: post, path: "/visits/:id/handled", who: desk, handle: s.handleVisit},
		{method: post, path: "/contact-requests/:id/confirm", who: desk, handle: s.confirmContact},
		{method: post, path: "/contact-requests/:id/refuse", who: desk, handle: s.refuseContact},

		{method: get, path: "/instruments", who: member, handle: s.instruments},
		{method: post, path: "/instruments", who: desk, handle: s.addInstrument},
		{method: get, path: "/instruments/:id", who: desk, handle: s.editInstrument},
		{method: post, path: "/instruments/:id", who: desk, handle: s.saveInstrument},
		{method: get, path: "/firm", who: owners, handle: s.firm},
		{method: post, path: "/firm", who: owners, handle: s.saveFirm},
		{method: post, path: "/firm/logo", who: owners, handle: s.addLogo},
		{method: post, path: "/firm/logo/remove", who: owners, handle: s.removeLogo},
		{method: get, path: "/firm/logo/:sum", who: owners, handle: s.logo},
		{method: get, path: "/people", who: owners, handle: s.people},
		{method: post, path: "/people", who: owners, handle: s.addPerson},
		{method: get, path: "/people/:id", who: owners, handle: s.editPerson},
		{method: post, path: "/people/:id", who: owners, handle: s.savePerson},
		{method: post, path: "/people/:id/invite", who: owners, handle: s.invite},
		{method: post, path: "/people/:id/invite/revoke", who: owners, handle: s.revokeInvite},
		{method: post, path: "/people/:id/keys", who: owners, handle: s.addKey},
		{method: post, path: "/people/:id/keys/:key/end", who: owners, handle: s.revokeKey},
		{method: get, path: "/webhooks", who: owners, handle: s.webhooks},
		{method: post, path: "/webhooks", who: owners, handle: s.addWebhook},
		{method: get, path: "/webhooks/:id", who: owners, handle: s.webhook},
		{method: post, path: "/webhooks/:id/end", who: owners, handle: s.endWebhook},
		{method: post, path: "/webhooks/:id/deliveries/:delivery/resend", who: owners, handle: s.resendEvent},
		{method: get, path: "/drop-bands", who: owners, handle: s.dropBands},
		{method: post, path: "/drop-bands", who: owners, handle: s.saveDropBands},

		{method: get, path: "/rules", who: visitor, handle: s.rules},
		{method: get, path: "/rules/:rule", who: visitor, handle: s.rule},
		{method: get, path: "/verify", who: visitor, handle: s.verifyForm},
		{method: get, path: "/verify/key", who: open, handle: s.publicKey},
		{method: get, path: "/v/:number/:code", who: open, handle: s.verify},
		{method: get, path: "/calendar/:token", who: open, handle: s.feed},
		{method: get, path: "/stop/:token", who: open, handle: s.stop},
		{method: post, path: "/stop/:token", who: open, handle: s.confirmStop},
		{method: get, path: "/r/:token", who: open, handle: s.customer},
		{method: get, path: "/r/:token/record.pdf", who: open, handle: s.customerPDF},
		{method: get, path: "/r/:token/records/:number", who: open, handle: s.customerOther},
		{method: post, path: "/r/:token/visit", who: open, handle: s.askVisit},
		{method: post, path: "/r/:token/contact", who: open, handle: s.askContact},
	}
}

// addRoutes puts every route behind its guard.
func (s *Server) addRoutes() {
	for _, r := range s.routes() {
		s.echo.Add(r.method, r.path, s.guard(r.who, r.handle))
	}
	s.addAPI()
}

// health says that the server answers and can read its database.
func (s *Server) health(c echo.Context) error {
	if _, err := s.store.Settings.Firm(c.Request().Context()); err != nil {
		s.log.ErrorContext(c.Request().Context(), "health", "error", err)
		return c.JSON(http.StatusServiceUnavailable, map[string]string{"status": "database not readable"})
	}
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.JSON(http.StatusOK, map[string]string{"status": "ok", "version": s.version})
}

// static serves the embedded files. Under their hash they never change;
// without it they are asked for anew each time.
func (s *Server) static(c echo.Context) error {
	name := c.Param("*")
	cache := "no-cache"
	if rest, ok := cutVersion(name); ok {
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
