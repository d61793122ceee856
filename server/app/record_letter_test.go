package app_test

import (
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/app"
	"gaugebook/server/servertest"
)

func TestLetterWithoutRoomForThePDF(t *testing.T) {
	site := servertest.Start(t)
	row := site.Issued()
	doc, err := site.App.Document(t.Context(), row.ID)
	if err != nil {
		t.Fatal(err)
	}
	for attach, says := range map[bool]string{true: "is attached as a PDF", false: "too large for a message"} {
		m := app.RecordLetter(doc, "https://records.example/r/token", attach)
		if m.AttachPDF != attach || !strings.Contains(m.Text, says) || !strings.Contains(m.HTML, says) {
			t.Errorf("attach %v: does not say %q", attach, says)
		}
	}
	doc.Record.Property.Nation = records.NorthernIreland
	m := app.RecordLetter(doc, "https://records.example/r/token", true)
	for _, body := range []string{m.Text, m.HTML} {
		if !strings.Contains(body, "0800 002 001") ||
			!strings.Contains(body, "Compare this number with your gas supplier’s") ||
			strings.Contains(body, "0800 111 999") {
			t.Error("Northern Ireland: wrong number, or without its caution")
		}
	}
	doc.Record.Values.Put(records.ApplianceFuel.Field, records.FuelPropane)
	if m := app.RecordLetter(doc, "x", true); !strings.Contains(m.Text, "Your LPG supplier’s emergency number") {
		t.Error("LPG: not sent to the supplier's number")
	}
}
