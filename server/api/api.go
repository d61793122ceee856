// Package api is the JSON API, over the same use cases as the pages. Its types
// are those of package records, its description is openapi.yaml beside this
// file; a test holds the two together.
package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"slices"
	"strings"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/web"
)

// API answers programs. Make it with its Kit and the limiter.
type API struct {
	*web.Kit
	Checks *web.Limiter // of records, by number and code
}

// Routes is every route of the API. It is apart from the pages' because its
// callers show a key, not a session.
func (a API) Routes() []web.Route {
	return slices.Concat(
		web.May(web.Open, "have a program read the rules and their sources, and the description of the API",
			web.Get("/api/v1/openapi.yaml", a.description),
			web.Get("/api/v1/schema", a.schema),
			web.Get("/api/v1/rules", a.rules)),
		web.May(web.Open, "have a program check whether a record is genuine, with its number and code",
			web.Get("/api/v1/verify/:number/:code", a.verify)),
		web.May(web.SignedIn,
			"let a program read the register, add to it and check readings, with a key that the owner makes for them",
			web.Post("/api/v1/check", a.check),
			web.Get("/api/v1/properties", a.properties),
			web.Post("/api/v1/properties", a.addProperty),
			web.Get("/api/v1/appliances", a.appliances),
			web.Post("/api/v1/appliances", a.addAppliance),
			web.Get("/api/v1/appliances/:id", a.appliance),
			web.Get("/api/v1/duties", a.duties),
			web.Get("/api/v1/records/:id", a.record),
			web.Get("/api/v1/records/:id/findings", a.findings),
			web.Get("/api/v1/records/:id/pdf", a.pdf)),
		web.May(web.Engineers,
			"let a program start, fill in and issue records, with a key that the owner makes for them",
			web.Post("/api/v1/records", a.start),
			web.Patch("/api/v1/records/:id", a.save),
			web.Post("/api/v1/records/:id/issue", a.issue)),
	)
}

// ByKey finds out who calls. Keys travel in the Authorization header only, so
// a browser cannot be made to send one.
func (a API) ByKey(who web.Access, next echo.HandlerFunc) echo.HandlerFunc {
	if who == web.Open {
		return next
	}
	return func(c echo.Context) error {
		scheme, key, _ := strings.Cut(c.Request().Header.Get("Authorization"), " ")
		if key = strings.TrimSpace(key); !strings.EqualFold(scheme, "Bearer") || key == "" {
			c.Response().Header().Set("WWW-Authenticate", "Bearer")
			return echo.NewHTTPError(http.StatusUnauthorized,
				"give your key as: Authorization: Bearer KEY; the owner makes keys on the People page")
		}
		p, err := a.Store.People.ByKey(c.Request().Context(), key)
		if err != nil && records.KindOf(err) != records.NotFound {
			return err
		}
		if err != nil || !p.Active {
			c.Response().Header().Set("WWW-Authenticate", `Bearer error="invalid_token"`)
			return echo.NewHTTPError(http.StatusUnauthorized, "this key is not known, or no longer")
		}
		if !who.Allows(p.Role) {
			return records.Fail(records.Forbidden, "the holder of this key is "+string(p.Role)+" and may not do that")
		}
		id, err := a.Store.People.KeyID(c.Request().Context(), key)
		if err != nil {
			return err
		}
		web.SetPerson(c, p)
		ctx := c.Request().Context()
		from := store.OriginOf(ctx)
		from.KeyID = id
		c.SetRequest(c.Request().WithContext(store.WithOrigin(ctx, from)))
		return next(c)
	}
}

// encoded writes JSON without the escaping meant for HTML, so that a finding
// is the same bytes here as on the command line.
func encoded(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	err := enc.Encode(v)
	return b.Bytes(), err
}

func reply(c echo.Context, status int, v any) error {
	data, err := encoded(v)
	if err != nil {
		return err
	}
	return replyBytes(c, status, data)
}

func replyBytes(c echo.Context, status int, data []byte) error {
	c.Response().Header().Set("Cache-Control", "no-store")
	return c.Blob(status, "application/json; charset=utf-8", data)
}

const contextBody = "body"

// body reads the request's JSON strictly.
func body(c echo.Context, v any) error {
	data, err := io.ReadAll(c.Request().Body)
	if err != nil {
		return err
	}
	c.Set(contextBody, data)
	if len(bytes.TrimSpace(data)) == 0 {
		return &records.Error{Kind: records.Invalid, Field: "body", Msg: "it is empty", Want: "a JSON object"}
	}
	return records.DecodeStrict(data, v)
}

// deed is what a request asks for: Do does it and the log tells of it as What,
// answer is what the caller is told of the subject of that entry.
type deed struct {
	what   string
	do     func(context.Context) (subject string, err error)
	answer func(ctx context.Context, subject string) (status int, v any, err error)
}

// once answers a repeated request with the first answer when the caller named
// it with an Idempotency-Key: a phone that never saw the answer asks again.
func (a API) once(c echo.Context, d deed) error {
	ctx, r := c.Request().Context(), c.Request()
	answer := func(ctx context.Context, subject string) (store.Answer, error) {
		status, v, err := d.answer(ctx, subject)
		if err != nil {
			return store.Answer{}, err
		}
		data, err := encoded(v)
		return store.Answer{Status: status, Body: data}, err
	}
	key := r.Header.Get("Idempotency-Key")
	if key == "" {
		subject, err := d.do(ctx)
		if err != nil {
			return err
		}
		told, err := answer(ctx, subject)
		if err != nil {
			return err
		}
		return replyBytes(c, told.Status, told.Body)
	}
	sent, _ := c.Get(contextBody).([]byte)
	sum := sha256.Sum256(sent)
	told, err := a.Store.Once(ctx, web.Person(c).ID, key, r.Method+" "+r.URL.Path+" "+hex.EncodeToString(sum[:]),
		store.Deed{What: d.what, Answer: answer, Do: func(ctx context.Context) error { return errOnly(d.do(ctx)) }})
	if err != nil {
		return err
	}
	return replyBytes(c, told.Status, told.Body)
}

func errOnly(_ string, err error) error { return err }

// standing adds to a conflict how the record stands now; other errors stay as
// they are.
func (a API) standing(ctx context.Context, id string, err error) error {
	if kind := records.KindOf(err); kind != records.Conflict && kind != records.NotReady {
		return err
	}
	var stale *store.StaleError
	if errors.As(err, &stale) {
		return &web.RecordConflict{Err: err, Revision: stale.Current.Revision, Stage: stale.Current.Stage,
			Kept: stale.KeptID}
	}
	now, readErr := a.Store.Records.Record(ctx, id)
	if readErr != nil {
		return err
	}
	return &web.RecordConflict{Err: err, Revision: now.Revision, Stage: now.Stage}
}
