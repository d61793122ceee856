package web

import (
	"context"
	"errors"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
)

// Problem is an error as the API gives it, after RFC 9457.
type Problem struct {
	Type      string           `json:"type"`
	Title     string           `json:"title"`
	Status    int              `json:"status"`
	Detail    string           `json:"detail,omitempty"`
	Reference string           `json:"reference,omitempty"` // names the line in our log
	Errors    []*records.Error `json:"errors,omitempty"`
	// Of a conflict over a record: how the record stands now, and under which
	// id what was refused has been kept.
	Revision int           `json:"revision,omitempty"`
	Stage    records.Stage `json:"stage,omitempty"`
	Kept     string        `json:"kept_version,omitempty"`
}

type errorPage struct {
	Base
	Problem Problem
	Back    string
}

// Failed is the one place where an error becomes an answer: its kind decides
// the status, the address or the Accept header the form.
func (k *Kit) Failed(err error, c echo.Context) {
	// The request's own context tells nothing here: the time limit has ended
	// it by now, also where somebody waits for the answer.
	if c.Response().Committed || errors.Is(err, context.Canceled) {
		return // answered already, or nobody is left to answer
	}
	p := problemOf(err)
	p.Reference = RequestID(c)
	if p.Status >= http.StatusInternalServerError {
		k.Log.ErrorContext(c.Request().Context(), "request failed", "request", p.Reference, "path", c.Path(), "error",
			err)
	}
	var sent error
	switch {
	case c.Request().Method == http.MethodHead:
		sent = c.NoContent(p.Status)
	case wantsJSON(c.Request()):
		c.Response().Header().Set(echo.HeaderContentType, "application/problem+json")
		sent = c.JSON(p.Status, p)
	default:
		data := errorPage{Base: k.Base(c, p.Title), Problem: p}
		data.Private = true
		sent = k.Page(c, p.Status, "error", data)
	}
	if sent != nil {
		k.Log.ErrorContext(c.Request().Context(), "error page failed", "request", p.Reference, "error", sent)
	}
}

func wantsJSON(r *http.Request) bool {
	accept := r.Header.Get("Accept")
	return strings.HasPrefix(r.URL.Path, "/api/") || strings.Contains(accept, "json") &&
		!strings.Contains(accept, "text/html")
}

// Malformed is the answer to a form that cannot be read: too large, cut off, or
// not written as one.
func Malformed(err error) error {
	var he *echo.HTTPError
	var most *http.MaxBytesError
	switch {
	case errors.As(err, &he):
		return err
	case errors.As(err, &most):
		return echo.NewHTTPError(http.StatusRequestEntityTooLarge, "this form is too large").SetInternal(err)
	case errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	}
	return echo.NewHTTPError(http.StatusBadRequest,
		"this form was cut off or is not written as one; go back and send it again").SetInternal(err)
}

// statuses maps the kinds of the domain.
var statuses = map[records.ErrorKind]int{
	records.Invalid:   http.StatusUnprocessableEntity,
	records.NotFound:  http.StatusNotFound,
	records.Conflict:  http.StatusConflict,
	records.Forbidden: http.StatusForbidden,
	records.NotReady:  http.StatusConflict,
	records.Internal:  http.StatusInternalServerError,
}

// StatusOf returns the status that a kind of error is answered with.
func StatusOf(k records.ErrorKind) int { return statuses[k] }

// titleOf says in plain words what happened.
var titleOf = map[int]string{
	http.StatusBadRequest:            "The request could not be read",
	http.StatusUnauthorized:          "Sign in first",
	http.StatusForbidden:             "You do not have access",
	http.StatusNotFound:              "Page not found",
	http.StatusMethodNotAllowed:      "This cannot be done here",
	http.StatusConflict:              "This cannot be done at present",
	http.StatusRequestEntityTooLarge: "This is too large",
	http.StatusUnprocessableEntity:   "Something was not accepted",
	http.StatusTooManyRequests:       "Too many attempts",
	http.StatusServiceUnavailable:    "The server is too busy",
	http.StatusInternalServerError:   "Something went wrong here",
}

// problemOf turns any error into what may be shown of it. Details of our own
// faults stay in the log.
func problemOf(err error) Problem {
	p := Problem{Type: "about:blank", Status: http.StatusInternalServerError}
	var he *echo.HTTPError
	var one *records.Error
	var many records.Errors
	switch {
	case errors.As(err, &many):
		p.Errors = many
	case errors.As(err, &one):
		p.Errors = []*records.Error{one}
	}
	var over *RecordConflict
	if errors.As(err, &over) {
		p.Revision, p.Stage, p.Kept = over.Revision, over.Stage, over.Kept
	}
	switch kind := records.KindOf(err); {
	case kind != records.Internal:
		p.Status, p.Detail = StatusOf(kind), err.Error()
	case errors.As(err, &he):
		p.Status = he.Code
		if text, ok := he.Message.(string); ok && he.Code < 500 && text != http.StatusText(he.Code) {
			p.Detail = text
		}
	case errors.Is(err, context.DeadlineExceeded):
		p.Status, p.Detail = http.StatusServiceUnavailable, "the server did not finish in time; try again"
	}
	if p.Status >= 500 && p.Status != http.StatusServiceUnavailable {
		p.Errors, p.Detail = nil, ""
	}
	p.Title = titleOf[p.Status]
	if p.Title == "" {
		p.Title = http.StatusText(p.Status)
	}
	return p
}

// RecordConflict is a conflict over a record, with how the record stands now,
// so that a program can fetch it, merge and try again.
type RecordConflict struct {
	Err      error
	Revision int
	Stage    records.Stage
	Kept     string // id under which a refused version was put aside
}

func (r *RecordConflict) Error() string { return r.Err.Error() }

func (r *RecordConflict) Unwrap() error { return r.Err }
