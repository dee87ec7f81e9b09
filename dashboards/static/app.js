// Small comforts. Every page works without this file.
(() => {
  "use strict";
  const root = document.documentElement;
  const kept = (key) => { try { return localStorage.getItem(key); } catch { return null; } };
  const keep = (key, value) => { try { localStorage.setItem(key, value); } catch { /* private mode */ } };

  // What scripts say, in the language of the house; the page carries the words where it is not English.
  const known = JSON.parse(document.body?.dataset.words || "{}");
  const word = (text, values = {}) => Object.entries(values).reduce(
    (said, [name, value]) => said.replaceAll(`{${name}}`, value), known[text] ?? text);
  window.stilltautWord = word;

  // Day or dark gallery: follows the device until a person chooses.
  const dark = () => root.dataset.light === "night" ||
    (root.dataset.light !== "day" && matchMedia("(prefers-color-scheme: dark)").matches);
  if (kept("light")) root.dataset.light = kept("light");
  const toggle = document.createElement("button");
  toggle.className = "quiet";
  toggle.type = "button";
  const name = () => { toggle.textContent = word(dark() ? "light page" : "dark gallery"); };
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
  document.querySelector("form[action$='/sign-out']")?.addEventListener("submit", () => {
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
    if (event.defaultPrevented || event.target.closest("input, select, textarea") || event.altKey || event.ctrlKey || event.metaKey) return;
    const step = { ArrowLeft: "prev", ArrowRight: "next" }[event.key];
    if (step) document.querySelector(`a[rel="${step}"]`)?.click();
  });

  // Of several files one is sent by itself; what is typed for the others stays as it stands.
  const several = () => document.querySelectorAll("form.confirm .send").length > 1;
  const replaced = (page, selector) => {
    const [old, anew] = [document, page].map((one) => one.querySelector(selector));
    if (old && anew) old.replaceWith(document.adoptNode(anew));
    return anew;
  };
  document.addEventListener("submit", async (event) => {
    const form = event.target;
    if (!form.matches("form.confirm") || !several()) return;
    event.preventDefault();
    const sent = new URLSearchParams(new FormData(form, event.submitter));
    const address = event.submitter?.getAttribute("formaction") || form.getAttribute("action");
    const file = event.submitter.closest("article");
    for (const button of file.querySelectorAll("button")) button.disabled = true;
    file.setAttribute("aria-busy", "true");
    try {
      const answer = await fetch(address, { method: "POST", body: sent });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const anew = answer.ok && replaced(page, `[id="${file.id}"]`);
      if (!anew) throw new Error(page.querySelector("main")?.innerText || answer.statusText);
      replaced(page, "#told");
      anew.scrollIntoView();
      const heading = anew.querySelector("h2");
      heading.tabIndex = -1;
      heading.focus({ preventScroll: true });
    } catch (problem) {
      const told = document.createElement("p");
      told.className = "problem";
      told.setAttribute("role", "alert");
      told.textContent = `${problem.message.trim()} ${word("Nothing that was typed is lost.")}`;
      file.querySelector(".problem")?.remove();
      file.append(told);
      for (const button of file.querySelectorAll("button")) button.disabled = false;
      file.removeAttribute("aria-busy");
    }
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
        ? word("Sent {share} %", { share: Math.round(100 * sent.loaded / sent.total) }) : word("Reading it…");
    });
    request.addEventListener("load", () => {
      history.pushState(null, "", request.responseURL);
      document.open(); document.write(request.responseText); document.close();
    });
    request.addEventListener("error", () => {
      told.hidden = false;
      told.textContent = word("The file did not arrive. Nothing was stored; please send it again.");
    });
    request.send(new FormData(upload));
  });
})();
