package engineer_test

import (
	"encoding/base64"
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"

	"gaugebook/records"
	"gaugebook/server/picture"
	"gaugebook/server/picture/picturetest"
	"gaugebook/server/servertest"
	"gaugebook/server/servertest/browser"
)

// choose puts a file into the photo field as a person does who picks one.
func choose(t *testing.T, b *browser.Tab, name, kind string, file []byte) {
	t.Helper()
	b.JS(fmt.Sprintf(`(async () => {
		const bytes = Uint8Array.from(atob(%q), (c) => c.charCodeAt(0));
		const picked = new DataTransfer();
		picked.items.add(new File([bytes], %q, { type: %q }));
		const field = document.getElementById("photo-file");
		field.files = picked.files;
		field.dispatchEvent(new Event("change", { bubbles: true }));
	})() && true`, base64.StdEncoding.EncodeToString(file), name, kind))
}

func photos(t *testing.T, site *servertest.Site, id string) []records.Photo {
	t.Helper()
	r, err := site.Store.Records.Record(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	return r.Photos
}

const photoState = `document.querySelector("[data-photo-state]").textContent`

func TestPhotosInABrowser(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	b := browser.Open(t, site, records.RoleEngineer)
	b.Go("/records/" + r.ID + "/sections/flue")
	b.Until("the module is there", `document.querySelector("[data-photo-send]").hidden`)

	// Twelve megapixels, held upright: smaller, turned and stripped before it
	// is sent.
	file := picturetest.WithExif(picturetest.JPEG(t, picturetest.Quarters(4000, 3000)), 6)
	b.JS(fmt.Sprintf(`(async () => {
		const { shrink } = await import(document.querySelector('script[src*="photo.js"]').src);
		const bytes = Uint8Array.from(atob(%q), (c) => c.charCodeAt(0));
		const small = await shrink(new File([bytes], "a.jpg", { type: "image/jpeg" }));
		const m = await createImageBitmap(small);
		window.shrunk = m.width === 1200 && m.height === 1600 && small.type === "image/jpeg" && small.size < 400000 && !(await small.text()).includes("GPS");
	})() && true`, base64.StdEncoding.EncodeToString(file)))
	b.Until("made smaller on the phone", `window.shrunk === true`)
	b.JS(`(() => { document.getElementById("photo-caption").value = "Terminal"; return true })()`)
	choose(t, b, "IMG_0001.JPG", "image/jpeg", file)
	b.Until("the photo is in the strip", `document.querySelector("#photos img")`)
	// pictures load when they come into sight
	b.JS(`(() => { document.querySelector("#photos img").scrollIntoView(); return true })()`)
	b.Until("the photo is on the page", `document.querySelector("#photos img")?.naturalWidth === 1200 && `+photoState+
		`.includes("Photo added")`)
	kept := photos(t, site, r.ID)
	if len(kept) != 1 || kept[0].Caption != "Terminal" || kept[0].Width != 1200 || kept[0].Height != 1600 {
		t.Fatalf("kept %+v", kept)
	}
	data, err := site.Store.Photos.Picture(kept[0].SHA256)
	if err != nil || picturetest.Corners(t, data) != picturetest.Upright[6] {
		t.Errorf("kept as %s, %v", picturetest.Corners(t, data), err)
	}

	// The form that was open all along saves as if nothing had happened.
	b.Set("flue.length_m", "2.4")
	b.UntilSays("Saved")

	// Where there is no signal the photo waits on the page.
	site.Down.Store(true)
	choose(t, b, "IMG_0002.JPG", "image/jpeg", picturetest.JPEG(t, picturetest.Quarters(300, 200)))
	b.Until("says that it waits", photoState+`.includes("no connection")`)
	site.Down.Store(false)
	b.JS(`(() => { document.querySelector("[data-photo-state] button").click(); return true })()`)
	b.Until("sent at the second try", `document.querySelectorAll("#photos img").length === 2`)

	// What is no photo is refused in words, and the next one goes through.
	choose(t, b, "notes.jpg", "image/jpeg", []byte("dear diary, this is no picture"))
	b.Until("refused in words", `document.querySelector("#photos .error")?.textContent.includes("is not a photo")`)
	choose(t, b, "IMG_0003.PNG", "image/png", picturetest.PNG(t, picturetest.Quarters(200, 300)))
	b.Until("the next one goes through",
		`document.querySelectorAll("#photos img").length === 3 && !document.querySelector("#photos .error")`)

	// Captions and removing.
	first := "#photo-" + kept[0].SHA256 + " "
	b.JS(`(() => { const li = document.querySelector("` + first +
		`"); li.querySelector("input[name=caption]").value = "Terminal from below"; li.querySelector("button[value=caption]").click(); return true })()`)
	b.Until("the caption is saved", photoState+`.includes("Caption saved") && document.querySelector("`+first+
		`img").alt === "Terminal from below"`)
	b.JS(`(() => { document.querySelector("` + first + `button[value=remove]").click(); return true })()`)
	b.Until("the photo is gone", `document.querySelectorAll("#photos img").length === 2`)
	if kept := photos(t, site, r.ID); len(kept) != 2 {
		t.Errorf("kept %+v", kept)
	}
}

// Without script: the plain form, with a real browser's own encoding.
func TestPhotoWithoutScript(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	b := browser.Open(t, site, records.RoleEngineer)
	b.Go("/records/" + r.ID + "/sections/flue")
	b.Until("the module is there", `document.querySelector("[data-photo-send]").hidden`)
	b.JS(fmt.Sprintf(`(() => {
		const bytes = Uint8Array.from(atob(%q), (c) => c.charCodeAt(0));
		const picked = new DataTransfer();
		picked.items.add(new File([bytes], "a.jpg", { type: "image/jpeg" }));
		document.getElementById("photo-camera").files = picked.files;
		document.querySelector("[data-photo-add]").submit(); // no submit event: script sees nothing of it
		return true;
	})()`, base64.StdEncoding.EncodeToString(picturetest.WithExif(picturetest.JPEG(t, picturetest.Quarters(800, 600)), 8))))
	b.Until("the page comes back with the photo",
		`location.hash === "#photos" && document.querySelector("#photos img")?.naturalWidth === 600`)
}

// The eight orientations, held against what a browser shows of the same files.
func TestOrientationsInABrowser(t *testing.T) {
	site := servertest.Start(t)
	b := browser.Open(t, site, records.RoleEngineer)
	b.Go("/")
	for orientation := 1; orientation <= 8; orientation++ {
		file := picturetest.WithExif(picturetest.JPEG(t, picturetest.Quarters(120, 80)), orientation)
		seen, err := chromedp.Run(b.Ctx, chromedp.Evaluate[string](fmt.Sprintf(`(async () => {
			const bytes = Uint8Array.from(atob(%q), (c) => c.charCodeAt(0));
			const m = await createImageBitmap(new Blob([bytes], { type: "image/jpeg" }), { imageOrientation: "from-image" });
			const pen = new OffscreenCanvas(m.width, m.height).getContext("2d");
			pen.drawImage(m, 0, 0);
			const name = (x, y) => { const [r, g, b] = pen.getImageData(x, y, 1, 1).data; return r > 128 && g > 128 ? "y" : r > 128 ? "r" : g > 128 ? "g" : b > 128 ? "b" : "?" };
			const w = m.width, h = m.height;
			return name(w / 4, h / 4) + name((w * 3) / 4, h / 4) + name(w / 4, (h * 3) / 4) + name((w * 3) / 4, (h * 3) / 4) + " " + w + "x" + h;
		})()`, base64.StdEncoding.EncodeToString(file)), chromedp.EvalAwaitPromise))
		if err != nil {
			t.Fatal(err)
		}
		pic, err := picture.Decode(file)
		if err != nil {
			t.Fatal(err)
		}
		if ours := fmt.Sprintf("%s %dx%d", picturetest.Corners(t, pic.JPEG), pic.Width, pic.Height); ours != seen {
			t.Errorf("orientation %d: we keep %s, a browser shows %s", orientation, ours, seen)
		}
	}
}
