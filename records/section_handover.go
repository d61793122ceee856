package records

// Fields of the Handover section.
var (
	ControlsShown    = flag("handover.controls_shown", "User shown how the controls work")
	ShutOffShown     = flag("handover.shut_off_shown", "User shown where and how to turn the gas off")
	InstructionsLeft = flag("handover.instructions_left", "Manufacturer's instructions left with the user")
	SafetyDevices    = flag("handover.safety_devices", "Safety devices and controls checked and working")
	Notifiable       = flag("handover.notifiable",
		"Installation or replacement that must be notified to building control")
	NotifiableReason = text("handover.notifiable_reason", "Why it need not be notified", 200).
				when("handover.notifiable", "no")
	ServiceMonths = number("handover.service_interval_months", "Next service due in", "months", 1, 60, 0).
			hint("Twelve unless the manufacturer states otherwise.")
	ForUser           = notes("handover.notes", "Notes for the customer", 10000)
	ReceivedBy        = text("handover.received_by", "Received by", 80)
	ReceivedSignature = strokes("handover.received_signature", "Customer's signature")
	NobodyPresent     = flag("handover.nobody_present", "Nobody was present to receive it").
				hint("The record is then left on site.")
	EngineerName      = text("handover.engineer_name", "Work done and readings taken by", 80)
	EngineerSignature = strokes("handover.engineer_signature", "Engineer's signature")
	Declared          = flag("handover.declared", "I answer for these readings: they are true")
)

// Handover is what was shown, left and signed at the end.
var Handover = Section{
	ID: "handover", Title: "Handover",
	Intro: "Show, leave, sign. A typed name counts as a signature; drawing it is optional.",
	Groups: []Group{
		{Title: "Shown and left", Fields: fields(SafetyDevices, ControlsShown, ShutOffShown, InstructionsLeft)},
		{Title: "What follows", Fields: fields(Notifiable, NotifiableReason, ServiceMonths, ForUser)},
		{Title: "Signed", Fields: fields(EngineerName, EngineerSignature, Declared, ReceivedBy, ReceivedSignature,
			NobodyPresent)},
	},
}
