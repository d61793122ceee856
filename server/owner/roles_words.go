package owner

// Ability is something that a person may do, as the words after "may", and
// the routes that it takes. All of them let in the same people.
type Ability struct {
	Words  string
	Routes []string
}

// Abilities is every page and every call of the API in the words of those who
// use them. A test fails while a route has no words here.
var Abilities = []Ability{
	{"see what there is to do today", []string{
		"GET /",
	}},
	{"find an appliance, and see its details, duties, records and photos", []string{
		"GET /find", "GET /properties/:id", "GET /appliances/:id", "GET /records/:id",
		"GET /records/:id/photos/:sum",
	}},
	{"open the PDF of a record, and the notice to leave on site", []string{
		"GET /records/:id/pdf", "GET /records/:id/notice.pdf",
	}},
	{"add and correct addresses, contacts and appliances", []string{
		"GET /properties/new", "POST /properties", "GET /properties/:id/edit", "POST /properties/:id",
		"GET /properties/:id/appliances/new", "POST /properties/:id/appliances", "GET /appliances/:id/edit",
		"POST /appliances/:id",
	}},
	{"log that a customer was contacted", []string{
		"POST /appliances/:id/contacts",
	}},
	{"send a record again, and make or end a customer’s private link", []string{
		"POST /records/:id/resend", "POST /records/:id/links", "POST /records/:id/links/:link/end",
	}},
	{"read a message that was sent, and note that it came back", []string{
		"GET /messages/:id", "POST /messages/:id/bounced",
	}},
	{"see the visits of a day, and each visit", []string{
		"GET /day", "GET /bookings/:id",
	}},
	{"make an address for their calendar program, and end it", []string{
		"GET /calendar", "POST /calendar", "POST /calendar/:id/end",
	}},
	{"see the instruments and when each is due for calibration", []string{
		"GET /instruments",
	}},
	{"change their own password, and see this page", []string{
		"GET /password", "POST /password", "GET /account", "GET /confirm", "POST /confirm", "GET /roles",
	}},
	{"make and end keys with which programs act for them", []string{
		"POST /account/keys", "POST /account/keys/:key/end",
	}},
	{"let a program read the register, add to it and check readings, with a key of theirs",
		[]string{
			"POST /api/v1/check", "GET /api/v1/properties", "POST /api/v1/properties", "GET /api/v1/appliances",
			"POST /api/v1/appliances", "GET /api/v1/appliances/:id", "GET /api/v1/duties", "GET /api/v1/records/:id",
			"GET /api/v1/records/:id/findings", "GET /api/v1/records/:id/pdf",
		}},
	{"start a record, enter readings and photos, and discard a draft", []string{
		"POST /appliances/:id/records", "POST /records/:id/date", "POST /records/:id/discard",
		"GET /records/:id/sections/:section", "POST /records/:id/sections/:section",
		"POST /records/:id/sections/:section/choose", "POST /records/:id/sections/:section/photos",
		"POST /records/:id/sections/:section/photos/:sum",
	}},
	{"write the condition report, take over a colleague’s draft, and issue one’s own", []string{
		"GET /records/:id/review", "POST /records/:id/leave-out",
		"POST /records/:id/condition", "POST /records/:id/take-over", "POST /records/:id/issue",
	}},
	{"amend an issued record", []string{
		"POST /records/:id/amend",
	}},
	{"let a program start, fill in and issue records, with a key that they make for it", []string{
		"POST /api/v1/records", "PATCH /api/v1/records/:id", "POST /api/v1/records/:id/issue",
	}},
	{"withdraw an issued record", []string{
		"POST /records/:id/withdraw",
	}},
	{"see, filter, print and export the register, and see the overview", []string{
		"GET /overview", "GET /register", "GET /register/print.pdf", "GET /register/export",
	}},
	{"import a list of addresses and appliances", []string{
		"GET /import", "POST /import", "POST /import/columns", "POST /import/revise", "POST /import/write",
		"POST /import/discard", "GET /import/progress", "GET /import/errors.csv",
	}},
	{"see what falls due, and close a duty that was done or no longer applies", []string{
		"GET /week", "GET /duties", "POST /duties/:duty/sent", "POST /appliances/:id/duties/:duty/lift",
		"POST /appliances/:id/duties/:duty/done",
	}},
	{"take an appliance that is no longer there out of the register", []string{
		"POST /appliances/:id/retire",
	}},
	{"see everything about a customer, log contacts, and stop or resume their reminders", []string{
		"GET /customers/:id", "POST /customers/:id/contacts", "POST /customers/:id/stop",
		"POST /customers/:id/resume",
	}},
	{"preview and send reminders by e-mail, and print them as letters", []string{
		"GET /chase", "POST /chase/preview", "POST /chase/send", "POST /chase/letters", "GET /letters/:id",
		"GET /letters/:id/print.pdf",
	}},
	{"book, move and cancel visits", []string{
		"GET /bookings/new", "POST /bookings", "POST /bookings/:id/move", "POST /bookings/:id/cancel",
	}},
	{"see all messages, send one again, and settle what became of it", []string{
		"GET /messages", "POST /bounces", "POST /messages/:id/requeue", "POST /messages/:id/arrived",
	}},
	{"answer customers’ requests for a visit, and confirm or refuse changes to their details", []string{
		"POST /visits/:id/handled", "POST /contact-requests/:id/confirm", "POST /contact-requests/:id/refuse",
	}},
	{"add instruments, and enter calibrations", []string{
		"POST /instruments", "GET /instruments/:id", "POST /instruments/:id",
	}},
	{"change the firm’s details and logo", []string{
		"GET /firm", "POST /firm", "POST /firm/logo", "POST /firm/logo/remove", "GET /firm/logo/:sum",
	}},
	{"add people, change their role or close their account, and send them a link to set a password", []string{
		"GET /people", "POST /people", "GET /people/:id", "POST /people/:id", "POST /people/:id/invite",
		"POST /people/:id/invite/revoke",
	}},
	{"make keys for programs, and end them", []string{
		"POST /people/:id/keys", "POST /people/:id/keys/:key/end",
	}},
	{"decide when reminders are due, what they say, and whether they are sent automatically", []string{
		"GET /reminders", "POST /reminders",
	}},
	{"enter the permissible drops from the firm’s copy of the standard", []string{
		"GET /drop-bands", "POST /drop-bands",
	}},
	{"have another program told what happens to records and duties (webhooks)", []string{
		"GET /webhooks", "POST /webhooks", "GET /webhooks/:id", "POST /webhooks/:id/end",
		"POST /webhooks/:id/deliveries/:delivery/resend",
	}},
	{"read their record, and earlier ones for the same address, with the private link that they were sent", []string{
		"GET /r/:token", "GET /r/:token/record.pdf", "GET /r/:token/records/:number",
	}},
	{"ask for a visit, or for their details to be changed, with the same link", []string{
		"POST /r/:token/visit", "POST /r/:token/contact",
	}},
	{"stop reminders with the link in one", []string{
		"GET /stop/:token", "POST /stop/:token",
	}},
	{"check whether a record is genuine, with its number and code", []string{
		"GET /verify", "GET /verify/key", "GET /v/:number/:code", "GET /api/v1/verify/:number/:code",
	}},
	{"read the rules and their sources, and the description of the API", []string{
		"GET /rules", "GET /rules/:rule", "GET /api/v1/openapi.yaml", "GET /api/v1/schema", "GET /api/v1/rules",
	}},
	{"see visits in a calendar program, with an address made for it", []string{
		"GET /calendar/:token",
	}},
	{"sign in and out, and set a password with the link that they were sent", []string{
		"GET /sign-in", "POST /sign-in", "POST /sign-out", "GET /join/:token", "POST /join/:token",
		"GET /forgotten", "POST /forgotten", "GET /forgotten/sent",
	}},
}

// Wordless are the routes that no person opens.
var Wordless = []string{"GET /healthz", "GET /readyz", "GET /static/*", "GET /favicon.ico"}
