package server

import (
	"gaugebook/server/app"
	"gaugebook/server/imports"
	"gaugebook/server/web"
)

type Appliances struct{ *web.Kit }

type Bookings struct{ *web.Kit }

type Calendars struct{ *web.Kit }

type CustomerRecord struct{ *web.Kit }

type Customers struct{ *web.Kit }

type Day struct{ *web.Kit }

type DropBands struct{ *web.Kit }

type Duties struct{ *web.Kit }

type Find struct{ *web.Kit }

type Firm struct{ *web.Kit }

type Home struct{ *web.Kit }

type Imports struct {
	*web.Kit
	Importer *imports.Importer
}

type Instruments struct{ *web.Kit }

type Join struct {
	*web.Kit
	Accounts *app.Accounts
	Attempts *web.Limiter // by address
}

type Letters struct{ *web.Kit }

type Messages struct{ *web.Kit }

type Overview struct{ *web.Kit }

type Password struct {
	*web.Kit
	Accounts *app.Accounts
	Attempts *web.Limiter // by address and account
}

type People struct{ *web.Kit }

type Properties struct{ *web.Kit }

type Records struct{ *web.Kit }

type Register struct{ *web.Kit }

type Reminders struct{ *web.Kit }

type Requests struct{ *web.Kit }

type Review struct{ *web.Kit }

type Roles struct {
	*web.Kit
	Routes func() []web.Route
}

type Rules struct{ *web.Kit }

type Sections struct {
	*web.Kit
	decoding chan struct{} // holds one for each photo that is being decoded
}

type SignIn struct {
	*web.Kit
	Accounts *app.Accounts
	Attempts *web.Limiter // by address and account
}

type Stop struct{ *web.Kit }

type Verify struct {
	*web.Kit
	Checks *web.Limiter // by address
}

type Webhooks struct {
	*web.Kit
	Loopback bool // addresses of this machine are allowed
}

type Week struct{ *web.Kit }

type Wording struct{ *web.Kit }
