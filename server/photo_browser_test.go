package server_test

import (
	"encoding/base64"
	"fmt"
	"testing"

	"github.com/chromedp/chromedp"

	"gaugebook/records"
	"gaugebook/server/picture"
	"gaugebook/server/picture/picturetest"
	"gaugebook/server/servertest"
)

// choose puts a file into the photo field as a person does who picks one.
func (b *browser) choose(name, kind string, file []byte) {
	b.t.Helper()
	b.js(fmt.Sprintf(`(async () => {
		const bytes = Uint8Array.from(atob(%q), (c) => c.charCodeAt(0));
		const picked = new DataTransfer();
		picked.items.add(new File([bytes], %q, { type: %q }));
		const field = document.getElementById("photo-file");
		field.files = picked.files;
		field.dispatchEvent(new Event("change", { bubbles: true }));
	})() && true`, base64.StdEncoding.EncodeToString(file), name, kind))
}

func (b *browser) photos(id string) []records.Photo {
	b.t.Helper()
	r, err := b.site.Store.Records.Record(b.t.Context(), id)
	if err != nil {
		b.t.Fatal(err)
	}
	return r.Photos
}

const photoState = `document.querySelector("[data-photo-state]").textContent`

func TestPhotosInABrowser(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	b := openBrowser(t, site, records.RoleEngineer)
	b.open("/records/" + r.ID + "/sections/flue")
	b.until("the module is there", `document.querySelector("[data-photo-send]").hidden`)

	// Twelve megapixels, held picturetest.Upright: smaller, turned and stripped before it
	// is sent.
	file := picturetest.WithExif(picturetest.JPEG(t, picturetest.Quarters(4000, 3000)), 6)
	b.js(fmt.Sprintf(`(async () => {
		const { shrink } = await import(document.querySelector('script[src*="photo.js"]').src);
		const bytes = Uint8Array.from(atob(%q), (c) => c.charCodeAt(0));
		const small = await shrink(new File([bytes], "a.jpg", { type: "image/jpeg" }));
		const m = await createImageBitmap(small);
		window.shrunk = m.width === 1200 && m.height === 1600 && small.type === "image/jpeg" && small.size < 400000 && !(await small.text()).includes("GPS");
	})() && true`, base64.StdEncoding.EncodeToString(file)))
	b.until("made smaller on the phone", `window.shrunk === true`)
	b.js(`(() => { document.getElementById("photo-caption").value = "Terminal"; return true })()`)
	b.choose("IMG_0001.JPG", "image/jpeg", file)
	b.until("the photo is in the strip", `document.querySelector("#photos img")`)
	// pictures load when they come into sight
	b.js(`(() => { document.querySelector("#photos img").scrollIntoView(); return true })()`)
	b.until("the photo is on the page", `document.querySelector("#photos img")?.naturalWidth === 1200 && `+photoState+
		`.includes("Photo added")`)
	kept := b.photos(r.ID)
	if len(kept) != 1 || kept[0].Caption != "Terminal" || kept[0].Width != 1200 || kept[0].Height != 1600 {
		t.Fatalf("kept %+v", kept)
	}
	data, err := site.Store.Photos.Picture(kept[0].SHA256)
	if err != nil || picturetest.Corners(t, data) != picturetest.Upright[6] {
		t.Errorf("kept as %s, %v", picturetest.Corners(t, data), err)
	}

	// The form that was open all along saves as if nothing had happened.
	b.set("flue.length_m", "2.4")
	b.untilSays("Saved")

	// Where there is no signal the photo waits on the page.
	site.Down.Store(true)
	b.choose("IMG_0002.JPG", "image/jpeg", picturetest.JPEG(t, picturetest.Quarters(300, 200)))
	b.until("says that it waits", photoState+`.includes("no connection")`)
	site.Down.Store(false)
	b.js(`(() => { document.querySelector("[data-photo-state] button").click(); return true })()`)
	b.until("sent at the second try", `document.querySelectorAll("#photos img").length === 2`)

	// What is no photo is refused in words, and the next one goes through.
	b.choose("notes.jpg", "image/jpeg", []byte("dear diary, this is no picture"))
	b.until("refused in words", `document.querySelector("#photos .error")?.textContent.includes("is not a photo")`)
	b.choose("IMG_0003.PNG", "image/png", picturetest.PNG(t, picturetest.Quarters(200, 300)))
	b.until("the next one goes through",
		`document.querySelectorAll("#photos img").length === 3 && !document.querySelector("#photos .error")`)

	// Captions and removing.
	first := "#photo-" + kept[0].SHA256 + " "
	b.js(`(() => { const li = document.querySelector("` + first +
		`"); li.querySelector("input[name=caption]").value = "Terminal from below"; li.querySelector("button[value=caption]").click(); return true })()`)
	b.until("the caption is saved", photoState+`.includes("Caption saved") && document.querySelector("`+first+
		`img").alt === "Terminal from below"`)
	b.js(`(() => { document.querySelector("` + first + `button[value=remove]").click(); return true })()`)
	b.until("the photo is gone", `document.querySelectorAll("#photos img").length === 2`)
	if kept := b.photos(r.ID); len(kept) != 2 {
		t.Errorf("kept %+v", kept)
	}
}

// Without script: the plain form, with a real browser's own encoding.
func TestPhotoWithoutScript(t *testing.T) {
	site := servertest.Start(t)
	r := site.Draft()
	b := openBrowser(t, site, records.RoleEngineer)
	b.open("/records/" + r.ID + "/sections/flue")
	b.until("the module is there", `document.querySelector("[data-photo-send]").hidden`)
	b.js(fmt.Sprintf(`(() => {
		const bytes = Uint8Array.from(atob(%q), (c) => c.charCodeAt(0));
		const picked = new DataTransfer();
		picked.items.add(new File([bytes], "a.jpg", { type: "image/jpeg" }));
		document.getElementById("photo-camera").files = picked.files;
		document.querySelector("[data-photo-add]").submit(); // no submit event: script sees nothing of it
		return true;
	})()`, base64.StdEncoding.EncodeToString(picturetest.WithExif(picturetest.JPEG(t, picturetest.Quarters(800, 600)), 8))))
	b.until("the page comes back with the photo",
		`location.hash === "#photos" && document.querySelector("#photos img")?.naturalWidth === 600`)
}

// The eight orientations, held against what a browser shows of the same files.
func TestOrientationsInABrowser(t *testing.T) {
	site := servertest.Start(t)
	b := openBrowser(t, site, records.RoleEngineer)
	b.open("/")
	for orientation := 1; orientation <= 8; orientation++ {
		file := picturetest.WithExif(picturetest.JPEG(t, picturetest.Quarters(120, 80)), orientation)
		seen, err := chromedp.Run(b.ctx, chromedp.Evaluate[string](fmt.Sprintf(`(async () => {
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
