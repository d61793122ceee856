package customer

import (
	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/server/web"
)

// detailsForm is how a customer has their details corrected. It starts from
// the record that they hold: who is on file today may be somebody else.
func detailsForm(token string, k records.Contact) web.Form {
	return web.Form{Action: "/r/" + token + "/contact#contact", Button: "Send the change", Inputs: []*web.Input{
		web.TextInput("name", "Name", 80).Must().Autocomplete("name").With(k.Name),
		web.TextInput("phone", "Telephone", 30).Typed("tel").Autocomplete("tel").With(k.Phone),
		web.TextInput("email", "E-mail", 120).Typed("email").Autocomplete("email").With(k.Email),
	}}
}

// AskContact keeps what a customer wants changed until the office decides.
func (re Record) AskContact(c echo.Context) error {
	_, row, err := re.openLink(c)
	if err != nil {
		return re.showEnded(c, err)
	}
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	_, err = re.Store.Requests.AskContact(c.Request().Context(), row.ID, posted.Get("name"), posted.Get("phone"),
		posted.Get("email"))
	if err != nil {
		form := detailsForm(c.Param("token"), records.Contact{})
		form.Refill(posted)
		if other := form.Refuse(err); other != nil {
			return other
		}
		return re.show(c, web.Refused, customerForms{contact: &form})
	}
	return web.Redirect(c, "/r/"+c.Param("token")+"?asked=contact#contact")
}
