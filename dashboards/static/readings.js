// The values of a picture at an hour: by pointer, finger or arrow keys. The words come finished with
// the page; nothing is reckoned or worded here, and the page says all that matters without this file.
(() => {
  "use strict";
  // Numbers from their steps: a step, how often it comes, the next one.
  const numbers = (steps) => {
    const found = [];
    for (let i = 0, last = 0; i < steps.length; i += 2) {
      for (let times = steps[i + 1]; times > 0; times -= 1) found.push(last += steps[i]);
    }
    return found;
  };

  // What can be read: for each line its places along the picture, and the words of a place.
  const linesOf = (text) => {
    const { times, lines } = JSON.parse(text);
    const opened = ([words, steps]) => [words, numbers(steps)];
    const worded = ([words, places], at) => words[places.length ? places[at] : 0];
    const clocks = times.map(({ at, length, ...own }) => ({
      places: numbers(at).map((minutes) => minutes / length),
      day: 24 * 60 / length,
      words: Object.entries(own).map(([name, found]) => [name, opened(found)]),
    }));
    return Object.fromEntries(Object.entries(lines).map(([key, line]) => {
      const own = Object.entries(line.words).map(([name, found]) => [name, opened(found)]);
      const known = Object.fromEntries([...clocks[line.times].words, ...own]);
      const say = opened(line.say);
      const words = (at) => worded(say, at)
        .replace(/\{(\w+)\}/g, (_, name) => name === "name" ? line.name : worded(known[name], at));
      const { places, day } = clocks[line.times];
      return [key, { places, day, words }];
    }));
  };

  // The place of a line that lies nearest to a part of the whole.
  const nearest = (places, wanted) => {
    let [first, last] = [0, places.length - 1];
    while (last - first > 1) {
      const middle = (first + last) >> 1;
      if (places[middle] < wanted) first = middle; else last = middle;
    }
    return wanted - places[first] <= places[last] - wanted ? first : last;
  };

  const within = (value, low, high) => Math.min(Math.max(value, low), high);

  const PAUSE_MS = 3000;  // after values could not be loaded, before they are asked for again

  const ALONG_KEYS = ["ArrowLeft", "ArrowRight", "Home", "End", "PageUp", "PageDown"];
  const READING_KEYS = [...ALONG_KEYS, "ArrowUp", "ArrowDown"];

  // Arrow keys: one value on, a day on, to either end.
  const moved = (key, at, { places, day }) => {
    const days = (by) => nearest(places, within(places[at] + by * day, 0, 1));
    const steps = {
      ArrowLeft: () => at - 1, ArrowRight: () => at + 1, Home: () => 0, End: () => places.length - 1,
      PageUp: () => days(-1), PageDown: () => days(1),
    };
    return steps[key] ? within(steps[key](), 0, places.length - 1) : at;
  };

  const made = (name, classes, into) => {
    const one = document.createElement(name);
    one.className = classes;
    into.append(one);
    return one;
  };

  for (const whole of document.querySelectorAll("[data-readable]")) {
    const script = whole.querySelector("script.values");
    if (!script && !whole.dataset.values) continue;
    const source = sourceOf(script, whole.dataset.values);
    const aloud = made("p", "hidden", whole);  // told to who hears the page, by keys and taps alone
    aloud.setAttribute("role", "status");
    for (const figure of whole.querySelectorAll("figure.picture")) {
      const svg = figure.querySelector("svg[data-boxes]");
      if (svg) readable(figure, svg, source, aloud, whole.dataset);
    }
    for (const strip of whole.querySelectorAll("[data-line]")) {
      readableStrip(strip, source, aloud, whole.dataset.failed);
    }
  }

  // The lines of pictures: with the page, or from an address that is asked when one is touched first.
  function sourceOf(script, address) {
    const source = { lines: script ? linesOf(script.textContent) : null };
    let [asked, waiting, failedAt] = [false, [], -Infinity];
    const load = async () => {
      const answer = await fetch(address, { credentials: "same-origin" });
      if (!answer.ok) throw new Error(String(answer.status));
      source.lines = linesOf(await answer.text());
    };
    // Does what a touch wants as soon as the lines are there; ``failed`` says that they are not.
    source.then = (act, failed) => {
      if (source.lines) return act();
      if (performance.now() - failedAt < PAUSE_MS) return failed();
      waiting.push({ act, failed });
      if (asked) return undefined;
      asked = true;
      const done = (what) => { asked = false; for (const one of waiting.splice(0)) one[what](); };
      return load().then(() => done("act"), () => { failedAt = performance.now(); done("failed"); });
    };
    source.forget = () => { waiting = []; };
    return source;
  }

  function readable(figure, svg, source, aloud, { readable: name, hint, failed, rows }) {
    const boxes = JSON.parse(svg.dataset.boxes);
    const keysOf = () => Object.keys(boxes)
      .filter((key) => source.lines ? source.lines[key]?.places.length : true)
      .sort((one, other) => boxes[one][1] - boxes[other][1]);
    let keys = keysOf();
    if (!keys.length) return;
    const top = Math.min(...keys.map((key) => boxes[key][1]));
    const bottom = Math.max(...keys.map((key) => boxes[key][1] + boxes[key][3]));
    const [left, , width] = boxes[keys[0]];

    figure.removeAttribute("tabindex");
    const stage = document.createElement("div");
    stage.className = "stage";
    svg.replaceWith(stage);
    stage.append(svg);
    const cursor = made("div", "cursor", stage);
    const percent = (part) => `${100 * part}%`;
    Object.assign(cursor.style, {
      left: percent(left), width: percent(width), top: percent(top), height: percent(bottom - top),
    });
    cursor.tabIndex = 0;
    for (const [attribute, value] of Object.entries({
      role: "slider", "aria-label": name, "aria-valuemin": "0", "aria-valuemax": "0",
      "aria-valuenow": "0",
    })) cursor.setAttribute(attribute, value);
    const along = made("div", rows ? "along row" : "along", cursor);  // of a row of fields, its own
    along.hidden = true;
    const told = document.createElement("p");
    told.className = "reading";
    told.setAttribute("aria-hidden", "true");
    stage.before(told);
    const resting = figure.classList.contains("glance") ? "" : hint;
    told.textContent = resting;

    let [key, at] = [keys[0], null];
    const last = () => source.lines[key].places.length - 1;
    const begun = () => {
      keys = keysOf();
      if (!keys.includes(key)) key = keys[0];
      at ??= key === undefined ? null : last();
      return at !== null;
    };
    const show = (heard) => {
      const { places, words } = source.lines[key];
      along.hidden = false;
      along.style.left = percent(places[at]);
      if (rows) {
        along.style.top = percent((boxes[key][1] - top) / (bottom - top));
        along.style.height = percent(boxes[key][3] / (bottom - top));
      }
      told.textContent = words(at);
      told.classList.add("told");
      cursor.setAttribute("aria-valuemax", places.length - 1);
      cursor.setAttribute("aria-valuenow", at);
      cursor.setAttribute("aria-valuetext", words(at));
      if (heard) aloud.textContent = words(at);
    };
    const rest = () => {
      along.hidden = true;
      told.classList.remove("told");
      told.textContent = resting;
    };
    if (source.lines && begun()) {
      cursor.setAttribute("aria-valuemax", last());
      cursor.setAttribute("aria-valuenow", at);
      cursor.setAttribute("aria-valuetext", source.lines[key].words(at));
    } else {
      cursor.setAttribute("aria-valuetext", hint);
    }
    const notLoaded = () => {
      told.textContent = aloud.textContent = failed;
      told.classList.add("told");
    };
    const once = (act) => source.then(() => { if (begun()) act(); }, notLoaded);

    const pointed = (event) => once(() => {
      const box = stage.getBoundingClientRect();
      const [x, y] = [(event.clientX - box.left) / box.width, (event.clientY - box.top) / box.height];
      const far = (one) => Math.max(boxes[one][1] - y, y - boxes[one][1] - boxes[one][3], 0);
      key = keys.reduce((best, one) => far(one) < far(best) ? one : best);
      at = nearest(source.lines[key].places, within((x - left) / width, 0, 1));
      show(event.type === "pointerdown");
    });
    stage.addEventListener("pointermove", pointed);
    stage.addEventListener("pointerdown", pointed);
    stage.addEventListener("pointerleave", (event) => {
      if (event.pointerType !== "mouse" || document.activeElement === cursor) return;
      source.forget();
      rest();
    });
    cursor.addEventListener("focus", () => once(() => show(true)));
    cursor.addEventListener("blur", () => { source.forget(); rest(); });
    cursor.addEventListener("keydown", (event) => {
      if (event.altKey || event.ctrlKey || event.metaKey || !READING_KEYS.includes(event.key)) return;
      event.preventDefault();
      once(() => {
        const line = { ArrowUp: -1, ArrowDown: 1 }[event.key];
        const part = source.lines[key].places[at];
        const next = moved(event.key, at, source.lines[key]);
        if (line) key = keys[within(keys.indexOf(key) + line, 0, keys.length - 1)];
        at = line ? nearest(source.lines[key].places, part) : next;
        show(true);
      });
    });
  }

  // A strip that leads to its work: its values stand for a while where its facts do.
  function readableStrip(strip, source, aloud, failed) {
    const key = strip.dataset.line;
    const mute = () => source.lines && !source.lines[key]?.places.length;
    if (mute()) return;
    const [link, line, facts] = ["a", ".line", ".facts"].map((one) => strip.querySelector(one));
    const resting = facts.textContent;
    const along = made("span", "along", line);
    along.hidden = true;
    let at = null;
    const show = (heard) => {
      const { places, words } = source.lines[key];
      along.hidden = false;
      along.style.left = `${100 * places[at]}%`;
      facts.textContent = words(at);
      facts.classList.add("read");
      if (heard) aloud.textContent = words(at);
    };
    const rest = () => {
      at = null;
      along.hidden = true;
      facts.textContent = resting;
      facts.classList.remove("read");
    };
    const notLoaded = () => { facts.textContent = aloud.textContent = failed; };
    const once = (act) => source.then(() => { if (!mute()) act(source.lines[key].places); },
      notLoaded);
    const pointed = (event) => once((places) => {
      const box = line.getBoundingClientRect();
      at = nearest(places, within((event.clientX - box.left) / box.width, 0, 1));
      show(event.type === "pointerdown");
    });
    link.addEventListener("pointermove", pointed);
    link.addEventListener("pointerdown", pointed);
    const left = () => { source.forget(); rest(); };
    link.addEventListener("pointerleave", (event) => { if (event.pointerType === "mouse") left(); });
    link.addEventListener("blur", left);
    link.addEventListener("keydown", (event) => {
      if (event.altKey || event.ctrlKey || event.metaKey || !ALONG_KEYS.includes(event.key)) return;
      event.preventDefault();
      once((places) => {
        at = at === null ? places.length - 1 : moved(event.key, at, source.lines[key]);
        show(true);
      });
    });
  }
})();
