package app_test

import (
	"strings"
	"testing"

	"gaugebook/records"
	"gaugebook/server/servertest"
)

func TestGuessablePasswordsAreRefused(t *testing.T) {
	site := servertest.Start(t)
	maud := site.People[records.RoleEngineer]
	for _, bad := range []string{"password2026!", "Passw0rd Passw0rd", "P@$$w0rd1234", "qwertyuiop12", "123456789012",
		"aaaaaaaaaaaaaa", "abcabcabcabcabc", "TweddleHeating2026", "Tweddle and Daughter", strings.ToLower(maud.Name) + " 1",
		"engineer@tweddle.example1", "Gaugebook-2026", "gas engineer gas", "letmeinletmein", "welcome 2025 welcome",
		"summer2026!!!", "boilerboiler1", "gaugebook7351964", "Gaugebook#58203", "Ambershaw95027", "Quillwater 83016 !",
		"Tamsin.Oakhurst.9573", "oakhurst 640 tamsin 82", "engineer 9173 tweddle", "H3at1ng 7351964", "Daughter$9302751",
		"4mb3rsh4w 5702", "password-7391-5206"} {
		if _, err := site.App.PasswordOf(t.Context(), maud, bad); records.KindOf(err) != records.Invalid ||
			!strings.Contains(err.Error(), "among the first") {
			t.Errorf("%q: %v", bad, err)
		}
	}
	for _, good := range []string{servertest.Password, "lamp oil and biscuits", "four words of tea",
		"83019 27465 10938", "x9#kQv2!mTz7", "tåga och sjö Ärta", "correct boiler staple"} {
		if _, err := site.App.PasswordOf(t.Context(), maud, good); err != nil {
			t.Errorf("%q: %v", good, err)
		}
	}
	p := site.As(records.RoleEngineer).Post("/password", servertest.Form("present", servertest.Password, "password",
		"Tweddle-2026-Tweddle", "again", "Tweddle-2026-Tweddle"))
	if p.Status != 422 || !strings.Contains(p.Body, "among the first") {
		t.Errorf("on the page: %d", p.Status)
	}
	p = site.As(records.RoleOwner).Post("/people", servertest.Form("name", "Wilf Marchbank", "email", "w@tweddle.example",
		"role", "engineer", "password", "wilfmarchbank1"))
	if p.Status != 422 || !strings.Contains(p.Body, "among the first") {
		t.Errorf("a first one: %d", p.Status)
	}
}
