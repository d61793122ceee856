package store_test

import (
	"strings"

	"gaugebook/records"
	"gaugebook/records/store"
	"gaugebook/records/store/storetest"
)

var recordRefusals = []refusal{
	{"draft of nothing", func(w *world) error {
		return errOf(w.Records.StartDraft(ctx, by, storetest.Draft("none", records.Service, "2026-11-20")))
	}, records.NotFound, absent},
	{"draft of a retired appliance", func(w *world) error {
		return errOf(w.Records.StartDraft(ctx, by, storetest.Draft(w.retired.ID, records.Service, "2026-11-20")))
	}, records.Conflict, "retired"},
	{"draft with the id of a record of another", func(w *world) error {
		d := storetest.Draft(w.plain.ID, records.Service, "2026-11-20")
		d.ID = w.issued.ID
		return errOf(w.Records.StartDraft(ctx, by, d))
	}, records.Conflict, "another record"},
	{"draft with a path for an id", func(w *world) error {
		d := storetest.Draft(w.plain.ID, records.Service, "2026-11-20")
		d.ID = "a/b"
		return errOf(w.Records.StartDraft(ctx, by, d))
	}, records.Invalid, "letters, digits"},
	{"draft that amends an amended record", func(w *world) error { return startAmending(w, w.amended.Number) },
		records.Conflict, "amended already, by " + records.NumberOf(2026, 2)},
	{"draft that amends a withdrawn record", func(w *world) error { return startAmending(w, w.withdrawn.Number) },
		records.Conflict, "withdrawn: wrong house"},
	{"draft that amends nothing", func(w *world) error { return startAmending(w, "2020-00001") },
		records.NotFound, absent},
	{"draft that amends another appliance's record", func(w *world) error {
		d := storetest.Draft(w.plain.ID, records.Service, "2026-11-20")
		d.Replaces = w.issued.Number
		return errOf(w.Records.StartDraft(ctx, by, d))
	}, records.Conflict, "another appliance"},
	{"no record", func(w *world) error { return errOf(w.Records.Record(ctx, "none")) }, records.NotFound, absent},
	{"save of nothing", func(w *world) error {
		return errOf(w.Records.SaveDraft(ctx, by, &records.Record{ID: "none"}, 1))
	}, records.NotFound, absent},
	{"save that is too long", func(w *world) error {
		r := *w.draft
		r.AmendReason = strings.Repeat("x", records.MaxDocument)
		return errOf(w.Records.SaveDraft(ctx, by, &r, r.Revision))
	}, records.Invalid, ""},
	{"refused entries that are too long", func(w *world) error {
		r := *w.draft
		r.Rejected = map[string]records.Rejection{"a": {Entry: strings.Repeat("x", records.MaxDocument)}}
		return errOf(w.Records.SaveDraft(ctx, by, &r, r.Revision))
	}, records.Invalid, "Entries not accepted"},
	{"discarded without a reason", func(w *world) error { return w.Records.DiscardDraft(ctx, by, w.draft.ID, "") },
		records.Invalid, "Reason"},
	{"discarded nothing", func(w *world) error { return w.Records.DiscardDraft(ctx, by, "none", "why") },
		records.NotFound, absent},
	{"discarded an issued record", func(w *world) error { return w.Records.DiscardDraft(ctx, by, w.issued.ID, "why") },
		records.Conflict, "can only be withdrawn"},
	{"issued nothing", func(w *world) error { return issueAs(w, "none", 1) }, records.NotFound, absent},
	{"taken over nothing", func(w *world) error { return takeOver(w, "none", 1) }, records.NotFound, absent},
	{"taken over what is issued", func(w *world) error { return takeOver(w, w.issued.ID, 1) }, records.Conflict,
		"issued already"},
	{"taken over at another revision", func(w *world) error { return takeOver(w, w.draft.ID, 9) }, records.Conflict,
		"it is at revision 1, not 9"},
	{"taken over one's own", func(w *world) error {
		return errOf(w.Records.TakeOver(ctx, storetest.Actor, w.draft, 1, records.Signatory{}))
	}, records.Conflict, "yours already"},
	{"issued twice", func(w *world) error { return issueAs(w, w.issued.ID, 1) }, records.Conflict, "issued already"},
	{"issued at another revision", func(w *world) error { return issueAs(w, w.draft.ID, 9) },
		records.Conflict, "it is at revision 1, not 9"},
	{"draft as an issued record", func(w *world) error { return errOf(w.Records.Issued(ctx, w.draft.ID)) },
		records.NotFound, absent},
	{"print of a draft", func(w *world) error { return errOf(w.Records.PDF(ctx, w.draft.ID)) },
		records.NotFound, absent},
	{"print not made yet", func(w *world) error { return errOf(w.Records.PDF(ctx, w.unprinted.ID)) },
		records.NotFound, absent},
	{"kept print of a draft", func(w *world) error {
		return errOf(w.Records.KeepPDF(ctx, by, w.draft.ID, []byte("%PDF-1.7")))
	}, records.NotFound, absent},
	{"kept print that is none", func(w *world) error {
		return errOf(w.Records.KeepPDF(ctx, by, w.unprinted.ID, []byte("GIF89a")))
	}, records.Internal, "no PDF"},
	{"withdrawn without a reason", func(w *world) error { return w.Records.Withdraw(ctx, by, w.issued.ID, "") },
		records.Invalid, "Reason"},
	{"withdrawn nothing", func(w *world) error { return w.Records.Withdraw(ctx, by, "none", "why") },
		records.NotFound, absent},
	{"withdrawn a draft", func(w *world) error { return w.Records.Withdraw(ctx, by, w.draft.ID, "why") },
		records.Conflict, "this one is draft"},
	{"withdrawn an amended record", func(w *world) error { return w.Records.Withdraw(ctx, by, w.amended.ID, "why") },
		records.Conflict, "this one is amended"},
	{"withdrawn twice", func(w *world) error { return w.Records.Withdraw(ctx, by, w.withdrawn.ID, "why") },
		records.Conflict, "this one is withdrawn"},
	{"history of nothing", func(w *world) error { return errOf(w.Records.History(ctx, "none")) },
		records.NotFound, absent},
	{"readings of nothing", func(w *world) error { return errOf(w.Records.Earlier(ctx, "none", "")) },
		records.NotFound, absent},
	{"link to a draft", func(w *world) error { return errOf(w.Links.Add(ctx, by, w.draft.ID, "C", year)) },
		records.NotFound, absent},
	{"link that has run out", func(w *world) error {
		return errOf(w.Links.Add(ctx, by, w.issued.ID, "C", storetest.Start))
	}, records.Invalid, "a time to come"},
	{"link for two lines", func(w *world) error { return errOf(w.Links.Add(ctx, by, w.issued.ID, "a\nb", year)) },
		records.Invalid, "Given to"},
	{"no link", func(w *world) error { return errOf(w.Links.ByToken(ctx, store.NewToken())) },
		records.NotFound, absent},
	{"link ended without a reason", func(w *world) error { return w.Links.End(ctx, by, w.link.ID, "") },
		records.Invalid, "Reason"},
	{"link ended that is none", func(w *world) error { return w.Links.End(ctx, by, "none", "why") },
		records.NotFound, absent},
}

// startAmending starts a draft in place of a record.
func startAmending(w *world, number string) error {
	d := storetest.Draft(w.other.ID, records.Service, "2026-11-20")
	d.Replaces = number
	return errOf(w.Records.StartDraft(ctx, by, d))
}

func takeOver(w *world, id string, revision int) error {
	return errOf(w.Records.TakeOver(ctx, w.engineer.Actor(), &records.Record{ID: id}, revision,
		records.Signatory{ID: storetest.Actor.ID}))
}

func issueAs(w *world, id string, revision int) error {
	_, _, err := w.Records.Issue(ctx, by, id, revision, storetest.Issuer())
	return err
}

var photoRefusals = []refusal{
	{"photo that is not kept", func(w *world) error {
		return errOf(w.Photos.Add(ctx, by, w.draft.ID, records.Photo{SHA256: strings.Repeat("ab", 32), Section: "flue",
			Width: 1, Height: 1}))
	}, records.NotFound, absent},
	{"photo of no record", func(w *world) error { return errOf(w.Photos.Add(ctx, by, "none", w.loose)) },
		records.NotFound, absent},
	{"photo of an issued record", func(w *world) error { return errOf(w.Photos.Add(ctx, by, w.issued.ID, w.loose)) },
		records.Conflict, "cannot change"},
	{"photo in two sections", func(w *world) error {
		p := w.photo
		p.Section = "heat"
		return errOf(w.Photos.Add(ctx, by, w.draft.ID, p))
	}, records.Conflict, "the same picture already, under “"},
	{"caption that is too long", func(w *world) error {
		return errOf(w.Photos.Caption(ctx, by, w.draft.ID, w.photo.SHA256, "", strings.Repeat("x", 121)))
	}, records.Invalid, ""},
	{"caption of no photo", func(w *world) error {
		return errOf(w.Photos.Caption(ctx, by, w.draft.ID, w.loose.SHA256, "", "x"))
	}, records.NotFound, absent},
	{"caption over another", func(w *world) error {
		return errOf(w.Photos.Caption(ctx, by, w.draft.ID, w.photo.SHA256, "what I saw", "x"))
	}, records.Conflict, "somebody else changed"},
	{"photo taken off an issued record", func(w *world) error {
		return errOf(w.Photos.Remove(ctx, by, w.issued.ID, w.photo.SHA256))
	}, records.Conflict, "cannot change"},
	{"photo taken off nothing", func(w *world) error {
		return errOf(w.Photos.Remove(ctx, by, "none", w.photo.SHA256))
	}, records.NotFound, absent},
	{"picture that is not kept", func(w *world) error { return errOf(w.Photos.Picture(strings.Repeat("cd", 32))) },
		records.NotFound, absent},
}
