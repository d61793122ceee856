package server

import (
	"context"
	"encoding/csv"
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
)

// importPage is a list on its way in, at whatever stage it is.
type importPage struct {
	base
	Stage, File, By    string
	Header             []string
	Sample             [][]string
	Read               string // how the file was read
	Form               inputForm
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

func (s *Server) importPage(c echo.Context) error { return s.showImport(c, http.StatusOK, nil, "") }

func (s *Server) showImport(c echo.Context, status int, form *inputForm, refused string) error {
	data := importPage{base: s.deskBase(c, "Bring in a list"), Refused: refused,
		Limits: fmt.Sprintf("A CSV file with the names of its columns in the first row: at most %d MB and %s "+
			"appliances.", exchange.MaxFile>>20, thousands(exchange.MaxRows))}
	if j := s.lists.look(); j != nil {
		data.Stage, data.File, data.By, data.Header, data.Sample = j.stage, j.name, j.by.Name, j.header, j.sample
		data.Read = "Read as " + j.encoding + ", columns parted by " +
			map[rune]string{',': "comma", ';': "semicolon", '\t': "tab", '|': "bar"}[j.delimiter] + "."
		if j.encoding == "Windows-1252" {
			data.Read += " It is not UTF-8: look at names with accents."
		}
		data.Order, data.Problem, data.Update, data.Count, data.Done, data.Rows = j.order, j.problem, j.update,
			j.count, j.done, j.rows
		data.ErrorCount, data.Errors = j.badCount, j.bad[:min(len(j.bad), shownErrors)]
		data.Hidden = j.badCount - len(data.Errors)
		if j.stage == listColumns {
			if form == nil {
				made := columnsForm(j.header, j.mapping, j.update)
				form = &made
			}
			data.Form = *form
		}
	}
	return s.page(c, status, "import", data)
}

func thousands(n int) string {
	s := strconv.Itoa(n)
	for i := len(s) - 3; i > 0; i -= 3 {
		s = s[:i] + "," + s[i:]
	}
	return s
}

// columnsForm asks what each column holds, and what stands for a blank.
func columnsForm(header []string, m exchange.Mapping, update bool) inputForm {
	form := inputForm{Action: "/import/columns", Button: "Check the list"}
	for _, t := range exchange.Targets {
		in := &input{Name: string(t.Target), Label: t.Label, Type: "select",
			Options: []optionForm{{Label: "Not in the list"}}}
		for i, h := range header {
			in.Options = append(in.Options, optionForm{Code: strconv.Itoa(i),
				Label: fmt.Sprintf("Column %d: %s", i+1, short(h))})
		}
		chosen := ""
		if col, ok := m.Column[t.Target]; ok {
			chosen = strconv.Itoa(col)
		}
		form.Inputs = append(form.Inputs, in.chosen(chosen))
		if t.Choices == nil {
			continue
		}
		stand := &input{Name: "stand-" + string(t.Target), Label: t.Label + ", where the list is blank",
			Type: "select", Options: []optionForm{{Label: "Leave blank"}}}
		if t.Required {
			stand.Options[0].Label = "Refuse the row"
		}
		for _, ch := range t.Choices {
			stand.Options = append(stand.Options, optionForm{Code: ch.Code, Label: upper(ch.Label)})
		}
		form.Inputs = append(form.Inputs, stand.chosen(m.Default[t.Target]))
	}
	known := &input{Name: "known", Label: "Appliances on file already", Type: "select",
		Options: []optionForm{{Code: "leave", Label: "Leave as they are"},
			{Code: "update", Label: "Change to what the list says"}},
		Hint: "Known again by postcode, first line of the address and serial number. What the list leaves blank is " +
			"kept."}
	form.Inputs = append(form.Inputs, known.chosen(map[bool]string{false: "leave", true: "update"}[update]))
	return form
}

func short(s string) string {
	s = strings.Join(strings.Fields(s), " ")
	if r := []rune(s); len(r) > 40 {
		return string(r[:40]) + "…"
	}
	return s
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

// uploadList takes the file in, without holding it in memory.
func (s *Server) uploadList(c echo.Context) error {
	_, cancel := takeTime(c)
	defer cancel()
	c.Request().Body = http.MaxBytesReader(c.Response(), c.Request().Body, exchange.MaxFile+1<<20)
	err := s.takeUpload(c)
	if kind := records.KindOf(err); err != nil && (kind == records.Invalid || kind == records.Conflict) {
		return s.showImport(c, statusOf[kind], nil, err.Error())
	}
	if err != nil {
		return err
	}
	return see(c, "/import")
}

func (s *Server) takeUpload(c echo.Context) error {
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
		return tooLarge(s.lists.accept(person(c), part.FileName(), part))
	}
}

func tooLarge(err error) error {
	var most *http.MaxBytesError
	if errors.As(err, &most) {
		return &records.Error{Kind: records.Invalid, Field: "file", Label: "List", Msg: "the file is too large",
			Want: fmt.Sprintf("at most %d MB", exchange.MaxFile>>20)}
	}
	return err
}

// checkList tries the list with the columns as chosen.
func (s *Server) checkList(c echo.Context) error {
	posted, err := c.FormParams()
	if err != nil {
		return err
	}
	j := s.lists.look()
	if j == nil {
		return see(c, "/import")
	}
	m, update := mappingOf(posted), posted.Get("known") == "update"
	if err := m.Check(len(j.header)); err != nil {
		form := columnsForm(j.header, m, update)
		if hard := form.refuse(err); hard != nil {
			return hard
		}
		return s.showImport(c, http.StatusUnprocessableEntity, &form, "")
	}
	now, err := s.lists.move(listColumns, listChecking, func(j *listJob) {
		j.mapping, j.update, j.bad, j.badCount, j.problem, j.done, j.rows = m, update, nil, 0, "", 0, 0
	})
	if err != nil {
		return err
	}
	go s.lists.try(context.WithoutCancel(c.Request().Context()), now)
	return see(c, "/import")
}

// reviseList goes back to the columns.
func (s *Server) reviseList(c echo.Context) error {
	if _, err := s.lists.move(listChecked, listColumns, nil); err != nil {
		return err
	}
	return see(c, "/import")
}

// writeList takes the checked list in.
func (s *Server) writeList(c echo.Context) error {
	if j := s.lists.look(); j != nil && (j.badCount > 0 || j.problem != "") {
		return records.Fail(records.Conflict,
			"the list has errors: nothing of it can be taken in before they are put right")
	}
	who := person(c)
	now, err := s.lists.move(listChecked, listWriting, func(j *listJob) { j.by, j.done = who, 0 })
	if err != nil {
		return err
	}
	go s.lists.write(context.WithoutCancel(c.Request().Context()), now)
	return see(c, "/import")
}

func (s *Server) discardList(c echo.Context) error {
	if j := s.lists.look(); j != nil && j.busy() {
		return records.Fail(records.Conflict, "the list is being read just now: wait until that has ended")
	}
	s.lists.clear()
	return see(c, "/import")
}

// listProgress is asked for by script while a list is being read.
func (s *Server) listProgress(c echo.Context) error {
	out := struct {
		Stage string `json:"stage"`
		Done  int    `json:"done"`
		Rows  int    `json:"rows"`
	}{}
	if j := s.lists.look(); j != nil {
		out.Stage, out.Done, out.Rows = j.stage, j.done, j.rows
	}
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.JSON(http.StatusOK, out)
}

// listErrors is every error of the list as a list of its own.
func (s *Server) listErrors(c echo.Context) error {
	j := s.lists.look()
	if j == nil || j.busy() {
		return records.Fail(records.NotFound, "there is no list with errors")
	}
	h := c.Response().Header()
	h.Set(echo.HeaderContentType, "text/csv; charset=utf-8")
	h.Set(echo.HeaderContentDisposition, `attachment; filename="errors.csv"`)
	h.Set("Cache-Control", "private, no-store")
	w := csv.NewWriter(c.Response())
	w.UseCRLF = true
	rows := [][]string{{"Row", "Column", "What is wrong"}}
	for _, e := range j.bad {
		rows = append(rows, []string{strconv.Itoa(e.Row), exchange.Guard(e.Column), exchange.Guard(e.Err.Error())})
	}
	if more := j.badCount - len(j.bad); more > 0 {
		rows = append(rows, []string{"", "", fmt.Sprintf("%d more errors are not listed", more)})
	}
	return w.WriteAll(rows)
}
