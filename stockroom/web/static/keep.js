"use strict";
/* Entries made without a connection stay on this device and are sent when it is back, each under its own mark. */
(function () {
  var STORE = "stockroom-kept", SHIFT = "stockroom-clock";
  var sign = document.getElementById("offline");
  var busy = false;

  function kept() { try { return JSON.parse(localStorage.getItem(STORE) || "[]"); } catch (wrong) { return []; } }
  function save(list) { localStorage.setItem(STORE, JSON.stringify(list)); show(); }
  function change(id, facts) { save(kept().map(function (each) { return each.id === id ? Object.assign({}, each, facts) : each; })); }
  function drop(id) { save(kept().filter(function (each) { return each.id !== id; })); }

  /* The shop's clock, not the device's: the difference is noted whenever the shop answers. */
  function moment() {
    var time = new Date(Date.now() + Number(localStorage.getItem(SHIFT) || 0));
    return new Date(time.getTime() - time.getTimezoneOffset() * 60000).toISOString().slice(0, 19);
  }

  function show() {
    var list = kept();
    if (sign) {
      var refused = list.filter(function (each) { return each.fault; }).length;
      sign.hidden = !list.length;
      sign.replaceChildren();
      if (list.length) {
        var link = document.createElement("a");
        link.href = "/saved";
        link.textContent = refused ? sign.dataset.refused.replace("{n}", refused) : list.length === 1 ? sign.dataset.one : sign.dataset.many.replace("{n}", list.length);
        sign.appendChild(link);
      }
    }
    var place = document.getElementById("kept");
    if (place) { place.replaceChildren.apply(place, list.length ? list.map(row) : [text("li", place.dataset.none)]); }
  }

  function text(kind, words, style) {
    var made = document.createElement(kind);
    made.textContent = words;
    if (style) { made.className = style; }
    return made;
  }

  function row(each) {
    var place = document.getElementById("kept");
    var made = text("li", "", "row"), what = text("div", "", "what");
    what.append(text("b", each.label), " ", text("span", each.when.replace("T", " "), "soft"));
    if (each.fault) { what.append(document.createElement("br"), text("span", each.fault, "mark bad")); }
    made.append(what);
    function button(words, style, act) {
      var pressed = text("button", words, style);
      pressed.type = "button";
      pressed.setAttribute("aria-label", words + ": " + each.label);
      pressed.addEventListener("click", act);
      made.append(pressed);
    }
    button(place.dataset.again, "", function () { change(each.id, { fault: "" }); flush(); });
    if (each.fault) { button(place.dataset.sure, "quiet", function () { change(each.id, { fault: "", body: each.body + "&sure=yes" }); flush(); }); }
    button(place.dataset.drop, "quiet", function () { drop(each.id); });
    return made;
  }

  function post(url, body, token, when) {
    return fetch(url, { method: "POST", body: body, keepalive: true, credentials: "same-origin", headers: { "Content-Type": "application/x-www-form-urlencoded", "X-Stockroom-Token": token, "X-Stockroom-Queue": when } });
  }

  function token() {
    return fetch("/queue/token", { credentials: "same-origin", cache: "no-store" }).then(function (answer) { return answer.json(); }).then(function (said) {
      if (said.now) { localStorage.setItem(SHIFT, String(new Date(said.now).getTime() - Date.now())); }
      if (!said.signed_in) { throw new Error("not signed in"); }
      return said.token;
    });
  }

  function flush() {
    var list = kept().filter(function (each) { return !each.fault; });
    if (busy || !list.length) { return; }
    busy = true;
    token().then(function (mark) {
      return list.reduce(function (before, each) {
        return before.then(function () {
          return post(each.url, each.body, mark, "later").then(function (answer) {
            if (answer.ok) { drop(each.id); return null; }
            if (answer.status === 503) { throw new Error("the book can't be reached: later"); }
            return answer.text().then(function (words) { change(each.id, { fault: words || String(answer.status) }); });
          });
        });
      }, Promise.resolve());
    }).catch(function () { return null; }).then(function () { busy = false; show(); });
  }

  function keep(form, body, notice) {
    var list = kept();
    list.push({ id: form.elements.key.value, url: form.getAttribute("action"), body: body, label: form.dataset.keep, when: moment(), fault: "" });
    save(list);
    form.querySelectorAll("button").forEach(function (button) { button.disabled = true; });
    form.after(text("p", notice, "mark warn"));
  }

  function watch(form) {
    form.addEventListener("submit", function (event) {
      event.preventDefault();
      if (form.dataset.sending) { return; }
      form.dataset.sending = "yes";
      if (form.elements.happened && !form.elements.happened.value) { form.elements.happened.value = moment(); }
      var fields = new URLSearchParams(new FormData(form));
      var mark = fields.get("csrf");
      fields.delete("csrf");
      if (!fields.get("happened")) { fields.delete("happened"); }
      var later = new URLSearchParams(fields);
      later.set("happened", fields.get("happened") || moment());
      post(form.getAttribute("action"), fields.toString(), mark, "now").then(function (answer) {
        if (answer.ok) { return answer.json().then(function (said) { window.location.assign(said.to); }); }
        if (answer.status === 409 || answer.status === 400 || answer.status === 403) { form.submit(); return null; }
        throw new Error(String(answer.status));
      }).catch(function () { keep(form, later.toString(), sign.dataset.kept); });
    });
  }

  if ("localStorage" in window && sign) {
    document.querySelectorAll("form[data-keep]").forEach(watch);
    window.addEventListener("online", flush);
    window.setInterval(flush, 15000);
    token().catch(function () { return null; }).then(function () { show(); flush(); });
    show();
  }
  if ("serviceWorker" in navigator) { navigator.serviceWorker.register("/worker.js").catch(function () { return null; }); }
  document.querySelectorAll("form[data-leave]").forEach(function (form) {
    form.addEventListener("submit", function () { if ("caches" in window) { caches.keys().then(function (all) { all.forEach(function (name) { caches.delete(name); }); }); } });
  });
})();
