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

const (
	get   = http.MethodGet
	post  = http.MethodPost
	patch = http.MethodPatch
)

// Routes is every route of the API. It is apart from the pages' because its
// callers show a key, not a session.
func (a API) Routes() []web.Route {
	return []web.Route{
		{Method: get, Path: "/api/v1/openapi.yaml", Access: web.Open, Handle: a.description},
		{Method: get, Path: "/api/v1/schema", Access: web.Open, Handle: a.schema},
		{Method: get, Path: "/api/v1/rules", Access: web.Open, Handle: a.rules},
		{Method: get, Path: "/api/v1/verify/:number/:code", Access: web.Open, Handle: a.verify},
		{Method: post, Path: "/api/v1/check", Access: web.SignedIn, Handle: a.check},

		{Method: get, Path: "/api/v1/properties", Access: web.SignedIn, Handle: a.properties},
		{Method: post, Path: "/api/v1/properties", Access: web.SignedIn, Handle: a.addProperty},
		{Method: get, Path: "/api/v1/appliances", Access: web.SignedIn, Handle: a.appliances},
		{Method: post, Path: "/api/v1/appliances", Access: web.SignedIn, Handle: a.addAppliance},
		{Method: get, Path: "/api/v1/appliances/:id", Access: web.SignedIn, Handle: a.appliance},
		{Method: get, Path: "/api/v1/duties", Access: web.SignedIn, Handle: a.duties},

		{Method: post, Path: "/api/v1/records", Access: web.Engineers, Handle: a.start},
		{Method: get, Path: "/api/v1/records/:id", Access: web.SignedIn, Handle: a.record},
		{Method: patch, Path: "/api/v1/records/:id", Access: web.Engineers, Handle: a.save},
		{Method: post, Path: "/api/v1/records/:id/issue", Access: web.Engineers, Handle: a.issue},
		{Method: get, Path: "/api/v1/records/:id/findings", Access: web.SignedIn, Handle: a.findings},
		{Method: get, Path: "/api/v1/records/:id/pdf", Access: web.SignedIn, Handle: a.pdf},
	}
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
		if needed := scopeOf(c.Request().Method, c.Path()); !p.KeyScope.Allows(needed) {
			return records.Fail(records.Forbidden, "this key may "+string(p.KeyScope)+", and that needs one that may "+
				string(needed))
		}
		web.SetPerson(c, p)
		return next(c)
	}
}

// scopeOf is what a key must be good for to call a route.
func scopeOf(method, path string) records.KeyScope {
	switch {
	case strings.HasSuffix(path, "/issue"):
		return records.KeyIssues
	case method == get || path == "/api/v1/check":
		return records.KeyReads
	}
	return records.KeyEnters
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

// once answers a repeated request with the first answer when the caller named
// it with an Idempotency-Key: a phone that never saw the answer asks again.
func (a API) once(c echo.Context, do func(context.Context) (status int, v any, err error)) error {
	ctx, r := c.Request().Context(), c.Request()
	run := func() (store.Answer, error) {
		status, v, err := do(ctx)
		if err != nil {
			return store.Answer{}, err
		}
		data, err := encoded(v)
		return store.Answer{Status: status, Body: data}, err
	}
	key := r.Header.Get("Idempotency-Key")
	if key == "" {
		answer, err := run()
		if err != nil {
			return err
		}
		return replyBytes(c, answer.Status, answer.Body)
	}
	sent, _ := c.Get(contextBody).([]byte)
	sum := sha256.Sum256(sent)
	answer, err := a.Store.Once(ctx, web.Person(c).ID, key, r.Method+" "+r.URL.Path+" "+hex.EncodeToString(sum[:]), run)
	if err != nil {
		return err
	}
	return replyBytes(c, answer.Status, answer.Body)
}

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
