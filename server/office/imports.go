package office

import (
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/exchange"
	"gaugebook/records/store"
	"gaugebook/server/imports"
	"gaugebook/server/web"
)

// Imports is the page of a list on its way in.
type Imports struct {
	*web.Kit
	Importer *imports.Importer
}

// importPage is a list on its way in, at whatever stage it is.
type importPage struct {
	web.Base
	Stage              imports.Stage
	File, By           string
	Header             []string
	Sample             [][]string
	Read               string // how the file was read
	Form               web.Form
	Order, Problem     string
	Update             bool
	Count              store.ListCount
	Errors             []*exchange.RowError
	ErrorCount, Hidden int
	Done, Rows         int
	Limits             string
	Refused            string // why an upload was refused
}

// shownErrors is how many errors of a list stand on the page; the rest are in
// the list of errors.
const shownErrors = 100

func (i Imports) Show(c echo.Context) error { return i.show(c, http.StatusOK, nil, "") }

func (i Imports) show(c echo.Context, status int, form *web.Form, refused string) error {
	data := importPage{Base: i.WideBase(c, "Import a list"), Refused: refused,
		Limits: fmt.Sprintf("A CSV file with the names of its columns in the first row: at most %d MB and %s "+
			"appliances.", exchange.MaxFile>>20, thousands(exchange.MaxRows))}
	if j := i.Importer.Current(); j != nil {
		data.Stage, data.File, data.By, data.Header, data.Sample = j.Stage, j.Name, j.By.Name, j.Header, j.Sample
		data.Read = "Read as " + j.Encoding + ", columns separated by " +
			map[rune]string{',': "comma", ';': "semicolon", '\t': "tab", '|': "bar"}[j.Delimiter] + "."
		if j.Encoding == "Windows-1252" {
			data.Read += " It is not UTF-8: check names with accents."
		}
		data.Order, data.Problem, data.Update, data.Count, data.Done, data.Rows = j.Order, j.Problem, j.Update,
			j.Count, j.Done, j.Rows
		data.ErrorCount, data.Errors = j.BadCount, j.Bad[:min(len(j.Bad), shownErrors)]
		data.Hidden = j.BadCount - len(data.Errors)
		if j.Stage == imports.Columns {
			if form == nil {
				made := columnsForm(j.Header, j.Mapping, j.Update)
				form = &made
			}
			data.Form = *form
		}
	}
	return i.Page(c, status, "import", data)
}

func thousands(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// columnsForm asks what each column holds, and what stands for a blank.
func columnsForm(header []string, m exchange.Mapping, update bool) web.Form {
	form := web.Form{Action: "/import/columns", Button: "Check the list"}
	for _, t := range exchange.Targets {
		in := &web.Input{Name: string(t.Target), Label: t.Label, Type: "select",
			Options: []web.Option{{Label: "Not in the list"}}}
		for i, h := range header {
			in.Options = append(in.Options, web.Option{Code: strconv.Itoa(i),
				Label: fmt.Sprintf("Column %d: %s", i+1, records.Shorten(strings.Join(strings.Fields(h), " "), 40))})
		}
		chosen := ""
		if col, ok := m.Column[t.Target]; ok {
			chosen = strconv.Itoa(col)
		}
		form.Inputs = append(form.Inputs, in.With(chosen))
		if t.Choices == nil {
			continue
		}
		stand := &web.Input{Name: "stand-" + string(t.Target), Label: t.Label + ", where the list is blank",
			Type: "select", Options: []web.Option{{Label: "Leave blank"}}}
		if t.Required {
			stand.Options[0].Label = "Reject the row"
		}
		for _, ch := range t.Choices {
			stand.Options = append(stand.Options, web.Option{Code: ch.Code, Label: records.UpperFirst(ch.Label)})
		}
		form.Inputs = append(form.Inputs, stand.With(m.Default[t.Target]))
	}
	known := &web.Input{Name: "known", Label: "Appliances already on file", Type: "select",
		Options: []web.Option{{Code: "leave", Label: "Leave as they are"},
			{Code: "update", Label: "Update from the list"}},
		Hint: "Recognised by postcode, first line of the address and serial number. What the list leaves blank is " +
			"kept."}
	form.Inputs = append(form.Inputs, known.With(map[bool]string{false: "leave", true: "update"}[update]))
	return form
}

func mappingOf(posted url.Values) exchange.Mapping {
	m := exchange.Mapping{Column: map[exchange.Target]int{}, Default: map[exchange.Target]string{}}
	for _, t := range exchange.Targets {
		if text := posted.Get(string(t.Target)); text != "" {
			col, err := strconv.Atoi(text)
			if err != nil {
				col = -1 // refused as a column that is not there
			}
			m.Column[t.Target] = col
		}
		if stand := posted.Get("stand-" + string(t.Target)); stand != "" {
			m.Default[t.Target] = stand
		}
	}
	return m
}

// Upload takes the file in, without holding it in memory.
func (i Imports) Upload(c echo.Context) error {
	_, cancel := takeTime(c)
	defer cancel()
	c.Request().Body = http.MaxBytesReader(c.Response(), c.Request().Body, exchange.MaxFile+1<<20)
	err := i.takeUpload(c)
	if kind := records.KindOf(err); err != nil && (kind == records.Invalid || kind == records.Conflict) {
		return i.show(c, web.StatusOf(kind), nil, err.Error())
	}
	if err != nil {
		return err
	}
	return web.Redirect(c, "/import")
}

func (i Imports) takeUpload(c echo.Context) error {
	no := &records.Error{Kind: records.Invalid, Field: "file", Label: "List", Want: "a CSV file"}
	parts, err := c.Request().MultipartReader()
	if err != nil {
		return no
	}
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return no
		}
		if err != nil {
			return tooLarge(err)
		}
		if part.FormName() != "file" {
			continue
		}
		if part.FileName() == "" {
			return no
		}
		return tooLarge(i.Importer.Accept(web.Person(c), part.FileName(), part))
	}
}

func tooLarge(err error) error {
	var most *http.MaxBytesError
	if errors.As(err, &most) {
		return imports.TooLarge()
	}
	if errors.Is(err, io.ErrUnexpectedEOF) || err != nil && strings.Contains(err.Error(), "multipart: ") {
		return web.Malformed(err)
	}
	return err
}

// Check tries the list with the columns as chosen.
func (i Imports) Check(c echo.Context) error {
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	j := i.Importer.Current()
	if j == nil {
		return web.Redirect(c, "/import")
	}
	m, update := mappingOf(posted), posted.Get("known") == "update"
	err = i.Importer.Check(m, update)
	if err != nil && records.KindOf(err) == records.Invalid {
		form := columnsForm(j.Header, m, update)
		if hard := form.Refuse(err); hard != nil {
			return hard
		}
		return i.show(c, http.StatusUnprocessableEntity, &form, "")
	}
	if err != nil {
		return err
	}
	return web.Redirect(c, "/import")
}

// Revise goes back to the columns.
func (i Imports) Revise(c echo.Context) error {
	return back(c, i.Importer.Revise())
}

// Write takes the checked list in.
func (i Imports) Write(c echo.Context) error {
	return back(c, i.Importer.Write(web.Person(c)))
}

func (i Imports) Discard(c echo.Context) error {
	return back(c, i.Importer.Discard())
}

func back(c echo.Context, err error) error {
	if err != nil {
		return err
	}
	return web.Redirect(c, "/import")
}

// Progress is asked for by script while a list is being read.
func (i Imports) Progress(c echo.Context) error {
	out := struct {
		Stage imports.Stage `json:"stage"`
		Done  int           `json:"done"`
		Rows  int           `json:"rows"`
	}{}
	if j := i.Importer.Current(); j != nil {
		out.Stage, out.Done, out.Rows = j.Stage, j.Done, j.Rows
	}
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.JSON(http.StatusOK, out)
}

// Errors is every error of the list as a list of its own.
func (i Imports) Errors(c echo.Context) error {
	j := i.Importer.Current()
	if j == nil || j.Busy() {
		return records.Fail(records.NotFound, "there is no list with errors")
	}
	h := c.Response().Header()
	h.Set(echo.HeaderContentType, "text/csv; charset=utf-8")
	h.Set(echo.HeaderContentDisposition, `attachment; filename="errors.csv"`)
	h.Set("Cache-Control", "private, no-store")
	return j.WriteErrors(c.Response())
}
