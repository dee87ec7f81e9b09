// The round for one thumb: a grade is saved where one stands, kept while there is no connection,
// sent once. Every form works without this file.
(() => {
  "use strict";
  // A house among several keeps its looks apart, and its addresses begin with its own.
  const HOME = document.body.dataset.home ?? "/";
  const at = (address) => (address?.startsWith(HOME) ? address : HOME + address.slice(1));
  const WAITING = HOME === "/" ? "looks-waiting" : `looks-waiting ${HOME}`;
  const bar = document.querySelector(".told");
  const connection = document.querySelector("#connection");
  if (!bar || !connection) return;
  const word = window.stilltautWord ?? ((words) => words);
  const read = () => { try { return JSON.parse(localStorage.getItem(WAITING) ?? "[]"); } catch { return []; } };
  const write = (looks) => { try { localStorage.setItem(WAITING, JSON.stringify(looks)); return true; } catch { return false; } };

  // What is said at the top: built from text, never from markup.
  const say = (...parts) => { bar.replaceChildren(...parts); bar.hidden = false; };
  const text = (words) => { const span = document.createElement("span"); span.textContent = words; return span; };
  const button = (words, act) => {
    const made = document.createElement("button");
    made.type = "button"; made.className = "quiet"; made.textContent = words;
    made.addEventListener("click", act);
    return made;
  };
  const tell = () => {
    const looks = read();
    const parts = [];
    if (looks.length) parts.push(text(looks.length === 1
      ? word("One look is kept on this phone; it is sent when there is a connection.")
      : word("{many} looks are kept on this phone; they are sent when there is a connection.", { many: looks.length })),
      button(word("Send now"), send));
    if (!window.isSecureContext) parts.push(text(word(
      "At this address the browser keeps no page for later: where there is no connection, take the printed round.")));
    if (!looks.length && localStorage.getItem("remember-by")) parts.push(button(word("Clear this phone"), clear));
    connection.replaceChildren(...parts);
    connection.hidden = !parts.length;
  };

  // A work that was looked at moves out of the way; the next one to look at first is offered.
  const items = () => [...document.querySelectorAll("li[data-work]")];
  const put = (item) => {
    item.querySelector("details.say")?.removeAttribute("open");
    const seen = item.closest("section")?.querySelector(".seen-now");
    if (!seen) return;
    seen.hidden = false;
    seen.querySelector("ol").append(item);
    item.dataset.done = "yes";
  };
  const next = (from) => {
    const open = items().filter((item) => !item.dataset.done);
    const after = open.filter((item) => from.compareDocumentPosition(item) & Node.DOCUMENT_POSITION_FOLLOWING);
    const first = (list) => list.find((item) => item.dataset.first);
    return first(after) ?? first(open) ?? after[0];
  };
  // Where a page shows a part of the round, what was the last one here need not be the last of all.
  const last = () => {
    const part = connection.dataset.part;
    if (part === undefined) return text(word("That was the last one."));
    const said = text(`${word("That was the last one on this page.")} `);
    if (part) {
      const link = document.createElement("a");
      link.href = part; link.textContent = word("The rooms after these");
      said.append(link);
    }
    return said;
  };
  const offered = (following) => {
    if (!following) return last();
    const link = document.createElement("a");
    link.href = `#${following.id}`;
    link.textContent = word("Next: {title}, {room}", following.dataset);
    link.addEventListener("click", (event) => {
      event.preventDefault();
      following.querySelector("details.say")?.setAttribute("open", "");
      following.scrollIntoView({ block: "start" });
    });
    return link;
  };

  // A photograph is made small here, and without where it was taken; it travels as text.
  const LONG_SIDE = 1600;
  const small = async (file) => {
    if (!(file instanceof File) || !file.size) return "";
    const picture = await createImageBitmap(file);
    const scale = Math.min(1, LONG_SIDE / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
    return canvas.toDataURL("image/jpeg", 0.8);
  };
  // What a look did to an estimate that had said otherwise is told once it has been worked out.
  const follow = async (address, tries = 60) => {
    const line = document.createElement("p");
    line.className = "answered";
    bar.append(line);
    while (address && tries-- && line.isConnected) {
      await new Promise((done) => setTimeout(done, 2000));
      try {
        const found = await (await fetch(address, { headers: { Accept: "application/json" } })).json();
        line.textContent = found.answer;
        if (found.done) return;
      } catch { return; }
    }
  };

  // One look: sent with the instant of the tap, which names it together with work and person.
  // What this browser's forms send back goes beside it: a page kept on the phone, or a look kept
  // before somebody else signed in, may hold an older one, so it is asked for anew once.
  let token = document.querySelector("input[name=form_token]")?.value ?? "";
  const once = (address, fields) => fetch(address, {
    method: "POST", headers: { Accept: "application/json", "X-Form-Token": token }, body: new URLSearchParams(fields), redirect: "manual",
  });
  const post = async (address, fields) => {
    const answer = await once(address, fields);
    if (answer.status !== 403) return answer;
    token = (await (await fetch(at("/form-token"), { headers: { Accept: "application/json" } })).json()).token;
    return once(address, fields);
  };
  const answered = async (look) => {
    let answer;
    try { answer = await post(look.address, look.fields); } catch { return { kept: true }; }
    const json = (answer.headers.get("content-type") ?? "").includes("json");
    const refused = { 401: word("You are signed out: sign in to send it."), 403: word("Your account may not send it.") }[answer.status];
    if (answer.type === "opaqueredirect" || !json || answer.status >= 500 || refused) return { kept: true, why: refused };
    return { status: answer.status, body: await answer.json() };
  };
  const keep = (look) => write([...read().filter((one) => one.id !== look.id), look]);
  const drop = (look) => write(read().filter((one) => one.id !== look.id));

  const deliver = async (look, item) => {
    // Where this phone has no room for a photograph, the look itself is kept without it.
    const whole = keep(look);
    const kept = whole || (look.fields.photograph && keep({ ...look, fields: { ...look.fields, photograph: "" } }));
    const found = await answered(look);
    const following = item && next(item);
    if (found.kept) {
      say(text(kept ? [word("Kept on this phone: {title}, {grade}.", { title: look.title, grade: look.fields.grade }),
        whole ? "" : word("Its photograph is not: there is no room for it."), found.why].filter(Boolean).join(" ")
        : word("Not saved: there is no connection and this phone keeps nothing. Write it on paper.")),
        ...(kept && item ? [offered(following)] : []));
      if (kept && item) put(item);
      return tell();
    }
    drop(look);
    if (found.status === 409) {
      const again = (how) => button(how === "instead" ? word("It replaces the first") : word("Both count"),
        () => deliver({ ...look, fields: { ...look.fields, again: how } }, item));
      say(text(found.body.question), again("instead"), again("both"));
    } else if (found.status >= 400) {
      const problem = found.body;
      say(text(word("Not saved: {why}", { why: problem.detail ?? problem.title ?? word("it was not understood") })));
    } else {
      const undo = button(word("Undo"), async () => {
        try {
          if (!(await post(at(found.body.undo), { back: location.pathname })).ok) return say(text(word("It was not taken back: do it on the page of the work.")));
        } catch { return say(text(word("There is no connection: undo it on the page of the work."))); }
        say(text(word("Taken back: {title}.", { title: look.title })));
        if (item) { delete item.dataset.done; document.querySelector(`#${CSS.escape(item.dataset.home)}`)?.append(item); }
      });
      const parts = [text(word("Saved: {look}", { look: found.body.saved })), undo];
      if (item) { home(item); put(item); parts.push(offered(following)); }
      if (found.body.loose) { const caution = document.createElement("p"); caution.textContent = connection.dataset.cautions; parts.push(caution); }
      say(...parts);
      follow(found.body.answer && at(found.body.answer));
    }
    tell();
  };
  // Where the clock is declared it stands still: looks are dated within the minutes before it.
  const declared = connection.dataset.declared;
  const instant = () => (declared
    ? new Date(Date.parse(declared) - 500_000 + (Date.now() % 500_000)) : new Date()).toISOString();
  let lists = 0;
  const home = (item) => {
    const list = item.parentElement;
    list.id ||= `list-${++lists}`;
    item.dataset.home ??= list.id;
  };

  document.addEventListener("submit", async (event) => {
    const form = event.target.closest("form.grade");
    const item = form?.closest("li[data-work]");
    if (!item) return;
    event.preventDefault();
    const fields = Object.fromEntries(new FormData(form, event.submitter));
    delete fields.form_token;
    if (!fields.at) fields.at = instant();
    try { fields.photograph = await small(fields.photograph); } catch {
      return say(text(word("Not saved: this photograph cannot be read. Choose another, or send the look without it.")));
    }
    if (!fields.photograph) delete fields.photograph;
    const id = `${item.dataset.work} ${fields.at} ${fields.by}`;
    home(item);
    deliver({ id, address: form.getAttribute("action"), title: item.dataset.title, fields }, item);
  });

  const send = async () => { for (const look of read()) await deliver(look, null); };
  const clear = async () => {
    try { localStorage.removeItem("remember-by"); localStorage.removeItem(WAITING); } catch { /* private mode */ }
    if (window.caches) for (const name of await caches.keys()) await caches.delete(name);
    for (const field of document.querySelectorAll("[data-remember]")) field.value = "";
    say(text(word("This phone keeps no name and no page any more.")));
    tell();
  };
  addEventListener("online", send);
  if ("serviceWorker" in navigator && window.isSecureContext) navigator.serviceWorker.register(connection.dataset.worker);
  tell();
  if (navigator.onLine && read().length) send();
})();
