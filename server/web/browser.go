package web

import "strings"

// told are what browsers and devices say of themselves, the more special first:
// each also says what it is like.
var (
	toldBrowsers = [][2]string{{"Firefox/", "Firefox"}, {"FxiOS/", "Firefox"}, {"Chromium/", "Chromium"},
		{"Chrome/", "Chromium"}, {"CriOS/", "Chromium"}, {"Safari/", "Safari"}}
	toldDevices = [][2]string{{"iPhone", "iPhone"}, {"iPad", "iPad"}, {"Android", "Android"}, {"CrOS", "Chromebook"},
		{"Windows", "Windows"}, {"Mac OS X", "Mac"}, {"Linux", "Linux"}}
)

// deviceWords says in a few words from which browser and device a request came,
// such as "Chromium on Android". Browsers of one engine are called by its name.
func deviceWords(userAgent string) string {
	userAgent = userAgent[:min(len(userAgent), longestName)]
	find := func(told [][2]string, none string) string {
		for _, t := range told {
			if strings.Contains(userAgent, t[0]) {
				return t[1]
			}
		}
		return none
	}
	return find(toldBrowsers, "A program") + " on " + find(toldDevices, "an unknown device")
}
