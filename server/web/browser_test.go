package web

import (
	"strings"
	"testing"
)

func TestDeviceWords(t *testing.T) {
	const like = "Mozilla/5.0 (%) AppleWebKit/537.36 (KHTML, like Gecko) "
	on := func(device, browser string) string { return strings.Replace(like, "%", device, 1) + browser }
	for userAgent, want := range map[string]string{
		on("Linux; Android 14; K", "Chrome/150.0.0.0 Mobile Safari/537.36"):                "Chromium on Android",
		on("Windows NT 10.0; Win64; x64", "Chrome/150.0.0.0 Safari/537.36"):                "Chromium on Windows",
		on("X11; CrOS x86_64 1", "Chrome/150.0.0.0 Safari/537.36"):                         "Chromium on Chromebook",
		on("iPhone; CPU iPhone OS 18_0 like Mac OS X", "Version/18.0 Mobile Safari/604.1"): "Safari on iPhone",
		on("iPhone; CPU iPhone OS 18_0 like Mac OS X", "CriOS/150.0 Mobile Safari/604.1"):  "Chromium on iPhone",
		on("Macintosh; Intel Mac OS X 10_15_7", "Version/18.0 Safari/605.1.15"):            "Safari on Mac",
		"Mozilla/5.0 (X11; Linux x86_64; rv:150.0) Gecko/20100101 Firefox/150.0":           "Firefox on Linux",
		"":                          "A program on an unknown device",
		"curl/8":                    "A program on an unknown device",
		"<script>alert(1)</script>": "A program on an unknown device",
		strings.Repeat("x", 100_000) + " Android": "A program on an unknown device",
	} {
		if got := deviceWords(userAgent); got != want {
			t.Errorf("%.80s: %q, want %q", userAgent, got, want)
		}
	}
}
