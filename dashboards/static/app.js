// Small comforts. Every page works without this file.
(() => {
  "use strict";
  const root = document.documentElement;
  const kept = (key) => { try { return localStorage.getItem(key); } catch { return null; } };
  const keep = (key, value) => { try { localStorage.setItem(key, value); } catch { /* private mode */ } };

  // Day or dark gallery: follows the device until a person chooses.
  const dark = () => root.dataset.light === "night" ||
    (root.dataset.light !== "day" && matchMedia("(prefers-color-scheme: dark)").matches);
  if (kept("light")) root.dataset.light = kept("light");
  const toggle = document.createElement("button");
  toggle.className = "quiet";
  toggle.type = "button";
  const name = () => { toggle.textContent = dark() ? "light page" : "dark gallery"; };
  toggle.addEventListener("click", () => {
    root.dataset.light = dark() ? "day" : "night";
    keep("light", root.dataset.light);
    name();
  });
  name();
  document.querySelector(".foot")?.append(toggle);

  // A name typed once stands in every form of this device.
  for (const field of document.querySelectorAll("[data-remember]")) {
    const key = `remember-${field.dataset.remember}`;
    field.value ||= kept(key) ?? "";
    field.addEventListener("change", () => keep(key, field.value));
  }

  // Whoever signs out leaves no page behind; looks that wait to be sent stay.
  document.querySelector("form[action='/sign-out']")?.addEventListener("submit", () => {
    window.caches?.keys().then((names) => { for (const one of names) caches.delete(one); });
  });

  // The zone of this device's clock is offered where none is written down yet.
  for (const field of document.querySelectorAll("[data-own-zone]")) {
    field.value ||= Intl.DateTimeFormat().resolvedOptions().timeZone ?? "";
  }

  // A chosen room shows at once.
  for (const field of document.querySelectorAll("[data-submit]")) {
    field.addEventListener("change", () => field.form.submit());
  }

  // Weeks by the arrow keys.
  document.addEventListener("keydown", (event) => {
    if (event.target.closest("input, select, textarea") || event.altKey || event.ctrlKey || event.metaKey) return;
    const step = { ArrowLeft: "prev", ArrowRight: "next" }[event.key];
    if (step) document.querySelector(`a[rel="${step}"]`)?.click();
  });

  // How far an upload has got.
  const upload = document.querySelector("form.upload");
  const told = upload?.querySelector("[data-progress]");
  upload?.addEventListener("submit", (event) => {
    event.preventDefault();
    const request = new XMLHttpRequest();
    request.open("POST", upload.action);
    request.upload.addEventListener("progress", (sent) => {
      told.hidden = false;
      told.textContent = sent.loaded < sent.total
        ? `Sent ${Math.round(100 * sent.loaded / sent.total)} %` : "Reading it…";
    });
    request.addEventListener("load", () => {
      history.pushState(null, "", request.responseURL);
      document.open(); document.write(request.responseText); document.close();
    });
    request.addEventListener("error", () => {
      told.hidden = false;
      told.textContent = "The file did not arrive. Nothing was stored; please send it again.";
    });
    request.send(new FormData(upload));
  });
})();
