// Reading the square of a label with the camera of this phone, where the browser can. The camera is
// asked for when it is pressed, and closed with the first square or by the same press.
import { el } from "./dom.mjs";

/** Puts the press beside the box for a tag, if this browser reads squares. */
export async function scanning(box) {
  const formats = await globalThis.BarcodeDetector?.getSupportedFormats?.().catch(() => []);
  if (!formats?.includes("qr_code") || !navigator.mediaDevices?.getUserMedia) return;
  const said = el("p", { role: "status", class: "note" });
  const picture = el("video", { class: "full", muted: true, playsInline: true, hidden: true, "aria-label": "What the camera sees" });
  let camera = null;
  const stop = () => {
    camera?.getTracks().forEach((track) => track.stop());
    camera = null;
    picture.hidden = true;
    press.textContent = "Scan a label";
  };
  const press = el("button", { type: "button", class: "btn second full", id: "scan", onclick: async () => {
    if (camera) return stop();
    try {
      camera = await navigator.mediaDevices.getUserMedia({ video: { facingMode: "environment" } });
    } catch {
      said.textContent = "The camera is not open to this page. Type the code that stands beside the square.";
      return box.focus();
    }
    press.textContent = "Stop the camera";
    said.textContent = "Hold the square of the label into the picture.";
    picture.srcObject = camera;
    picture.hidden = false;
    // The first picture may be long in coming; a square is looked for from the first on.
    picture.play().catch(() => {});
    const text = await read(picture, () => camera);
    stop();
    if (text) found(text, box, said);
  } }, "Scan a label");
  box.closest(".field-group").after(press, picture, said);
  addEventListener("pagehide", stop);
}

/** The text of the first square; null once the camera is closed. */
async function read(picture, open) {
  const detector = new globalThis.BarcodeDetector({ formats: ["qr_code"] });
  while (open()) {
    const [square] = await detector.detect(picture).catch(() => []);
    if (square?.rawValue) return square.rawValue;
    await new Promise((done) => setTimeout(done, 200));
  }
  return null;
}

/** A link of ours is followed; anything else is looked for as if it had been typed. */
function found(text, box, said) {
  const link = URL.canParse(text) ? new URL(text) : null;
  said.textContent = `Read: ${text.slice(0, 80)}`;
  if (link?.origin === location.origin && link.pathname.startsWith("/q/")) return location.assign(link.pathname);
  const own = /^https?:.*\/q\/([0-9A-Za-z-]{8,12})$/.exec(text);
  box.value = (own?.[1] ?? text).slice(0, 200);
  return box.form.requestSubmit();
}
