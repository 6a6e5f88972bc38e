"use strict";
/* A form is checked by the server as each field is left; what is wrong stands beside fields that were touched. */
(function () {
  function watch(form) {
    var touched = {}, latest = 0;
    function show(said) {
      form.querySelectorAll("[data-fault]").forEach(function (place) {
        var name = place.dataset.fault, faults = touched[name] ? said.faults[name] || [] : null;
        if (faults === null) { return; }
        var field = form.elements.namedItem(name), text = faults.join(" ");
        if (place.textContent !== text) { place.textContent = text; }
        if (field && field.setAttribute) { field.setAttribute("aria-invalid", faults.length ? "true" : "false"); }
      });
      form.querySelectorAll("[data-told]").forEach(function (place) {
        var text = place.dataset.told ? (said.told || {})[place.dataset.told] : said.said;
        if (text !== undefined && place.textContent !== text) { place.textContent = text; }
      });
    }
    function ask(wait, about) {
      var mine = latest += 1;
      window.setTimeout(function () {
        if (mine !== latest) { return; }
        var sent = new URLSearchParams(new FormData(form));
        sent.set("about", about);
        fetch(form.dataset.check, { method: "POST", body: sent, headers: { "X-Stockroom-Queue": "1" } }).then(function (answer) {
          return answer.ok ? answer.json() : null;
        }).then(function (said) { if (said && mine === latest) { show(said); } }).catch(function () { return null; });
      }, wait);
    }
    form.addEventListener("focusout", function (event) { if (event.target.name) { touched[event.target.name] = true; ask(0, event.target.name); } });
    form.addEventListener("input", function (event) { ask(400, event.target.name); });
  }
  document.querySelectorAll("form[data-check]").forEach(watch);
})();
