"use strict";
/* No entry is lost: what can't be sent now stays on this device, and is sent exactly once when that can be done.

   An entry gets its key when it is sent, never from the page: a page kept for reading without a connection may be sent
   many times. The same entry tried again keeps its key, so the shop enters it once however often it arrives. */
(function () {
  var KEPT = "stockroom-kept:", OLDER = "stockroom-kept", SHIFT = "stockroom-clock", PATIENCE = 2000;
  var sign = document.getElementById("offline"), words = sign ? sign.dataset : {};
  var line = { up: true, signedIn: true, stale: false };
  var busy = false;

  /* What this device keeps: each entry under a name of its own, so that two open pages never write over each other. */
  function kept() {
    var found = [];
    for (var n = 0; n < localStorage.length; n += 1) {
      var name = localStorage.key(n);
      if (name.startsWith(KEPT)) { try { found.push(JSON.parse(localStorage.getItem(name))); } catch (wrong) { continue; } }
    }
    return found.sort(function (a, b) { return a.when < b.when ? -1 : a.when > b.when ? 1 : a.turn - b.turn; });
  }
  function put(entry) { localStorage.setItem(KEPT + entry.id, JSON.stringify(entry)); show(); }
  function drop(id) { localStorage.removeItem(KEPT + id); show(); }
  function change(entry, facts) { if (localStorage.getItem(KEPT + entry.id)) { put(Object.assign(entry, facts)); } }
  function keptBefore() {
    JSON.parse(localStorage.getItem(OLDER) || "[]").forEach(function (each, n) { put(Object.assign({ page: "", turn: n }, each)); });
    localStorage.removeItem(OLDER);
  }

  function newKey() {
    return Array.from(crypto.getRandomValues(new Uint8Array(16)), function (each) { return each.toString(16).padStart(2, "0"); }).join("");
  }

  /* The shop's clock, not the device's: the difference is noted whenever the shop answers. */
  function moment() {
    var time = new Date(Date.now() + Number(localStorage.getItem(SHIFT) || 0));
    return new Date(time.getTime() - time.getTimezoneOffset() * 60000).toISOString().slice(0, 19);
  }

  function within(milliseconds, promise) {
    return Promise.race([promise, new Promise(function (done, failed) { window.setTimeout(function () { failed(new Error("no answer")); }, milliseconds); })]);
  }

  /* Ask the shop for the session's token: whether it answers, who is signed in and what time it is come with it. */
  function hail() {
    return within(PATIENCE, fetch("/queue/token", { credentials: "same-origin", cache: "no-store" }).then(function (answer) { return answer.json(); })).then(function (said) {
      line.up = true;
      line.signedIn = said.signed_in;
      if (!said.signed_in) { throw new Error("not signed in"); }
      localStorage.setItem(SHIFT, String(new Date(said.now).getTime() - Date.now()));
      return said;
    }, function (wrong) { line.up = false; throw wrong; });
  }

  /* Send an entry: where to go next, or why it was refused; fails where nobody answers who could enter it. */
  function send(entry, token, later) {
    var headers = { "Content-Type": "application/x-www-form-urlencoded", "X-Stockroom-Token": token, "X-Stockroom-Queue": later ? "later" : "now" };
    return fetch(entry.url, { method: "POST", body: entry.body, keepalive: true, credentials: "same-origin", headers: headers }).then(function (answer) {
      if (answer.ok) { return answer.json().then(function (said) { if (!said.to) { throw new Error("not the shop"); } return said; }); }
      if (answer.status >= 502 && answer.status <= 504) { throw new Error("the book can't be reached: later"); }
      return answer.text().then(function (why) { return { fault: why || String(answer.status), doubt: answer.status === 409, barred: answer.status === 403 }; });
    });
  }

  /* A form open for long carries an outdated token: it is asked for anew, and somebody signed out is told so. */
  function sendNow(entry, token) {
    return send(entry, token, false).then(function (said) {
      return said.barred ? hail().then(function (now) { return send(entry, now.token, false); }) : said;
    });
  }

  function flush() {
    var waiting = kept().filter(function (each) { return !each.fault; });
    if (busy || !waiting.length) { return Promise.resolve(); }
    busy = true;
    return hail().then(function (now) {
      return waiting.reduce(function (before, each) {
        return before.then(function () {
          return send(each, now.token, true).then(function (said) {
            if (said.fault) { change(each, { fault: said.fault, doubt: said.doubt }); } else { drop(each.id); }
          });
        });
      }, Promise.resolve());
    }).catch(function () { return null; }).then(function () { busy = false; show(); });
  }

  /* What the page says of the connection and of what is kept. */
  function text(kind, said, style) {
    var made = document.createElement(kind);
    made.textContent = said;
    if (style) { made.className = style; }
    return made;
  }
  function link(said, address) { var made = text("a", said); made.href = address; return made; }

  function show() {
    if (!sign) { return; }
    var list = kept(), refused = list.filter(function (each) { return each.fault; }).length, said = [];
    if (!line.up) { said.push(text("span", words.down)); }
    if (line.up && !line.signedIn && list.length) { said.push(link(words.out, "/sign-in?then=" + encodeURIComponent(window.location.pathname + window.location.search))); }
    if (!line.up || line.stale) { said.push(text("span", words.from.replace("{time}", words.made))); }
    if (line.up && line.stale) { said.push(link(words.anew, window.location.href)); }
    if (list.length) { said.push(link(refused ? words.refused.replace("{n}", refused) : list.length === 1 ? words.one : words.many.replace("{n}", list.length), words.list)); }
    sign.hidden = !said.length;
    sign.replaceChildren.apply(sign, said.flatMap(function (each, n) { return n ? [" ", each] : [each]; }));
    var place = document.getElementById("kept");
    if (place) { place.replaceChildren.apply(place, list.length ? list.map(row) : [text("li", place.dataset.none)]); }
  }

  function row(entry) {
    var place = document.getElementById("kept");
    var made = text("li", "", "row"), what = text("div", "", "what");
    what.append(text("b", entry.label), " ", text("span", entry.when.replace("T", " "), "soft"));
    if (entry.fault) { what.append(document.createElement("br"), text("span", entry.fault, "mark bad")); }
    made.append(what);
    function named(control, said) { control.setAttribute("aria-label", said + ": " + entry.label); made.append(control); return control; }
    function button(said, style, act) {
      var pressed = named(text("button", said, style), said);
      pressed.type = "button";
      pressed.addEventListener("click", act);
    }
    if (entry.fault && entry.page) { named(link(place.dataset.mend, entry.page + (entry.page.includes("?") ? "&" : "?") + "mend=" + entry.id), place.dataset.mend).className = "button"; }
    if (entry.fault && entry.doubt) { button(place.dataset.sure, "quiet", function () { change(entry, { fault: "", body: entry.body + "&sure=yes" }); flush(); }); }
    button(place.dataset.again, "quiet", function () { change(entry, { fault: "" }); flush(); });
    button(place.dataset.drop, "quiet", function () { drop(entry.id); });
    return made;
  }

  /* Say something beside a form, in the place of what was said before. */
  function beside(form, said, bad) {
    var old = form.nextElementSibling;
    if (old && old.matches("[data-beside]")) { old.remove(); }
    if (!said) { return null; }
    var made = text("div", "", bad ? "notice bad" : "notice warn");
    made.dataset.beside = "";
    made.setAttribute("role", bad ? "alert" : "status");
    made.append(text("p", said));
    form.after(made);
    made.scrollIntoView({ block: "nearest" });
    return made;
  }

  /* Make an entry of a form. One that is being mended keeps the moment at which it really happened. */
  function entryOf(form, sure, by) {
    var mends = form.dataset.mends && JSON.parse(localStorage.getItem(KEPT + form.dataset.mends) || "null");
    var fields = new URLSearchParams(new FormData(form)), id = newKey(), when = mends ? mends.when : fields.get("happened") || moment();
    fields.delete("csrf");
    if (form.pressed && form.pressed.name) { fields.append(form.pressed.name, form.pressed.value); }  // it says what is meant
    fields.set("key", id);
    fields.set("happened", when);
    if (sure) { fields.set("sure", "yes"); }
    var page = window.location.pathname + window.location.search.replace(/[?&]mend=\w+/, "");
    return { id: id, url: (by || form).getAttribute(by ? "formaction" : "action"), body: fields.toString(), label: (by || form).dataset.keep, when: when, turn: Date.now(), page: page, fault: "" };
  }

  function keep(form, entry, said) {
    try { put(entry); } catch (full) { beside(form, words.full, true); return false; }
    mended(form);
    beside(form, said, false);
    return true;
  }

  function mended(form) {
    if (form.dataset.mends) { drop(form.dataset.mends); delete form.dataset.mends; }
  }

  function refuse(form, said, by) {
    var notice = beside(form, said.fault, true);
    if (!said.doubt) { return; }
    var sure = text("button", words.sure);
    sure.type = "button";
    sure.addEventListener("click", function () { enter(form, true, by); });
    notice.append(sure);
  }

  /* Enter a form's facts. Who waits more than a moment is told that the entry is kept, and may go on. */
  function enter(form, sure, by) {
    if (form.dataset.sending) { return; }
    form.dataset.sending = "yes";
    var entry = entryOf(form, sure, by), token = form.elements.csrf.value, patient = true, safe = false;
    function free() { delete form.dataset.sending; }
    function settle(said) { safe = keep(form, entry, said); if (safe && !form.dataset.single) { form.reset(); free(); } if (!safe) { free(); } }
    var waiting = window.setTimeout(function () { patient = false; settle(words.slow); }, PATIENCE);
    sendNow(entry, token).then(function (said) {
      window.clearTimeout(waiting);
      if (said.fault) {
        if (patient) { free(); refuse(form, said, by); } else { change(entry, { fault: said.fault, doubt: said.doubt }); }
        return;
      }
      drop(entry.id);
      mended(form);
      if (patient) { window.location.assign(said.to); } else { beside(form, words.entered, false); }
    }).catch(function () {
      window.clearTimeout(waiting);
      if (patient) { settle(line.up && !line.signedIn ? words.signedout : words.kept); }
      show();
    });
  }

  function watch(form) {
    form.addEventListener("submit", function (event) {
      var by = event.submitter && event.submitter.hasAttribute("formaction") ? event.submitter : null;
      if (by && !by.dataset.keep) { return; }  // a question, no entry
      event.preventDefault();
      form.pressed = event.submitter;
      enter(form, false, by);
    });
  }

  /* Keep every filled form of the page as an entry of its own, and send them one after the other; once nothing is left
     to fill in, what was entered is shown. */
  function enterAll(button) {
    button.hidden = false;
    button.addEventListener("click", function () {
      var every = Array.from(document.querySelectorAll("main form[data-keep]")), filled = every.filter(function (form) {
        return form.checkValidity() && Array.from(form.elements).some(function (each) { return each.matches("input:not([type=hidden])") && each.value; });
      });
      var safe = filled.every(function (form) { return keep(form, entryOf(form, false), "") && (form.reset(), true); });
      var whole = safe && filled.length === document.querySelectorAll("main section:not(.done) form[data-keep]").length;
      flush().then(function () {
        if (!safe || !line.up) { return; }
        if (whole && !kept().length) { window.location.assign(button.dataset.all); } else { window.location.reload(); }
      });
    });
  }

  /* Forms that can't wait on a device are sent only where the shop answers: what was typed stays on the page. */
  function ask(form) {
    form.addEventListener("submit", function (event) {
      if (form.dataset.sent) { event.preventDefault(); return; }
      if (form.dataset.asked) {
        delete form.dataset.asked;
        form.dataset.sent = "yes";
        window.setTimeout(function () { delete form.dataset.sent; }, 4000);
        return;
      }
      event.preventDefault();
      hail().then(function (now) {
        form.elements.csrf.value = now.token;
        form.dataset.asked = "yes";
        form.requestSubmit(event.submitter);
      }).catch(function () { beside(form, line.up ? words.signin : words.nobody, true); show(); });
    });
  }

  /* Fill a page's form with an entry that was refused, to be mended. */
  function mend() {
    var wanted = new URLSearchParams(window.location.search).get("mend");
    var entry = wanted && JSON.parse(localStorage.getItem(KEPT + wanted) || "null");
    if (!entry) { return; }
    var fields = new URLSearchParams(entry.body);
    var form = Array.from(document.querySelectorAll("form[data-keep]")).find(function (each) {
      return (each.getAttribute("action") === entry.url || each.querySelector("[formaction='" + CSS.escape(entry.url) + "']")) && Array.from(each.querySelectorAll("input[type=hidden]")).every(function (hidden) {
        return ["csrf", "key", "happened", "sheet", "then"].includes(hidden.name) || fields.getAll(hidden.name).includes(hidden.value);
      });
    });
    if (!form) { return; }
    form.dataset.mends = entry.id;
    var met = {};
    Array.from(form.elements).forEach(function (each) {
      if (!each.name || each.type === "submit" || ["csrf", "key", "happened"].includes(each.name)) { return; }
      if (each.type === "radio" || each.type === "checkbox") { each.checked = fields.getAll(each.name).includes(each.value); } else {
        met[each.name] = (met[each.name] || 0) + 1;  // a form of several lines has a field once for each
        each.value = fields.getAll(each.name)[met[each.name] - 1] || "";
      }
      var folded = each.closest("details");
      if (folded && each.value !== each.defaultValue) { folded.open = true; }
    });
    refuse(form, entry, form.querySelector("[formaction='" + CSS.escape(entry.url) + "'][data-keep]"));
  }

  function begin() {
    hail().then(function (now) {
      line.stale = new Date(now.now).getTime() - new Date(words.moment).getTime() > 60000;
    }).catch(function () { return null; }).then(function () { show(); return flush(); });
  }

  function beat() { hail().catch(function () { return null; }).then(function () { show(); return flush(); }); }

  if ("localStorage" in window && sign) {
    keptBefore();
    document.querySelectorAll("form[data-keep]").forEach(watch);
    document.querySelectorAll("button[data-all]").forEach(enterAll);
    if (words.role) { document.querySelectorAll("form[method=post]:not([data-keep], [data-leave])").forEach(ask); }
    window.addEventListener("online", beat);
    window.addEventListener("offline", function () { line.up = false; show(); });
    window.addEventListener("storage", show);
    window.setInterval(beat, 15000);
    mend();
    begin();
  }
  if ("serviceWorker" in navigator) { navigator.serviceWorker.register("/worker.js").catch(function () { return null; }); }
  document.querySelectorAll("form[data-leave]").forEach(function (form) {
    form.addEventListener("submit", function () { if ("caches" in window) { caches.keys().then(function (all) { all.forEach(function (name) { caches.delete(name); }); }); } });
  });
})();
