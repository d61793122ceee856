package servertest

import (
	"fmt"
	"strings"
)

// BounceReport is a report of non-delivery about one message. Its parts and fields
// are those of the examples of RFC 3464 appendix E, with invented names.
func BounceReport(messageID, action, status, words string) string {
	return strings.ReplaceAll(fmt.Sprintf(`From: Mail Delivery <mailer-daemon@relay.example>
To: post@tweddle.example
Subject: Returned mail
Auto-Submitted: auto-replied
MIME-Version: 1.0
Content-Type: multipart/report; report-type=delivery-status;
	boundary="cut/here"

--cut/here

The message could not be handed over.

--cut/here
Content-Type: message/delivery-status

Reporting-MTA: dns; relay.example
Arrival-Date: Wed, 25 Nov 2026 09:00:00 +0000

Original-Recipient: rfc822;someone@home.example
Final-Recipient: rfc822;someone.else@home.example
Action: %s
Status: %s
Diagnostic-Code: smtp; %s

--cut/here
Content-Type: message/rfc822

Message-ID: <%s>
From: Tweddle and Daughter Heating <post@tweddle.example>
Subject: Record

Dear customer
--cut/here--
`, action, status, words, messageID), "\n", "\r\n")
}
