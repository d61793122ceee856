package owner

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/labstack/echo/v4"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/server/web"
)

// Log is the audit log: who did what, when, from where and by which key.
type Log struct{ *web.Kit }

type logPage struct {
	web.Base
	Filters []*web.Input
	Error   string
	Lines   []logLine
	Next    string
	Signed  string // when the log was signed last
}

type logLine struct {
	Seq                int64
	When, Who, What    string
	Subject, SubjectAt string // address of the subject's page, if it has one
	Detail             string
	Address, Key       string
}

// Show filters by what the address says.
func (lo Log) Show(c echo.Context) error {
	ctx, in := c.Request().Context(), c.QueryParams()
	text := func(name string) string { return strings.TrimSpace(in.Get(name)) }
	q := store.AuditQuery{Actor: text("who"), What: text("what"), Subject: text("subject"),
		Origin: store.Origin{Address: text("address"), KeyID: text("key")}, Limit: 51}
	data := logPage{Base: lo.WideBase(c, "Log")}
	status := web.OK
	var wrong []string
	q.From, wrong = lo.dayBegins("From", text("from"), 0, wrong)
	q.Until, wrong = lo.dayBegins("Until", text("until"), 1, wrong)
	if before := text("before"); before != "" {
		n, err := strconv.ParseInt(before, 10, 64)
		if err != nil || n < 1 {
			wrong = append(wrong, "Before: “"+before+"” is not the number of an entry.")
		}
		q.Before = n
	}
	if wrong != nil {
		data.Error, status = strings.Join(wrong, " "), web.Refused
	} else if err := lo.fill(c, &data, q); err != nil {
		return err
	}
	actors, err := lo.Store.Audit.Actors(ctx)
	if err != nil {
		return err
	}
	kinds, err := lo.Store.Audit.Kinds(ctx)
	if err != nil {
		return err
	}
	data.Filters = []*web.Input{
		{Name: "who", Label: "Who", Options: choiceOf("Everybody", actors, q.Actor)},
		{Name: "what", Label: "What", Options: choiceOf("Everything", kinds, q.What)},
		web.DateInput("from", "From").With(text("from")),
		web.DateInput("until", "Until").With(text("until")),
		web.TextInput("address", "From address", 60).With(q.Origin.Address),
		web.TextInput("key", "By key", 60).With(q.Origin.KeyID),
		web.TextInput("subject", "About", 120).With(q.Subject),
	}
	signed, err := lo.Store.Audit.Signed(ctx)
	if err != nil {
		return err
	}
	if signed != nil {
		data.Signed = fmt.Sprintf("up to entry %d, %s", signed.Entry, lo.FullClock(signed.At))
	}
	return lo.Page(c, status, "log", data)
}

func (lo Log) fill(c echo.Context, data *logPage, q store.AuditQuery) error {
	entries, err := lo.Store.Audit.Find(c.Request().Context(), q)
	if err != nil {
		return err
	}
	if len(entries) == q.Limit {
		entries = entries[:q.Limit-1]
		next := url.Values{}
		for name, values := range c.QueryParams() {
			next[name] = values
		}
		next.Set("before", strconv.FormatInt(entries[len(entries)-1].Seq, 10))
		data.Next = "/log?" + next.Encode()
	}
	for _, e := range entries {
		data.Lines = append(data.Lines, logLine{Seq: e.Seq, When: lo.FullClock(e.At), Who: e.Actor.Name,
			What: records.UpperFirst(e.What), Subject: e.Subject, SubjectAt: pageOf(e), Detail: plainDetail(e.Detail),
			Address: e.Origin.Address, Key: e.Origin.KeyID})
	}
	return nil
}

// dayBegins reads a day and returns when it begins where the firm works, so many
// days later.
func (lo Log) dayBegins(label, text string, later int, wrong []string) (time.Time, []string) {
	if text == "" {
		return time.Time{}, wrong
	}
	d, err := records.ParseDate(text)
	if err != nil {
		return time.Time{}, append(wrong, label+": “"+text+"” is not a date; give one such as 2026-11-30.")
	}
	at, err := time.ParseInLocation(time.DateOnly, d.AddDays(later).String(), lo.App.Zone)
	if err != nil {
		return at, append(wrong, label+": "+err.Error())
	}
	return at, wrong
}

func choiceOf(all string, values []string, chosen string) []web.Option {
	out := []web.Option{{Label: all, Chosen: chosen == ""}}
	for _, v := range values {
		if v != "" {
			out = append(out, web.Option{Code: v, Label: v, Chosen: v == chosen})
		}
	}
	return out
}

// pageOf is the page of what an entry is about.
func pageOf(e store.AuditEntry) string {
	for prefix, path := range map[string]string{"record ": "/records/", "draft ": "/records/",
		"appliance ": "/appliances/", "property ": "/properties/", "person ": "/people/", "message ": "/messages/"} {
		if strings.HasPrefix(e.What, prefix) && e.What != "draft discarded" {
			return path + url.PathEscape(e.Subject)
		}
	}
	return ""
}

// plainDetail writes what an entry says besides, one after the other.
func plainDetail(raw json.RawMessage) string {
	var d map[string]any
	if json.Unmarshal(raw, &d) != nil {
		return string(raw)
	}
	var out []string
	for _, name := range slices.Sorted(maps.Keys(d)) {
		var text string
		switch v := d[name].(type) {
		case nil:
			continue
		case string:
			text = v
		default:
			b, err := json.Marshal(v)
			if err != nil {
				continue
			}
			text = string(b)
		}
		if text != "" && text != "0" {
			out = append(out, strings.ReplaceAll(name, "_", " ")+": "+text)
		}
	}
	return strings.Join(out, "; ")
}
